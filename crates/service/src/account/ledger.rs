//! Transfers of refrigerant between holders: what leaves one is in another.

use std::collections::BTreeMap;

use record::GasFile;
use record::UnitId;
use record::gas::{GasAct, Holder, Reason, Transfer, kg};
use units::Utc;

/// What one holder holds of one gas.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Balance {
    /// By this account, g.
    pub g: i64,
    /// When the account of this holder was last put right by a scale (or begun by a plate).
    pub known_since: Option<Utc>,
}

/// What became of one gas since the account began, g. Always
/// `opening + came − landed = held + leaked + released + unexplained`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals {
    /// Held when each holder's account began.
    pub opening_g: i64,
    /// Came on board from suppliers.
    pub came_g: i64,
    /// Went ashore.
    pub landed_g: i64,
    /// Held now by cylinders and units.
    pub held_g: i64,
    /// Leaked: found so, or replaced by a top-up.
    pub leaked_g: i64,
    /// Let into the air deliberately.
    pub released_g: i64,
    /// Missing when a holder was weighed or found empty; below 0: more was there than the account
    /// said.
    pub unexplained_g: i64,
}

impl Totals {
    /// Loss by material balance, g (reference §6.4): what was there and came, less what was landed
    /// and what is there.
    #[must_use]
    pub fn loss_g(&self) -> i64 {
        self.opening_g + self.came_g - self.landed_g - self.held_g
    }
}

/// All that counts, played through in the order in which it happened.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Ledger {
    balances: BTreeMap<(Holder, String), Balance>,
    totals: BTreeMap<String, Totals>,
    /// Units whose last transfer was a recharge: a second cylinder goes on top of the first.
    charging: BTreeMap<UnitId, bool>,
}

impl Ledger {
    /// Plays an account through. A plate begins its unit's account with a full charge: that is
    /// assumed, and a weighing puts it right.
    #[must_use]
    pub fn of(file: &GasFile) -> Self {
        let mut ledger = Self::default();
        for entry in file.standing() {
            if let GasAct::Plate(p) = &entry.act {
                let key = (Holder::Unit(p.unit.clone()), p.gas.clone());
                let (g, known_since) = (i64::from(p.charge_g), None);
                let before = ledger.balances.insert(key, Balance { g, known_since });
                let totals = ledger.totals.entry(p.gas.clone()).or_default();
                totals.opening_g += g - before.map_or(0, |b| b.g);
            }
        }
        let mut moves: Vec<(Utc, &GasAct)> =
            file.standing().filter_map(|e| Some((e.act.at()?, &e.act))).collect();
        moves.sort_by_key(|(at, _)| *at);
        for (_, act) in moves {
            match act {
                GasAct::Weighed { holder, gas, g, at, .. } => {
                    ledger.weigh(holder, gas, i64::from(*g), *at);
                }
                GasAct::Moved(t) => ledger.move_one(t),
                _ => {}
            }
        }
        for ((holder, gas), balance) in &ledger.balances {
            if matches!(holder, Holder::Cylinder(_) | Holder::Unit(_)) {
                ledger.totals.entry(gas.clone()).or_default().held_g += balance.g;
            }
        }
        ledger
    }

    fn weigh(&mut self, holder: &Holder, gas: &str, g: i64, at: Utc) {
        let totals = self.totals.entry(gas.to_owned()).or_default();
        let key = (holder.clone(), gas.to_owned());
        match self.balances.insert(key, Balance { g, known_since: Some(at) }) {
            None => totals.opening_g += g,
            Some(before) => totals.unexplained_g += before.g - g,
        }
    }

