//! The figures of the scorecard.

use std::collections::BTreeMap;

use record::{BoxLine, Channel, FindingKind, Mode, Reading, State};
use units::Utc;

use crate::ship::{Fault, Ship, TrialBox};

/// Faults that show slowly: the lead over a plain alarm is measured on them.
const SLOW: [&str; 3] = ["refrigerant_loss", "iced_coil", "fan_loss"];

/// Units that fail: none of them may be taken for warm cargo.
const FAILING: [&str; 4] = ["refrigerant_loss", "iced_coil", "fan_loss", "compressor_failure"];

/// Of one kind of fault.
#[derive(Default)]
struct Kind {
    boxes: usize,
    called: usize,
    named: usize,
    hours_to_name: Vec<f64>,
    lead_h: Vec<f64>,
    lead_named_h: Vec<f64>,
    silent_alarm: usize,
    // One entry per box: share of its forecasts whose interval held, and the median ratio.
    held: Vec<f64>,
    ratio: Vec<f64>,
    width: Vec<f64>,
}

/// A box with an iced coil.
struct Iced {
    /// Hours from the first ice to the end of the data.
    ice_h: f64,
    /// Hours to the finding that names it, and to a call.
    named_h: Option<f64>,
    called_h: Option<f64>,
    /// Its display never said a word of it.
    quiet: bool,
}

/// All figures.
#[derive(Default)]
pub struct Score {
    kinds: BTreeMap<String, Kind>,
    sound_days: f64,
    sound_boxes: usize,
    false_acts: BTreeMap<String, usize>,
    false_watches: BTreeMap<String, usize>,
    cargo_sound: (f64, f64),
    cargo_faulty: (f64, f64),
    cargo_frozen: (f64, f64),
    half_k: Vec<f64>,
    half_frozen_k: Vec<f64>,
    warm_named: (usize, usize),
    failing_called_warm: (usize, usize),
    called_warm_loaded: usize,
    called_iced: usize,
    ice: Vec<Iced>,
    verbose: bool,
}

fn median(v: &[f64]) -> f64 {
    let mut v = v.to_vec();
    v.sort_by(f64::total_cmp);
    v.get(v.len() / 2).copied().unwrap_or(f64::NAN)
}

/// A plain alarm: held air off the set point by 2 K for 2 h outside defrost, as a logger would
/// raise it.
fn plain_alarm(readings: &[Reading], from: Utc) -> Option<Utc> {
    let mut since: Option<Utc> = None;
    for r in readings.iter().filter(|r| &*r.source == "logger" && r.at >= from) {
        if matches!(r.mode, Some(Mode::Defrost)) {
            continue;
        }
        let Some(set) = r.get(Channel::SetPoint) else { continue };
        let frozen = set <= -10.0;
        let held = r.sane_c(if frozen { Channel::Return } else { Channel::Supply });
        let Some(held) = held else { continue };
        let off = if frozen { held - set > 2.0 } else { (held - set).abs() > 2.0 };
        if !off {
            since = None;
            continue;
        }
        let first = *since.get_or_insert(r.at);
        if r.at.hours_since(first) >= 2.0 {
            return Some(r.at);
        }
    }
    None
}

/// The finding that names a fault.
fn names(kind: &str, line: &BoxLine) -> bool {
    use FindingKind as K;
    let has = |k: K, words: &[&str]| {
        line.findings.iter().any(|f| {
            let text = f.what.to_lowercase();
            f.kind == k && (words.is_empty() || words.iter().any(|w| text.contains(w)))
        })
    };
    match kind {
        "plug_tripped" | "plug_tripped_restored" => has(K::PowerLost, &[]),
        "refrigerant_loss" => named_anywhere(line, &["refrigerant", "charge"]),
        "compressor_failure" => named_anywhere(line, &["nothing cools", "compressor"]),
        "iced_coil" => named_anywhere(line, &["ice on the coil", "iced"]),
        "warm_loaded" => named_anywhere(line, &["loaded warm"]),
        "fahrenheit_typed_as_celsius" => named_anywhere(line, &["°f"]),
        "fan_loss" => named_anywhere(line, &["fan"]),
        "set_point_sign_lost" => named_anywhere(line, &["sign lost"]),
        "stuck_supply_sensor" => has(K::ProbeFault, &["stuck"]),
        "probe_code" => has(K::ProbeFault, &["no temperature a sensor"]),
        "swapped_supply_return" => has(K::ProbeFault, &["swapped"]),
        "probe_drift" => has(K::ProbeFault, &["moved"]),
        _ => false,
    }
}

