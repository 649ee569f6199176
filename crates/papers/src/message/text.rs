//! Setting the text: what must be told has its room kept; exceptions fill the rest, the most
//! urgent first.

use record::treatment::{Standing, TreatmentView};
use record::{BoxLine, NoteEntry, NoteKind, State};

use super::change::{Change, changes};
use super::malfunction::{Malfunction, malfunctions};
use super::table::{Detail, rows};
use super::{Facts, Kind, Message, TEXT_MAX, WIDTH, celsius, clock};
use crate::ascii::{fold, wrap};

/// Of what head and end leave, at most this share goes to treatments while exceptions wait.
const TREATMENTS_SHARE: usize = 3;
/// Of the room for exceptions, so many per cent go to those told at length when not all fit.
const AT_LENGTH: usize = 45;
/// Room kept for the line that counts what did not fit.
const REST_LINE: usize = WIDTH + 1;
/// Rounds missed this long ago are no news, hours.
const MISSED_NEWS_H: f64 = 48.0;

pub(super) fn compose(facts: &Facts<'_>) -> Message {
    let changes = match (&facts.previous, facts.delta) {
        (Some(p), true) => Some(changes(&p.rows, &rows(facts, Detail::Figures))),
        _ => None,
    };
    let reports = malfunctions(facts.notes);
    let blocks = exception_blocks(facts, changes.as_deref(), &reports);
    let head = head(facts, changes.as_ref().map(Vec::len));
    let end = end(facts);
    let fixed = head.len() + end.len() + 2 * REST_LINE;
    let room = TEXT_MAX.saturating_sub(fixed);

    let treatment_lines = treatment_lines(facts);
    let wanted: usize = blocks.iter().map(|b| b.full.len()).sum();
    let share = room / TREATMENTS_SHARE;
    let left_by_exceptions = room.saturating_sub(wanted);
    let (treatments, treatments_told) =
        fill(&treatment_lines, share.max(left_by_exceptions).min(room));
    let exceptions_room = room.saturating_sub(treatments.len());
    let (exceptions, told) = fill_with_both(&blocks, exceptions_room);

    let mut text = head;
    push_exceptions(&mut text, facts, &exceptions, blocks.len(), told);
    if !treatment_lines.is_empty() {
        text.push_str("\nCOLD TREATMENTS, EVERY PROBE AS READ, IN C\n");
        text.push_str(&treatments);
        rest(&mut text, treatment_lines.len() - treatments_told, "TREATMENTS");
    }
    text.push_str(&end);
    Message { text, exceptions: blocks.len(), told, treatments_told, changes }
}

/// One box to tell of, at length and in a line.
struct Block {
    full: String,
    short: String,
}

/// The first blocks at length; when not all fit so, the later ones in a line each.
fn fill_with_both(blocks: &[Block], room: usize) -> (String, usize) {
    let all: usize = blocks.iter().map(|b| b.full.len()).sum();
    let at_length = if all <= room { room } else { room * AT_LENGTH / 100 };
    let mut out = String::new();
    let mut told = 0;
    let mut short = false;
    for b in blocks {
        short |= out.len() + b.full.len() > at_length;
        let text = if short { &b.short } else { &b.full };
        if out.len() + text.len() > room {
            break;
        }
        out.push_str(text);
        told += 1;
    }
    (out, told)
}

/// As many blocks from the first as fit.
fn fill(blocks: &[String], room: usize) -> (String, usize) {
    let mut out = String::new();
    let mut told = 0;
    for block in blocks {
        if out.len() + block.len() > room {
            break;
        }
        out.push_str(block);
        told += 1;
    }
    (out, told)
}

fn push_exceptions(text: &mut String, facts: &Facts<'_>, told: &str, all: usize, shown: usize) {
    text.push('\n');
    let what = match (facts.kind, facts.delta && facts.previous.is_some()) {
        (_, true) => "CHANGES, MOST URGENT FIRST",
        (Kind::TwiceDaily, _) => "EXCEPTIONS, MOST URGENT FIRST",
        (Kind::Exceptions, _) => "MALFUNCTION REPORTS, MOST URGENT FIRST",
    };
    text.push_str(what);
    text.push('\n');
    text.push_str(if all == 0 { "NONE\n" } else { told });
    rest(text, all - shown, "BOXES");
}

