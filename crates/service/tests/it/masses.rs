//! A unit with masses, litres and pressures, moved by the same steps as the planner's, by code
//! that shares nothing with it but the names of the steps. Invented sizes (20 l, 4.5 kg R134a at
//! 30 °C); properties from the reference's table §1.3.

use std::collections::BTreeSet;

use service::Action;
use service::plant::{HighPlace, Seat, Supply};

const LITRES: [f64; 7] = [3.0, 9.0, 0.6, 7.0, 0.05, 0.05, 0.1];
const COMP: usize = 0;
const HIGH: usize = 1;
const LIQ: usize = 2;
const EVAP: usize = 3;
const LOW: usize = 4;
const HI: usize = 5;
const CENTRE: usize = 6;
const SAT_KPA: f64 = 770.2;
const SAT_G_L: f64 = 37.5;
const ATM: f64 = 101.3;
/// What a recovery unit leaves at 10 inHg below the atmosphere, g/l.
const LEFT_G_L: f64 = 2.8;

#[derive(Clone)]
pub struct Plant {
    ref_g: [f64; 7],
    n2_kpa_l: [f64; 7],
    air_kpa_l: [f64; 7],
    seats: [Seat; 3],
    held: bool,
    power: u8,
    hands: [bool; 2],
    low_on: bool,
    high_on: HighPlace,
    open_joint: bool,
    pump: bool,
    recovery: bool,
    supply: Supply,
    wet_hoses: bool,
    pumping: u8,
    /// What went wrong so far.
    pub harm: BTreeSet<&'static str>,
}

impl Plant {
    pub fn running() -> Self {
        let mut p = Self {
            ref_g: [60.0, 3400.0, 640.0, 400.0, 0.0, 0.0, 0.0],
            n2_kpa_l: [0.0; 7],
            air_kpa_l: [0.0; 7],
            seats: [Seat::Back; 3],
            held: false,
            power: 2,
            hands: [false; 2],
            low_on: false,
            high_on: HighPlace::Off,
            open_joint: false,
            pump: false,
            recovery: false,
            supply: Supply::None,
            wet_hoses: false,
            pumping: 0,
            harm: BTreeSet::new(),
        };
        for v in [LOW, HI, CENTRE] {
            p.air_kpa_l[v] = ATM * LITRES[v];
        }
        p
    }

    fn joined(&self) -> Vec<(usize, usize)> {
        let [s, d, k] = self.seats;
        let mut j = Vec::new();
        if s != Seat::Front {
            j.push((EVAP, COMP));
        }
        if k != Seat::Front {
            j.push((HIGH, LIQ));
        }
        if self.held || self.power == 2 {
            j.push((LIQ, EVAP));
        }
        if self.low_on && s != Seat::Back {
            j.push((LOW, COMP));
        }
        if self.high_on == HighPlace::Discharge && d != Seat::Back {
            j.push((HI, if d == Seat::Mid { HIGH } else { COMP }));
        }
        if self.high_on == HighPlace::King && k != Seat::Back {
            j.push((HI, if k == Seat::Mid { HIGH } else { LIQ }));
        }
        if self.hands[0] {
            j.push((LOW, CENTRE));
        }
        if self.hands[1] {
            j.push((HI, CENTRE));
        }
        j
    }

    fn group(&self, v: usize) -> Vec<usize> {
        let joined = self.joined();
        let mut g = vec![v];
        let mut i = 0;
        while i < g.len() {
            for (a, b) in &joined {
                for (x, y) in [(a, b), (b, a)] {
                    if *x == g[i] && !g.contains(y) {
                        g.push(*y);
                    }
                }
            }
            i += 1;
        }
        g
    }

    fn kpa(&self, v: usize) -> f64 {
        let rho = (self.ref_g[v] / LITRES[v]).min(SAT_G_L);
        let share = rho / SAT_G_L;
        // Vapour: ideal at low pressure, saturated at the end.
        let vapour = SAT_KPA * share * (1.2 - 0.2 * share);
        vapour + (self.n2_kpa_l[v] + self.air_kpa_l[v]) / LITRES[v]
    }

    fn pour(&mut self, g: &[usize]) {
        let litres: f64 = g.iter().map(|v| LITRES[*v]).sum();
        for gas in [&mut self.n2_kpa_l, &mut self.air_kpa_l] {
            let sum: f64 = g.iter().map(|v| gas[*v]).sum();
            for v in g {
                gas[*v] = sum * LITRES[*v] / litres;
            }
        }
        let mass: f64 = g.iter().map(|v| self.ref_g[*v]).sum();
        let vapour = (mass / litres).min(SAT_G_L);
        let mut liquid = mass - vapour * litres;
        for v in g {
            self.ref_g[*v] = vapour * LITRES[*v];
        }
        // Liquid stands in the liquid line first, then in the receiver, else where there is room.
        for (v, most) in [(LIQ, 640.0), (HIGH, 9000.0), (EVAP, 7000.0), (g[0], 1e9)] {
            if g.contains(&v) {
                let take = liquid.min(most);
                self.ref_g[v] += take;
                liquid -= take;
            }
        }
    }

