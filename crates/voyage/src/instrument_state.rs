//! What is wrong with an instrument that is being used: its certificate out of date, its check in
//! ice overdue, drifted, withdrawn. For the pages and commands that use it.

use assess::calibration::certificate_on;
use record::InstrumentFile;
use record::calibration::{CheckLine, Due, OnDay};
use record::instrument::InstrumentKind;
use units::Utc;

use crate::Voyage;
use crate::instruments::line;

/// What reads a circuit.
pub const ON_GAUGES: [InstrumentKind; 4] = [
    InstrumentKind::GaugeSet,
    InstrumentKind::Thermometer,
    InstrumentKind::ProbeThermometer,
    InstrumentKind::Barometer,
];
/// What reads a vacuum and the two tests under pressure.
pub const ON_VACUUM: [InstrumentKind; 2] = [InstrumentKind::VacuumGauge, InstrumentKind::GaugeSet];

/// Off in ice by more than this, or moved by it since the check before, K, is told: the limit at
/// which the draft Australian code of practice of 2007 has a hand thermometer looked at again
/// (docs/instruments.md).
const TOLD_K: f64 = 0.2;

impl Voyage {
    /// What is wrong at a time with the instruments that a person's text names; one line each.
    #[must_use]
    pub fn named_instruments_wrong(&self, text: &str, at: Utc) -> Vec<String> {
        let register = &self.acts().register;
        let of = |id: &str| {
            let file = register.instruments.get(id)?;
            let mut all = wrong(file, at);
            if certificate_on(file, at).0 == OnDay::NoCertificate {
                all.insert(0, OnDay::NoCertificate.words());
            }
            told(id, &all)
        };
        register.named_in(text).into_iter().filter_map(of).collect()
    }

    /// What is wrong now with the instruments of some kinds that are in use; one line each.
    #[must_use]
    pub fn instruments_wrong(&self, kinds: &[InstrumentKind], now: Utc) -> Vec<String> {
        let in_use = |f: &InstrumentFile| {
            let kind = f.stated.last().map(|s| s.instrument.kind);
            f.withdrawn.is_none() && kind.is_some_and(|k| kinds.contains(&k))
        };
        let all = self.acts().register.instruments.iter();
        all.filter(|(_, f)| in_use(f)).filter_map(|(id, f)| told(id, &wrong(f, now))).collect()
    }
}

fn told(id: &str, all: &[String]) -> Option<String> {
    (!all.is_empty()).then(|| format!("{id}: {}", all.join("; ")))
}

fn wrong(file: &InstrumentFile, at: Utc) -> Vec<String> {
    let mut out = Vec::new();
    if let Some((when, why)) = file.withdrawn.as_ref().filter(|w| w.0 <= at) {
        out.push(format!("withdrawn {} UTC: {why}", when.to_minute()));
    }
    if let OnDay::OutOfDate(due) = certificate_on(file, at).0 {
        out.push(format!("certificate OUT OF DATE, due {}", due.to_day()));
    }
    let mut then = file.clone();
    then.checks.retain(|c| c.check.at <= at);
    let Some(line) = line(&then, Vec::new(), at) else { return out };
    if matches!(line.check_due, Due::Overdue { .. }) {
        out.push(format!("its check in ice is {}", line.check_due.words()));
    }
    out.extend(line.checks.last().and_then(off));
    out
}

/// What the last check in ice says against it.
fn off(check: &CheckLine) -> Option<String> {
    let ice = check.ice.as_ref().ok()?;
    let day = check.at.to_day();
    let side = |k: f64| if k > 0.0 { "warmer" } else { "colder" };
    // A drift that the readings' spread explains is none.
    let drift = check.drift.as_ref().filter(|d| {
        let sure = d.drift_p90.is_none_or(|[low, high]| low > 0.0 || high < 0.0);
        sure && d.drift_k.abs() > TOLD_K
    });
    if let Some(d) = drift {
        return Some(format!(
            "DRIFTED: in ice on {day} it showed {:.2} K {} than at the check before; near 0 °C \
             add {:+.2} K to its readings",
            d.drift_k.abs(),
            side(d.drift_k),
            ice.correction_k
        ));
    }
    (ice.correction_k.abs() > TOLD_K).then(|| {
        format!(
            "in ice on {day} it showed {:.2} K {} than 0 °C; near that add {:+.2} K to its readings",
            ice.correction_k.abs(),
            side(-ice.correction_k),
            ice.correction_k
        )
    })
}
