//! How warm the parts of a box will be, hour by hour.

use units::math;

use crate::ahead::{Ahead, Run};
use crate::fit::BoxFit;

/// A temperature ahead with its spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Mean, °C.
    pub mean_c: f64,
    /// Standard deviation, K; times 1.645 is half of the 90 % interval.
    pub sd_k: f64,
}

/// One hour ahead.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HourAhead {
    /// Hours from now.
    pub hours: f64,
    /// Air around the cargo.
    pub air: Spot,
    /// Outer part of the cargo.
    pub shell: Spot,
    /// Inner part.
    pub core: Spot,
    /// Mean of the cargo.
    pub cargo: Spot,
    /// Pulp probes where they seem to sit; `None` for one that was never read.
    pub probes: [Option<Spot>; 4],
}

/// Sums of one spot over the draws.
#[derive(Clone, Copy, Default)]
struct Sum {
    n: f64,
    first: f64,
    off: f64,
    square: f64,
}

impl Sum {
    fn add(&mut self, v: f64) {
        if self.n == 0.0 {
            self.first = v;
        }
        let off = v - self.first;
        self.n += 1.0;
        self.off += off;
        self.square += off * off;
    }

    fn spot(self, own_sd_k: f64) -> Spot {
        let n = self.n.max(1.0);
        let off = self.off / n;
        let var = (self.square / n - off * off).max(0.0);
        Spot { mean_c: self.first + off, sd_k: math::sqrt(var + own_sd_k * own_sd_k) }
    }
}

impl BoxFit {
    /// Every part of the box for each full hour from now to `hours`, the present one included.
    #[must_use]
    pub fn predict(&self, ahead: &Ahead, hours: usize) -> Vec<HourAhead> {
        let places: [_; 4] = std::array::from_fn(|i| self.probes.place(i));
        let mut sums = vec![[Sum::default(); 8]; hours + 1];
        for d in self.draws().into_iter().skip(1) {
            let mut run = Run::new(self, ahead, d);
            if ahead.age_h > 0.0 {
                let steps = ahead.age_h.ceil().clamp(1.0, 500.0);
                for _ in 0..steps as usize {
                    run.step(ahead.age_h / steps);
                }
            }
            for (h, row) in sums.iter_mut().enumerate() {
                if h > 0 {
                    run.step(0.5);
                    run.step(0.5);
                }
                let t = run.temps();
                for (s, v) in row.iter_mut().zip([t.air_c, t.shell_c, t.core_c, run.mean_c()]) {
                    s.add(v);
                }
                for (s, place) in row.iter_mut().skip(4).zip(&places) {
                    if let Some(p) = place {
                        let blend = t.shell_c + p.core_share * (t.core_c - t.shell_c);
                        s.add(blend + p.offset_k);
                    }
                }
            }
        }
        let cargo_sd = self.prior.structure_k;
        sums.iter()
            .enumerate()
            .map(|(h, [air, shell, core, cargo, probes @ ..])| HourAhead {
                hours: h as f64,
                air: air.spot(0.0),
                shell: shell.spot(cargo_sd),
                core: core.spot(cargo_sd),
                cargo: cargo.spot(cargo_sd),
                probes: std::array::from_fn(|i| {
                    let (sum, place) = (probes.get(i)?, places.get(i)?.as_ref()?);
                    Some(sum.spot(place.sd_k))
                }),
            })
            .collect()
    }
}
