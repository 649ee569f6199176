//! Random schedules and readings: the engine agrees with the naive implementation, row by row
//! with all at once, columns with rows.

use std::sync::Arc;

use proptest::prelude::*;
use treatment::{
    Answer, Calibration, Decimal, Decision, Kind, Ledger, Row, Schedule, Setup, TempUnit, fast,
};
use units::Utc;

use crate::bench_rule::Rule;
use crate::oracle::{Expected, Oracle};

/// A decision in the oracle's terms.
#[derive(Debug, Clone)]
pub struct Ruling {
    pub kind: Option<&'static str>,
    pub probe: Option<usize>,
    pub from: i64,
    pub to: i64,
    pub verified: bool,
}

/// A made-up check; temperatures in thousandths of a degree.
#[derive(Debug, Clone)]
pub struct Case {
    pub schedule_f: bool,
    pub column_f: [bool; 4],
    pub slurry_f: bool,
    pub hold_max: i64,
    pub hold_min: Option<i64>,
    pub start_max: i64,
    pub days_thousandths: i64,
    pub probes_min: usize,
    pub extra_must_comply: bool,
    pub step_max: Option<i64>,
    pub gap_minutes: i64,
    pub jitter_s: i64,
    pub calibration_limit: Option<i64>,
    pub calibration_correction: bool,
    pub policies: [&'static str; 5],
    pub fault_minutes: i64,
    pub soft_max: i64,
    pub hard_max: i64,
    pub fraction_e10: i64,
    pub slurry: Option<[Vec<i64>; 4]>,
    pub decisions: Vec<Ruling>,
    pub rows: Vec<(i64, [Option<i64>; 4])>,
}

const KINDS: [&str; 5] = ["excursion", "cold", "step", "gap", "fault"];

/// Numbers out of one seed (xorshift64*).
struct Dice(u64);

impl Dice {
    fn next(&mut self, below: u64) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % below
    }
    fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.next(of.len() as u64) as usize]
    }
    fn percent(&mut self, p: u64) -> bool {
        self.next(100) < p
    }
    fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.next((high - low + 1) as u64) as i64
    }
}

/// A temperature near 1 °C in the unit asked for, `tenths` above it.
fn near(f: bool, tenths: i64) -> i64 {
    if f { 33_800 + tenths * 100 } else { 1_000 + tenths * 100 }
}

