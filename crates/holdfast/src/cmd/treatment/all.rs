//! `holdfast treatment check --all`: every box of the readings files.

use std::cmp::Reverse;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::PathBuf;

use serde_json::{Value, json};
use treatment::{Schedule, Verdict};
use units::Utc;
use voyage::{BoxVerdict, Fleet, Source};

use super::check::{calibration, schedule};
use super::{All, EXIT_NO};
use crate::fail::Fail;
use crate::out;
use crate::progress::Bar;

/// Boxes named to a person; the rest are counted.
const BOXES_SHOWN: usize = 20;

/// Slowest boxes named.
const SLOWEST_SHOWN: usize = 5;

/// Refused rows told to a person.
const REFUSED_SHOWN: usize = 20;

/// Bytes read between two moves of the bar.
const BAR_STEP: u64 = 4 << 20;

/// Verdicts, the worst first.
const VERDICTS: [(Verdict, &str, &str); 6] = [
    (Verdict::InvalidPending, "invalid_pending", "an official must decide"),
    (Verdict::Cancelled, "cancelled", "cancelled"),
    (Verdict::NotStartable, "not_startable", "not startable: probes or calibration"),
    (Verdict::NotStarted, "not_started", "no clock runs"),
    (Verdict::Running, "running", "running"),
    (Verdict::TimeMet, "time_met", "time met"),
];

struct OnDisk(PathBuf);

impl Source for OnDisk {
    fn name(&self) -> String {
        self.0.display().to_string()
    }

    fn open(&self) -> io::Result<Box<dyn Read>> {
        Ok(Box::new(File::open(&self.0)?))
    }
}

/// Judges every box.
pub fn run(c: &All) -> Result<u8, Fail> {
    let schedule = schedule(&c.schedule)?;
    let calibration = calibration(c.calibration.as_deref())?;
    let fleet = read(&c.readings)?;
    if fleet.boxes() == 0 {
        return Err(Fail::refused(nothing(c, &fleet)));
    }
    let told = Told::of(&fleet);
    let bar = Bar::start("judging boxes");
    let all = fleet.boxes() as u64;
    let mut progress = |done: u64| {
        if done.is_multiple_of(512) {
            bar.at(done, all);
        }
    };
    let boxes = fleet.judge(&schedule, calibration.as_ref(), &mut progress)?;
    drop(bar);
    if c.json {
        print_document(&schedule, &boxes, &told)?;
    } else {
        tell_refused(&told);
        out::print(text(&schedule, &boxes, &told))?;
    }
    let no = boxes.iter().any(|b| b.standing.verdict.exit_status() == EXIT_NO);
    Ok(if no { EXIT_NO } else { 0 })
}

fn read(paths: &[PathBuf]) -> Result<Fleet, Fail> {
    let size = |p: &PathBuf| std::fs::metadata(p).map_or(0, |m| m.len());
    let all: u64 = paths.iter().map(size).sum();
    let files: Vec<OnDisk> = paths.iter().cloned().map(OnDisk).collect();
    let sources: Vec<&dyn Source> = files.iter().map(|f| f as &dyn Source).collect();
    let bar = Bar::start("reading files");
    let mut shown = 0;
    let mut progress = |done: u64| {
        if done < shown || done - shown >= BAR_STEP {
            bar.at(done, all);
            shown = done;
        }
    };
    Ok(voyage::read_fleet(&sources, &mut progress)?)
}

fn nothing(c: &All, fleet: &Fleet) -> String {
    let names: Vec<String> = c.readings.iter().map(|p| p.display().to_string()).collect();
    match fleet.refused.first() {
        Some(r) => format!(
            "{}:{}: {}; all {} rows were refused, correct the file",
            r.file, r.line, r.why, fleet.refused_count
        ),
        None => format!("{}: no rows; check the file", names.join(", ")),
    }
}

/// What is said of the files beside the verdicts.
struct Told {
    rows: u64,
    refused: Vec<voyage::Refused>,
    refused_count: u64,
    warnings: Vec<String>,
}

impl Told {
    fn of(fleet: &Fleet) -> Self {
        Self {
            rows: fleet.rows,
            refused: fleet.refused.clone(),
            refused_count: fleet.refused_count,
            warnings: fleet.warnings.clone(),
        }
    }
}

fn count(boxes: &[BoxVerdict], verdict: Verdict) -> usize {
    boxes.iter().filter(|b| b.standing.verdict == verdict).count()
}

fn word(verdict: Verdict) -> &'static str {
    VERDICTS.iter().find(|(v, ..)| *v == verdict).map_or("", |(_, word, _)| word)
}

/// Writes the one document box by box: it is never held whole.
fn print_document(schedule: &Schedule, boxes: &[BoxVerdict], told: &Told) -> Result<(), Fail> {
    let mut to = io::BufWriter::with_capacity(1 << 16, io::stdout().lock());
    let done = document(&mut to, schedule, boxes, told).and_then(|()| to.flush());
    match done {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Fail::refused(format!("standard output: {e}")))
        }
        _ => Ok(()),
    }
}

