//! The refrigerant account: every gram in or out, what it amounts to, and what a rule asks for.

pub mod cylinder;
pub mod law;
pub mod ledger;
pub mod records;
pub mod view;

pub use cylinder::{
    Identity, Screening, fill_limit_kg, hose_holdup_g, liquid_full_c, screen, screen_words,
};
pub use law::{CheckInterval, Gwp, check_interval, co2e_t, gwp};
pub use ledger::{Balance, Ledger, Totals, added, annualised_pct, rolling_pct};
pub use records::{FGasRecord, OzoneEntry, fgas_record, ozone_book};
pub use view::{Account, CylinderLine, GasLine, UnitLine, account};
