//! The refrigerant account: what makes no sense is refused before it is stored.

use ::service::account::{Account, Ledger, account};
use record::Act;
use record::gas::{GasAct, Holder};
use units::Utc;

use crate::{Problem, Voyage};

impl Voyage {
    /// The refrigerant account as it stands.
    #[must_use]
    pub fn gas_account(&self, at: Utc) -> Account {
        account(&self.acts.gas, at)
    }

    /// An entry that cannot be is a slip of the pen; nothing is stored.
    pub(crate) fn refuse_senseless_gas(&self, act: &Act) -> Result<(), Problem> {
        match act {
            Act::Gas(act) => self.refuse_senseless_gas_act(act),
            _ => Ok(()),
        }
    }

    pub(crate) fn refuse_senseless_gas_act(&self, act: &GasAct) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        let file = &self.acts.gas;
        match act {
            GasAct::Cylinder(c) => match file.cylinder(&c.id).filter(|old| old.gas != c.gas) {
                Some(old) => refuse(format!(
                    "cylinder {} is entered with {}; another gas in it would mix: strike that \
                     entry if it was a slip, else use another cylinder",
                    c.id, old.gas
                )),
                None => Ok(()),
            },
            GasAct::Weighed { holder, gas, .. } => match holder {
                Holder::Cylinder(_) | Holder::Unit(_) => self.same_gas(holder, gas),
                other => refuse(format!("{} cannot be weighed", other.words())),
            },
            GasAct::Moved(t) => {
                self.same_gas(&t.from, &t.gas)?;
                self.same_gas(&t.to, &t.gas)?;
                Ledger::of(file).check(t).map_err(Problem::Act)
            }
            GasAct::Screened { cylinder, .. } if file.cylinder(cylinder).is_none() => {
                refuse(format!("cylinder {cylinder} is not entered; enter it first"))
            }
            GasAct::Struck { entry, .. } => {
                let standing = file.standing().any(|e| e.seq == *entry);
                if standing {
                    return Ok(());
                }
                refuse(format!(
                    "entry {entry} is none of the refrigerant account, or is struck out already"
                ))
            }
            _ => Ok(()),
        }
    }

    /// A cylinder and a unit hold one gas.
    fn same_gas(&self, holder: &Holder, gas: &str) -> Result<(), Problem> {
        let file = &self.acts.gas;
        let (held, what) = match holder {
            Holder::Cylinder(id) => match file.cylinder(id) {
                Some(c) => (&c.gas, "a cylinder of mixed gas can only go ashore"),
                None => {
                    return Err(Problem::Act(format!(
                        "cylinder {id} is not entered; enter it with its gas first"
                    )));
                }
            },
            Holder::Unit(u) => match file.plate(u) {
                Some(p) => (&p.gas, "enter the new plate first if it was converted"),
                None => return Ok(()),
            },
            _ => return Ok(()),
        };
        if held == gas {
            return Ok(());
        }
        Err(Problem::Act(format!(
            "{gas} and {}, which holds {held}, do not go together; {what}",
            holder.words()
        )))
    }
}