    fn move_one(&mut self, t: &Transfer) {
        let g = i64::from(t.g);
        let totals = self.totals.entry(t.gas.clone()).or_default();
        match (&t.from, &t.to) {
            (Holder::Supplier(_), _) => totals.came_g += g,
            (_, Holder::Shore(_)) => totals.landed_g += g,
            _ => {}
        }
        match (&t.to, t.reason) {
            (Holder::Air, Reason::Leak) => totals.leaked_g += g,
            (Holder::Air, _) => totals.released_g += g,
            _ => {}
        }
        if matches!(t.from, Holder::Cylinder(_) | Holder::Unit(_)) {
            let held = self.balances.entry((t.from.clone(), t.gas.clone())).or_default();
            // More taken out than was thought to be in: the account was wrong before.
            let surplus = (g - held.g).max(0);
            held.g += surplus - g;
            totals.unexplained_g -= surplus;
        }
        if matches!(t.to, Holder::Cylinder(_) | Holder::Unit(_)) {
            let held = self.balances.entry((t.to.clone(), t.gas.clone())).or_default();
            held.g += g;
            if let Holder::Unit(unit) = &t.to {
                match t.reason {
                    // It replaces what had leaked.
                    Reason::TopUp => {
                        held.g -= g;
                        totals.leaked_g += g;
                    }
                    // It was evacuated before: nothing of the old charge is left in it.
                    Reason::Recharge if !self.charging.get(unit).copied().unwrap_or(false) => {
                        totals.unexplained_g += held.g - g;
                        held.g = g;
                    }
                    _ => {}
                }
            }
        }
        for holder in [&t.from, &t.to] {
            if let Holder::Unit(unit) = holder {
                let on = t.reason == Reason::Recharge && holder == &t.to;
                self.charging.insert(unit.clone(), on);
            }
        }
    }

    /// What a holder holds; none where its account was never begun.
    #[must_use]
    pub fn balance(&self, holder: &Holder, gas: &str) -> Option<Balance> {
        self.balances.get(&(holder.clone(), gas.to_owned())).copied()
    }

    /// Every gas of the account with what became of it.
    #[must_use]
    pub fn totals(&self) -> &BTreeMap<String, Totals> {
        &self.totals
    }

    /// Whether a transfer makes sense.
    ///
    /// # Errors
    /// One line: nothing moved, moved to itself, back from the air, or more than the cylinder
    /// holds by this account.
    pub fn check(&self, t: &Transfer) -> Result<(), String> {
        if t.g == 0 || t.from == t.to {
            return Err("a transfer moves more than 0 g from one holder to another".into());
        }
        if t.from == Holder::Air {
            return Err("nothing comes back from the air; name the cylinder it came from".into());
        }
        if matches!(t.from, Holder::Shore(_)) || matches!(t.to, Holder::Supplier(_)) {
            return Err("gas comes from a supplier: and goes to shore:, not the other way".into());
        }
        let gone = match t.to {
            Holder::Air => matches!(t.reason, Reason::Leak | Reason::Released),
            _ => !matches!(t.reason, Reason::Leak | Reason::Released),
        };
        if !gone {
            return Err("what goes into the air is a leak or released, and only that".into());
        }
        let charged = matches!(t.reason, Reason::TopUp | Reason::Recharge);
        if charged && !matches!(t.to, Holder::Unit(_)) {
            return Err(format!("a {} goes into a unit", t.reason.as_str()));
        }
        let into_unit = matches!(t.to, Holder::Unit(_));
        if into_unit && !charged {
            return Err("what goes into a unit is a top-up or a recharge; say which".into());
        }
        if t.reason == Reason::Recovery && !matches!(t.from, Holder::Unit(_)) {
            return Err("a recovery comes out of a unit".into());
        }
        if let Holder::Cylinder(id) = &t.from {
            let Some(held) = self.balance(&t.from, &t.gas) else {
                return Err(format!(
                    "cylinder {id} was never weighed; weigh it and enter what it held before"
                ));
            };
            let later = held.known_since.is_some_and(|since| since > t.at);
            if !later && held.g < i64::from(t.g) {
                return Err(format!(
                    "{} of {} cannot leave cylinder {id}: by this account it holds {}; weigh it \
                     and enter that first",
                    kg(t.g.into()),
                    t.gas,
                    kg(held.g)
                ));
            }
        }
        Ok(())
    }
}

/// Grams added to a unit, with when, by time: for what was lost, or (`all`) recharges too.
#[must_use]
pub fn added(file: &GasFile, unit: &UnitId, all: bool) -> Vec<(Utc, u32)> {
    let mut out: Vec<(Utc, u32)> = file
        .standing()
        .filter_map(|e| match &e.act {
            GasAct::Moved(t) if t.to.unit() == Some(unit) => Some(t),
            _ => None,
        })
        .filter(|t| t.reason == Reason::TopUp || all)
        .map(|t| (t.at, t.g))
        .collect();
    out.sort_unstable();
    out
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
    let sum: u64 = top_ups
        .iter()
        .filter(|(at, _)| (0.0..year_h).contains(&now.hours_since(*at)))
        .map(|(_, g)| u64::from(*g))
        .sum();
    Some(sum as f64 / f64::from(full_g) * 100.0)
}
