//! One box on its passage: physics, unit and sensors step by step, and what is kept of it.

use crate::alarm::{Alarm, Wording};
use crate::dice::{Dice, Purpose};
use crate::faults::{Effects, FaultKind};
use crate::manifest::Reefer;
use crate::physics::{Body, CORE, DOOR_AIR, Drive, FLOOR, NEAR, NODES, RETURN_AIR, UNDER};
use crate::route::Weather;
use crate::unit_machine::{Air, FROZEN_BELOW_C, Machine, Measured, Mode, STEP_S};

/// A tenth-degree value that was not read.
pub const MISSING: i16 = i16::MIN;
/// Steps in an hour.
const STEPS_PER_HOUR: u32 = 12;

/// What the display shows at one instant, temperatures in tenths of a degree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Snapshot {
    /// Minutes after departure.
    pub minute: u32,
    /// Set point.
    pub set: i16,
    /// Supply air.
    pub supply: i16,
    /// Return air.
    pub ret: i16,
    /// Ambient air.
    pub ambient: i16,
    /// Pulp probes.
    pub probes: [i16; 3],
    /// Power, hundredths of a kilowatt: mean of the last hour.
    pub power: i16,
    /// Mode.
    pub mode: Mode,
    /// Plug energised.
    pub powered: bool,
    /// Alarm.
    pub alarm: Alarm,
}

/// True temperatures at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthRow {
    /// Hours after departure.
    pub hour: u32,
    /// All nodes, °C.
    pub temp_c: [f64; NODES],
    /// Mean cargo temperature, °C.
    pub mean_c: f64,
}

/// When limits were passed, hours after departure.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// Mean over the warm limit.
    pub mean_warm_h: Option<f64>,
    /// Warmest part over the warm limit.
    pub warmest_warm_h: Option<f64>,
    /// Coldest part under the cold limit.
    pub coldest_cold_h: Option<f64>,
}

/// Everything kept of one box.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Passage {
    /// Hourly displays.
    pub hours: Vec<Snapshot>,
    /// Displays at the rounds: number of the round and display.
    pub rounds: Vec<(u32, Snapshot)>,
    /// Truth every six hours.
    pub truth: Vec<TruthRow>,
    /// Limits passed since the fault began.
    pub limits: Limits,
    /// How much each pulp probe errs, K.
    pub probe_errors_k: [f64; 3],
    /// How its display words a long defrost.
    pub wording: Wording,
}

/// How this box's sensors err.
#[derive(Debug, Clone, Copy)]
struct Sensors {
    supply_k: f64,
    return_k: f64,
    ambient_k: f64,
    probes_k: [f64; 3],
}

impl Sensors {
    fn new(dice: &mut Dice) -> Self {
        let mut offset = || (0.1 * dice.normal()).clamp(-0.3, 0.3);
        Self {
            supply_k: offset(),
            return_k: offset(),
            ambient_k: offset(),
            probes_k: [offset(), offset(), offset()],
        }
    }
}

/// Span of one box's passage, hours after departure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// First hour aboard.
    pub from_h: f64,
    /// Last hour of data.
    pub to_h: f64,
    /// Hours to follow the truth of a faulty box, beyond the data.
    pub horizon_h: f64,
}

