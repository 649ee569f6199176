//! The answer for a tired person: what, where, what next.

use std::fmt::Write as _;

use units::Utc;

use crate::answer::{Answer, BreachLine, ProbeLine, Verdict};
use crate::policy::{Effect, Kind};
use crate::schedule::{Evidence, Schedule};

/// Breaches shown; all of them are in the JSON.
const BREACHES_SHOWN: usize = 30;

/// Said with every answer.
const WHO_ACCEPTS: &str = "Only the authority accepts a treatment. Keep the unit running and the \
                           record safe until it is released.";

/// The whole answer as text, no line end at the end.
#[must_use]
pub fn report(a: &Answer, schedule: &Schedule) -> String {
    let mut t = format!("{}  {}\n", a.unit, headline(a));
    let _ = writeln!(t, "schedule {}: {}", a.schedule, a.title);
    let _ = writeln!(t, "  {}; {}", a.source, a.evidence.words());
    if a.rehearsal {
        t += "  REHEARSAL: this rehearsal settles nothing; get the rule's own text first\n";
    }
    let _ = writeln!(t, "  {}", asks(schedule));
    t += &clock_lines(a);
    t += "\n";
    for p in &a.probes {
        let _ = writeln!(t, "{}", probe_line(p, a));
    }
    if !a.calibration_judged {
        t += "calibration: none given, so none was judged and no correction applied\n";
    }
    if !a.breaches.is_empty() {
        let _ = writeln!(t, "\n{} breaches", a.breaches.len());
    }
    for b in a.breaches.iter().take(BREACHES_SHOWN) {
        let _ = writeln!(t, "  {}", breach_line(b));
    }
    if a.breaches.len() > BREACHES_SHOWN {
        let _ = writeln!(t, "  … and {} more; --json lists all", a.breaches.len() - BREACHES_SHOWN);
    }
    for w in &a.warnings {
        let _ = writeln!(t, "! {w}");
    }
    let _ = write!(t, "\n{}\n{WHO_ACCEPTS}", next(a));
    t
}

fn headline(a: &Answer) -> String {
    match a.verdict {
        Verdict::NotStartable => "NOT STARTABLE".into(),
        Verdict::NotStarted if a.restarts > 0 => "NOT STARTED: waiting to start again".into(),
        Verdict::NotStarted => "NOT STARTED".into(),
        Verdict::Running => format!("RUNNING: {} to go", days_hours(a.remaining_h)),
        Verdict::TimeMet => format!("TIME MET at {} UTC", minute(a.time_met_at)),
        Verdict::InvalidPending => "INVALID PENDING: an official must decide".into(),
        Verdict::Cancelled => "CANCELLED".into(),
    }
}

fn asks(s: &Schedule) -> String {
    let u = s.unit.sign();
    let mut t = format!("asks for: pulp at or below {} {u} for {} days", s.hold_max, s.days);
    if s.start_max != s.hold_max {
        let _ = write!(t, ", starting at or below {} {u}", s.start_max);
    }
    if let Some(low) = s.hold_min {
        let _ = write!(t, ", cold side {low} {u}");
    }
    if let Some(step) = s.step_max {
        let _ = write!(t, ", change up to {step} {u} between readings");
    }
    let _ = write!(t, ", a reading every {} min, {} probes", s.gap_max_minutes, s.pulp_probes_min);
    t
}

fn clock_lines(a: &Answer) -> String {
    let mut t = String::new();
    if a.started_at.is_some() {
        let _ = writeln!(
            t,
            "clock: started {} UTC, {} of {} run{}",
            minute(a.started_at),
            days_hours(a.elapsed_h),
            days_hours(a.required_h),
            if a.extension_h > 0.0 {
                format!(" (extension {:.1} h included)", a.extension_h)
            } else {
                String::new()
            }
        );
    }
    if a.restarts > 0 {
        let _ = writeln!(t, "clock started again {} time(s)", a.restarts);
    }
    if let Some(at) = a.earliest_finish_at {
        let _ = writeln!(t, "earliest end if nothing breaks it: {} UTC", at.to_minute());
    }
    if a.planning_restart_at.is_some() {
        let _ = writeln!(
            t,
            "for planning only, the official decides: a new clock from {} UTC would end {} UTC",
            minute(a.planning_restart_at),
            minute(a.planning_finish_at)
        );
    }
    let _ = writeln!(
        t,
        "{} reading times, the last {} UTC",
        a.reading_times,
        minute(a.last_reading_at)
    );
    t
}

