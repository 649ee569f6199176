//! The ledger for people: every reading time is in it, neighbours of one kind as one line.

use record::treatment::LedgerLine;
use treatment::{Answer, Hour, Ledger, Phase};

/// Reading times joined into lines.
pub(super) fn lines(ledger: &Ledger, answer: &Answer) -> Vec<LedgerLine> {
    let mut out: Vec<LedgerLine> = Vec::new();
    let mut start = None;
    for hour in ledger.hours() {
        if hour.started && hour.phase != Phase::Pending {
            start = Some(hour.at);
        }
        let on_clock =
            matches!(hour.phase, Phase::Running | Phase::Pending | Phase::Met | Phase::PlanDone);
        let elapsed_h = start.filter(|_| on_clock).map(|s| hour.at.hours_since(s).floor() as i64);
        let what = words(&hour, answer);
        match out.last_mut() {
            // What broke is a line of its own each time.
            Some(last) if last.what == what && hour.found.is_empty() && !hour.started => {
                last.to_at = hour.at;
                last.readings += 1;
                last.elapsed_h = elapsed_h;
            }
            _ => out.push(LedgerLine {
                from_at: hour.at,
                to_at: hour.at,
                readings: 1,
                what,
                elapsed_h,
            }),
        }
    }
    out
}

fn words(hour: &Hour, answer: &Answer) -> String {
    if !hour.reading_time {
        return "no probe read: no reading time".to_owned();
    }
    let mut text = match (hour.phase, hour.started) {
        (Phase::Before, _) => "waiting until every probe is cold enough",
        (Phase::Waiting, _) => "broken; waiting until every probe is cold enough",
        (Phase::Pending, true) => "planning clock starts; an official must decide",
        (Phase::Pending, false) if hour.counts => "planning clock runs; an official must decide",
        (Phase::Pending, false) => "an official must decide",
        (Phase::Running, true) => "clock starts",
        (Phase::Running, false) => "counted",
        (Phase::Met, _) if answer.time_met_at == Some(hour.at) => "time met",
        (Phase::Met, _) => "after the time was met; cold held",
        (Phase::PlanDone, _) => "planning clock has run its time; an official must decide",
        (Phase::Cancelled, _) => "cancelled",
    }
    .to_owned();
    for (kind, probe, paragraph) in &hour.found {
        text.push_str("; ");
        text.push_str(kind.as_str());
        if let Some(probe) = probe {
            text.push_str(&format!(" of {probe}"));
        }
        if let Some(p) = paragraph {
            text.push_str(&format!(" under {p}"));
        }
    }
    text
}
