//! Transfers of refrigerant between holders: what leaves one is in another.

use std::collections::BTreeMap;

use units::Utc;

/// Who or what holds refrigerant.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holder {
    /// A supplier: gas comes on board.
    Supplier(String),
    /// A cylinder by its number.
    Cylinder(String),
    /// A unit by its number.
    Unit(String),
    /// The air: lost.
    Air,
    /// A reception facility ashore.
    Shore(String),
}

/// Where added gas comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Newly made.
    Virgin,
    /// Recovered and cleaned on the spot.
    Recycled,
    /// Brought back to the specification of new gas by a facility.
    Reclaimed,
}

/// Why it moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// First charge or recharge after recovery.
    Recharge,
    /// Added for what was lost.
    TopUp,
    /// Recovered for a repair.
    Recovery,
    /// Found lost: deliberately or not.
    Loss {
        /// `true`: deliberate (purging, service); `false`: a leak.
        deliberate: bool,
    },
    /// Came on board, or went ashore.
    Supply,
    /// From cylinder to cylinder.
    Transfer,
}

/// One transfer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Transfer {
    /// When.
    pub at: Utc,
    /// Position or port.
    pub place: String,
    /// Who did it.
    pub who: String,
    /// Certificate of the person or undertaking; none known: empty is not allowed in a record.
    pub certificate: Option<String>,
    /// Gas, R134a.
    pub gas: String,
    /// Grams moved, above 0, by the scale.
    pub g: u32,
    /// From.
    pub from: Holder,
    /// To.
    pub to: Holder,
    /// Source of gas that was added.
    pub source: Option<Source>,
    /// Why.
    pub reason: Reason,
}

/// All transfers, in the order entered.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Ledger {
    transfers: Vec<Transfer>,
    opening: BTreeMap<(Holder, String), i64>,
}

impl Ledger {
    /// States what a holder holds when the account begins, g.
    pub fn open(&mut self, holder: Holder, gas: &str, g: u32) {
        self.opening.insert((holder, gas.to_owned()), i64::from(g));
    }

    /// Enters a transfer.
    ///
    /// # Errors
    /// One line: nothing moved, moved to itself, back from the air, or more than the cylinder or
    /// unit holds by this account.
    pub fn enter(&mut self, t: Transfer) -> Result<(), String> {
        if t.g == 0 || t.from == t.to {
            return Err("a transfer moves more than 0 g from one holder to another".into());
        }
        if t.from == Holder::Air {
            return Err("nothing comes back from the air; name the cylinder it came from".into());
        }
        let counted = matches!(t.from, Holder::Cylinder(_) | Holder::Unit(_));
        let held = self.balance_g(&t.from, &t.gas);
        if counted && held < i64::from(t.g) {
            return Err(format!(
                "{} g of {} cannot leave {:?}: by this account it holds {held} g; weigh it and \
                 correct the opening",
                t.g, t.gas, t.from
            ));
        }
        self.transfers.push(t);
        Ok(())
    }

    /// All transfers.
    #[must_use]
    pub fn transfers(&self) -> &[Transfer] {
        &self.transfers
    }

    /// What a holder holds, g.
    #[must_use]
    pub fn balance_g(&self, holder: &Holder, gas: &str) -> i64 {
        let opening = self.opening.get(&(holder.clone(), gas.to_owned())).copied().unwrap_or(0);
        let moved: i64 = self
            .transfers
            .iter()
            .filter(|t| t.gas == gas)
            .map(|t| {
                let g = i64::from(t.g);
                let come = if t.to == *holder { g } else { 0 };
                let gone = if t.from == *holder { g } else { 0 };
                come - gone
            })
            .sum();
        opening + moved
    }

    /// Grams added to a unit for what was lost, with when.
    #[must_use]
    pub fn top_ups(&self, unit: &str, gas: &str) -> Vec<(Utc, u32)> {
        let to = Holder::Unit(unit.to_owned());
        self.transfers
            .iter()
            .filter(|t| t.to == to && t.gas == gas && t.reason == Reason::TopUp)
            .map(|t| (t.at, t.g))
            .collect()
    }

    /// Loss over a time by material balance, g: what was there at the beginning, and came, less
    /// what went away other than into the air, and what is there at the end (reference §6.4). The
    /// end must be weighed; without it there is no answer.
    #[must_use]
    pub fn material_balance_loss_g(&self, gas: &str, holders_end_g: Option<i64>) -> Option<i64> {
        let begin: i64 = self.opening.iter().filter(|((_, g), _)| g == gas).map(|(_, v)| v).sum();
        let mut come = 0;
        let mut gone = 0;
        for t in self.transfers.iter().filter(|t| t.gas == gas) {
            if matches!(t.from, Holder::Supplier(_)) {
                come += i64::from(t.g);
            }
            if matches!(t.to, Holder::Shore(_)) {
                gone += i64::from(t.g);
            }
        }
        Some(begin + come - gone - holders_end_g?)
    }
}

/// Annual loss by the annualising method of 40 CFR 82.152, % of the full charge: this addition,
/// scaled from the days since the last one (at most 365) to a year.
#[must_use]
pub fn annualised_pct(added_g: u32, full_g: u32, days_since_last: f64) -> Option<f64> {
    if full_g == 0 || days_since_last <= 0.0 || !days_since_last.is_finite() {
        return None;
    }
    let share = f64::from(added_g) / f64::from(full_g);
    Some(share * 365.0 / days_since_last.min(365.0) * 100.0)
}

/// Annual loss by the rolling method of 40 CFR 82.152, % of the full charge: all that was added
/// in the 365 days up to `now`.
#[must_use]
pub fn rolling_pct(top_ups: &[(Utc, u32)], full_g: u32, now: Utc) -> Option<f64> {
    if full_g == 0 {
        return None;
    }
    let year_h = 365.0 * 24.0;
    let sum: u32 = top_ups
        .iter()
        .filter(|(at, _)| (0.0..year_h).contains(&now.hours_since(*at)))
        .map(|(_, g)| g)
        .sum();
    Some(f64::from(sum) / f64::from(full_g) * 100.0)
}
