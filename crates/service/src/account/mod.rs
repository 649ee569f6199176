//! The refrigerant account: every gram in or out, what it amounts to, and what a rule asks for.

pub mod cylinder;
pub mod law;
pub mod ledger;
pub mod records;

pub use cylinder::{Identity, Screening, fill_limit_kg, hose_holdup_g, liquid_full_c, screen};
pub use law::{CheckInterval, Gwp, check_interval, co2e_t, gwp};
pub use ledger::{Holder, Ledger, Reason, Source, Transfer, annualised_pct, rolling_pct};