impl Case {
    pub fn policy(&self, kind: &str) -> &'static str {
        self.policies[KINDS.iter().position(|k| *k == kind).unwrap()]
    }

    pub fn from_seed(seed: u64) -> Self {
        let mut d = Dice(seed | 1);
        for _ in 0..8 {
            d.next(2);
        }
        let schedule_f = d.percent(30);
        let mixed = d.percent(30);
        let column_f = [0; 4].map(|_| if mixed { d.percent(50) } else { schedule_f });
        let hold_max = near(schedule_f, 3) + d.pick(&[0, 0, 10, -30, 7]);
        let words = ["restart", "invalid_unless_verified", "cancel", "warn"];
        let mut policies = [0; 5].map(|_| d.pick(&words));
        if d.percent(60) {
            // Gentle words, so that clocks live long enough to be met or extended.
            policies = policies.map(|p| if p == "cancel" { "warn" } else { p });
        }
        if d.percent(30) {
            policies[0] = "extend";
        }
        let soft_max = near(schedule_f, 1);
        let mut case = Self {
            schedule_f,
            column_f,
            slurry_f: d.percent(30),
            hold_max,
            hold_min: d.percent(50).then_some(near(schedule_f, -6)),
            start_max: hold_max - d.pick(&[0, 0, 200]),
            days_thousandths: d.pick(&[125, 250, 500, 1000, 1375]),
            probes_min: d.between(1, 3) as usize,
            extra_must_comply: d.percent(50),
            step_max: d.percent(60).then_some(d.pick(&[390, 500, 700])),
            gap_minutes: 60,
            jitter_s: d.pick(&[0, 0, 240]),
            calibration_limit: d.percent(30).then_some(300),
            calibration_correction: d.percent(80),
            policies,
            fault_minutes: d.pick(&[0, 60, 150, 240]),
            soft_max,
            hard_max: near(schedule_f, 6),
            fraction_e10: d.pick(&[3_333_333_333, 5_000_000_000, 3_333_333_334]),
            slurry: None,
            decisions: Vec::new(),
            rows: Vec::new(),
        };
        case.fill(&mut d);
        case
    }

    fn fill(&mut self, d: &mut Dice) {
        let fitted = d.pick(&[
            [true, true, true, false],
            [true; 4],
            [false, true, true, true],
            [true, true, false, false],
        ]);
        if d.percent(35) {
            let mut lists: [Vec<i64>; 4] = Default::default();
            for (p, list) in lists.iter_mut().enumerate() {
                let n = if fitted[p] && !d.percent(3) { d.between(1, 3) } else { 0 };
                let ice = if self.slurry_f { 32_000 } else { 0 };
                let spread = d.pick(&[0, 0, 50, 100, 350]);
                *list = (0..n).map(|_| ice + d.between(-spread, spread)).collect();
            }
            self.slurry = Some(lists);
        }
        let trouble = d.pick(&[0, 1, 3, 10, 30]);
        let mut at = 1_772_323_200_000 + d.between(0, 47) * 1_800_000;
        let n = d.between(1, 70);
        for _ in 0..n {
            let cells = self.cells(d, fitted, trouble);
            self.rows.push((at, cells));
            if d.percent(4) {
                let again = self.cells(d, fitted, 20);
                self.rows.push((at, again));
            }
            let minutes = if d.percent(trouble / 2 + 1) {
                d.pick(&[61, 64, 65, 120, 300])
            } else {
                d.pick(&[60, 60, 60, 60, 30, 15])
            };
            at += minutes * 60_000;
        }
        if d.percent(40) {
            for i in (1..self.rows.len()).rev() {
                let j = d.next(i as u64 + 1) as usize;
                self.rows.swap(i, j);
            }
        }
        if d.percent(30) {
            self.rule_on(d);
        }
    }

    fn cells(&self, d: &mut Dice, fitted: [bool; 4], trouble: u64) -> [Option<i64>; 4] {
        let dark = d.percent(1);
        let mut out = [None; 4];
        for p in (0..4).filter(|p| fitted[*p]) {
            out[p] = match d.percent(trouble) {
                false => Some(near(self.column_f[p], d.between(-1, 1))),
                true => match d.next(10) {
                    0..=4 => {
                        Some(near(self.column_f[p], d.between(-12, 9)) + d.between(-1, 1) * 10)
                    }
                    5 => Some(d.pick(&[99_900, -45_000, 60_000, -40_000, 150_000])),
                    6 => Some(near(self.column_f[p], 3) + d.between(-12, 12)),
                    _ => None,
                },
            };
            if dark {
                out[p] = None;
            }
        }
        out
    }

    fn rule_on(&mut self, d: &mut Dice) {
        for _ in 0..d.between(1, 3) {
            let times: Vec<i64> = self.rows.iter().map(|r| r.0).collect();
            let (a, b) = (d.pick(&times), d.pick(&times));
            let kind = d.percent(50).then(|| d.pick(&KINDS));
            let probe = d.percent(30).then(|| d.next(4) as usize);
            let verified = d.percent(60);
            self.decisions.push(Ruling { kind, probe, from: a.min(b), to: a.max(b), verified });
        }
    }

    pub fn schedule(&self) -> Schedule {
        let deg = |v: i64| Decimal::new(v, 3).unwrap().to_string();
        let mut rule = Rule::new()
            .with("unit", if self.schedule_f { "\"f\"" } else { "\"c\"" })
            .with("hold_max", deg(self.hold_max))
            .with("start_max", deg(self.start_max))
            .with("days", deg(self.days_thousandths))
            .with("pulp_probes_min", self.probes_min)
            .with("extra_probes_must_comply", self.extra_must_comply)
            .with("gap_max_minutes", self.gap_minutes)
            .with("gap_jitter_s", self.jitter_s)
            .with("calibration_correction", self.calibration_correction)
            .with("fault_hours", deg(self.fault_minutes * 1000 / 60));
        for (field, value) in [
            ("hold_min", self.hold_min),
            ("step_max", self.step_max),
            ("calibration_limit", self.calibration_limit),
        ] {
            if let Some(v) = value {
                rule = rule.with(field, deg(v));
            }
        }
        for (kind, word) in KINDS.iter().zip(self.policies) {
            rule = rule.policy(&format!("on_{kind}"), word);
        }
        if self.policies[0] == "extend" {
            let fraction = Decimal::new(self.fraction_e10, 10).unwrap().to_string();
            rule = rule.extending(&deg(self.soft_max), &fraction, &deg(self.hard_max));
        }
        rule.schedule()
    }

    pub fn calibration(&self) -> Option<Calibration> {
        let lists = self.slurry.as_ref()?;
        let mut c = Calibration::new(if self.slurry_f { TempUnit::F } else { TempUnit::C });
        for (i, list) in lists.iter().enumerate() {
            for v in list {
                c.add(i + 1, Decimal::new(*v, 3).unwrap()).unwrap();
            }
        }
        Some(c)
    }

    pub fn units(&self) -> [TempUnit; 4] {
        self.column_f.map(|f| if f { TempUnit::F } else { TempUnit::C })
    }

    pub fn rulings(&self) -> Vec<Decision> {
        let of = |(i, r): (usize, &Ruling)| Decision {
            kind: r.kind.and_then(Kind::parse),
            probe: r.probe.map(|p| p as u8 + 1),
            from: Utc::from_ms(r.from),
            to: Utc::from_ms(r.to),
            verified: r.verified,
            who: "official".into(),
            decided_at: Utc::from_ms(1_800_000_000_000 + i as i64),
            document: "letter".into(),
        };
        self.decisions.iter().enumerate().map(of).collect()
    }

    pub fn rows(&self) -> Vec<Row> {
        let row = |(at, cells): &(i64, [Option<i64>; 4])| Row {
            at: Utc::from_ms(*at),
            probes: cells.map(|c| c.and_then(|v| Decimal::new(v, 3))),
        };
        self.rows.iter().map(row).collect()
    }

    fn ledger(&self) -> Ledger {
        let calibration = self.calibration();
        treatment::evaluate(
            &self.schedule(),
            calibration.as_ref(),
            self.units(),
            &self.rows(),
            &self.rulings(),
        )
    }

    pub fn answer(&self) -> Answer {
        self.ledger().answer("QQQU1000011")
    }
}

