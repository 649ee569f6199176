//! `holdfast instrument`: the register with its certificates, and ice-point checks.

mod check;
mod show;

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use record::instrument::{day, id_from_text};
use record::{Act, Instrument, InstrumentAct, InstrumentKind};
use serde_json::json;
use units::Utc;
use voyage::{Voyage, has_come};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast instrument --help`
pub const HELP: &str = "\
holdfast instrument list [ID] [--on TIME] [--voyage FILE] [--json]
holdfast instrument add ID --kind KIND [what is known] [--scan FILE]... [--who NAME]
holdfast instrument change ID [what has changed] [--scan FILE]... [--who NAME]
holdfast instrument withdraw ID --why TEXT [--at TIME] [--who NAME]
holdfast instrument check ID --reading R [--reading R]... [how] [--try]
holdfast instrument check UNIT --sensor supply|return|ambient --reading R... [how] [--try]
holdfast instrument check UNIT --reading probe1=R --reading probe2=R... [how] [--try]

The register of gauges, thermometers, vacuum gauge, scales, recorders: certificates, what is due,
ice-point checks with correction and drift, and the records that name an instrument with its
certificate as it stood that day. Write the ID where a gauge or thermometer is asked for (the gauge
of a vacuum hold, the note of a gauge sheet, the remark of a slurry reading): it is found there.
An instrument out of date is told, never refused.

KIND       gauge_set thermometer probe_thermometer vacuum_gauge scale barometer leak_detector
           recorder other
known      --what TEXT  --serial TEXT  --accuracy TEXT  --certificate NUMBER  --issuer TEXT
           --dated DAY  --due DAY | --every-months N  --check-every-days N  --place TEXT
           --remark TEXT. DAY is 2026-03-01. What is not stated stays blank.
how        --at TIME (now)  --fahrenheit  --stirred | --not-stirred  --ice TEXT
           --against TEXT (the thermometer the slurry was checked with)  --remark TEXT
--try      work it out and store nothing; needs no voyage file

The correction is ice point less mean reading, as for treatments. Its 90 % interval is from the
spread of the readings, the step of the display and an ice point made with care (JCGM 100:2008).
Pulp probes (probe1= to probe4=) are entered as one session for the treatment of the box: give all
of them, the session entered last counts.

example: holdfast instrument add TH-1 --kind thermometer --serial 5512 --dated 2026-01-10 \\
                  --every-months 12 --scan th1.pdf
         holdfast instrument check TH-1 --reading 0.1 --reading 0.1 --reading 0.0 --reading 0.1 \\
                  --stirred --ice \"fresh water ice, stood 10 min\"";

/// Options that take a text.
const TEXTS: [&str; 19] = [
    "kind",
    "what",
    "serial",
    "accuracy",
    "certificate",
    "issuer",
    "dated",
    "due",
    "every-months",
    "check-every-days",
    "place",
    "remark",
    "why",
    "at",
    "on",
    "who",
    "sensor",
    "ice",
    "against",
];

/// Options.
#[derive(Default)]
pub struct InstrumentOf {
    verb: String,
    names: Vec<String>,
    texts: Vec<(&'static str, String)>,
    readings: Vec<String>,
    scans: Vec<PathBuf>,
    fahrenheit: bool,
    stirred: Option<bool>,
    only_try: bool,
    json: bool,
    voyage: Option<PathBuf>,
}

/// Reads what stands after `instrument`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = InstrumentOf::default();
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("try") => c.only_try = true,
            Arg::Long("fahrenheit") => c.fahrenheit = true,
            Arg::Long("stirred") => c.stirred = Some(true),
            Arg::Long("not-stirred") => c.stirred = Some(false),
            Arg::Long("reading") => c.readings.push(text(parser)?),
            Arg::Long("scan") => c.scans.push(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long(name) => match TEXTS.into_iter().find(|t| *t == name) {
                Some(key) => c.texts.push((key, text(parser)?)),
                None => return Err(usage(Arg::Long(name).unexpected())),
            },
            Arg::Value(v) if c.verb.is_empty() => c.verb = v.to_string_lossy().into_owned(),
            Arg::Value(v) => c.names.push(v.to_string_lossy().into_owned()),
            other @ Arg::Short(_) => return Err(usage(other.unexpected())),
        }
    }
    Ok(Invocation::Run(Command::Instrument(c)))
}

fn text(parser: &mut Parser) -> Result<String, Fail> {
    parser.value().and_then(ValueExt::string).map_err(usage)
}

/// Runs it.
pub fn run(c: &InstrumentOf) -> Result<u8, Fail> {
    match c.verb.as_str() {
        "list" => show::list(c),
        "check" => check::run(c),
        "add" | "change" | "withdraw" => c.state(),
        other => Err(Fail::refused(format!(
            "instrument: \"{other}\" is nothing to do; write list, add, change, withdraw or check"
        ))),
    }
}

impl InstrumentOf {
    fn get(&self, key: &str) -> Option<&str> {
        self.texts.iter().rev().find(|(k, _)| *k == key).map(|(_, v)| v.trim())
    }

    fn time(&self, key: &str) -> Result<Option<Utc>, Fail> {
        let read = |t: &str| {
            Utc::parse(t).map_err(|e| {
                Fail::refused(format!("instrument {}: --{key} \"{t}\" {e}", self.verb))
            })
        };
        self.get(key).map(read).transpose()
    }

    /// `--at`, now when not given, never ahead of the clock.
    fn at(&self) -> Result<Utc, Fail> {
        let now = files::now();
        let at = self.time("at")?.unwrap_or(now);
        has_come(&format!("instrument {}: --at", self.verb), at, now).map_err(Fail::refused)
    }

    fn id(&self) -> Result<String, Fail> {
        let typed = match self.names.as_slice() {
            [one] => one.as_str(),
            _ => "",
        };
        id_from_text(typed).ok_or_else(|| {
            Fail::refused(format!(
                "instrument {}: \"{}\" cannot be an id; write 2 to 16 letters and digits with at \
                 least one of each, for example VG-1",
                self.verb,
                self.names.join(" ")
            ))
        })
    }

    /// `add`, `change`, `withdraw`.
    fn state(&self) -> Result<u8, Fail> {
        if !self.readings.is_empty() || self.only_try {
            return Err(Fail::refused("instrument: --reading and --try go with check"));
        }
        let id = self.id()?;
        let documents = files::read_all(&self.scans)?;
        let mut v = files::open_voyage(self.voyage.as_deref())?;
        let act = match self.verb.as_str() {
            "withdraw" => {
                let why = self.get("why").filter(|w| !w.is_empty());
                let why = why.ok_or_else(|| {
                    Fail::refused("instrument withdraw: --why is missing; say why")
                })?;
                InstrumentAct::Withdrawn { id, at: self.at()?, why: why.to_owned() }
            }
            "add" => InstrumentAct::Entered(self.stated(blank(id, self.kind()?), &documents)?),
            _ => {
                let file = v.acts().register.instruments.get(&id);
                let last = file.and_then(|f| f.stated.last()).ok_or_else(|| {
                    Fail::refused(format!(
                        "instrument change: {id} is not in the register; holdfast instrument list"
                    ))
                })?;
                let mut of = last.instrument.clone();
                if self.get("kind").is_some() {
                    of.kind = self.kind()?;
                }
                InstrumentAct::Changed(self.stated(of, &documents)?)
            }
        };
        self.enter(&mut v, &Act::Instrument(Box::new(act)), &documents)
    }

    fn enter(
        &self,
        v: &mut Voyage,
        act: &Act,
        documents: &[voyage::NamedBytes],
    ) -> Result<u8, Fail> {
        let who = files::who(self.get("who"));
        let entry = v.enter(act, documents, &who, files::now())?;
        if self.json {
            out::print_json(&json!({ "entry": entry, "who": who, "words": act.title() }))?;
        } else {
            out::print(format!("entry {entry} by {who}: {}", act.title()))?;
        }
        Ok(0)
    }

    fn kind(&self) -> Result<InstrumentKind, Fail> {
        let typed = self.get("kind").unwrap_or_default();
        InstrumentKind::from_text(typed).ok_or_else(|| {
            let all: Vec<&str> = InstrumentKind::ALL.iter().map(|k| k.as_str()).collect();
            Fail::refused(format!(
                "instrument {}: --kind \"{typed}\" is none; write one of {}",
                self.verb,
                all.join(" ")
            ))
        })
    }

    fn stated(
        &self,
        mut of: Instrument,
        documents: &[voyage::NamedBytes],
    ) -> Result<Instrument, Fail> {
        for (key, place) in [
            ("what", &mut of.what),
            ("serial", &mut of.serial),
            ("accuracy", &mut of.accuracy),
            ("certificate", &mut of.certificate),
            ("issuer", &mut of.issuer),
            ("place", &mut of.place),
            ("remark", &mut of.remark),
        ] {
            if let Some(t) = self.get(key) {
                *place = plain(t);
            }
        }
        for (key, place) in [("dated", &mut of.dated), ("due", &mut of.due)] {
            if let Some(t) = self.get(key) {
                if !t.is_empty() && day(t).is_none() {
                    return Err(Fail::refused(format!(
                        "instrument {}: --{key} \"{t}\" is no day; write it as 2026-03-01",
                        self.verb
                    )));
                }
                *place = Some(t.to_owned()).filter(|t| !t.is_empty());
            }
        }
        for (key, place) in
            [("every-months", &mut of.every_months), ("check-every-days", &mut of.check_every_days)]
        {
            if let Some(t) = self.get(key) {
                let n = t.parse().map_err(|_| {
                    Fail::refused(format!(
                        "instrument {}: --{key} \"{t}\" is no whole number",
                        self.verb
                    ))
                })?;
                *place = Some(n);
            }
        }
        // A new certificate's date makes the old due date meaningless.
        if self.get("dated").is_some() && self.get("due").is_none() {
            of.due = None;
        }
        if !documents.is_empty() {
            of.scans = voyage::scans(documents);
        }
        Ok(of)
    }
}

fn blank(id: String, kind: InstrumentKind) -> Instrument {
    Instrument {
        id,
        kind,
        what: String::new(),
        serial: String::new(),
        accuracy: String::new(),
        certificate: String::new(),
        issuer: String::new(),
        dated: None,
        due: None,
        every_months: None,
        check_every_days: None,
        place: String::new(),
        remark: String::new(),
        scans: Vec::new(),
    }
}

/// One line, no longer than a page shows.
pub(super) fn plain(text: &str) -> String {
    let one: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    one.chars().filter(|c| !c.is_control()).take(300).collect()
}
