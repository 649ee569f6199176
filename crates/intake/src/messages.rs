//! Interchanges and messages: envelopes, counts, what was cut.

use crate::edifact::{Segment, Tokens};

/// The kinds of message that list containers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// The cell leads, the unit follows (BAPLIE).
    Bayplan,
    /// As a bayplan, each move led by its HAN (MOVINS).
    Moves,
    /// The unit leads: load and discharge orders and reports (COPRAR, COARRI and their kin).
    Units,
}

impl Kind {
    fn of(message_type: &str) -> Option<Self> {
        match message_type {
            "BAPLIE" | "BAPLTE" => Some(Self::Bayplan),
            "MOVINS" => Some(Self::Moves),
            "COPRAR" | "COARRI" | "COPARN" | "COHAOR" | "CODECO" | "COEDOR" => Some(Self::Units),
            _ => None,
        }
    }
}

/// One message: the segments between UNH and UNT.
#[derive(Debug)]
pub(crate) struct Message<'t, 'a> {
    pub(crate) kind: Kind,
    pub(crate) segments: &'t [Segment<'a>],
    /// No UNT was seen: the file ends, or another message begins, inside it.
    pub(crate) cut: bool,
    /// From D.10A on a location may hold several units; before, a second one is a double.
    pub(crate) shares_cells: bool,
}

/// What the envelopes of one file gave.
#[derive(Debug, Default)]
pub(crate) struct Envelopes<'t, 'a> {
    pub(crate) messages: Vec<Message<'t, 'a>>,
    pub(crate) warnings: Vec<String>,
    pub(crate) cut: bool,
}

/// Sorts the segments of a file into messages and compares the counts it carries.
pub(crate) fn open<'t, 'a>(tokens: &'t Tokens<'a>) -> Envelopes<'t, 'a> {
    let mut walk = Walk { out: Envelopes::default(), interchange: None, message: None };
    let segments = &tokens.segments;
    for (i, s) in segments.iter().enumerate() {
        match s.tag() {
            "UNB" => walk.interchange_begins(segments, i, s),
            "UNG" => walk.group_begins(),
            "UNH" => walk.message_begins(segments, i, s),
            "UNT" => walk.message_ends(segments, i, s),
            "UNZ" => walk.interchange_ends(segments, i, s),
            "UNE" => {}
            // Segments of a file whose head was lost: a message of unknown type.
            _ if walk.message.is_none() => walk.message = Some(Open::headless(i)),
            _ => {}
        }
    }
    walk.finish(segments);
    if let Some(torn) = tokens.torn {
        walk.out.cut = true;
        let torn = crate::text::shown(torn);
        walk.out.warnings.push(format!(
            "the file is cut: its last segment \"{torn}\" is not whole and was not read; ask for \
             the list again"
        ));
    }
    if tokens.bad_service {
        walk.out.warnings.push(
            "the UNA service characters contradict each other; the usual ones were taken".into(),
        );
    }
    walk.out
}

struct Interchange {
    reference: String,
    messages: usize,
    groups: usize,
}

struct Open {
    first: usize,
    reference: String,
    message_type: String,
    /// Directory of the message, for example `95B`.
    release: String,
}

impl Open {
    fn headless(first: usize) -> Self {
        Self {
            first,
            reference: String::new(),
            message_type: String::new(),
            release: String::new(),
        }
    }
}

struct Walk<'t, 'a> {
    out: Envelopes<'t, 'a>,
    interchange: Option<Interchange>,
    message: Option<Open>,
}

impl<'t, 'a> Walk<'t, 'a> {
    fn warn(&mut self, text: String) {
        self.out.warnings.push(text);
    }

