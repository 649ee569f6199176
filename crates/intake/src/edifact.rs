//! UN/EDIFACT syntax (ISO 9735): service characters, segments, elements, components.
//!
//! Tolerant on purpose: one bad byte must not cost a ship its loading list. The text of every
//! segment is kept as sent.

/// The characters that carry the syntax, from `UNA` or by default.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Service {
    component: char,
    element: char,
    release: Option<char>,
    terminator: char,
}

const DEFAULT: Service =
    Service { component: ':', element: '+', release: Some('?'), terminator: '\'' };

/// One segment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Segment<'a> {
    /// The text as sent, without terminator and without white space around.
    pub text: &'a str,
    elements: Vec<Vec<String>>,
}

impl Segment<'_> {
    /// Tag, for example `LOC`.
    #[must_use]
    pub fn tag(&self) -> &str {
        self.at(0, 0)
    }

    /// Component `c` of element `e` (the tag is element 0), released characters resolved, white
    /// space around removed; empty when it was not sent.
    #[must_use]
    pub fn at(&self, e: usize, c: usize) -> &str {
        self.elements.get(e).and_then(|el| el.get(c)).map_or("", |s| s.trim())
    }

    /// All components of element `e`.
    #[must_use]
    pub fn components(&self, e: usize) -> &[String] {
        self.elements.get(e).map_or(&[], Vec::as_slice)
    }

    /// True when tag and first qualifier are these.
    #[must_use]
    pub fn is(&self, tag: &str, qualifier: &str) -> bool {
        self.tag() == tag && self.at(1, 0) == qualifier
    }
}

/// A text taken apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tokens<'a> {
    /// Whole segments, in order.
    pub segments: Vec<Segment<'a>>,
    /// What stands after the last terminator, when it is not white space: a torn segment, which
    /// is never read.
    pub torn: Option<&'a str>,
    /// Service characters that contradict each other were sent; the usual ones were taken.
    pub bad_service: bool,
}

/// Takes a text apart into segments. Never fails: what is not EDIFACT becomes segments with odd
/// tags or a torn rest.
#[must_use]
pub fn tokenize(text: &str) -> Tokens<'_> {
    let mut tokens = Tokens { segments: Vec::new(), torn: None, bad_service: false };
    let mut service = DEFAULT;
    let mut rest = text.trim_start();
    while !rest.is_empty() {
        if let Some((found, after)) = take_una(rest) {
            match found {
                Some(s) => service = s,
                None => tokens.bad_service = true,
            }
            rest = after.trim_start();
            continue;
        }
        match find_terminator(rest, service) {
            Some(end) => {
                let (segment, after) = rest.split_at(end);
                let segment = segment.trim_end();
                if !segment.is_empty() {
                    let elements = split_elements(segment, service);
                    tokens.segments.push(Segment { text: segment, elements });
                }
                rest = after.get(service.terminator.len_utf8()..).unwrap_or("").trim_start();
            }
            None => {
                tokens.torn = Some(rest.trim_end());
                break;
            }
        }
    }
    tokens
}

/// `UNA` and the six characters after it. The inner `None` means they contradict each other.
fn take_una(rest: &str) -> Option<(Option<Service>, &str)> {
    let after_tag = rest.strip_prefix("UNA")?;
    let mut chars = after_tag.chars();
    let c: Vec<char> = chars.by_ref().take(6).collect();
    let &[component, element, _decimal, release, _repetition, terminator] = c.as_slice() else {
        return None;
    };
    let distinct = component != element && component != terminator && element != terminator;
    let sound = distinct && ![component, element, terminator].iter().any(|c| c.is_alphanumeric());
    let release = (release != ' ').then_some(release);
    let service = Service { component, element, release, terminator };
    Some((sound.then_some(service), chars.as_str()))
}

/// Where the segment ends: the first terminator that is not released.
fn find_terminator(text: &str, service: Service) -> Option<usize> {
    let mut released = false;
    for (i, c) in text.char_indices() {
        if released {
            released = false;
        } else if Some(c) == service.release {
            released = true;
        } else if c == service.terminator {
            return Some(i);
        }
    }
    None
}

fn split_elements(segment: &str, service: Service) -> Vec<Vec<String>> {
    let mut elements = vec![vec![String::new()]];
    let mut released = false;
    // Some senders wrap lines inside segments: line ends are never data.
    for c in segment.chars().filter(|c| !matches!(c, '\r' | '\n')) {
        let data = released
            || (c != service.element && c != service.component && Some(c) != service.release);
        released = !released && Some(c) == service.release;
        if released {
            continue;
        }
        if !data && c == service.element {
            elements.push(vec![String::new()]);
        } else if let Some(element) = elements.last_mut() {
            if !data {
                element.push(String::new());
            } else if let Some(component) = element.last_mut() {
                component.push(c);
            }
        }
    }
    elements
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Release characters and suppression as ISO 9735 describes them (reference/interchange.md
    /// §1.1, sources S1, S2).
    #[test]
    fn released_characters_are_data() {
        let t = tokenize("UNA:+.? 'FTX+CLR+++VENT 0 CBM/H?: SHIPPER?'S SET ?+ PROBES ??'RFF+042'");
        assert_eq!(t.segments[0].at(4, 0), "VENT 0 CBM/H: SHIPPER'S SET + PROBES ?");
        assert_eq!(t.segments[1].at(1, 0), "042");
        assert_eq!(t.segments[1].at(7, 3), "");
        assert_eq!(t.torn, None);
    }

    #[test]
    fn other_service_characters() {
        let t = tokenize("UNA*|,! ~\nLOC|147|0100284**5~\nFTX|AAA|||A!|B~");
        assert_eq!(t.segments[0].at(2, 2), "5");
        assert_eq!(t.segments[1].at(4, 0), "A|B");
    }

    #[test]
    fn wrapped_lines_are_joined() {
        let t = tokenize("TMP+2+-1\r\n8.0:CEL'LOC+9+XX\nSOL'");
        assert_eq!((t.segments[0].at(2, 0), t.segments[1].at(2, 0)), ("-18.0", "XXSOL"));
    }

    #[test]
    fn torn_end_is_kept_apart() {
        let t = tokenize("LOC+147+0780690::5'\r\nTMP+2+-1");
        assert_eq!(t.segments.len(), 1);
        assert_eq!(t.torn, Some("TMP+2+-1"));
        assert_eq!(tokenize("LOC+9+A?'").torn, Some("LOC+9+A?'"));
    }

    proptest! {
        /// Lossless: the segments' texts stand in the input in order, and nothing else does but
        /// service characters, terminators and white space.
        #[test]
        fn nothing_is_lost(text in "[A-Z0-9+:?' \n.é*-]{0,200}") {
            let t = tokenize(&text);
            let kept: String = t.segments.iter().map(|s| s.text).chain(t.torn).collect();
            let data = |c: &char| !c.is_whitespace() && *c != '\'';
            let squeeze = |s: &str| s.chars().filter(data).collect::<String>();
            if !text.contains("UNA") {
                prop_assert_eq!(squeeze(&kept), squeeze(&text));
            }
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,200}") {
            let _ = tokenize(&text);
        }
    }
}
