//! A unit that gets weaker while its temperatures still hold.

use box_model::slow_loss::Sign;
use record::{Finding, FindingKind, State};

use crate::forecast::{Driver, Forecast};
use crate::ground::Ground;
use crate::rules::drift::SOON_H;
use crate::rules::set_point;

/// A loss from here on needs somebody today. Our estimate.
const SERIOUS: f64 = 0.25;

/// The finding, unless less air explains it.
pub fn finding(g: &Ground<'_>, f: &Forecast) -> Option<Finding> {
    let loss = f.loss?;
    if f.less_air.is_some() || set_point::wrong_goal_c(g).is_some() {
        return None;
    }
    let percent = 100.0 * loss.change;
    let sign = match loss.sign {
        Sign::Spread => format!(
            "with the compressor running, return is {percent:.0} % less over supply than days ago"
        ),
        Sign::Power => format!("it draws {percent:.0} % more power for the same load"),
    };
    let duty = match loss.duty {
        _ if loss.at_full => " It runs all the time and has nothing left.".to_owned(),
        Some(d) => format!(" It runs {:.0} % of the time.", 100.0 * d),
        None => String::new(),
    };
    let soon = f.hours.as_ref().is_some_and(|h| h.course == Driver::Fading && h.best <= SOON_H);
    let serious = loss.at_full || soon || (loss.sign == Sign::Spread && loss.change >= SERIOUS);
    Some(Finding {
        kind: FindingKind::SlowLoss,
        state: if serious { State::Act } else { State::Watch },
        what: format!(
            "The unit gets weaker: {sign}, ambient allowed for ({} days compared).{duty} Low \
             refrigerant or a worn compressor shows so.",
            loss.days
        ),
        action: "Put gauges on and look for oil at joints and for bubbles in the sight glass \
                 while it still holds. Gloves and goggles: refrigerant under pressure burns with \
                 cold. Isolate and lock off before opening (440 V)."
            .to_owned(),
        since: None,
    })
}
