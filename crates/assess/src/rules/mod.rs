//! A file for each kind of thing that can be wrong with a box. A rule reads the ground and the
//! forecast, and says what it found and what to do first.

use record::Finding;

use crate::forecast::Forecast;
use crate::ground::Ground;

mod alarm;
mod cargo;
pub mod cold;
mod conflict;
mod defrost;
pub mod drift;
mod iced_coil;
mod listing;
pub mod off_set_point;
mod power_lost;
pub mod rounds;
pub mod sensors;
pub mod set_point;
mod slow_loss;
pub mod spread;

/// Everything found about a box, most urgent first.
pub fn findings(g: &Ground<'_>, f: &Forecast) -> Vec<Finding> {
    let mut out = listing::findings(g);
    if g.carries() {
        out.extend(power_lost::finding(g, f));
        out.extend(set_point::findings(g));
        out.extend(off_set_point::finding(g, f));
        out.extend(spread::finding(g, f));
        out.extend(slow_loss::finding(g, f));
        out.extend(cargo::finding(g, f));
        out.extend(drift::finding(g, f));
        out.extend(cold::findings(g));
        out.extend(sensors::findings(g));
        // A defrost without end says more than that defrosts fail.
        out.extend(defrost::finding(g).or_else(|| iced_coil::finding(g, f)));
        out.extend(rounds::finding(g));
    }
    out.extend(conflict::finding(g));
    out.extend(alarm::finding(g, &out));
    // Stable: of equal urgency, the order of kinds decides.
    out.sort_by_key(|f| (std::cmp::Reverse(f.state), f.kind));
    out
}
