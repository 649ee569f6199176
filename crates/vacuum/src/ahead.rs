//! How much longer to watch: the readings go on as each likely form would have them, and are
//! judged again.

use crate::columns::Form;
use crate::hold::fits;
use crate::judge::{Ruled, Verdict, rule, verdict};
use crate::noise::{Point, Points};
use crate::posterior::shares;
use crate::weigh::{Care, Class, Part, Scene, weigh};

/// What watching longer would bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Ahead {
    /// Minutes.
    pub minutes: f64,
    /// Probability that it decides.
    pub sure: f64,
}

/// Further minutes that are tried.
const LONGER_MIN: [f64; 5] = [5.0, 10.0, 20.0, 40.0, 90.0];
/// Probability of deciding that is enough.
const ENOUGH: f64 = 0.7;

/// The shortest further watch that would probably decide, else the best of those tried.
pub(crate) fn look_ahead(points: &Points, scene: &Scene, parts: &[Part], now: &Ruled) -> Ahead {
    let likely: Vec<Class> =
        Class::ALL.into_iter().filter(|c| now.shares[c.index()] > 0.1).collect();
    let known: f64 = likely.iter().map(|c| now.shares[c.index()]).sum();
    let curves = fits(points, scene, parts);
    let mut best = Ahead { minutes: 15.0, sure: 0.0 };
    for minutes in LONGER_MIN {
        let mut sure = 0.0;
        for c in &likely {
            let Some(fit) = curves.iter().find(|f| f.form.class() == *c) else { continue };
            let more = extended(points, scene, minutes, &|t| fit.at_um(t));
            let end =
                Scene { end: scene.end + minutes, last: fit.at_um(scene.end + minutes), ..*scene };
            let end = Scene { top: end.top.max(end.last), bottom: end.bottom.min(end.last), ..end };
            let parts = weigh(&more, &end, Care::Light);
            let again = rule(shares(&parts), &end, &parts, None);
            if verdict(&again).0 != Verdict::Undecided {
                sure += now.shares[c.index()] / known.max(1e-9);
            }
        }
        if sure > best.sure + 0.05 {
            best = Ahead { minutes, sure };
        }
        if best.sure >= ENOUGH {
            break;
        }
    }
    best
}

/// The points with as many more as the further minutes would bring.
fn extended(points: &Points, scene: &Scene, minutes: f64, curve: &dyn Fn(f64) -> f64) -> Points {
    let mut more = points.clone();
    // One time for each point is enough for a look ahead.
    more.times = more.points.iter().map(|p| p.t).collect();
    for (i, p) in more.points.iter_mut().enumerate() {
        p.at = (i, i + 1);
    }
    let first = points.points.first().map_or(1.0, |p| p.t);
    let readings: f64 = points.points.iter().map(|p| p.n).sum();
    let rate = readings / (scene.end - first).max(1.0);
    let fixed = points.points.last().map_or(0.0, |p| p.fixed);
    let k = 16;
    for i in 0..k {
        let t = scene.end + minutes * (f64::from(i) + 0.5) / f64::from(k);
        let y = curve(t).max(1.0);
        // A coarse display tells no more for being read more often.
        let n = if points.coarse { 1.0 } else { (rate * minutes / f64::from(k)).max(0.5) };
        let at = (more.times.len(), more.times.len() + 1);
        more.times.push(t);
        more.points.push(Point { t, y, n, fixed, level: y, flicker: None, at });
    }
    more
}

/// The form of a part as people name it.
pub(crate) fn plain_form(form: Form) -> &'static str {
    match form {
        Form::Straight => "straight",
        Form::Saturating { .. } => "levelling off",
        Form::Logarithm { .. } | Form::Root => "slowing down without levelling off",
    }
}