fn document(
    to: &mut impl Write,
    schedule: &Schedule,
    boxes: &[BoxVerdict],
    told: &Told,
) -> io::Result<()> {
    let verdicts: serde_json::Map<String, Value> =
        VERDICTS.iter().map(|(v, word, _)| ((*word).to_owned(), count(boxes, *v).into())).collect();
    let refused =
        told.refused.iter().map(|r| json!({"file": r.file, "line": r.line, "why": r.why}));
    write!(
        to,
        "{{\"schedule\":{},\"units\":{},\"verdicts\":{},\"rehearsal\":{},\"rows\":{},\
         \"refused_count\":{},\"refused\":{},\"warnings\":{},\"boxes\":[",
        json!(schedule.id),
        boxes.len(),
        Value::Object(verdicts),
        schedule.is_rehearsal(),
        told.rows,
        told.refused_count,
        Value::Array(refused.collect()),
        json!(told.warnings),
    )?;
    for (i, b) in boxes.iter().enumerate() {
        let comma = if i == 0 { "" } else { "," };
        write!(
            to,
            "{comma}{{\"unit\":\"{}\",\"verdict\":\"{}\"",
            b.unit.text(),
            word(b.standing.verdict)
        )?;
        instant(to, "started_at", b.standing.started_at)?;
        instant(to, "time_met_at", b.standing.time_met_at)?;
        instant(to, "finish_at", b.standing.finish_at)?;
        instant(to, "last_reading_at", b.standing.last_reading_at)?;
        write!(to, ",\"breaches\":{},\"restarts\":{}}}", b.standing.breaches, b.standing.restarts)?;
    }
    writeln!(to, "]}}")
}

fn instant(to: &mut impl Write, key: &str, at: Option<Utc>) -> io::Result<()> {
    match at {
        Some(at) => write!(to, ",\"{key}\":\"{at}\""),
        None => write!(to, ",\"{key}\":null"),
    }
}

fn text(schedule: &Schedule, boxes: &[BoxVerdict], told: &Told) -> String {
    let mut t = format!("schedule {}: {}\n", schedule.id, schedule.title);
    if schedule.is_rehearsal() {
        t += "REHEARSAL: nobody read this schedule in a source; this rehearsal settles nothing\n";
    }
    for w in &told.warnings {
        let _ = writeln!(t, "! {w}");
    }
    let _ =
        writeln!(t, "{} boxes, {} rows, {} refused\n", boxes.len(), told.rows, told.refused_count);
    for (verdict, _, words) in VERDICTS {
        let n = count(boxes, verdict);
        if n > 0 {
            let _ = writeln!(t, "{n:>9}  {words}");
        }
    }
    for (verdict, _, words) in VERDICTS.iter().take(3) {
        t += &named(boxes, *verdict, words);
    }
    t += &slowest(boxes);
    t += "\nOnly the authority accepts a treatment. One box: --unit UNIT in place of --all.";
    t
}

/// The boxes of one verdict, those with most breaches first.
fn named(boxes: &[BoxVerdict], verdict: Verdict, words: &str) -> String {
    let mut these: Vec<&BoxVerdict> =
        boxes.iter().filter(|b| b.standing.verdict == verdict).collect();
    if these.is_empty() {
        return String::new();
    }
    these.sort_by_key(|b| (Reverse(b.standing.breaches), b.unit));
    let mut t = format!("\n{words}\n");
    for b in these.iter().take(BOXES_SHOWN) {
        let _ = write!(t, "  {}  {} breaches", b.unit.text(), b.standing.breaches);
        if let Some(at) = b.standing.started_at {
            let _ = write!(t, ", clock from {}", at.to_minute());
        }
        if let Some(at) = b.standing.finish_at {
            let _ = write!(t, ", if it starts again it can end {}", at.to_minute());
        }
        t.push('\n');
    }
    if these.len() > BOXES_SHOWN {
        let _ = writeln!(t, "  … and {} more; --json lists them all", these.len() - BOXES_SHOWN);
    }
    t
}

/// The running boxes that end last.
fn slowest(boxes: &[BoxVerdict]) -> String {
    let mut running: Vec<&BoxVerdict> =
        boxes.iter().filter(|b| b.standing.verdict == Verdict::Running).collect();
    running.sort_by_key(|b| (Reverse(b.standing.finish_at), b.unit));
    if running.is_empty() {
        return String::new();
    }
    let mut t = String::from("\nlast to end, if nothing breaks (UTC)\n");
    for b in running.iter().take(SLOWEST_SHOWN) {
        let at = b.standing.finish_at.map_or_else(|| "not known".to_owned(), Utc::to_minute);
        let _ = writeln!(t, "  {}  {at}", b.unit.text());
    }
    t
}

/// Refused rows for a person, on standard error.
fn tell_refused(told: &Told) {
    for r in told.refused.iter().take(REFUSED_SHOWN) {
        out::remark(&format!("refused {}:{}: {}", r.file, r.line, r.why));
    }
    let more = told.refused_count.saturating_sub(REFUSED_SHOWN as u64);
    if more > 0 {
        out::remark(&format!("… and {more} more refused rows; --json lists the first of them"));
    }
}
