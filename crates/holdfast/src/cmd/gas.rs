//! `holdfast gas`: the refrigerant account.

mod book;
mod enter;
mod list;

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;

/// `holdfast gas --help`
pub const HELP: &str = "\
holdfast gas [list]                       what cylinders and units hold, what was lost, what is due
holdfast gas cylinder ID --gas NAME       enter a cylinder: --volume-l L --tare-kg KG --limit-kg KG
                                          --recovery --source virgin|recycled|reclaimed
                                          --facility \"NAME, ADDRESS\" --facility-certificate NO
holdfast gas plate UNIT --gas NAME --kg CHARGE [--serial S] [--sealed] [--detection]
holdfast gas weigh HOLDER --kg NET [--gas NAME] [--remark TEXT]
holdfast gas move --from HOLDER --to HOLDER --kg KG --reason REASON [--gas NAME] [--place P]
                                          [--by NAME] [--certificate NO] [--remark TEXT]
holdfast gas check UNIT --method HOW [--leak WHERE] [--cause WHY] [--repaired] [--by ...]
holdfast gas screen CYLINDER --p PRESSURE --t TEMPERATURE [--barometer-kpa B]
holdfast gas end UNIT --remark MEASURES   a unit is taken out of use
holdfast gas strike ENTRY --remark WHY    an entry was a slip: it stays readable, no longer counts
holdfast gas book ozone | UNIT [--out FILE.pdf]
                                          the record book of ozone-depleting gases; a unit's
                                          record; signed on paper
common options: --voyage FILE --at TIME --who NAME --json

HOLDER is a cylinder's number, a unit's number, supplier:NAME, shore:NAME or air. REASON is top-up
(as much is taken to have leaked before), recharge (after evacuation), recovery, supply, transfer,
leak or released. Masses are kg by the scale. A transfer that the account cannot hold is refused
with what to enter first; nothing is edited. screen compares the pressure of a cylinder that stood
for hours with what its gas should have; a match never proves what is in it.

Refrigerant burns and suffocates; cylinders burst when overfilled and warm. Recover first, gloves
and goggles, never fill beyond the stamp or 80 % by volume. Who may handle the gas and what is to be
recorded: maker's instructions, ship's procedures, local law and licensed practice come first.

example: holdfast gas cylinder C12 --gas R134a --volume-l 12.3 --source virgin
         holdfast gas move --from supplier:chandler --to C12 --kg 9.1 --reason supply
         holdfast gas move --from C12 --to QQQU1000011 --kg 0.45 --reason top-up --by \"J. Ruiz\"";

/// What is asked.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verb {
    List,
    Cylinder,
    Plate,
    Weigh,
    Move,
    Check,
    Screen,
    End,
    Strike,
    Book,
}

impl Verb {
    const ALL: [(&'static str, Self); 10] = [
        ("list", Self::List),
        ("cylinder", Self::Cylinder),
        ("plate", Self::Plate),
        ("weigh", Self::Weigh),
        ("move", Self::Move),
        ("check", Self::Check),
        ("screen", Self::Screen),
        ("end", Self::End),
        ("strike", Self::Strike),
        ("book", Self::Book),
    ];

    fn as_str(self) -> &'static str {
        Self::ALL.iter().find(|(_, v)| *v == self).map_or("", |(name, _)| name)
    }

    /// Options it takes beside the common ones.
    fn takes(self) -> &'static [&'static str] {
        match self {
            Self::List => &[],
            Self::Book => &["out"],
            Self::Cylinder => &[
                "gas",
                "volume-l",
                "tare-kg",
                "limit-kg",
                "recovery",
                "source",
                "facility",
                "facility-certificate",
            ],
            Self::Plate => &["gas", "kg", "serial", "sealed", "detection"],
            Self::Weigh => &["gas", "kg", "remark"],
            Self::Move => {
                &["gas", "kg", "from", "to", "reason", "place", "by", "certificate", "remark"]
            }
            Self::Check => &["method", "leak", "cause", "repaired", "by", "certificate"],
            Self::Screen => &["p", "t", "barometer-kpa"],
            Self::End | Self::Strike => &["remark"],
        }
    }
}

/// Options without a value.
const FLAGS: [&str; 4] = ["recovery", "sealed", "detection", "repaired"];

/// `gas` with what was typed.
pub struct Gas {
    verb: Verb,
    about: Option<String>,
    typed: Vec<(String, String)>,
    voyage: Option<PathBuf>,
    json: bool,
}

/// A refusal.
fn refuse(why: impl std::fmt::Display) -> Fail {
    Fail::refused(format!("gas: {why}"))
}

/// Reads what stands after `gas`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut verb = None;
    let mut words: Vec<String> = Vec::new();
    let mut c = Gas { verb: Verb::List, about: None, typed: Vec::new(), voyage: None, json: false };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long(name) => {
                let name = name.to_owned();
                let taken = verb.map_or(&[][..], Verb::takes);
                let common = ["at", "who"].contains(&name.as_str());
                if !common && !taken.contains(&name.as_str()) {
                    return Err(refuse(format!("--{name} does not go here; holdfast gas --help")));
                }
                let value = if FLAGS.contains(&name.as_str()) {
                    String::new()
                } else {
                    parser.value().and_then(ValueExt::string).map_err(usage)?
                };
                c.typed.push((name, value));
            }
            Arg::Value(v) => {
                let word = v.to_string_lossy().into_owned();
                if verb.is_some() {
                    words.push(word);
                    continue;
                }
                let found = Verb::ALL.into_iter().find(|(name, _)| *name == word);
                let names = Verb::ALL.map(|(name, _)| name).join(", ");
                verb = Some(
                    found
                        .map(|(_, v)| v)
                        .ok_or_else(|| refuse(format!("\"{word}\" is none of {names}")))?,
                );
            }
            other => return Err(usage(other.unexpected())),
        }
    }
    c.verb = verb.unwrap_or(Verb::List);
    c.about = Some(words.join(" ")).filter(|w| !w.is_empty());
    Ok(Invocation::Run(Command::Gas(c)))
}

impl Gas {
    fn text(&self, name: &str) -> Option<&str> {
        self.typed.iter().rev().find(|(n, _)| n == name).map(|(_, v)| v.trim())
    }

    fn about(&self, what: &str) -> Result<&str, Fail> {
        self.about.as_deref().ok_or_else(|| refuse(format!("name {what}; holdfast gas --help")))
    }
}

/// Answers, or enters it.
pub fn run(c: &Gas) -> Result<u8, Fail> {
    match c.verb {
        Verb::List => list::run(c),
        Verb::Book => book::run(c),
        _ => enter::run(c),
    }
}
