//! A piece of service work on paper: how the plant stands, the steps to go with boxes to tick, and
//! everything that was entered.

use record::gas::kg;
use record::{InRange, ServiceDeed, ServiceEntry, StepReading, WorkFile};
use service::expect::{Site, range_words, unit_sign};
use service::words::{cautions, instruction};
use service::{ToldStep, WhyNot};
use units::Utc;

use crate::common::{Common, Sign, sealed};
use crate::csv_file::CsvFile;
use crate::pdf::{Attachment, Relation};
use crate::sheet::{Fonts, Sheet, Table, minus};

/// What the paper says.
pub struct WorkPaper<'a> {
    /// What was entered.
    pub file: &'a WorkFile,
    /// Gas, ambient and barometer that the readings to expect hold for.
    pub site: &'a Site,
    /// The plant drawn as it stands (SVG).
    pub drawing: &'a str,
    /// What is still to be done.
    pub ahead: Ahead<'a>,
}

/// What is still to be done.
pub enum Ahead<'a> {
    /// These steps.
    Steps(&'a [ToldStep]),
    /// There is no safe way.
    NoWay(&'a WhyNot),
    /// What is inside is not known: after each reading the way on is another.
    Unknown,
    /// Nothing: the work is over.
    Over,
    /// It could not be worked out; why.
    Failed(&'a str),
}

/// Said first on every paper of work on a circuit.
const AUTHORITY: [&str; 2] = [
    "! Pressure, cold burns, 440 V, gas that chokes: goggles and gloves on, place aired, permit to \
     work and lock-out first, never alone. Refrigerant work needs a certificate.",
    "! This paper advises and has no authority: the maker’s instructions, the ship’s procedures, \
     local codes and licensed practice come first. Stop when a reading is not as told, when a step \
     cannot be done as written, or when the plant does not stand as drawn.",
];

const HEAD: [&str; 12] = [
    "at_utc",
    "who",
    "kind",
    "action",
    "words",
    "read",
    "as_written",
    "value",
    "unit",
    "told_from",
    "told_to",
    "remark",
];

/// The paper, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn paper(
    w: &WorkPaper<'_>,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let file = w.file;
    let mut s = Sheet::new(fonts);
    s.title(&format!("Service work {} on {}", file.id, file.unit), &common.ship_line);
    for line in AUTHORITY {
        s.strong(line);
    }
    s.space(4.0);
    facts(w, &mut s);
    s.heading("The plant as it stands");
    s.figure(
        w.drawing,
        "As the entries leave it, before the first step below. Look at every valve, hose and \
         machine: where it stands otherwise, enter that first.",
    );
    if !matches!(w.ahead, Ahead::Over) {
        s.heading("Steps to go");
        ahead(w, &mut s);
    }
    s.heading("Entered");
    entered(file, &mut s);
    s.heading("Seen");
    s.signature_lines(&["The work as entered above:", "Permit to work closed:"]);
    let title = format!("Service work {}", file.id);
    let subject = format!("Service work on container {} of {}", file.unit, common.ship_line);
    sealed(s, (&title, &subject), common, fonts, vec![data(file, common.made_at)], sign)
}

fn facts(w: &WorkPaper<'_>, s: &mut Sheet<'_>) {
    let file = w.file;
    s.facts(&[
        ("goal", file.goal_words.clone()),
        ("stands", format!("{}, {} steps done", file.standing.words(), file.steps())),
        ("in the hands of", file.person.clone()),
        ("begun UTC", file.since().to_minute()),
        ("last entry UTC", file.last_at().to_minute()),
        ("gas", w.site.fluid.clone()),
        ("air", format!("{:.0} °C; the readings told hold for it", w.site.ambient_c)),
        ("barometer", format!("{:.1} kPa", w.site.barometer_kpa)),
    ]);
    if !file.standing.is_over() {
        s.blanks(&[("permit to work", 150.0), ("second person", 190.0), ("date", 110.0)]);
    }
}

fn ahead(w: &WorkPaper<'_>, s: &mut Sheet<'_>) {
    match &w.ahead {
        Ahead::Steps([]) | Ahead::Over => s.paragraph("None: the goal is reached."),
        Ahead::Steps(all) => {
            let minutes: u32 = all.iter().map(|t| t.step.effort).sum();
            s.paragraph(&format!(
                "{} steps, about {minutes} minutes of work without waiting. Tick in this order, \
                 write what was read, and enter it afterwards in the same order.",
                all.len()
            ));
            for t in *all {
                step(t, w.file.steps(), s);
            }
        }
        Ahead::NoWay(why) => no_way(why, s),
        Ahead::Unknown => s.paragraph(
            "What is inside is not known: after each reading the way on is another. Work from the \
             page, not from paper.",
        ),
        Ahead::Failed(why) => s.paragraph(&format!("The way on could not be worked out: {why}.")),
    }
}

fn step(t: &ToldStep, done: usize, s: &mut Sheet<'_>) {
    let before = cautions(t.step.action, true);
    // A step stays together with its cautions and its lines.
    s.need(14.0 * (2 * before.len() + 1) as f32 + 26.0 * (1 + t.expect.len()) as f32);
    for c in before {
        s.strong(&format!("! {c}"));
    }
    let step = format!("{}. {}", done + t.n, instruction(t.step.action));
    s.tick(&step, &[("who", 80.0), ("time UTC", 52.0)]);
    for e in &t.expect {
        let note = if e.note.is_empty() { String::new() } else { format!(" ({})", e.note) };
        let line = minus(&format!("{}: {}{note}", e.what, e.range_words()));
        // What follows from a reading is not read.
        let blank = [(unit_sign(e.unit), 141.0)];
        s.fill_in(&line, if e.unit == "g_per_l" { &[] } else { &blank });
    }
    if let Some(h) = t.guards.iter().next() {
        s.small(&format!("Left out: {} ({}).", h.why(), h.guard()));
    }
    s.space(8.0);
}

fn no_way(why: &WhyNot, s: &mut Sheet<'_>) {
    s.strong(&format!(
        "No safe way from here: all {} states that can be reached safely were looked at.",
        why.reached
    ));
    for h in &why.hazards {
        s.paragraph(&format!("In the way: {} (guard {}).", h.why(), h.guard()));
    }
    for help in &why.would_help {
        s.paragraph(&format!("Would help: {help}."));
    }
    if why.hazards.is_empty() && why.would_help.is_empty() {
        s.paragraph("No single thing known here would open a way. Leave it shut and ask ashore.");
    }
}

/// Everything entered about a work, in order, as a table.
pub(crate) fn entered(file: &WorkFile, s: &mut Sheet<'_>) {
    let mut t = Table::new(&["UTC", ">step", "what", "by"]);
    let mut n = 0;
    for e in &file.entries {
        let is_step = matches!(e.act.deed, ServiceDeed::StepDone { .. });
        n += usize::from(is_step);
        let number = if is_step { n.to_string() } else { String::new() };
        t.row(vec![e.act.at.to_minute(), number, minus(&told(e)), e.who.clone()]);
    }
    s.table(&t, "Nothing was entered.");
}

/// An entry in words: what was done, a line for each reading, what was booked, the remark.
#[must_use]
pub fn told(e: &ServiceEntry) -> String {
    let (words, readings, remark) = parts(&e.act.deed);
    let mut out = words;
    for r in readings {
        out += &format!("\n{}", read(r));
    }
    if let Some(t) = e.act.deed.booked() {
        let (from, to) = (t.from.words(), t.to.words());
        out += &format!("\nbooked: {} {} from {from} to {to}", kg(t.g.into()), t.gas);
    }
    if !remark.is_empty() {
        out += &format!("\n“{remark}”");
    }
    out
}

/// Words, readings and remark of an entry.
fn parts(deed: &ServiceDeed) -> (String, &[StepReading], &str) {
    match deed {
        ServiceDeed::Begun { goal_words, remark, .. } => {
            (format!("Begun: {goal_words}."), &[], remark)
        }
        ServiceDeed::StepDone { instruction, readings, remark, .. } => {
            (instruction.clone(), readings, remark)
        }
        ServiceDeed::Corrected { why, .. } => ("It stands otherwise.".to_owned(), &[], why),
        ServiceDeed::Stopped { why } => ("Stopped.".to_owned(), &[], why),
        ServiceDeed::Resumed { remark } => ("Resumed.".to_owned(), &[], remark),
        ServiceDeed::HandedOver { from, to, remark } => {
            (format!("Handed over from {from} to {to}."), &[], remark)
        }
        ServiceDeed::Finished { reached: true, remark } => {
            ("Finished: the goal is reached.".to_owned(), &[], remark)
        }
        ServiceDeed::Finished { reached: false, remark } => {
            ("Ended before its goal.".to_owned(), &[], remark)
        }
    }
}

fn read(r: &StepReading) -> String {
    let written = if r.value.is_some() { r.as_written.as_str() } else { "not read" };
    let stands = match r.stands() {
        InRange::Below => " BELOW",
        InRange::Above => " ABOVE",
        InRange::Inside | InRange::NotRead => "",
    };
    format!("{}: {written} (told: {}){stands}", r.what, range_words(r.from, r.to, &r.unit))
}

fn kind(deed: &ServiceDeed) -> (&'static str, &str) {
    match deed {
        ServiceDeed::Begun { .. } => ("begun", ""),
        ServiceDeed::StepDone { action, .. } => ("step", action),
        ServiceDeed::Corrected { .. } => ("stands otherwise", ""),
        ServiceDeed::Stopped { .. } => ("stopped", ""),
        ServiceDeed::Resumed { .. } => ("resumed", ""),
        ServiceDeed::HandedOver { .. } => ("handed over", ""),
        ServiceDeed::Finished { .. } => ("finished", ""),
    }
}

/// A line for each reading; a line without reading for an entry that has none.
fn data(file: &WorkFile, at: Utc) -> Attachment {
    let mut csv = CsvFile::new(&HEAD);
    let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
    for e in &file.entries {
        let (words, readings, remark) = parts(&e.act.deed);
        let (kind, action) = kind(&e.act.deed);
        let mut row = |r: Option<&StepReading>| {
            csv.row(&[
                e.act.at.to_string(),
                e.who.clone(),
                kind.to_owned(),
                action.to_owned(),
                words.clone(),
                r.map(|r| r.what.clone()).unwrap_or_default(),
                r.map(|r| r.as_written.clone()).unwrap_or_default(),
                number(r.and_then(|r| r.value)),
                r.map(|r| r.unit.clone()).unwrap_or_default(),
                number(r.and_then(|r| r.from)),
                number(r.and_then(|r| r.to)),
                remark.to_owned(),
            ]);
        };
        if readings.is_empty() {
            row(None);
        }
        for r in readings {
            row(Some(r));
        }
    }
    Attachment {
        name: format!("{}.csv", file.id),
        mime: "text/csv",
        description: "everything entered about the work, a line for each reading".to_owned(),
        relation: Relation::Data,
        modified_at: at,
        bytes: csv.bytes(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_booked_stands_beside_the_reading() {
        let act = serde_json::from_str(
            r#"{"work":"S1","unit":"QQQU1000011","at":"2026-03-16T12:00:00Z","of":"step_done",
            "action":"recover","instruction":"Recover.","readings":[{"what":"scale",
            "as_written":"4.5","value":4.5,"unit":"kg","from":0.0}],"after":{"keys":{}},
            "booked":{"at":"2026-03-16T12:00:00Z","person":"Ann","gas":"R134a","g":4500,
            "from":"unit:QQQU1000011","to":"cylinder:C12","reason":"recovery"}}"#,
        );
        let told = told(&ServiceEntry { act: act.unwrap(), who: "Ann".into() });
        assert_eq!(
            told,
            "Recover.\nscale: 4.5 (told: at least 0.0 kg)\n\
             booked: 4.500 kg R134a from QQQU1000011 to cylinder C12"
        );
    }
}
