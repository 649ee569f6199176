//! Whether defrosts do their work: from the words on the display and in remarks, and from the
//! readings alone.

use record::{Channel, Mode, Reading};
use units::Utc;

use crate::defrost_words::{self, Said};
use crate::ground::{Ground, within};
use crate::words::{celsius, when};

/// Failed defrosts from so far back are looked at, h.
const LOOK_H: f64 = 72.0;
/// Words and signs of these last hours are present, h.
const FRESH_H: f64 = 24.0;
/// Signs within so many hours tell of one defrost: units defrost every 3 to 24 h (common
/// practice, no source).
const ONE_DEFROST_H: f64 = 2.5;
/// Rows in defrost without another between, from first to last so far apart, h: a defrost takes 20
/// to 60 min (common practice, no source).
const LONG_H: f64 = 1.0;
/// Supply air of a defrost that goes on though the coil is clear of ice, °C: a sensor on the coil
/// ends it long before. Our estimate.
const HOT_C: f64 = 30.0;
/// Rows this near each other lie in one defrost, h.
const CLOSE_H: f64 = 1.5;
/// Rows in defrost so far apart, h, and supply still below freezing and risen by less than this,
/// K: nothing heats. Our estimate.
const COLD_AFTER_H: f64 = 0.4;
const COLD_RISE_K: f64 = 1.0;
const COLD_C: f64 = -1.0;
/// So many defrosts seen to begin in so many hours are too many. Our estimate.
const OFTEN: usize = 4;
const OFTEN_H: f64 = 12.0;

/// Defrosts that do not do their work.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DefrostSigns {
    /// One instant for each defrost told or seen to have failed in the last days, oldest first.
    pub failed: Vec<Utc>,
    /// The latest words of a display or a person that still stand, and since when.
    pub words: Option<(String, Utc)>,
    /// They name a heater or the sensor that ends defrosts.
    pub part: bool,
    /// They name ice on the coil.
    pub ice: bool,
    /// Somebody wrote of little air in the last days.
    pub little_air: bool,
    /// What readings alone show, in words, the latest first.
    pub seen: Vec<String>,
    /// Defrosts come too often.
    pub often: bool,
}

impl DefrostSigns {
    /// Hours for which the words have stood.
    pub fn stood_h(&self, now: Utc) -> f64 {
        self.words.as_ref().map_or(0.0, |(_, since)| now.hours_since(*since))
    }

    /// Nothing was seen or said.
    pub fn is_empty(&self) -> bool {
        self.failed.is_empty() && self.words.is_none() && !self.often
    }
}

/// One defrost as the rows show it.
struct Run<'a> {
    rows: Vec<&'a Reading>,
}

/// Looks for them.
pub fn of(g: &Ground<'_>) -> DefrostSigns {
    let rows: Vec<&Reading> = g.rows.iter().copied().filter(|r| g.age_h(r.at) <= LOOK_H).collect();
    let runs = runs(&rows);
    let mut out = DefrostSigns::default();
    let mut at: Vec<Utc> = Vec::new();
    said(g, &rows, &runs, &mut out, &mut at);
    for run in runs.iter().rev() {
        let Some((what, when)) = run.went_wrong() else { continue };
        out.seen.push(what);
        at.push(when);
    }
    out.often = often(g, &runs);
    out.little_air =
        rows.iter().any(|r| r.remark.as_deref().is_some_and(defrost_words::little_air));
    out.failed = apart(at);
    out
}

/// Rows in defrost that follow each other, by time.
fn runs<'a>(rows: &[&'a Reading]) -> Vec<Run<'a>> {
    let mut out: Vec<Run<'a>> = Vec::new();
    let mut open = false;
    for r in rows {
        match r.mode {
            Some(Mode::Defrost) if open => {
                if let Some(last) = out.last_mut() {
                    last.rows.push(r);
                }
            }
            Some(Mode::Defrost) => {
                out.push(Run { rows: vec![r] });
                open = true;
            }
            Some(_) => open = false,
            None => {}
        }
    }
    out
}