/// Said in a finding's words, other than in the alarm on the display.
fn named_anywhere(line: &BoxLine, words: &[&str]) -> bool {
    line.findings.iter().filter(|f| f.kind != FindingKind::Alarm).any(|f| {
        let text = f.what.to_lowercase();
        words.iter().any(|w| text.contains(w))
    })
}

fn blames_unit(line: &BoxLine) -> bool {
    line.findings.iter().any(|f| {
        let text = &f.what;
        f.kind == FindingKind::SlowLoss
            || text.contains("nothing cools")
            || text.contains("Less air")
    })
}

fn is_warm_loaded(line: &BoxLine) -> bool {
    line.findings.iter().any(|f| f.what.contains("loaded warm"))
}

impl Score {
    /// Adds one box with its lines.
    pub fn add(&mut self, ship: &Ship, b: &TrialBox, lines: &[(Utc, BoxLine)], days: f64) {
        self.verbose = std::env::var_os("SCORE_VERBOSE").is_some();
        self.cargo(b, lines);
        match &b.fault {
            None => self.sound(b, lines, days),
            Some(f) => self.faulty(ship, b, f, lines),
        }
    }

    fn cargo(&mut self, b: &TrialBox, lines: &[(Utc, BoxLine)]) {
        let frozen =
            b.facts.listed.as_ref().and_then(|l| l.set_point_c).is_some_and(|s| s <= -10.0);
        let (sum, half) = match (b.fault.is_some(), frozen) {
            (true, _) => (&mut self.cargo_faulty, None),
            (false, true) => (&mut self.cargo_frozen, Some(&mut self.half_frozen_k)),
            (false, false) => (&mut self.cargo_sound, Some(&mut self.half_k)),
        };
        let mut halves = Vec::new();
        for (at, line) in lines {
            let truth = b.mean_c.iter().find(|(t, _)| t == at);
            if let (Some((_, truth)), Some([low, high])) = (truth, line.cargo_c_p90) {
                sum.1 += 1.0;
                sum.0 += f64::from(u8::from(low <= *truth && *truth <= high));
                halves.push(0.5 * (high - low));
            }
        }
        if let Some(half) = half {
            half.extend(halves);
        }
    }

    fn sound(&mut self, b: &TrialBox, lines: &[(Utc, BoxLine)], days: f64) {
        self.sound_days += days;
        self.sound_boxes += 1;
        // An episode: called now, and not at the look before.
        let mut before = State::Ok;
        for (at, line) in lines {
            let first =
                line.findings.first().map_or("hours".to_owned(), |f| format!("{:?}", f.kind));
            if line.state >= State::Act && before < State::Act {
                *self.false_acts.entry(first).or_default() += 1;
                if self.verbose {
                    println!(
                        "FALSE {} {} {} {}",
                        b.facts.unit,
                        at,
                        line.state.as_str(),
                        line.reason
                    );
                }
            } else if line.state == State::Watch && before == State::Ok {
                *self.false_watches.entry(first).or_default() += 1;
                if self.verbose {
                    println!("WATCHED {} {} {}", b.facts.unit, at, line.reason);
                }
            }
            before = line.state;
        }
        let iced = lines.iter().any(|(_, l)| names("iced_coil", l));
        self.called_iced += usize::from(iced);
        if iced && self.verbose {
            println!("ICED {}", b.facts.unit);
        }
        self.called_warm_loaded += usize::from(lines.iter().any(|(_, l)| is_warm_loaded(l)));
    }