    fn flow(&mut self) {
        for v in 0..7 {
            let g = self.group(v);
            if g.len() > 1 && self.power != 2 {
                self.pour(&g);
            } else if g.len() > 1 {
                let hoses: Vec<usize> = g.iter().copied().filter(|x| *x >= LOW).collect();
                self.fill_hoses(&g, &hoses);
            }
        }
        if self.seats[1] != Seat::Front && self.kpa(COMP) > self.kpa(HIGH) + 20.0 && self.power != 2
        {
            let mut g = self.group(COMP);
            for v in self.group(HIGH) {
                if !g.contains(&v) {
                    g.push(v);
                }
            }
            self.pour(&g);
        }
    }

    /// On a running unit the sides keep their own pressures; hoses take that of their port.
    fn fill_hoses(&mut self, g: &[usize], hoses: &[usize]) {
        let Some(port) = g.iter().copied().find(|v| *v < LOW) else {
            self.pour(hoses);
            return;
        };
        let rho = (self.ref_g[port] / LITRES[port]).min(SAT_G_L);
        for h in hoses {
            let come = self.air_kpa_l[*h] + self.n2_kpa_l[*h];
            self.air_kpa_l[port] += come;
            self.air_kpa_l[*h] = 0.0;
            self.n2_kpa_l[*h] = 0.0;
            self.ref_g[*h] = rho * LITRES[*h];
        }
    }

    fn rho(&self, g: &[usize]) -> f64 {
        g.iter().map(|v| self.ref_g[*v] / LITRES[*v]).fold(0.0, f64::max)
    }

    fn foreign(&self, g: &[usize]) -> f64 {
        g.iter().map(|v| (self.air_kpa_l[*v] + self.n2_kpa_l[*v]) / LITRES[*v]).fold(0.0, f64::max)
    }

    fn vent(&mut self, v: usize) {
        let g = self.group(v);
        let p = self.kpa(v);
        let circuit = g.iter().any(|x| *x < LOW);
        if p > 125.0 {
            self.harm.insert("opened under pressure");
        }
        let lost: f64 = g.iter().map(|x| self.ref_g[*x]).sum();
        if lost > if circuit { LEFT_G_L * 20.0 } else { 3.0 } {
            self.harm.insert("released");
        }
        if p < 90.0 && circuit {
            self.harm.insert("air drawn in");
        }
        for x in g {
            self.ref_g[x] = 0.0;
            self.n2_kpa_l[x] = 0.0;
            self.air_kpa_l[x] = ATM * LITRES[x];
        }
    }

    fn empty(&mut self, g: &[usize], left: f64) {
        for v in g {
            self.ref_g[*v] = self.ref_g[*v].min(left * LITRES[*v]);
            self.n2_kpa_l[*v] = 0.0;
            self.air_kpa_l[*v] = 0.0;
        }
    }

    fn nitrogen(&mut self, kpa: f64) {
        let g = self.group(CENTRE);
        if self.rho(&g) > LEFT_G_L * 1.2 {
            self.harm.insert("nitrogen and refrigerant mixed");
        }
        for v in g {
            // The regulator feeds until the whole pressure is there.
            let more = (kpa - self.kpa(v)).max(0.0);
            self.n2_kpa_l[v] += more * LITRES[v];
        }
    }

    fn machines(&mut self, a: Action) {
        let g = self.group(CENTRE);
        match a {
            Action::Evacuate if self.pump => {
                if self.rho(&g) > LEFT_G_L * 1.2 {
                    self.harm.insert("released");
                }
                if self.kpa(CENTRE) > 150.0 {
                    self.harm.insert("pump under pressure");
                }
                if self.open_joint && g.iter().any(|v| [LIQ, EVAP].contains(v)) {
                    self.harm.insert("air drawn in");
                }
                self.empty(&g, 0.0);
            }
            Action::Recover if self.recovery => {
                if self.foreign(&g) > 30.0 {
                    self.harm.insert("foreign gas recovered");
                }
                if self.power == 2 && g.iter().any(|v| *v < LOW) {
                    self.harm.insert("run into vacuum");
                }
                self.empty(&g, LEFT_G_L);
            }
            Action::BreakWithNitrogen if self.supply == Supply::Nitrogen => self.nitrogen(110.0),
            Action::TestWithNitrogen if self.supply == Supply::Nitrogen => self.nitrogen(1500.0),
            Action::VentNitrogen if self.supply == Supply::Nitrogen => {
                if self.rho(&g) > LEFT_G_L * 1.2 {
                    self.harm.insert("released");
                }
                for v in g {
                    let share = (110.0 / self.kpa(v)).min(1.0);
                    self.n2_kpa_l[v] *= share;
                    self.air_kpa_l[v] *= share;
                    self.ref_g[v] *= share;
                }
            }
            Action::WeighIn if self.supply == Supply::Cylinder && g.contains(&HIGH) => {
                if g.iter().any(|v| [COMP, EVAP].contains(v)) {
                    self.harm.insert("liquid into the compressor");
                }
                self.ref_g[HIGH] += 4500.0;
                self.wet_hoses = true;
            }
            Action::EmptyHoses => self.wet_hoses = false,
            _ => {}
        }
    }