fn probe_line(p: &ProbeLine, a: &Answer) -> String {
    if !p.fitted {
        return format!("{}  not fitted", p.probe);
    }
    let span = match (p.min_c, p.max_c) {
        (Some(lo), Some(hi)) => format!("{lo:.2} to {hi:.2} °C"),
        _ => "no reading".into(),
    };
    let margin = p.margin_k.map_or_else(String::new, |m| match m {
        m if m < 0.0 => format!(", {:.2} K over the limit at its warmest", -m),
        m => format!(", {m:.2} K below the limit at its warmest"),
    });
    let mut t = format!("{}  {span}{margin}", p.probe);
    if a.calibration_judged {
        match (p.slurry_mean_c, p.correction_c) {
            (Some(mean), Some(c)) => {
                let _ = write!(t, "; slurry {mean:.2} °C, correction {c:+.2} K");
            }
            _ => t += "; no slurry reading",
        }
    }
    if p.acceptable == Some(false) {
        t += "; NOT ACCEPTABLE";
    }
    if !p.must_comply {
        t += "; extra probe, its breaches only warn";
    }
    t
}

fn breach_line(b: &BreachLine) -> String {
    let probe = b.probe.as_deref().unwrap_or("record");
    let from = b.from_at.to_minute();
    let to = b.to_at.to_minute();
    let hours = b.to_at.hours_since(b.from_at);
    let what = match (b.kind, b.worst_c) {
        (Kind::Excursion, Some(v)) => format!("warmest {v:.2} °C, {} readings", b.readings),
        (Kind::Cold, Some(v)) => format!("coldest {v:.2} °C, {} readings", b.readings),
        (Kind::Step, Some(v)) => format!("changed {v:.2} K"),
        (Kind::Gap, _) => format!("no reading for {hours:.2} h"),
        _ => format!("{} readings missing or impossible", b.readings),
    };
    let rule = b.rule.as_deref().map_or_else(String::new, |r| format!(" [{r}]"));
    format!("{:9} {probe}  {from} to {to}: {what} -> {}{rule}", b.kind.as_str(), does(b.effect))
}

fn does(effect: Effect) -> &'static str {
    match effect {
        Effect::Warn => "listed only",
        Effect::Verified => "verified by an official",
        Effect::Extend => "the day counts for the extension",
        Effect::InvalidUnlessVerified => "invalid unless an official verifies it",
        Effect::Refused => "refused by an official, the clock starts again",
        Effect::Restart => "the clock starts again",
        Effect::Cancel => "cancels the treatment",
    }
}

fn next(a: &Answer) -> String {
    let over: Vec<&str> = a
        .probes
        .iter()
        .filter(|p| p.fitted && p.margin_k.is_some_and(|m| m < 0.0))
        .map(|p| p.probe.as_str())
        .collect();
    match a.verdict {
        Verdict::NotStartable => "Next: put right what is marked ! above and check again.".into(),
        Verdict::NotStarted => format!(
            "Next: the clock starts when every fitted probe is at or below the starting \
             temperature{}.",
            if over.is_empty() { String::new() } else { format!("; look at {}", over.join(", ")) }
        ),
        Verdict::Running => "Next: keep the readings coming without a gap.".into(),
        Verdict::TimeMet => {
            "Next: hold the temperature; send record and calibration to the authority.".into()
        }
        Verdict::InvalidPending => {
            "Next: hold the temperature and tell the authority of the breaches above, with the \
             record; plan with the later end."
                .into()
        }
        Verdict::Cancelled => "Next: tell the authority; hold the temperature meanwhile.".into(),
    }
}

fn minute(at: Option<Utc>) -> String {
    at.map_or_else(|| "-".into(), Utc::to_minute)
}

/// `13 d 4.5 h`
fn days_hours(hours: f64) -> String {
    let days = (hours / 24.0).floor();
    let rest = hours - days * 24.0;
    if days < 1.0 { format!("{rest:.1} h") } else { format!("{days} d {rest:.1} h") }
}

/// One line of the list of schedules.
#[must_use]
pub fn listed(s: &Schedule) -> String {
    let mark = match s.evidence {
        Evidence::Official => "official  ",
        Evidence::Secondary => "secondary ",
        Evidence::Unverified => "REHEARSAL ",
    };
    let u = s.unit.sign();
    format!(
        "{mark} {:32} {:>6} {u} {:>4} d  {}",
        s.id,
        s.hold_max.to_string(),
        s.days.to_string(),
        s.title
    )
}
