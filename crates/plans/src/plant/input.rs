//! What demand and margin are worked out from.

use crate::{Marked, Refused};

/// How a box runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// Compressor on and off in blocks.
    Frozen,
    /// Steady.
    Chilled,
    /// Plugged in but off, or no power.
    Off,
}

/// The load of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxLoad {
    /// Box number.
    pub id: String,
    /// Bay, for sums.
    pub bay: u16,
    /// Feeder it hangs on, for sums.
    pub feeder: String,
    /// How it runs.
    pub mode: Mode,
    /// Power while it runs, kW; chilled: the steady power.
    pub running_kw: Marked,
    /// Standard deviation of `running_kw` as known now, kW.
    pub running_sd_kw: f64,
    /// Share of time a frozen box runs, 0 to 1. Ignored for chilled.
    pub duty: Marked,
    /// Power factor while running.
    pub power_factor: f64,
    /// Share of the load that goes with the difference between outside and inside air; the rest
    /// (fans, living cargo) stays.
    pub leak_share: f64,
    /// Air inside, °C; the set point serves.
    pub inside_c: f64,
    /// The sun heats it now or will: it counts as standing in air warmer by this at full sun, K.
    pub sun_k: f64,
}

impl BoxLoad {
    /// Mean load as things are, kW.
    #[must_use]
    pub fn mean_kw(&self) -> f64 {
        match self.mode {
            Mode::Frozen => self.running_kw.value * self.duty.value,
            Mode::Chilled => self.running_kw.value,
            Mode::Off => 0.0,
        }
    }

    /// Factor on the mean load when the weather goes from `now` to `then`.
    #[must_use]
    pub fn weather_factor(&self, now: &Weather, then: &Weather) -> f64 {
        let lift = |w: &Weather| w.ambient_c + self.sun_k * w.sun - self.inside_c;
        // Under 5 K nothing can be scaled: the load is fans and living cargo.
        if lift(now) < 5.0 {
            return 1.0;
        }
        let ratio = lift(then).max(0.0) / lift(now);
        1.0 + self.leak_share * (ratio - 1.0)
    }
}

/// Weather at an hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weather {
    /// Hours from now.
    pub hour: f64,
    /// Outside air, °C.
    pub ambient_c: f64,
    /// Sun, 0 (night, overcast) to 1 (full).
    pub sun: f64,
}

/// One generator.
#[derive(Debug, Clone, PartialEq)]
pub struct Generator {
    /// Name.
    pub name: String,
    /// Rated power, kW.
    pub rated_kw: f64,
    /// Rated apparent power, kVA.
    pub rated_kva: f64,
    /// On the board now.
    pub online: bool,
    /// Largest load it takes in one step, share of rated power. Set by the maker and its class of
    /// governing; a figure for one's own engine belongs here.
    pub step_share: Marked,
}

/// How much must be left free.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reserve {
    /// Load at most this share of what is on the board.
    Share(f64),
    /// The others must carry all when the largest set on the board drops out, each loaded to this
    /// share.
    LargestLost(f64),
}

/// The ship's plant and what else hangs on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Plant {
    /// All sets, on the board or not.
    pub generators: Vec<Generator>,
    /// Everything but the boxes, kW.
    pub other_kw: Marked,
    /// Standard deviation of that, kW.
    pub other_sd_kw: f64,
    /// Power factor of everything but the boxes.
    pub other_power_factor: f64,
    /// Reserve rule.
    pub reserve: Reserve,
    /// Relative standard deviation that all boxes share: an error in the ambient, in the duty of
    /// all frozen boxes. It does not average out however many boxes there are.
    pub common_sd: Marked,
}

/// Checks loads.
///
/// # Errors
/// [`Refused`] naming the box and what to do.
pub fn check_boxes(boxes: &[BoxLoad]) -> Result<(), Refused> {
    for b in boxes {
        let kw = b.running_kw.value;
        let shares = [b.duty.value, b.leak_share, b.power_factor];
        let shares_ok = shares.iter().all(|s| (0.0..=1.0).contains(s)) && b.power_factor > 0.0;
        let numbers_ok = b.inside_c.is_finite() && b.sun_k.is_finite() && b.running_sd_kw >= 0.0;
        // Standard container plug: ISO 1496-2 allows 15 kW; a reading of a bank is a mistake.
        if !(0.0..=units::ranges::POWER_KW.max).contains(&kw) || !shares_ok || !numbers_ok {
            return Err(Refused(format!(
                "{}: power {kw} kW, duty, leak share or power factor is not possible; power is 0 \
                 to 100 kW, the others 0 to 1",
                b.id
            )));
        }
    }
    Ok(())
}

/// Checks the plant.
///
/// # Errors
/// [`Refused`] naming the entry and what to do.
pub fn check_plant(plant: &Plant) -> Result<(), Refused> {
    for g in &plant.generators {
        let ok = g.rated_kw > 0.0
            && g.rated_kva >= g.rated_kw
            && g.rated_kva.is_finite()
            && (0.0..=1.0).contains(&g.step_share.value);
        if !ok {
            return Err(Refused(format!(
                "{}: rated {} kW, {} kVA; kVA must be at least kW, the step share 0 to 1",
                g.name, g.rated_kw, g.rated_kva
            )));
        }
    }
    let share = match plant.reserve {
        Reserve::Share(s) | Reserve::LargestLost(s) => s,
    };
    let pf = plant.other_power_factor;
    let spread_ok = (0.0..1.0).contains(&plant.common_sd.value) && plant.other_sd_kw >= 0.0;
    let ok = plant.other_kw.value >= 0.0 && pf > 0.0 && pf <= 1.0 && spread_ok;
    if !(ok && share > 0.0 && share <= 1.0) {
        return Err(Refused(
            "the plant's other load, power factor, spread or reserve rule is not possible; \
             shares and power factors lie between 0 and 1"
                .to_owned(),
        ));
    }
    Ok(())
}
