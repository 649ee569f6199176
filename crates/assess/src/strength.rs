//! The unit's strength over the days, from its own readings.

use box_model::slow_loss::{Running, SlowLoss, Strength, Trace};

use crate::air::Judged;
use crate::ground::{Control, Ground};

/// A box just aboard, switched on again or set anew settles for this long, h. Our estimate.
const SETTLES_H: f64 = 12.0;
/// An ambient reading stands for this long, h.
const AMBIENT_H: f64 = 12.0;

/// The loss, where it can be told.
pub fn loss(g: &Ground<'_>) -> Option<SlowLoss> {
    strength(g)?.loss()
}

/// How the spread of a frozen unit's running compressor grew.
pub fn less_air(g: &Ground<'_>) -> Option<Trace> {
    strength(g)?.less_air()
}

fn strength(g: &Ground<'_>) -> Option<Strength> {
    if g.power_lost().is_some() || g.trust.doubts_held_air() {
        return None;
    }
    let frozen = g.control? == Control::Frozen;
    let running = running(g);
    Some(Strength::of(&running, frozen, g.size.twenty))
}

/// Readings since the set point was last changed and power last came back.
fn running(g: &Ground<'_>) -> Vec<Running> {
    let air = same_order(g);
    let Some(first) = air.first().map(|j| j.at) else { return Vec::new() };
    let mut ambient = None;
    let mut out = Vec::with_capacity(air.len());
    for j in air {
        if let Some(c) = j.ambient_c {
            ambient = Some((j.at, c));
        }
        let fresh = ambient.filter(|(t, _)| j.at.hours_since(*t) <= AMBIENT_H);
        let settled = j.at.hours_since(first) >= SETTLES_H;
        if let (Some(s), Some(r), Some((_, a)), true) = (j.supply_c, j.return_c, fresh, settled) {
            out.push(Running {
                at_h: j.at.hours_since(first),
                supply_c: s,
                return_c: r,
                ambient_c: a,
                power_kw: j.power_kw,
            });
        }
    }
    out
}

/// Judged air under the orders in force.
pub fn same_order<'g>(g: &'g Ground<'_>) -> &'g [Judged] {
    let all = g.long_judged.as_slice();
    let mut from = 0;
    for (i, pair) in all.windows(2).enumerate() {
        if let [a, b] = pair
            && let (Some(x), Some(y)) = (a.set_c, b.set_c)
            && (x - y).abs() > 0.05
        {
            from = i + 1;
        }
    }
    if let Some(back) = g.spells.last().and_then(|s| s.back) {
        from = from.max(all.partition_point(|j| j.at < back));
    }
    all.get(from..).unwrap_or(&[])
}