    fn hand(&mut self, a: Action) {
        match a {
            Action::Suction(to) => self.seats[0] = to,
            Action::Discharge(to) => self.seats[1] = to,
            Action::King(to) => self.seats[2] = to,
            Action::HoldExpansion => self.held = true,
            Action::ReleaseExpansion => self.held = false,
            Action::Lock => self.power = 0,
            Action::Unlock => self.power = self.power.max(1),
            Action::Start => self.power = 2,
            Action::Stop => self.power = self.power.min(1),
            Action::OpenLowHand => self.hands[0] = true,
            Action::ShutLowHand => self.hands[0] = false,
            Action::OpenHighHand => self.hands[1] = true,
            Action::ShutHighHand => self.hands[1] = false,
            Action::FitLowHose => {
                if self.seats[0] != Seat::Back {
                    self.harm.insert("opened under pressure");
                }
                self.low_on = true;
            }
            Action::RemoveLowHose => {
                self.vent(LOW);
                self.low_on = false;
            }
            Action::HighHose(HighPlace::Off) => {
                self.vent(HI);
                self.high_on = HighPlace::Off;
            }
            Action::HighHose(place) => self.high_on = place,
            Action::FitPump | Action::RemovePump => {
                self.vent(CENTRE);
                self.pump = a == Action::FitPump;
            }
            Action::FitRecovery | Action::RemoveRecovery => {
                self.vent(CENTRE);
                self.recovery = a == Action::FitRecovery;
            }
            Action::Supply(what) => {
                self.vent(CENTRE);
                self.supply = what;
            }
            Action::OpenJoint => {
                let g = self.group(EVAP);
                if g.contains(&COMP) {
                    self.harm.insert("oil open to the air");
                }
                if self.power != 0 {
                    self.harm.insert("live work");
                }
                self.vent(LIQ);
                self.vent(EVAP);
                self.open_joint = true;
            }
            Action::FitPart => self.open_joint = false,
            _ => {}
        }
    }

    pub fn step(&mut self, a: Action) {
        let was = self.pumping;
        if a == Action::PullDown && self.power == 2 && self.seats[2] == Seat::Front {
            if self.pumping >= 10 {
                self.harm.insert("run into vacuum");
            }
            for v in [COMP, LIQ, EVAP] {
                for x in self.group(v) {
                    let keep = (5.0 * LITRES[x]).min(self.ref_g[x]);
                    self.ref_g[HIGH] += self.ref_g[x] - keep;
                    self.ref_g[x] = keep;
                }
            }
            self.pumping = 10;
        } else {
            self.hand(a);
            self.machines(a);
        }
        let pumps = self.power == 2 && self.seats[2] == Seat::Front;
        if !pumps {
            self.pumping = 0;
        } else if a != Action::PullDown {
            self.pumping = was + 1;
            // One thing may be done between shutting the king valve and watching; then it is empty.
            if !(was == 0 || was == 1) {
                self.harm.insert("run into vacuum");
            }
        }
        self.flow();
        self.look();
    }

    fn look(&mut self) {
        let circuit = [COMP, HIGH, LIQ, EVAP];
        for v in circuit {
            let foreign = (self.air_kpa_l[v] + self.n2_kpa_l[v]) / LITRES[v];
            if self.ref_g[v] / LITRES[v] > LEFT_G_L * 1.2 && foreign > 0.3 {
                self.harm.insert("air or nitrogen in the charge");
            }
        }
        if self.power != 0 && self.kpa(COMP) < 20.0 {
            self.harm.insert("live in vacuum");
        }
        if self.power != 0 && (self.open_joint || self.n2_kpa_l[EVAP] / LITRES[EVAP] > 1000.0) {
            self.harm.insert("live work");
        }
        let line = self.group(LIQ);
        if self.ref_g[LIQ] > 300.0 && !line.contains(&HIGH) && !line.contains(&EVAP) {
            self.harm.insert("liquid shut in");
        }
        if self.wet_hoses {
            let g = self.group(CENTRE);
            if !g.contains(&HIGH) && self.ref_g[CENTRE] > 1.0 {
                self.harm.insert("liquid shut in");
            }
            if g.contains(&COMP) || g.contains(&EVAP) {
                self.harm.insert("liquid into the compressor");
            }
        }
        if self.power == 2 {
            let [s, d, k] = self.seats;
            if d == Seat::Front {
                self.harm.insert("closed discharge");
            }
            if s == Seat::Front || self.kpa(COMP) < 80.0 {
                self.harm.insert("run into vacuum");
            }
            if self.ref_g[HIGH] < 1500.0 && k != Seat::Front {
                self.harm.insert("run without charge");
            }
            let high = match self.high_on {
                HighPlace::Discharge => d == Seat::Mid,
                HighPlace::King => k == Seat::Mid,
                HighPlace::Off => false,
            };
            if self.hands == [true; 2] && s == Seat::Mid && self.low_on && high {
                self.harm.insert("short circuit");
            }
        }
    }
}