/// Runs `reefer` under `weather`. `visits` are the rounds that come by: number and minute after
/// departure, earliest first.
#[must_use]
pub fn run(
    reefer: &Reefer,
    weather: &[Weather],
    span: Span,
    visits: &[(u32, u32)],
    seed: u64,
    index: usize,
) -> Passage {
    let mut voyage = Voyage::new(reefer, span, seed, index);
    let last_h = if reefer.fault.is_some() { span.horizon_h } else { span.to_h };
    let first_step = (span.from_h * f64::from(STEPS_PER_HOUR)).ceil() as u32;
    let last_step = (last_h * f64::from(STEPS_PER_HOUR)) as u32;
    let data_step = (span.to_h * f64::from(STEPS_PER_HOUR)) as u32;
    let mut visits = visits.iter().peekable();
    for step in first_step..=last_step {
        let now_h = f64::from(step) / f64::from(STEPS_PER_HOUR);
        if step > first_step {
            voyage.step(weather, now_h);
        }
        let on_hour = step.is_multiple_of(STEPS_PER_HOUR);
        if step <= data_step {
            if on_hour {
                let s = voyage.display(step * 5);
                voyage.out.hours.push(s);
            }
            // A visit in the five minutes up to the next step sees this display.
            while let Some((round, minute)) = visits.next_if(|(_, m)| *m < step * 5 + 5) {
                if *minute + 4 >= step * 5 {
                    let s = voyage.display(*minute);
                    voyage.out.rounds.push((*round, s));
                }
            }
        }
        if on_hour && (step / STEPS_PER_HOUR).is_multiple_of(6) {
            voyage.keep_truth(step / STEPS_PER_HOUR);
        }
        voyage.watch_limits(now_h);
    }
    voyage.out
}

struct Voyage<'a> {
    reefer: &'a Reefer,
    body: Body,
    machine: Machine,
    sensors: Sensors,
    dice: Dice,
    temp_c: [f64; NODES],
    coil_w: f64,
    fans: f64,
    mode: Mode,
    alarm: Alarm,
    effects: Effects,
    ambient_c: f64,
    power_kw: [f64; STEPS_PER_HOUR as usize],
    steps: usize,
    load_h: f64,
    out: Passage,
}

impl<'a> Voyage<'a> {
    fn new(reefer: &'a Reefer, span: Span, seed: u64, index: usize) -> Self {
        let mut dice = Dice::new(seed, Purpose::Machine, index);
        let mut body = Body::new(reefer.cargo, reefer.mass_kg, reefer.forty, reefer.age_years);
        if reefer.fault.is_some_and(|f| f.kind == FaultKind::WarmLoaded) {
            // Pull-down takes days because air goes round the stow, not through it.
            body.stow_tightly(if reefer.cargo.id == "banana" { 0.5 } else { 0.25 });
        }
        let size = if reefer.forty { 1.0 } else { 0.65 };
        let every_h = dice.between(6.0, 12.0);
        let first_h = dice.between(0.5, every_h);
        let condition = dice.between(0.85, 1.0);
        let mut machine = Machine::new(size, condition, body.stream_w_per_k, every_h, first_h);
        // Fresh air and leaking door seals bring water; dry frozen boxes bring little.
        let mut defrost_dice = Dice::new(seed, Purpose::Defrost, index);
        let wording = defrost_dice.pick(&Wording::ALL).copied().unwrap_or_default();
        machine.defrosts_to_a_long_one = defrosts_to_a_long_one(&mut defrost_dice);
        machine.frost_kg_h = 0.05 + 0.002 * reefer.cargo.vent_m3_h + dice.between(0.0, 0.04);
        let sensors = Sensors::new(&mut dice);
        let start = start_temperatures(reefer, &mut dice);
        let rows = (span.to_h - span.from_h).max(0.0) as usize;
        let out = Passage {
            hours: Vec::with_capacity(rows + 2),
            rounds: Vec::with_capacity(rows / 12 + 2),
            truth: Vec::with_capacity(rows / 6 + 30),
            limits: Limits::default(),
            probe_errors_k: sensors.probes_k,
            wording,
        };
        let frozen = reefer.set_c < FROZEN_BELOW_C;
        Self {
            reefer,
            body,
            machine,
            sensors,
            dice,
            temp_c: start,
            coil_w: 0.0,
            fans: 1.0,
            mode: if frozen { Mode::Frozen } else { Mode::Chilled },
            alarm: Alarm::None,
            effects: reefer.fault.map_or_else(Effects::default, |f| f.effects(span.from_h)),
            ambient_c: 25.0,
            power_kw: [0.0; STEPS_PER_HOUR as usize],
            steps: 0,
            load_h: span.from_h,
            out,
        }
    }