/// How many are left, and where they are.
fn rest(text: &mut String, left: usize, what: &str) {
    if left > 0 {
        let line = format!("{left} MORE {what} DID NOT FIT; THE ATTACHED TABLE HAS THEM ALL");
        lines(text, &line, 0);
    }
}

fn lines(out: &mut String, text: &str, indent: usize) {
    let margin = " ".repeat(indent);
    for line in wrap(&fold(text), WIDTH - indent, 2) {
        out.push_str(&margin);
        out.push_str(&line);
        out.push('\n');
    }
}

fn head(facts: &Facts<'_>, changed: Option<usize>) -> String {
    let mut s = String::new();
    let kind = match facts.kind {
        Kind::TwiceDaily => "TWICE-DAILY REPORT",
        Kind::Exceptions => "EXCEPTION REPORT",
    };
    lines(&mut s, &format!("{kind} NO {} - {}", facts.number, cut(&facts.ship, 80)), 0);
    let read = match facts.list.as_of {
        Some(t) => format!("READINGS UP TO {} UTC", t.to_minute()),
        None => "NOTHING READ YET".to_owned(),
    };
    lines(&mut s, &format!("MADE {} UTC. {read}", facts.made_at.to_minute()), 0);
    if let Some((port, eta)) = &facts.next_port {
        let eta = eta.map_or_else(|| "NOT KNOWN".to_owned(), |t| format!("{} UTC", t.to_minute()));
        lines(&mut s, &format!("NEXT PORT {}, EXPECTED {eta}", cut(port, 30)), 0);
    }
    let count = |state| facts.list.count(state);
    let boxes = &facts.list.boxes;
    let off = boxes.iter().filter(|b| b.on_power == Some(false)).count();
    let line = format!(
        "BOXES {}: URGENT {}, ACT {}, WATCH {}, OK {}. WITHOUT POWER {off}. NOT READ FOR 12 H {}. \
         NEVER READ {}.",
        boxes.len(),
        count(State::Urgent),
        count(State::Act),
        count(State::Watch),
        count(State::Ok),
        boxes.iter().filter(|b| silent(b, facts)).count(),
        boxes.iter().filter(|b| b.last_read_at.is_none()).count(),
    );
    lines(&mut s, &line, 0);
    match (&facts.previous, facts.delta, changed) {
        (Some(p), true, Some(n)) => lines(
            &mut s,
            &format!("CHANGES SINCE NO {} OF {} UTC ONLY: {n} BOXES", p.number, p.at.to_minute()),
            0,
        ),
        (Some(p), _, _) => {
            lines(&mut s, &format!("LAST BEFORE: NO {} OF {} UTC", p.number, p.at.to_minute()), 0);
        }
        (None, true, _) => lines(&mut s, "NO MESSAGE BEFORE THIS ONE, SO ALL IS TOLD", 0),
        (None, false, _) => {}
    }
    missed(&mut s, facts);
    s
}

/// Not read for 12 h, but read before.
fn silent(b: &BoxLine, facts: &Facts<'_>) -> bool {
    let (Some(read), Some(now)) = (b.last_read_at, facts.list.as_of) else { return false };
    now.hours_since(read) > 12.0
}

/// Rounds that could not be walked, the last ones; not more than a few lines.
fn missed(s: &mut String, facts: &Facts<'_>) {
    let news = facts
        .missed
        .iter()
        .rev()
        .filter(|m| facts.made_at.hours_since(m.missed.to) < MISSED_NEWS_H);
    for m in news.take(3) {
        let line = format!(
            "NO ROUND {} TO {}: {} ({})",
            clock(m.missed.from),
            clock(m.missed.to),
            cut(&m.missed.words(), 120),
            cut(&m.who, 20)
        );
        lines(s, &line, 0);
    }
}