/// The engine's answer in the oracle's terms.
fn told(case: &Case, a: &Answer) -> Expected {
    let word = serde_word(&a.verdict);
    let startable = word != "not_startable";
    let fraction_h = case.fraction_e10 as f64 * 24.0 / 1e10;
    let millionths = |v: f64| (v * 1e6).round() as i64;
    let index = |name: &str| name.strip_prefix("probe").unwrap().parse::<usize>().unwrap() - 1;
    Expected {
        started: a.started_at.map(Utc::ms),
        met: a.time_met_at.map(Utc::ms),
        plan: a.planning_restart_at.map(Utc::ms),
        restarts: a.restarts,
        warm_days: (a.extension_h / fraction_h).round() as u32,
        elapsed_ms: (a.elapsed_h * 3.6e6).round() as i64,
        breaches: a
            .breaches
            .iter()
            .map(|b| {
                let probe = b.probe.as_deref().map(index);
                let (from, to) = (b.from_at.ms(), b.to_at.ms());
                let effect = b.effect.as_str().to_owned();
                let worst = b.worst_c.map(millionths);
                (b.kind.as_str().to_owned(), probe, from, to, effect, b.readings, worst)
            })
            .collect(),
        spans: if startable {
            a.probes.iter().map(|p| p.min_c.map(millionths).zip(p.max_c.map(millionths))).collect()
        } else {
            Vec::new()
        },
        verdict: word,
    }
}

fn serde_word(v: &treatment::Verdict) -> String {
    use treatment::Verdict as V;
    match v {
        V::NotStartable => "not_startable",
        V::NotStarted => "not_started",
        V::Running => "running",
        V::TimeMet => "time_met",
        V::InvalidPending => "invalid_pending",
        V::Cancelled => "cancelled",
    }
    .into()
}

/// Cases of one sweep; a longer one: TREATMENT_CASES=1000000 cargo test --release -p treatment.
fn cases() -> u32 {
    std::env::var("TREATMENT_CASES").ok().and_then(|t| t.parse().ok()).unwrap_or(6000)
}