    /// The air at the coil as it is.
    fn air(&self) -> Air {
        let stream = self.body.stream_w_per_k * self.fans;
        let supply_c = if stream > 1.0 {
            self.temp_c[RETURN_AIR] + (self.coil_w / stream).clamp(-25.0, 25.0)
        } else {
            0.5 * (self.temp_c[RETURN_AIR] + self.temp_c[UNDER])
        };
        let air = Air { return_c: self.temp_c[RETURN_AIR], supply_c };
        self.machine.at_sensors(air, self.mode)
    }

    /// What the controller's sensors say, without display noise.
    fn measured(&self) -> Measured {
        let air = self.air();
        let mut m = Measured {
            supply_c: air.supply_c + self.sensors.supply_k,
            return_c: air.return_c + self.sensors.return_k,
        };
        if self.effects.swapped {
            (m.supply_c, m.return_c) = (m.return_c, m.supply_c);
        }
        if let Some(c) = self.effects.stuck_supply_c {
            m.supply_c = c;
        }
        m
    }

    fn set_c(&self) -> f64 {
        self.effects.set_c.unwrap_or(self.reefer.set_c)
    }

    fn step(&mut self, weather: &[Weather], now_h: f64) {
        let drive_now = surroundings(self.reefer, weather, now_h);
        if let Some(f) = self.reefer.fault {
            self.effects = f.effects(now_h);
        }
        let seen = self.measured();
        let air = self.air();
        let set_c = self.set_c();
        let act = self.machine.act(set_c, air, seen, drive_now.unit_c, &self.effects);
        self.coil_w = act.coil_w;
        self.fans = act.fans;
        self.mode = act.mode;
        self.ambient_c = drive_now.unit_c;
        let drive = Drive {
            fans: act.fans,
            coil_w: act.coil_w,
            outside_c: drive_now.walls_c,
            fresh_c: drive_now.unit_c,
        };
        self.body.step(&mut self.temp_c, &drive, STEP_S);
        let slot = self.steps % self.power_kw.len();
        self.power_kw[slot] = act.power_kw;
        self.steps += 1;
        let aboard_h = now_h - self.load_h;
        let seen = self.measured();
        self.alarm = self.machine.alarm(set_c, seen, self.mode, aboard_h, &self.effects);
    }

    /// The display at `minute`, with noise, resolution and broken probes.
    fn display(&mut self, minute: u32) -> Snapshot {
        let m = self.measured();
        let noise_k = if self.effects.stuck_supply_c.is_some() { 0.0 } else { 0.05 };
        let supply = tenths(m.supply_c + noise_k * self.dice.normal());
        let ret = tenths(m.return_c + 0.05 * self.dice.normal());
        let ambient = tenths(self.ambient_c + self.sensors.ambient_k + 0.1 * self.dice.normal());
        let n = self.steps.clamp(1, self.power_kw.len());
        let power_kw = self.power_kw.iter().take(n).sum::<f64>() / n as f64;
        Snapshot {
            minute,
            set: tenths(self.set_c()),
            supply,
            ret,
            ambient,
            probes: self.probes(),
            power: (power_kw * 100.0).round() as i16,
            mode: self.mode,
            powered: self.effects.powered,
            alarm: self.alarm,
        }
    }

    fn probes(&mut self) -> [i16; 3] {
        let mut out = [MISSING; 3];
        if self.reefer.probes == 0 {
            return out;
        }
        let at = [NEAR, CORE, CORE - 1];
        for ((slot, node), k) in out.iter_mut().zip(at).zip(self.sensors.probes_k) {
            *slot = tenths(self.temp_c[node] + k + 0.03 * self.dice.normal());
        }
        let [first, second, _] = &mut out;
        *first = first.saturating_add(tenths(self.effects.probe_drift_k));
        if self.effects.probe_code {
            *second = 9999;
        }
        out
    }

    fn keep_truth(&mut self, hour: u32) {
        let mean_c = self.body.cargo_mean_c(&self.temp_c);
        self.out.truth.push(TruthRow { hour, temp_c: self.temp_c, mean_c });
    }

