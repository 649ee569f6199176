//! How often the 90 % intervals of the treatment forecast hold the truth, on simulated treatments
//! whose physics is not the forecast's. `cargo run --release -p assess --example
//! treatment_intervals [BOXES] [SEED]`

#![allow(clippy::print_stdout)]

use assess::{Clock, Depth, TreatmentQuestion, treatment_view};
use box_model::CargoTable;
use record::treatment::TreatmentView;
use record::{Act, BoxFacts, Channel, ListedUnit, Reading, SlurryReading, TreatmentFile, UnitId};
use seatrial::passage::{MISSING, Snapshot};
use seatrial::quarantine::{Treated, fleet};
use units::Utc;

/// Hours after plugging in at which a forecast is asked for.
const ASKED_H: [f64; 5] = [12.0, 24.0, 72.0, 168.0, 288.0];

fn schedule(t: &Treated, on_breach: &str) -> String {
    format!(
        "id = 'trial'\ntitle = 'trial'\nsource = 'simulated'\nevidence = 'unverified'\nunit = 'c'\n\
         hold_max = {}\ndays = {}\npulp_probes_min = 3\nextra_probes_must_comply = true\n\
         gap_max_minutes = 60\ngap_jitter_s = 0\ncalibration_limit = 0.6\n\
         calibration_correction = true\non_excursion = '{on_breach}'\non_step = 'warn'\n\
         on_gap = '{on_breach}'\non_fault = '{on_breach}'\nfault_hours = 0\n",
        f64::from(t.hold_max_mc) / 1000.0,
        t.days
    )
}

fn reading(unit: &UnitId, start: Utc, s: &Snapshot) -> Reading {
    let at = start.plus_hours(f64::from(s.minute) / 60.0);
    let mut r = Reading::new(unit.clone(), at, "logger".into());
    let channels = [
        (Channel::SetPoint, s.set),
        (Channel::Supply, s.supply),
        (Channel::Return, s.ret),
        (Channel::Ambient, s.ambient),
        (Channel::Probe1, s.probes[0]),
        (Channel::Probe2, s.probes[1]),
        (Channel::Probe3, s.probes[2]),
    ];
    for (c, tenths) in channels.into_iter().filter(|(_, v)| *v != MISSING) {
        r.set(c, f64::from(tenths) / 10.0);
    }
    r.on_power = Some(s.powered);
    r
}

fn file(t: &Treated, unit: &UnitId, on_breach: &str) -> TreatmentFile {
    let mut file = TreatmentFile::default();
    let order = Act::TreatmentAssigned {
        units: vec![unit.clone()],
        schedule_id: "trial".into(),
        schedule: schedule(t, on_breach),
        from_at: None,
    };
    let mut readings = Vec::new();
    for (n, list) in t.slurry.iter().enumerate() {
        for tenths in list {
            readings.push(SlurryReading {
                probe: n as u8 + 1,
                reading: format!("{:.1}", f64::from(*tenths) / 10.0),
                fahrenheit: false,
            });
        }
    }
    let slurry =
        Act::ProbesCalibrated { unit: unit.clone(), at: t.start, readings, remark: String::new() };
    file.add(&order, "trial", t.start);
    file.add(&slurry, "trial", t.start);
    file
}

struct Case {
    facts: BoxFacts,
    file: TreatmentFile,
    eta: Utc,
    set_c: f64,
    cargoes: CargoTable,
}

impl Case {
    fn view(&self, as_of: Utc) -> TreatmentView {
        let clock = Clock { as_of, horizon_h: 1000.0 };
        let known = BoxFacts {
            readings: self.facts.readings.iter().filter(|r| r.at <= as_of).cloned().collect(),
            ..self.facts.clone()
        };
        let mut line = assess::box_line(&known, clock, &self.cargoes);
        line.set_point_c = Some(self.set_c);
        let q = TreatmentQuestion {
            facts: &known,
            file: &self.file,
            line: &line,
            clock,
            eta: Some(self.eta),
            depth: Depth::List,
        };
        treatment_view(&q, &self.cargoes)
    }
}

#[derive(Default)]
struct Tally {
    asked: u32,
    held: u32,
    early: u32,
    late: u32,
    width_h: Vec<f64>,
}

impl Tally {
    fn count(&mut self, truth: Option<Utc>, p90: [Option<Utc>; 2]) {
        self.asked += 1;
        let t = truth.unwrap_or(Utc::from_ms(i64::MAX));
        let low = p90[0].unwrap_or(Utc::from_ms(i64::MAX));
        let high = p90[1].unwrap_or(Utc::from_ms(i64::MAX));
        if t < low {
            self.early += 1;
        } else if t > high {
            self.late += 1;
        } else {
            self.held += 1;
        }
        if let [Some(a), Some(b)] = p90 {
            self.width_h.push(b.hours_since(a));
        }
    }

    fn add(&mut self, other: &mut Self) {
        self.asked += other.asked;
        self.held += other.held;
        self.early += other.early;
        self.late += other.late;
        self.width_h.append(&mut other.width_h);
    }