fn end(facts: &Facts<'_>) -> String {
    let mut s = String::from("\n");
    let root = facts.root.to_string();
    let fours: Vec<&str> = (0..4).filter_map(|i| root.get(4 * i..4 * i + 4)).collect();
    lines(&mut s, &format!("ROOT {root}@{}", facts.log_entries), 0);
    lines(
        &mut s,
        &format!(
            "BY VOICE: ROOT BEGINS {} AT {} ENTRIES. KEEP IT.",
            fours.join(" ").to_uppercase(),
            facts.log_entries
        ),
        0,
    );
    lines(&mut s, &format!("END OF NO {}. NO REPLY NEEDED.", facts.number), 0);
    s
}

fn cut(text: &str, most: usize) -> String {
    let folded = fold(text);
    if folded.len() <= most {
        return folded;
    }
    format!("{}...", folded.get(..most.saturating_sub(3)).unwrap_or("").trim_end())
}

/// One block of lines per box to tell of.
fn exception_blocks(
    facts: &Facts<'_>,
    changed: Option<&[Change]>,
    reports: &[Malfunction<'_>],
) -> Vec<Block> {
    let mut out = Vec::new();
    for b in &facts.list.boxes {
        let change = changed.map(|all| all.iter().find(|c| c.unit == b.unit));
        let report = reports.iter().rev().find(|m| *m.unit == b.unit).filter(|m| {
            // What was restored is told once more after it happened, then it is history.
            let news = facts.previous.as_ref().map_or(facts.made_at.plus_hours(-24.0), |p| p.at);
            !m.restored() || m.notes.last().is_some_and(|n| n.entered_at >= news)
        });
        let wanted = match (change, facts.kind) {
            (Some(change), _) => change.is_some(),
            (None, Kind::TwiceDaily) => b.state != State::Ok,
            (None, Kind::Exceptions) => b.state >= State::Act || report.is_some(),
        };
        if wanted {
            let number = out.len() + 1;
            let full = block(number, b, facts, change.flatten(), report);
            out.push(Block { full, short: in_a_line(number, b, change.flatten()) });
        }
    }
    let gone = changed.unwrap_or(&[]).iter().filter(|c| c.gone);
    out.extend(gone.map(|c| {
        let line = format!("{}: {}\n", c.unit, c.what.join(", "));
        Block { full: line.clone(), short: line }
    }));
    out
}

/// A box whose whole story is in the table.
fn in_a_line(number: usize, b: &BoxLine, change: Option<&Change>) -> String {
    let mut s = String::new();
    let state = b.state.as_str().to_uppercase();
    let why = change.map_or_else(|| b.reason.clone(), |c| c.what.join(", "));
    let room = 2 * WIDTH - 50;
    lines(&mut s, &format!("{number} {} {state} - {}: {}", b.unit, place(b), cut(&why, room)), 0);
    s
}

fn place(b: &BoxLine) -> String {
    b.cell.map_or_else(
        || b.stow.as_deref().map_or_else(|| "CELL NOT KNOWN".to_owned(), |s| cut(s, 12)),
        |c| c.to_string().to_uppercase(),
    )
}

fn block(
    number: usize,
    b: &BoxLine,
    facts: &Facts<'_>,
    change: Option<&Change>,
    report: Option<&Malfunction<'_>>,
) -> String {
    let mut s = String::new();
    let place = place(b);
    let port =
        b.discharge_port.as_deref().map_or_else(String::new, |p| format!(" FOR {}", cut(p, 8)));
    let cargo = cut(b.cargo.as_deref().unwrap_or("CARGO NOT KNOWN"), 28);
    let state = b.state.as_str().to_uppercase();
    lines(&mut s, &format!("{number} {} {state} - {place}, {cargo}{port}", b.unit), 0);
    if let Some(c) = change {
        lines(&mut s, &format!("CHANGED: {}", cut(&c.what.join(", "), 140)), 2);
    }
    if b.state != State::Ok {
        lines(&mut s, &cut(&b.reason, 230), 2);
    }
    let known = [("SET", b.set_point_c), ("SUPPLY", b.supply_c), ("RETURN", b.return_c)];
    let mut air: Vec<String> =
        known.iter().filter_map(|(name, t)| t.map(|t| format!("{name} {}", celsius(t)))).collect();
    if b.hours_to_limit.is_some_and(|h| h < 0.5) {
        air.push("LIMIT REACHED".to_owned());
    } else if let Some(h) = b.hours_to_limit {
        let p90 = b
            .hours_to_limit_p90
            .map_or_else(String::new, |[lo, hi]| format!(" ({lo:.0} TO {hi:.0})"));
        air.push(format!("LIMIT IN {h:.0} H{p90}"));
    }
    if b.on_power == Some(false) {
        air.push("NO POWER".to_owned());
    }
    match b.last_read_at {
        Some(t) => air.push(format!("READ {}", clock(t))),
        None => air.push("NEVER READ".to_owned()),
    }
    lines(&mut s, &air.join(", "), 2);
    match facts.kind {
        Kind::Exceptions => malfunction(&mut s, b, report),
        Kind::TwiceDaily => {
            if let Some(last) = report.and_then(|m| m.notes.last()) {
                lines(&mut s, &note_line(last), 2);
            }
        }
    }
    s
}

/// Noticed, done, restored, each with its time; what nobody wrote down is said to be missing.
fn malfunction(s: &mut String, b: &BoxLine, report: Option<&Malfunction<'_>>) {
    if let Some(since) = b.findings.iter().find_map(|f| f.since) {
        lines(s, &format!("IN THE READINGS SINCE {} UTC", clock(since)), 2);
    }
    let notes = report.map_or(&[][..], |m| &m.notes);
    for n in notes {
        lines(s, &note_line(n), 2);
    }
    let missing: Vec<String> = [NoteKind::Noticed, NoteKind::Done, NoteKind::Restored]
        .into_iter()
        .filter(|kind| !notes.iter().any(|n| n.note.kind == *kind))
        .map(|kind| kind.as_str().to_uppercase())
        .collect();
    if !missing.is_empty() {
        lines(s, &format!("{}: NOT WRITTEN DOWN", missing.join(", ")), 2);
    }
}

fn note_line(n: &NoteEntry) -> String {
    let late = record::note::late_h(n.note.at, n.entered_at);
    let late = late.map_or_else(String::new, |_| format!(", ENTERED LATE {}", clock(n.entered_at)));
    format!(
        "{} {} UTC ({}{late}): {}",
        n.note.kind.as_str().to_uppercase(),
        clock(n.note.at),
        cut(&n.who, 24),
        cut(&n.note.text, 200)
    )
}

/// One line per treatment, those that need somebody first; before it, where it changes, the
/// schedule and when the probes were read.
fn treatment_lines(facts: &Facts<'_>) -> Vec<String> {
    let mut out = Vec::new();
    let mut last = String::new();
    for t in facts.treatments.iter().filter(|t| t.released_at.is_none()) {
        let head = treatment_head(t);
        let mut s = String::new();
        if head != last {
            lines(&mut s, &head, 0);
        }
        lines(&mut s, &treatment_line(t), 2);
        last = head;
        out.push(s);
    }
    out
}

fn treatment_head(t: &TreatmentView) -> String {
    let rehearsal = if t.rehearsal { ", REHEARSAL" } else { "" };
    let read = match t.points.last() {
        Some(p) => format!("READ {} UTC", clock(p.at)),
        None => format!("AS OF {} UTC", clock(t.as_of)),
    };
    format!("{}{rehearsal}, {read}:", cut(&t.schedule_id, 40))
}

fn treatment_line(t: &TreatmentView) -> String {
    let probes: Vec<String> = t
        .probes
        .iter()
        .filter(|p| p.fitted)
        .map(|p| match p.latest_c {
            Some(c) => format!("P{} {}", p.number, celsius(c).trim_end_matches(" C")),
            None => format!("P{} NOT READ", p.number),
        })
        .collect();
    let probes = if probes.is_empty() { "NO PROBE READ".to_owned() } else { probes.join(" ") };
    let standing = match t.standing {
        Standing::InvalidPending => "OFFICIAL TO DECIDE".to_owned(),
        Standing::TimeMet => "TIME MET, NOT RELEASED".to_owned(),
        other => other.words().to_uppercase(),
    };
    format!("{} {:.0}/{:.0} H {probes} {standing}", t.unit, t.elapsed_h, t.required_h)
}
