//! Gas weighed at a step of a service work, booked into the refrigerant account by the same entry:
//! nobody keys a weight twice, and neither stands without the other.

use record::gas::{Holder, Reason, Transfer, gas_name, grams, kg};
use record::{GasAct, GasEntry, GasFile, ServiceAct, ServiceDeed, WorkFile};
use service::Action;

use crate::gas_entry::{by, certificate, mass};
use crate::works::{Work, action_named};
use crate::{Problem, Voyage, Words};

/// What the cylinder's scale is called among the readings of a step.
pub const SCALE: &str = "scale";

/// Why gas moves at a step, where it is weighed there.
#[must_use]
pub fn moves(action: Action) -> Option<Reason> {
    match action {
        Action::Recover => Some(Reason::Recovery),
        Action::WeighIn => Some(Reason::Recharge),
        _ => None,
    }
}

/// Grams by the scale that a step was entered with; none where it was not read or showed nothing.
#[must_use]
pub fn weighed_g(deed: &ServiceDeed) -> Option<u32> {
    let ServiceDeed::StepDone { action, readings, .. } = deed else { return None };
    moves(action_named(action)?)?;
    let scale = readings.iter().find(|r| r.what == SCALE)?;
    grams(scale.value?).ok().filter(|g| *g > 0)
}

/// A transfer as a step makes it, its cylinder aside.
fn between(work: &WorkFile, cylinder: String, reason: Reason) -> (Holder, Holder) {
    let (cylinder, unit) = (Holder::Cylinder(cylinder), Holder::Unit(work.unit.clone()));
    if reason == Reason::Recovery { (unit, cylinder) } else { (cylinder, unit) }
}

impl Work {
    /// The step with what it books: `cylinder`, `certificate`, `place`, and `kg` where the step
    /// asks for no scale. Unchanged where no cylinder is named or nothing was weighed.
    ///
    /// # Errors
    /// What is missing or cannot be, in a sentence without its full stop.
    pub fn booking(&self, mut deed: ServiceDeed, f: &Words) -> Result<ServiceDeed, String> {
        let scale = weighed_g(&deed);
        let ServiceDeed::StepDone { action, readings, booked, .. } = &mut deed else {
            return Ok(deed);
        };
        let Some(reason) = action_named(action).and_then(moves) else { return Ok(deed) };
        let cylinder = f.text("cylinder");
        let g = match scale {
            None if readings.iter().all(|r| r.what != SCALE) => {
                mass(f, "kg", "The mass")?.filter(|g| *g > 0)
            }
            scale => scale,
        };
        let (true, Some(g)) = (!cylinder.is_empty(), g) else {
            if g.is_some() && scale.is_none() {
                return Err("The number of the cylinder is missing".to_owned());
            }
            return Ok(deed);
        };
        let (from, to) = between(&self.file, cylinder, reason);
        *booked = Some(Box::new(Transfer {
            at: f.at,
            place: f.text("place"),
            person: by(f),
            certificate: certificate(f),
            gas: gas_name(&self.stated.site.fluid).ok_or("The gas has no name known here")?,
            g,
            from,
            to,
            reason,
            remark: format!("service work {}", self.file.id),
        }));
        Ok(deed)
    }
}

/// The entry of the account that holds what was weighed at a step: booked by the step itself,
/// else a transfer of the same mass, unit and minute entered since.
#[must_use]
pub fn entry_of<'a>(gas: &'a GasFile, act: &ServiceAct) -> Option<&'a GasEntry> {
    let by_step = act.deed.booked();
    let g = weighed_g(&act.deed);
    let is = |e: &&GasEntry| match (&e.act, by_step) {
        (GasAct::Moved(t), Some(own)) => t == own,
        (GasAct::Moved(t), None) => {
            let unit = t.from.unit().or(t.to.unit());
            Some(t.g) == g
                && unit == Some(&act.unit)
                && t.at.to_minute() == act.at.to_minute()
                && e.struck.is_none()
        }
        _ => false,
    };
    gas.entries.iter().find(is)
}

/// What the account's form is opened with for a step that was not booked: key and value.
#[must_use]
pub fn form_for(work: &Work, act: &ServiceAct, who: &str) -> Vec<(&'static str, String)> {
    let ServiceDeed::StepDone { action, .. } = &act.deed else { return Vec::new() };
    let Some(reason) = action_named(action).and_then(moves) else { return Vec::new() };
    let unit = act.unit.to_string();
    let end = if reason == Reason::Recovery { "from" } else { "to" };
    let mass = weighed_g(&act.deed).map_or_else(String::new, |g| kg(g.into()));
    vec![
        (end, unit),
        ("kg", mass.trim_end_matches(" kg").to_owned()),
        ("reason", reason.as_str().to_owned()),
        ("gas", gas_name(&work.stated.site.fluid).unwrap_or_default()),
        ("at", act.at.to_minute()),
        ("by", who.to_owned()),
        ("remark", format!("service work {}", act.work)),
    ]
}

impl Voyage {
    /// What a step books must be what was weighed at it, and must make sense in the account.
    pub(crate) fn refuse_senseless_booking(&self, act: &ServiceAct) -> Result<(), Problem> {
        let Some(t) = act.deed.booked() else { return Ok(()) };
        let ServiceDeed::StepDone { action, .. } = &act.deed else { return Ok(()) };
        let refuse = |why: &str| Err(Problem::Act(why.to_owned()));
        let Some(reason) = action_named(action).and_then(moves) else {
            return refuse("no gas is weighed at this step; book it in the refrigerant account");
        };
        let unit = if reason == Reason::Recovery { &t.from } else { &t.to };
        if t.reason != reason || unit.unit() != Some(&act.unit) {
            return refuse("what is booked is not what this step moves; look again");
        }
        if weighed_g(&act.deed).is_some_and(|g| g != t.g) {
            return refuse("what is booked is not what the scale showed; look again");
        }
        self.refuse_senseless_gas_act(&GasAct::Moved(t.clone()))
    }
}
