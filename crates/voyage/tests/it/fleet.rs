//! All boxes at once against one box at a time: the same verdicts, however the rows lie.

use std::io::{self, Cursor, Read};

use proptest::prelude::*;
use record::UnitId;
use treatment::{Calibration, Decimal, Schedule, Standing, TempUnit, Verdict, evaluate};
use voyage::{BoxVerdict, Fleet, NamedBytes, Source, read_fleet, read_probe_file};

struct InMemory(&'static str, Vec<u8>);

impl Source for InMemory {
    fn name(&self) -> String {
        self.0.to_owned()
    }

    fn open(&self) -> io::Result<Box<dyn Read>> {
        Ok(Box::new(Trickle(Cursor::new(self.1.clone()))))
    }
}

/// Gives a few bytes at a time, as a pipe may.
struct Trickle(Cursor<Vec<u8>>);

impl Read for Trickle {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let most = buf.len().min(113);
        self.0.read(&mut buf[..most])
    }
}

fn schedule(policy: &str) -> Schedule {
    let text = format!(
        "id = \"t\"\ntitle = \"t\"\nsource = \"invented\"\nevidence = \"unverified\"\nunit = \"c\"\n\
         hold_max = 1.11\nhold_min = -0.5\ndays = 0.5\npulp_probes_min = 2\n\
         extra_probes_must_comply = true\nstep_max = 0.39\ngap_max_minutes = 60\n\
         gap_jitter_s = 0\ncalibration_limit = 0.3\ncalibration_correction = true\n\
         on_excursion = \"{policy}\"\non_step = \"warn\"\non_gap = \"{policy}\"\n\
         on_fault = \"invalid_unless_verified\"\nfault_hours = 2\n"
    );
    Schedule::from_toml(&text, "t.toml").unwrap()
}

fn fleet(files: &[InMemory]) -> Fleet {
    let sources: Vec<&dyn Source> = files.iter().map(|f| f as &dyn Source).collect();
    read_fleet(&sources, &mut |_| {}).unwrap_or_else(|e| panic!("{e}"))
}

/// The same box through the ledger.
fn alone(text: &[u8], unit: &UnitId, s: &Schedule, c: Option<&Calibration>) -> BoxVerdict {
    let file = NamedBytes { name: "f.csv".into(), bytes: text.to_vec() };
    let read = read_probe_file(&file, unit).unwrap();
    let a = evaluate(s, c, read.units, &read.rows, &[]).answer(unit.as_str());
    let standing = Standing {
        verdict: a.verdict,
        started_at: a.started_at,
        time_met_at: a.time_met_at,
        finish_at: a.earliest_finish_at.or(a.planning_finish_at),
        last_reading_at: a.last_reading_at,
        breaches: a.breaches.len() as u32,
        restarts: a.restarts,
    };
    BoxVerdict { unit: intake::probes::UnitKey::of(unit).unwrap(), standing }
}

const UNITS: [&str; 3] = ["QQQU1000011", "QQQU1000027", "QQQU1000032"];

/// A long cold record with something wrong here and there; hours may repeat or be missing.
fn row() -> impl Strategy<Value = (usize, u32, [String; 3])> {
    let cell = prop_oneof![
        60 => (0i32..60).prop_map(|v| format!("0.{v:02}")),
        8 => (-60i32..140).prop_map(|v| format!("{:.2}", f64::from(v) / 100.0)),
        4 => Just(String::new()),
        1 => "(-50|999\\.9|1\\.1|0\\.125|1\\.1111|0\\.5000)",
    ];
    (0usize..3, 0u32..40, [cell.clone(), cell.clone(), cell])
}

