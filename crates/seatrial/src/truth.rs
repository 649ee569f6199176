//! What really happened, kept aside from the ship's files.

use std::fmt::Write as _;

use units::Utc;

use crate::crew::Slip;
use crate::manifest::Reefer;
use crate::passage::{Passage, TruthRow};
use crate::physics::NEAR;

/// truth/faults.csv: every fault with the true times at which limits are passed when nothing is
/// done; empty where that does not happen before arrival.
#[must_use]
pub fn faults(reefers: &[Reefer], passages: &[Passage], start: Utc, data_h: u32) -> Vec<u8> {
    let mut out = String::from(
        "unit,cargo,fault,started_at,ended_at,severity,what_the_crew_sees,warm_limit_c,\
         mean_passes_warm_limit_at,warmest_passes_warm_limit_at,cold_limit_c,\
         coldest_passes_cold_limit_at,mean_at_end_c,warmest_at_end_c,coldest_at_end_c\n",
    );
    let at = |h: Option<f64>| {
        // To the whole second: hours are fractions of steps.
        h.map_or(String::new(), |h| {
            let ms = (h * 3600.0).round() as i64 * 1000;
            Utc::from_ms(start.ms() + ms).to_string()
        })
    };
    for (r, p) in reefers.iter().zip(passages) {
        let Some(f) = r.fault else {
            continue;
        };
        let end = p.truth.iter().rev().find(|t| t.hour <= data_h);
        let (mean, warm, cold) = end.map_or((String::new(), String::new(), String::new()), |t| {
            let (low, high) = extremes(t);
            (format!("{:.2}", t.mean_c), format!("{high:.2}"), format!("{low:.2}"))
        });
        let _ = writeln!(
            out,
            "{},{},{},{},{},{:.2},{},{:.1},{},{},{:.1},{},{mean},{warm},{cold}",
            r.unit,
            r.cargo.id,
            f.kind.as_str(),
            at(Some(f.start_h)),
            at(f.end_h),
            f.severity,
            f.kind.seen_as(),
            r.warm_limit_c(),
            at(p.limits.mean_warm_h),
            at(p.limits.warmest_warm_h),
            r.cold_limit_c(),
            at(p.limits.coldest_cold_h),
        );
    }
    out.into_bytes()
}

/// Coldest and warmest part of the cargo.
#[must_use]
pub fn extremes(t: &TruthRow) -> (f64, f64) {
    let parts = t.temp_c.get(NEAR..).unwrap_or(&[]);
    let low = parts.iter().copied().fold(f64::MAX, f64::min);
    let high = parts.iter().copied().fold(f64::MIN, f64::max);
    (low, high)
}

/// True cargo temperatures every six hours: up to the end of the data (`ahead` false), or of
/// boxes with a fault after it, when nothing is done (`ahead` true).
#[must_use]
pub fn cargo(
    reefers: &[Reefer],
    passages: &[Passage],
    start: Utc,
    data_h: u32,
    ahead: bool,
) -> Vec<u8> {
    let mut out =
        String::from("time_utc,unit,cargo,mean_c,near_supply_c,top_c,door_end_c,core_c\n");
    let hours = if ahead { data_h + 6..u32::MAX } else { 0..data_h + 1 };
    for (r, p) in reefers.iter().zip(passages) {
        for t in p.truth.iter().filter(|t| hours.contains(&t.hour)) {
            let time = start.plus_hours(f64::from(t.hour));
            let _ = write!(out, "{time},{},{},{:.2}", r.unit, r.cargo.id, t.mean_c);
            for c in t.temp_c.iter().skip(NEAR) {
                let _ = write!(out, ",{c:.2}");
            }
            out.push('\n');
        }
    }
    out.into_bytes()
}

/// truth/slips.csv: what people typed wrongly, and what the display showed.
#[must_use]
pub fn slips(slips: &[Slip]) -> Vec<u8> {
    let mut out = String::from("file,line,unit,column,kind,typed,shown\n");
    for s in slips {
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},{}",
            s.file, s.line, s.unit, s.column, s.kind, s.typed, s.shown
        );
    }
    out.into_bytes()
}