/// Every verdict and every effect must come up often, or the sweep proves little.
#[test]
fn the_engine_agrees_with_the_naive_one() {
    let mut seen = std::collections::BTreeMap::<String, u32>::new();
    for i in 0..cases() {
        let seed = 0x9E37_79B9_7F4A_7C15u64.wrapping_mul(u64::from(i) + 1);
        let case = Case::from_seed(seed);
        let expected = Oracle::new(&case).answer();
        let answer = case.answer();
        let told = told(&case, &answer);
        assert_eq!(told, expected, "case {i}: {case:#?}");
        *seen.entry(expected.verdict).or_default() += 1;
        for b in expected.breaches {
            *seen.entry(format!("{} {}", b.0, b.4)).or_default() += 1;
        }
        if let (Some(plan), Some(finish)) = (answer.planning_restart_at, answer.planning_finish_at)
        {
            assert!(finish.ms() - plan.ms() >= case.days_thousandths * 86_400);
        }
    }
    for verdict in
        ["not_startable", "not_started", "running", "time_met", "invalid_pending", "cancelled"]
    {
        assert!(seen.get(verdict).is_some_and(|n| *n > cases() / 100), "{verdict}: {seen:?}");
    }
    for kind in KINDS {
        for effect in
            ["warn", "verified", "refused", "restart", "cancel", "invalid_unless_verified"]
        {
            assert!(seen.contains_key(&format!("{kind} {effect}")), "{kind} {effect}: {seen:?}");
        }
    }
    assert!(seen.contains_key("excursion extend"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// One row more or all at once, in whatever order, asked in between or not: the same answer.
    #[test]
    fn row_by_row_is_all_at_once(seed in any::<u64>()) {
        let case = Case::from_seed(seed);
        let calibration = case.calibration();
        let mut ledger =
            Ledger::new(&case.schedule(), calibration.as_ref(), case.units(), &case.rulings());
        for row in case.rows() {
            ledger.push(&row);
        }
        let whole = case.ledger();
        prop_assert_eq!(ledger.answer("U"), whole.answer("U"), "{:#?}", &case);
        prop_assert_eq!(ledger.hours(), whole.hours());
    }

    /// Columns and rows give the same answer, quiet stretches and all.
    #[test]
    fn columns_are_rows(seed in any::<u64>(), stretch in 1usize..60, wide in any::<bool>()) {
        let mut case = Case::from_seed(seed);
        case.rows.sort_by_key(|r| r.0);
        case.rows.dedup_by_key(|r| r.0);
        // Long quiet stretches, as real files have.
        let quiet = case.rows.clone();
        let end = case.rows.last().map_or(0, |r| r.0);
        for (i, (_, cells)) in quiet.iter().cycle().take(stretch * 20).enumerate() {
            let calm = if i % 97 == 0 { *cells } else { quiet[0].1 };
            case.rows.push((end + (i as i64 + 1) * 3_600_000, calm));
        }
        let answer = case.answer();
        let fitted: [bool; 4] =
            std::array::from_fn(|p| case.rows.iter().any(|r| r.1[p].is_some()));
        let calibration = case.calibration();
        let setup =
            Setup::new(&Arc::new(case.schedule()), calibration.as_ref(), case.units(), fitted)
                .unwrap()
                .with_decisions(&case.rulings());
        let times: Vec<i64> = case.rows.iter().map(|r| r.0).collect();
        let setup = Arc::new(setup);
        let told = if wide {
            in_columns::<i32>(&setup, &times, &case, fitted, |v| v.map_or(i32::MIN, |v| v as i32), 3)
        } else {
            // Hundredths fit two bytes; only cases without thousandths go this way.
            prop_assume!(case.rows.iter().all(|r| r.1.iter().flatten().all(|v| v % 10 == 0)));
            in_columns::<i16>(&setup, &times, &case, fitted, |v| v.map_or(i16::MIN, |v| (v / 10) as i16), 2)
        };
        prop_assert_eq!(told, answer, "{:#?}", &case);
    }
}

fn in_columns<T: fast::Fixed>(
    setup: &Arc<Setup>,
    times: &[i64],
    case: &Case,
    fitted: [bool; 4],
    held: impl Fn(Option<i64>) -> T,
    scale: u8,
) -> Answer {
    let columns: [Vec<T>; 4] = std::array::from_fn(|p| {
        let rows = case.rows.iter().filter(|_| fitted[p]);
        rows.map(|r| held(r.1[p])).collect()
    });
    let probes = [&columns[0][..], &columns[1][..], &columns[2][..], &columns[3][..]];
    let columns = fast::Columns { times: fast::Times::At(times), probes, scale };
    fast::run(setup, &columns).unwrap().answer("QQQU1000011")
}