fn written(rows: &[(usize, u32, [String; 3])]) -> String {
    let mut t = String::from("time_utc,unit,probe1_c,probe2_c,probe3_c\n");
    for (unit, hour, cells) in rows {
        let (day, hour) = (1 + hour / 24, hour % 24);
        t += &format!("2026-03-{day:02}T{hour:02}:00:00Z,{},{}\n", UNITS[*unit], cells.join(","));
    }
    t
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn all_boxes_as_each_alone(
        rows in prop::collection::vec(row(), 1..160),
        order in 0u8..3,
        policy in prop::sample::select(vec!["restart", "invalid_unless_verified", "cancel", "warn"]),
        calibrated in any::<bool>(),
    ) {
        let mut rows = rows;
        match order {
            // Grouped by box; hour by hour; as they come.
            0 => rows.sort_by_key(|r| (r.0, r.1)),
            1 => rows.sort_by_key(|r| (r.1, r.0)),
            _ => {}
        }
        if order < 2 {
            rows.dedup_by_key(|r| (r.0, r.1));
        }
        let s = schedule(policy);
        let mut calibration = Calibration::new(TempUnit::C);
        for (probe, reading) in [(1, "0.1"), (2, "-0.1"), (2, "0.0"), (3, "0.2")] {
            calibration.add(probe, Decimal::parse(reading).unwrap()).unwrap();
        }
        let calibration = calibrated.then_some(&calibration);
        let text = written(&rows);
        let half = rows.len() / 2;
        let parts = [
            InMemory("a.csv", written(&rows[..half]).into_bytes()),
            InMemory("b.csv", written(&rows[half..]).into_bytes()),
        ];
        let whole = [InMemory("f.csv", text.clone().into_bytes())];
        let judged = fleet(&whole).judge(&s, calibration, &mut |_| {}).unwrap();
        let in_parts = fleet(&parts).judge(&s, calibration, &mut |_| {}).unwrap();
        prop_assert_eq!(&judged, &in_parts, "one file or two");
        for b in &judged {
            let unit = UnitId::from_text(&b.unit.text()).unwrap();
            prop_assert_eq!(*b, alone(text.as_bytes(), &unit, &s, calibration));
        }
        let named = UNITS.iter().enumerate().filter(|(i, _)| rows.iter().any(|r| r.0 == *i));
        prop_assert_eq!(judged.len(), named.count());
    }
}

/// A letter that is not UTF-8 far down the file: what was read before is read again, once.
#[test]
fn latin_1_is_noticed_late() {
    let mut bytes = written(&[(0, 0, ["0.5".into(), "0.5".into(), "0.5".into()])]).into_bytes();
    bytes.extend_from_slice(b"2026-03-01T01:00:00Z,QQQU100001\xE9,0.5,0.5,0.5\n");
    bytes.extend_from_slice(b"2026-03-01T01:00:00Z,QQQU1000027,0.5,0.5,0.5\n");
    let first = InMemory("a.csv", written(&[(0, 0, Default::default())]).into_bytes());
    let f = fleet(&[first, InMemory("b.csv", bytes)]);
    assert_eq!((f.rows, f.boxes(), f.refused_count), (4, 2, 1));
    assert!(f.refused[0].why.contains("QQQU100001é"), "{}", f.refused[0].why);
    let judged = f.judge(&schedule("warn"), None, &mut |_| {}).unwrap();
    assert!(judged.iter().all(|b| b.standing.verdict == Verdict::Running));
}

#[test]
fn probes_in_two_units_are_refused() {
    let c = InMemory("c.csv", b"time_utc,unit,probe1_c\n2026-03-01 00:00,QQQU1000011,0.5\n".into());
    let f = InMemory("f.csv", b"time_utc,unit,probe1_f\n2026-03-01 01:00,QQQU1000011,33\n".into());
    let e = read_fleet(&[&c, &f], &mut |_| {}).err().map(|e| e.to_string()).unwrap();
    assert!(e.starts_with("f.csv: probe1 is in another unit"), "{e}");
    let other =
        InMemory("o.csv", b"time_utc,unit,supply_c\n2026-03-01 01:00,QQQU1000011,3\n".into());
    let f = fleet(&[f, other]);
    assert_eq!((f.rows, f.boxes()), (2, 1));
}