    fn interchange_begins(&mut self, all: &'t [Segment<'a>], i: usize, s: &Segment<'_>) {
        self.message_cut(all, i);
        self.interchange_cut();
        let reference = s.at(5, 0).to_owned();
        self.interchange = Some(Interchange { reference, messages: 0, groups: 0 });
    }

    fn group_begins(&mut self) {
        if let Some(x) = &mut self.interchange {
            x.groups += 1;
        }
    }

    fn message_begins(&mut self, all: &'t [Segment<'a>], i: usize, s: &Segment<'_>) {
        self.message_cut(all, i);
        if let Some(x) = &mut self.interchange {
            x.messages += 1;
        }
        let message_type = s.at(2, 0).to_ascii_uppercase();
        self.message = Some(Open {
            first: i,
            reference: s.at(1, 0).to_owned(),
            message_type,
            release: s.at(2, 2).to_owned(),
        });
    }

    fn message_ends(&mut self, all: &'t [Segment<'a>], i: usize, s: &Segment<'_>) {
        let Some(open) = self.message.take() else {
            self.warn("an end of message (UNT) without a beginning was passed over".into());
            return;
        };
        let counted = i - open.first + 1;
        if s.at(1, 0).parse() != Ok(counted) {
            let sent = crate::text::shown(s.at(1, 0));
            self.warn(format!(
                "message {}: UNT says {sent} segments, {counted} are there; check that nothing \
                 is missing",
                named(&open.reference)
            ));
        }
        if s.at(2, 0) != open.reference {
            self.warn(format!(
                "message {}: UNT carries another reference ({})",
                named(&open.reference),
                crate::text::shown(s.at(2, 0))
            ));
        }
        self.keep(&open, all.get(open.first..i), false);
    }

    fn interchange_ends(&mut self, all: &'t [Segment<'a>], i: usize, s: &Segment<'_>) {
        self.message_cut(all, i);
        let Some(x) = self.interchange.take() else {
            self.warn("an end of interchange (UNZ) without a beginning was passed over".into());
            return;
        };
        let counted = if x.groups > 0 { x.groups } else { x.messages };
        if s.at(1, 0).parse() != Ok(counted) {
            let sent = crate::text::shown(s.at(1, 0));
            self.warn(format!(
                "UNZ says {sent} messages, {counted} are there; check that none is missing"
            ));
        }
        if s.at(2, 0) != x.reference {
            self.warn(format!(
                "UNZ carries another reference ({}) than UNB ({})",
                crate::text::shown(s.at(2, 0)),
                crate::text::shown(&x.reference)
            ));
        }
    }

    /// A message that is open when something else begins has no end.
    fn message_cut(&mut self, all: &'t [Segment<'a>], i: usize) {
        if let Some(open) = self.message.take() {
            let text = if open.message_type.is_empty() {
                "segments outside any message (no UNH): the beginning of the file is missing"
                    .to_owned()
            } else {
                format!(
                    "message {} has no end (UNT): the file is cut; used up to its last whole \
                     segment, ask for the list again",
                    named(&open.reference)
                )
            };
            self.warn(text);
            self.out.cut = true;
            self.keep(&open, all.get(open.first..i), true);
        }
    }

    fn interchange_cut(&mut self) {
        if let Some(x) = self.interchange.take() {
            self.out.cut = true;
            let reference = named(&x.reference).to_owned();
            self.warn(format!("interchange {reference} has no end (UNZ): the file is cut"));
        }
    }

    fn keep(&mut self, open: &Open, segments: Option<&'t [Segment<'a>]>, cut: bool) {
        let segments = segments.unwrap_or(&[]);
        let kind = match Kind::of(&open.message_type) {
            Some(kind) => kind,
            None if open.message_type.is_empty() => {
                let has_cells = segments.iter().any(|s| s.is("LOC", "147"));
                if has_cells { Kind::Bayplan } else { Kind::Units }
            }
            None => {
                let what = crate::text::shown(&open.message_type);
                let reference = named(&open.reference);
                self.warn(format!(
                    "message {reference} ({what}) is no stowage or load/discharge message and was \
                     passed over"
                ));
                return;
            }
        };
        let lists_anything = segments.iter().any(|s| s.tag() == "EQD" || s.is("LOC", "147"));
        if !open.message_type.is_empty() || lists_anything {
            let year = open.release.get(..2).and_then(|y| y.parse::<u8>().ok());
            let shares_cells = year.is_some_and(|y| (10..60).contains(&y));
            self.out.messages.push(Message { kind, segments, cut, shares_cells });
        }
    }

    fn finish(&mut self, all: &'t [Segment<'a>]) {
        self.message_cut(all, all.len());
        self.interchange_cut();
    }
}

fn named(reference: &str) -> &str {
    if reference.is_empty() { "without reference" } else { reference }
}
