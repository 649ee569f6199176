//! Readings that look like another unit than their column says.

use crate::exact::RAW_PER_DEGREE;
use crate::ledger::Ledger;
use crate::schedule::TempUnit;

impl Ledger {
    /// Questions about columns whose values look like the other unit: pulp under cold treatment
    /// lies between about −3 and +10 °C, which is 27 to 50 °F. `file` stands in the message.
    #[must_use]
    pub fn doubts(&self, file: &str) -> Vec<String> {
        let mut out = Vec::new();
        for (i, (values, unit)) in self.written().iter_mut().zip(self.units()).enumerate() {
            let (low, high) = crate::limits::normal(TempUnit::F);
            values.retain(|v| (low..=high).contains(v));
            values.sort_unstable();
            let Some(middle) = values.get(values.len() / 2) else { continue };
            let degrees = *middle as f64 / RAW_PER_DEGREE as f64;
            let other = match unit {
                TempUnit::C if (25.0..=60.0).contains(&degrees) => TempUnit::F,
                TempUnit::F if (-5.0..=15.0).contains(&degrees) => TempUnit::C,
                _ => continue,
            };
            out.push(format!(
                "{file}: probe{n}_{} reads {degrees} in the middle of its values: is it {}? If so, \
                 name the column probe{n}_{}",
                unit.suffix(),
                other.sign(),
                other.suffix(),
                n = i + 1
            ));
        }
        out
    }
}