impl Run<'_> {
    fn supply(&self) -> impl Iterator<Item = (Utc, f64)> + '_ {
        self.rows.iter().filter_map(|r| Some((r.at, r.sane_c(Channel::Supply)?)))
    }

    /// What its rows show to be wrong, and when.
    fn went_wrong(&self) -> Option<(String, Utc)> {
        let (first, last) = (self.rows.first()?.at, self.rows.last()?.at);
        let span_h = last.hours_since(first);
        if let Some((t, c)) = self.supply().find(|(_, c)| *c >= HOT_C) {
            return Some((format!("supply air {} in the defrost read {}", celsius(c), when(t)), t));
        }
        // Rounds half a day apart do not show what lay between.
        let close = within(&self.rows, CLOSE_H);
        if span_h >= LONG_H && close {
            return Some((
                format!("in defrost on every reading from {} for {span_h:.1} h", when(first)),
                last,
            ));
        }
        let (a, b) = (self.supply().next()?, self.supply().last()?);
        let cold = b.1 < COLD_C && b.1 - a.1 < COLD_RISE_K;
        (close && cold && b.0.hours_since(a.0) >= COLD_AFTER_H).then(|| {
            let text =
                format!("supply air still {} in the defrost read {}", celsius(b.1), when(b.0));
            (text, b.0)
        })
    }
}

/// Words of displays and people. A display's stand until it is seen without them.
fn said(
    g: &Ground<'_>,
    rows: &[&Reading],
    runs: &[Run<'_>],
    out: &mut DefrostSigns,
    failed: &mut Vec<Utc>,
) {
    let mut standing: Vec<&str> = Vec::new();
    let mut since: Option<Utc> = None;
    let mut without = 0;
    for r in rows {
        let alarm = r.alarm.as_deref().and_then(|a| Some((defrost_words::said(a)?, a)));
        let remark = r.remark.as_deref().and_then(|a| Some((defrost_words::said(a)?, a)));
        let before = since;
        match (alarm, r.has_observation()) {
            (Some(_), _) if !standing.contains(&&*r.source) => standing.push(&r.source),
            // All read one display: who saw it gone, saw it gone for everybody. A person may have
            // left it out once.
            (None, true) => {
                without += 1;
                if without >= 2 || standing.contains(&&*r.source) {
                    standing.clear();
                }
            }
            _ => {}
        }
        if alarm.is_some() {
            without = 0;
        }
        if standing.is_empty() && remark.is_none() {
            since = None;
            continue;
        }
        let Some((kind, text)) = alarm.or(remark) else { continue };
        let from = *since.get_or_insert(r.at);
        // It began here, or stands on though another defrost has come since.
        let anew = |last: &Utc| defrost_between(runs, *last, r.at);
        if before.is_none() || failed.last().is_some_and(anew) {
            failed.push(r.at);
        }
        if g.age_h(r.at) <= FRESH_H {
            out.part |= kind == Said::Part;
            out.ice |= kind == Said::Ice;
            out.words = Some((text.trim().to_owned(), from));
        }
    }
    // Words that were taken off again no longer stand.
    if since.is_none() {
        (out.words, out.part, out.ice) = (None, false, false);
    }
}

/// A defrost lies between, begun after the one and over by the other.
fn defrost_between(runs: &[Run<'_>], after: Utc, before: Utc) -> bool {
    runs.iter().any(|run| {
        let ends = run.rows.first().zip(run.rows.last());
        ends.is_some_and(|(first, last)| {
            first.at.hours_since(after) >= ONE_DEFROST_H && last.at < before
        })
    })
}

/// Defrosts seen to begin too often up to the latest.
fn often(g: &Ground<'_>, runs: &[Run<'_>]) -> bool {
    let starts: Vec<Utc> = runs.iter().filter_map(|r| r.rows.first()).map(|r| r.at).collect();
    starts.last().is_some_and(|t| g.age_h(*t) <= FRESH_H)
        && starts.windows(OFTEN).next_back().is_some_and(|w| match (w.first(), w.last()) {
            (Some(a), Some(b)) => b.hours_since(*a) <= OFTEN_H,
            _ => false,
        })
}

/// Instants at least one defrost apart.
fn apart(mut at: Vec<Utc>) -> Vec<Utc> {
    at.sort();
    let mut out: Vec<Utc> = Vec::new();
    for t in at {
        if out.last().is_none_or(|l| t.hours_since(*l) >= ONE_DEFROST_H) {
            out.push(t);
        }
    }
    out
}
