//! Charts of recorders: put on, taken off, where the original is kept.

use serde::{Deserialize, Serialize};
use units::Utc;

use crate::UnitId;
use crate::act::time;
use crate::instrument::Scan;

/// A chart put on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChartOn {
    /// The container.
    pub unit: UnitId,
    /// When it was put on.
    #[serde(with = "time")]
    pub at: Utc,
    /// When it is full and has to be changed.
    #[serde(with = "time")]
    pub due: Utc,
    /// What stands on it: its number, days, the set point written on it.
    #[serde(default)]
    pub chart: String,
    /// Anything else worth keeping.
    #[serde(default)]
    pub remark: String,
}

/// A chart taken off.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChartOff {
    /// The container.
    pub unit: UnitId,
    /// When.
    #[serde(with = "time")]
    pub at: Utc,
    /// Where the original is kept; empty: not written down.
    #[serde(default)]
    pub kept: String,
    /// Anything else worth keeping.
    #[serde(default)]
    pub remark: String,
    /// Scans of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scans: Vec<Scan>,
}

/// The original of a chart taken off before lies somewhere else now, or was scanned.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChartKept {
    /// The container.
    pub unit: UnitId,
    /// The chart, by the time it was put on.
    #[serde(with = "time")]
    pub on_at: Utc,
    /// Where the original is kept now; empty: as before.
    #[serde(default)]
    pub kept: String,
    /// Anything else worth keeping: handed to whom.
    #[serde(default)]
    pub remark: String,
    /// Scans of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scans: Vec<Scan>,
}

/// What a person did with a chart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "of", rename_all = "snake_case")]
pub enum ChartAct {
    /// Put on.
    On(ChartOn),
    /// Taken off.
    Off(ChartOff),
    /// Its original moved or was scanned.
    Kept(ChartKept),
}

impl ChartAct {
    /// The container.
    #[must_use]
    pub fn unit(&self) -> &UnitId {
        match self {
            Self::On(c) => &c.unit,
            Self::Off(c) => &c.unit,
            Self::Kept(c) => &c.unit,
        }
    }

    /// When it happened, where it tells.
    #[must_use]
    pub fn happened_at(&self) -> Option<Utc> {
        match self {
            Self::On(c) => Some(c.at),
            Self::Off(c) => Some(c.at),
            Self::Kept(_) => None,
        }
    }

    /// What was done, in one line.
    #[must_use]
    pub fn title(&self) -> String {
        let place = |kept: &str| match kept {
            "" => "place of the original not written down".to_owned(),
            kept => format!("original kept: {kept}"),
        };
        match self {
            Self::On(c) => {
                let name = if c.chart.is_empty() { "chart" } else { &c.chart };
                format!("recorder of {}: {name} put on, due off {} UTC", c.unit, c.due.to_minute())
            }
            Self::Off(c) => format!("recorder of {}: chart taken off, {}", c.unit, place(&c.kept)),
            Self::Kept(c) => {
                let what = match (c.kept.is_empty(), c.scans.len()) {
                    (false, _) => place(&c.kept),
                    (true, n) => format!("{n} scans attached"),
                };
                let on = c.on_at.to_minute();
                format!("recorder of {}: chart of {on} UTC, {what}", c.unit)
            }
        }
    }
}

/// Everything entered about one chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChartFile {
    /// How it was put on.
    pub on: ChartOn,
    /// Who entered that.
    pub on_by: String,
    /// When it was taken off, and who entered that; `None`: still on.
    pub off: Option<(Utc, String)>,
    /// Where the original is kept by the last word; empty: nobody wrote it down.
    pub kept: String,
    /// Remarks, first to last.
    pub remarks: Vec<String>,
    /// Scans.
    pub scans: Vec<Scan>,
}

/// Files one act more. An act about no chart that is known does nothing.
pub fn add(charts: &mut Vec<ChartFile>, act: &ChartAct, who: &str) {
    match act {
        ChartAct::On(on) => charts.push(ChartFile {
            on: on.clone(),
            on_by: who.to_owned(),
            off: None,
            kept: String::new(),
            remarks: Some(on.remark.clone()).filter(|r| !r.is_empty()).into_iter().collect(),
            scans: Vec::new(),
        }),
        ChartAct::Off(off) => {
            let found = charts.iter_mut().rev().find(|c| c.on.unit == off.unit && c.off.is_none());
            if let Some(chart) = found {
                chart.off = Some((off.at, who.to_owned()));
                told(chart, &off.kept, &off.remark, &off.scans);
            }
        }
        ChartAct::Kept(kept) => {
            let found =
                charts.iter_mut().rev().find(|c| c.on.unit == kept.unit && c.on.at == kept.on_at);
            if let Some(chart) = found {
                told(chart, &kept.kept, &kept.remark, &kept.scans);
            }
        }
    }
}

fn told(chart: &mut ChartFile, kept: &str, remark: &str, scans: &[Scan]) {
    if !kept.is_empty() {
        kept.clone_into(&mut chart.kept);
    }
    if !remark.is_empty() {
        chart.remarks.push(remark.to_owned());
    }
    chart.scans.extend_from_slice(scans);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Act;

    /// What is stored today must be read for years.
    #[test]
    fn stored_form() {
        let stored = [
            r#"{"act":"chart","of":"on","unit":"QQQU1000011","at":"2026-03-01T08:00:00Z","due":"2026-04-01T08:00:00Z","chart":"no. 3, 31 days","remark":""}"#,
            r#"{"act":"chart","of":"off","unit":"QQQU1000011","at":"2026-03-30T08:00:00Z","kept":"folder 2","remark":"","scans":[{"name":"c.png","sha256":"00"}]}"#,
            r#"{"act":"chart","of":"kept","unit":"QQQU1000011","on_at":"2026-03-01T08:00:00Z","kept":"agent","remark":"signed for"}"#,
        ];
        let mut charts = Vec::new();
        for text in stored {
            let act: Act = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&act).unwrap(), text);
            let Act::Chart(chart) = act else { panic!("{text}") };
            add(&mut charts, &chart, "A");
        }
        assert_eq!(charts.len(), 1);
        assert_eq!((charts[0].kept.as_str(), charts[0].scans.len()), ("agent", 1));
    }
}