    fn watch_limits(&mut self, now_h: f64) {
        if self.reefer.fault.is_none_or(|f| now_h < f.start_h) {
            return;
        }
        let (warm_c, cold_c) = (self.reefer.warm_limit_c(), self.reefer.cold_limit_c());
        let parts = &self.temp_c[NEAR..];
        let warmest = parts.iter().copied().fold(f64::MIN, f64::max);
        let coldest = parts.iter().copied().fold(f64::MAX, f64::min);
        let mean = self.body.cargo_mean_c(&self.temp_c);
        let limits = &mut self.out.limits;
        let mark = |slot: &mut Option<f64>, passed: bool| {
            if passed && slot.is_none() {
                *slot = Some(now_h);
            }
        };
        mark(&mut limits.mean_warm_h, mean > warm_c);
        mark(&mut limits.warmest_warm_h, warmest > warm_c);
        mark(&mut limits.coldest_cold_h, coldest < cold_c);
    }
}

/// Now and then a defrost of any unit misses its end once: how many come before. One in so many.
const LONG_DEFROST_ONE_IN: f64 = 800.0;

fn defrosts_to_a_long_one(dice: &mut Dice) -> u32 {
    // Waiting for one in n, each as likely as the last: exponential.
    let n = -units::math::ln((1.0 - dice.unit()).max(1e-12)) * LONG_DEFROST_ONE_IN;
    n.clamp(1.0, 1e6) as u32
}

/// What surrounds a box at one instant.
struct Surroundings {
    /// Air at the unit, °C.
    unit_c: f64,
    /// Outside of each node's wall, °C.
    walls_c: [f64; NODES],
}

/// Hold air in the holds; on deck the air over the sea with the sun on roof and side.
fn surroundings(r: &Reefer, weather: &[Weather], now_h: f64) -> Surroundings {
    let w = at_hour(weather, now_h);
    let cell = r.cell();
    if !cell.on_deck() {
        return Surroundings { unit_c: w.hold_c, walls_c: [w.hold_c; NODES] };
    }
    let roof = if r.top { w.roof_k } else { 0.0 };
    let side = match (r.outer, cell.row % 2) {
        (false, _) => 0.0,
        (true, 0) => w.port_k,
        (true, _) => w.starboard_k,
    };
    // Roof and sides are about a third of the wall behind each node; neighbours warm the air.
    let sun = 0.35 * roof + 0.3 * side;
    let air = w.air_c + 1.0;
    let mut walls_c = [air; NODES];
    walls_c[DOOR_AIR] = air + sun;
    walls_c[RETURN_AIR] = air + sun;
    walls_c[FLOOR] = air + 0.3 * side;
    Surroundings { unit_c: air + 0.1 * roof, walls_c }
}

/// Weather at an hour, straight between the hourly values; the last value holds.
fn at_hour(weather: &[Weather], now_h: f64) -> Weather {
    let i = now_h.max(0.0) as usize;
    let last = weather.last().copied().unwrap_or_default();
    let a = weather.get(i).copied().unwrap_or(last);
    let b = weather.get(i + 1).copied().unwrap_or(last);
    let f = now_h - i as f64;
    let mix = |x: f64, y: f64| x + (y - x) * f;
    Weather {
        air_c: mix(a.air_c, b.air_c),
        hold_c: mix(a.hold_c, b.hold_c),
        roof_k: mix(a.roof_k, b.roof_k),
        port_k: mix(a.port_k, b.port_k),
        starboard_k: mix(a.starboard_k, b.starboard_k),
    }
}

/// Temperatures when the box is plugged in: cargo at set point and what it was loaded warmer.
fn start_temperatures(r: &Reefer, dice: &mut Dice) -> [f64; NODES] {
    let cargo_c = r.set_c + r.warm_by_k;
    let mut t = [r.set_c + 0.6 * r.warm_by_k + 1.0; NODES];
    for slot in &mut t[NEAR..] {
        *slot = cargo_c + dice.between(-0.2, 0.3);
    }
    t
}

/// °C in tenths of a degree, as a display with 0.1 K resolution rounds.
#[must_use]
pub fn tenths(temp_c: f64) -> i16 {
    (temp_c * 10.0).round().clamp(-9999.0, 9999.0) as i16
}