    fn line(&mut self, name: &str) {
        self.width_h.sort_by(f64::total_cmp);
        let middle = self.width_h.get(self.width_h.len() / 2).copied().unwrap_or(f64::NAN);
        let share = |n: u32| 100.0 * f64::from(n) / f64::from(self.asked.max(1));
        println!(
            "{name:36} {:6} {:7.1} {:7.1} {:7.1} {middle:9.1}",
            self.asked,
            share(self.held),
            share(self.early),
            share(self.late)
        );
    }
}

fn main() {
    let mut args = std::env::args().skip(1).filter_map(|a| a.parse::<u64>().ok());
    let boxes = args.next().unwrap_or(600) as usize;
    let seed = args.next().unwrap_or(1);
    let mut start: Vec<Tally> = ASKED_H.iter().map(|_| Tally::default()).collect();
    let mut met: Vec<Tally> = ASKED_H.iter().map(|_| Tally::default()).collect();
    let mut before = Tally::default();
    let mut sure = vec![(0u32, 0.0f64, 0u32); 10];
    let mut treatments = 0;
    for (n, t) in fleet(boxes, seed).iter().enumerate() {
        let on_breach = if n % 2 == 0 { "restart" } else { "invalid_unless_verified" };
        let unit = UnitId::from_text(&t.reefer.unit).unwrap_or_else(unreachable_unit);
        let readings: Vec<Reading> =
            t.passage.hours.iter().map(|s| reading(&unit, t.start, s)).collect();
        let listed = ListedUnit {
            unit: Some(unit.clone()),
            thermal: true,
            set_point_c: Some(t.reefer.set_c),
            remarks: vec![t.reefer.cargo.text.to_owned()],
            ..ListedUnit::default()
        };
        let case = Case {
            file: file(t, &unit, on_breach),
            eta: t.start.plus_hours(t.eta_h),
            set_c: t.reefer.set_c,
            cargoes: CargoTable::embedded(),
            facts: BoxFacts { unit, listed: Some(listed), readings },
        };
        let Some(end) = case.facts.readings.last().map(|r| r.at) else { continue };
        let truth = case.view(end);
        treatments += 1;
        let met_truth = truth.time_met_at.or(truth.planning_finish_at.filter(|p| *p <= end));
        // What is still open when the record ends is known only to be later than that.
        let first_start = first_start(&case, end);
        for (i, h) in ASKED_H.into_iter().enumerate() {
            let at = t.start.plus_hours(h);
            let v = case.view(at);
            let Some(f) = &v.forecast else { continue };
            let cap = |t: Option<Utc>| t.filter(|t| *t < end);
            if let Some([a, b]) = f.start_p90 {
                start[i].count(cap(first_start.filter(|s| *s > at)), [cap(a), cap(b)]);
            }
            let p90 = [cap(f.met_p90[0]), cap(f.met_p90[1])];
            met[i].count(cap(met_truth), p90);
            if v.started_at.is_none() {
                before.count(cap(met_truth), p90);
            }
            if let Some(p) = f.p_before_port {
                let bin = ((p * 10.0) as usize).min(9);
                sure[bin].0 += 1;
                sure[bin].1 += p;
                sure[bin].2 += u32::from(met_truth.is_some_and(|m| m <= case.eta));
            }
        }
    }
    print_tables(treatments, &mut start, &mut met, &mut before, &sure);
}

/// When the clock first starts (later restarts aside).
fn first_start(case: &Case, end: Utc) -> Option<Utc> {
    case.view(end).ledger.iter().find(|l| l.what.starts_with("clock starts")).map(|l| l.from_at)
}

fn unreachable_unit() -> UnitId {
    UnitId::from_text("QQQU0000000").unwrap_or_else(|| std::process::exit(1))
}

fn print_tables(
    treatments: u32,
    start: &mut [Tally],
    met: &mut [Tally],
    before: &mut Tally,
    sure: &[(u32, f64, u32)],
) {
    println!("{treatments} simulated treatments; 90 % intervals");
    println!(
        "{:36} {:>6} {:>7} {:>7} {:>7} {:>9}",
        "", "asked", "held %", "early %", "late %", "width h"
    );
    for (t, h) in start.iter_mut().zip(ASKED_H) {
        t.line(&format!("start, asked after {h:.0} h"));
    }
    let mut all = Tally::default();
    for t in start.iter_mut() {
        all.add(t);
    }
    all.line("start, all");
    let mut all = Tally::default();
    for (t, h) in met.iter_mut().zip(ASKED_H) {
        t.line(&format!("time met, asked after {h:.0} h"));
        all.add(t);
    }
    all.line("time met, all");
    before.line("time met, asked before the start");
    println!("probability of being met before the port: said, and how often it was");
    for (n, p, k) in sure.iter().filter(|b| b.0 > 0) {
        let n = f64::from(*n);
        println!(
            "  said {:5.1} %  was {:5.1} %  ({n:.0} times)",
            100.0 * p / n,
            100.0 * f64::from(*k) / n
        );
    }
}