    fn faulty(&mut self, ship: &Ship, b: &TrialBox, f: &Fault, lines: &[(Utc, BoxLine)]) {
        let k = self.kinds.entry(f.kind.clone()).or_default();
        k.boxes += 1;
        let live = |at: Utc| at >= f.started && f.ended.is_none_or(|e| at < e);
        let during: Vec<&(Utc, BoxLine)> = lines.iter().filter(|(at, _)| live(*at)).collect();
        let act = during.iter().find(|(_, l)| l.state >= State::Act).map(|(at, _)| *at);
        let watch = during.iter().find(|(_, l)| l.state >= State::Watch).map(|(at, _)| *at);
        k.called += usize::from(act.is_some());
        let named = during.iter().find(|(_, l)| names(&f.kind, l)).map(|(at, _)| *at);
        k.named += usize::from(named.is_some());
        if let Some(t) = named {
            k.hours_to_name.push(t.hours_since(f.started));
        }
        if f.kind == "iced_coil" {
            let alarmed = |r: &Reading| r.at >= f.started && r.alarm.is_some();
            self.ice.push(Iced {
                ice_h: ship.end.hours_since(f.started),
                named_h: named.map(|t| t.hours_since(f.started)),
                called_h: act.map(|t| t.hours_since(f.started)),
                quiet: !b.facts.readings.iter().any(alarmed),
            });
        }
        let warm = during.iter().any(|(_, l)| is_warm_loaded(l));
        if f.kind == "warm_loaded" {
            let blamed = during.iter().any(|(_, l)| blames_unit(l));
            self.warm_named.0 += usize::from(warm && !blamed);
            self.warm_named.1 += 1;
        } else if FAILING.contains(&f.kind.as_str()) {
            self.failing_called_warm.0 += usize::from(warm);
            self.failing_called_warm.1 += 1;
        }
        if SLOW.contains(&f.kind.as_str()) {
            let alarm = plain_alarm(&b.facts.readings, f.started);
            k.silent_alarm += usize::from(alarm.is_none());
            // An alarm that never came within the data would have come later still.
            let alarm = alarm.unwrap_or(ship.end);
            if let Some(t) = act {
                k.lead_h.push(alarm.hours_since(t));
            }
            if let Some(t) = named {
                k.lead_named_h.push(alarm.hours_since(t));
            }
        }
        if self.verbose {
            println!(
                "FAULT {} {} {} started {} severity {} named {named:.1?} act {act:.1?} watch {watch:.1?}",
                f.kind,
                b.facts.unit,
                b.facts.listed.as_ref().map_or("", |l| l.remarks.first().map_or("", |r| r)),
                f.started,
                f.severity
            );
        }
        self.hours(ship, b, f, &during);
    }

    /// Intervals of the hours to the limit against the truth.
    fn hours(&mut self, ship: &Ship, b: &TrialBox, f: &Fault, during: &[&(Utc, BoxLine)]) {
        let verbose = self.verbose;
        let k = self.kinds.entry(f.kind.clone()).or_default();
        if f.ended.is_some() {
            // The truth went on with power back: no forecast of the loss can meet it.
            return;
        }
        let (mut held, mut ratios, mut widths) = (0.0, Vec::new(), Vec::new());
        let mut n = 0.0;
        for (at, line) in during {
            let warm = line.limit.as_ref().is_some_and(|l| {
                l.starts_with(&format!("{:.1} °C", f.warm_limit_c)) && l.contains("cargo")
            });
            let past = f.mean_warm.is_some_and(|t| t <= *at);
            let (Some(h), Some([low, high])) = (line.hours_to_limit, line.hours_to_limit_p90)
            else {
                continue;
            };
            if !warm || past {
                continue;
            }
            let horizon = ship.arrival.hours_since(*at);
            let truth = f.mean_warm.map(|t| t.hours_since(*at));
            n += 1.0;
            let slack = 0.2;
            let ok = match truth {
                Some(t) => low - slack <= t && t <= high + slack,
                None => high >= horizon - 1.0,
            };
            held += f64::from(u8::from(ok));
            ratios.push((h + 0.5) / (truth.unwrap_or(horizon) + 0.5));
            widths.push((high + 0.5) / (low + 0.5));
            if verbose {
                println!(
                    "HOURS {} {} {} best {h:.1} [{low:.1} {high:.1}] truth {truth:.1?} {} cargo {:?} | {}",
                    f.kind,
                    b.facts.unit,
                    at,
                    line.cargo.as_deref().unwrap_or(""),
                    line.cargo_c_p90,
                    line.reason
                );
            }
        }
        if n > 0.0 {
            k.held.push(held / n);
            k.ratio.push(median(&ratios));
            k.width.push(median(&widths));
        }
    }

