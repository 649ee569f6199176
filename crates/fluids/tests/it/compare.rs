//! Compares tables with reference states from CoolProp (`tools/fluid-tables/reference.py`).

use fluids::{FluidError, Refrigerant, Side};

/// One quantity's goal and what was found.
#[derive(Debug, Clone)]
pub struct Worst {
    /// What is compared.
    pub what: &'static str,
    /// The unit of the error.
    pub unit: &'static str,
    /// The admissible error away from the critical point.
    pub goal: f64,
    /// States compared, away from and within 2 K of critical.
    pub count: [usize; 2],
    /// Largest error, away from and within 2 K of critical.
    pub error: [f64; 2],
    /// Where: T in °C and p in kPa.
    pub at: [(f64, f64); 2],
}

/// Everything found for one refrigerant.
#[derive(Debug)]
pub struct Found {
    /// Its name.
    pub name: String,
    /// What the reference file says of itself.
    pub source: String,
    pub worst: Vec<Worst>,
    /// States we refuse: near the critical point, frozen, out of range.
    pub refused: [usize; 3],
    /// States CoolProp itself failed on.
    pub failed: usize,
    /// (T °C, p kPa, relative density error) of single-phase states, for the plot.
    pub points: Vec<(f64, f64, f64)>,
}

const GOALS: [(&str, &str, f64); 13] = [
    ("saturation pressure", "relative", 1e-6),
    ("saturation temperature", "mK", 0.2),
    ("saturated h", "J/kg", 5.0),
    ("saturated s", "J/(kg·K)", 0.02),
    ("saturated density", "relative", 1e-5),
    ("h (T,p)", "J/kg", 5.0),
    ("s (T,p)", "J/(kg·K)", 0.02),
    ("density (T,p)", "relative", 1e-5),
    ("cp (T,p)", "relative", 1e-3),
    ("T (p,h)", "mK", 10.0),
    ("T (p,s)", "mK", 10.0),
    ("viscosity (T,p)", "relative", 1e-3),
    ("conductivity (T,p)", "relative", 1e-3),
];

const WET: [(&str, &str, f64); 4] = [
    ("wet T (p,q)", "mK", 0.2),
    ("wet h (p,q)", "J/kg", 5.0),
    ("wet s (p,q)", "J/(kg·K)", 0.02),
    ("wet density (p,q)", "relative", 1e-5),
];

impl Found {
    fn new(name: &str) -> Self {
        let worst = GOALS
            .iter()
            .chain(&WET)
            .map(|&(what, unit, goal)| Worst {
                what,
                unit,
                goal,
                count: [0; 2],
                error: [0.0; 2],
                at: [(f64::NAN, f64::NAN); 2],
            })
            .collect();
        Self {
            name: name.to_owned(),
            source: String::new(),
            worst,
            refused: [0; 3],
            failed: 0,
            points: Vec::new(),
        }
    }

    fn note(&mut self, index: usize, near: bool, t_k: f64, p_pa: f64, error: f64) {
        let w = &mut self.worst[index];
        let n = usize::from(near);
        w.count[n] += 1;
        if error.abs() > w.error[n] || error.is_nan() {
            w.error[n] = error.abs();
            w.at[n] = (t_k - 273.15, p_pa / 1e3);
        }
    }

    fn refuse(&mut self, e: &FluidError) {
        let n = match e {
            FluidError::NearCritical { .. } => 0,
            FluidError::Frozen { .. } => 1,
            _ => 2,
        };
        self.refused[n] += 1;
    }
}

/// The text of one reference file against our tables.
pub fn compare(name: &str, text: &str) -> Found {
    let fluid = Refrigerant::named(name).unwrap();
    let mut found = Found::new(name);
    let tc = fluid.critical().0;
    for line in text.lines() {
        if let Some(head) = line.strip_prefix("# ") {
            found.source = head.to_owned();
            continue;
        }
        let cells: Vec<&str> = line.split(',').collect();
        let n = |i: usize| cells[i].parse::<f64>().unwrap_or(f64::NAN);
        match cells[0] {
            "sat" => saturated(fluid, &mut found, cells[1], &[n(2), n(3), n(4), n(5), n(6)], tc),
            "one" => {
                let row = [n(1), n(2), n(3), n(4), n(5), n(6), n(7), n(8)];
                single(fluid, &mut found, &row, tc);
            }
            "wet" => wet(fluid, &mut found, &[n(1), n(2), n(3), n(4), n(5), n(6)], tc),
            "failed" => found.failed = cells[1].parse().unwrap(),
            other => panic!("{name}: row kind {other}"),
        }
    }
    found
}

fn saturated(fluid: &Refrigerant, found: &mut Found, side: &str, row: &[f64; 5], tc: f64) {
    let &[t, p, rho, h, s] = row;
    let side = if side == "dew" { Side::Dew } else { Side::Bubble };
    let near = (t - tc).abs() < 2.0;
    let ours = match fluid.saturated_at_t(t, side) {
        Ok(x) => x,
        Err(e) => return found.refuse(&e),
    };
    found.note(0, near, t, p, ours.p_pa / p - 1.0);
    found.note(1, near, t, p, (fluid.t_sat_k(p, side).unwrap_or(f64::NAN) - t) * 1e3);
    found.note(2, near, t, p, ours.h_j_kg - h);
    found.note(3, near, t, p, ours.s_j_kgk - s);
    found.note(4, near, t, p, ours.rho_kg_m3 / rho - 1.0);
}

fn single(fluid: &Refrigerant, found: &mut Found, row: &[f64; 8], tc: f64) {
    let &[p, t, rho, h, s, cp, viscosity, conductivity] = row;
    let near = (t - tc).abs() < 2.0;
    let ours = match fluid.state_pt(p, t) {
        Ok(x) => x,
        Err(e) => return found.refuse(&e),
    };
    found.note(5, near, t, p, ours.h_j_kg - h);
    found.note(6, near, t, p, ours.s_j_kgk - s);
    found.note(7, near, t, p, ours.rho_kg_m3 / rho - 1.0);
    found.points.push((t - 273.15, p / 1e3, ours.rho_kg_m3 / rho - 1.0));
    if let Some(c) = ours.cp_j_kgk {
        found.note(8, near, t, p, c / cp - 1.0);
    }
    let back = |x: Result<fluids::State, FluidError>| x.map_or(f64::NAN, |s| s.t_k - t) * 1e3;
    found.note(9, near, t, p, back(fluid.state_ph(p, h)));
    found.note(10, near, t, p, back(fluid.state_ps(p, s)));
    if let (Ok(x), true) = (fluid.transport(p, t), viscosity.is_finite()) {
        found.note(11, near, t, p, x.viscosity_pa_s / viscosity - 1.0);
        found.note(12, near, t, p, x.conductivity_w_mk / conductivity - 1.0);
    }
}

fn wet(fluid: &Refrigerant, found: &mut Found, row: &[f64; 6], tc: f64) {
    let &[p, q, t, rho, h, s] = row;
    let near = (t - tc).abs() < 2.0;
    let ours = match fluid.state_pq(p, q) {
        Ok(x) => x,
        Err(e) => return found.refuse(&e),
    };
    found.note(13, near, t, p, (ours.t_k - t) * 1e3);
    found.note(14, near, t, p, ours.h_j_kg - h);
    found.note(15, near, t, p, ours.s_j_kgk - s);
    found.note(16, near, t, p, ours.rho_kg_m3 / rho - 1.0);
}