    /// Prints the tables.
    pub fn print(&self) {
        println!(
            "\n| fault | boxes | called | named | h to name | hours: held | best/truth | high/low |"
        );
        println!("|---|---|---|---|---|---|---|---|");
        let (mut all_held, mut all_ratio): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        for (name, k) in &self.kinds {
            let held = k.held.iter().sum::<f64>() / k.held.len() as f64;
            println!(
                "| {name} | {} | {} | {} | {:.0} | {:.0} % of {} | {:.2} | {:.1} |",
                k.boxes,
                k.called,
                k.named,
                median(&k.hours_to_name),
                100.0 * held,
                k.held.len(),
                median(&k.ratio),
                median(&k.width)
            );
            all_held.extend(&k.held);
            all_ratio.extend(&k.ratio);
        }
        let held = 100.0 * all_held.iter().sum::<f64>() / all_held.len() as f64;
        println!(
            "| all | | | | | {held:.0} % of {} | {:.2} | |",
            all_held.len(),
            median(&all_ratio)
        );
        self.print_lead();
        self.print_ice();
        self.print_sound();
    }

    /// Iced coils by how long the ice grew, and those whose display kept quiet apart.
    fn print_ice(&self) {
        println!("\n| ice grew for | display | boxes | named | h to name | called | h to call |");
        println!("|---|---|---|---|---|---|---|");
        for (low, high, text) in
            [(0.0, 40.0, "up to 40 h"), (40.0, 80.0, "40 to 80 h"), (80.0, 1e9, "over 80 h")]
        {
            for quiet in [false, true] {
                let of = |i: &&Iced| i.ice_h >= low && i.ice_h < high && i.quiet == quiet;
                let these: Vec<&Iced> = self.ice.iter().filter(of).collect();
                let named: Vec<f64> = these.iter().filter_map(|i| i.named_h).collect();
                let called: Vec<f64> = these.iter().filter_map(|i| i.called_h).collect();
                println!(
                    "| {text} | {} | {} | {} | {:.0} | {} | {:.0} |",
                    if quiet { "quiet" } else { "says so" },
                    these.len(),
                    named.len(),
                    median(&named),
                    called.len(),
                    median(&called)
                );
            }
        }
    }

    fn print_lead(&self) {
        println!(
            "\n| slow fault | boxes | plain alarm silent | lead of act, h | lead of naming it, h |"
        );
        println!("|---|---|---|---|---|");
        for name in SLOW {
            if let Some(k) = self.kinds.get(name) {
                println!(
                    "| {name} | {} | {} | {:.0} ({} called) | {:.0} ({}) |",
                    k.boxes,
                    k.silent_alarm,
                    median(&k.lead_h),
                    k.lead_h.len(),
                    median(&k.lead_named_h),
                    k.lead_named_h.len()
                );
            }
        }
    }

    fn print_sound(&self) {
        let per = |n: usize| 1000.0 * n as f64 / self.sound_days;
        let acts: usize = self.false_acts.values().sum();
        let watches: usize = self.false_watches.values().sum();
        println!("\nsound: {} boxes, {:.0} box-days", self.sound_boxes, self.sound_days);
        println!(
            "false calls (act or urgent) per 1,000 box-days: {:.2} {:?}",
            per(acts),
            self.false_acts
        );
        println!("false watches per 1,000 box-days: {:.2} {:?}", per(watches), self.false_watches);
        println!(
            "cargo loaded warm told as such, and no unit blamed: {} of {}; failing units taken \
             for warm cargo: {} of {}",
            self.warm_named.0,
            self.warm_named.1,
            self.failing_called_warm.0,
            self.failing_called_warm.1
        );
        println!(
            "sound boxes once called loaded warm: {}, once named as iced: {}, of {}",
            self.called_warm_loaded, self.called_iced, self.sound_boxes
        );
        let share = |(held, n): (f64, f64)| 100.0 * held / n;
        println!(
            "cargo mean within its 90 % interval: sound chilled {:.1} % of {:.0} (half width \
             {:.2} K), sound frozen {:.1} % of {:.0} ({:.2} K), faulty {:.1} % of {:.0}",
            share(self.cargo_sound),
            self.cargo_sound.1,
            median(&self.half_k),
            share(self.cargo_frozen),
            self.cargo_frozen.1,
            median(&self.half_frozen_k),
            share(self.cargo_faulty),
            self.cargo_faulty.1
        );
    }
}
