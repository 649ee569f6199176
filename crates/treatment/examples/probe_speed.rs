//! How many probe readings a second: columns in memory, rows through the exact clock, rows
//! through a ledger. `cargo run --release -p treatment --example probe_speed`

#![allow(clippy::print_stdout)]

use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

use treatment::{Clock, Decimal, Ledger, Row, Setup, TempUnit, fast};
use units::Utc;

const BOXES: usize = 4000;
const ROWS: usize = 24 * 28;
const PROBES: usize = 3;

/// A box's columns in hundredths: a day of pull-down, then quiet, `breaches` readings out.
fn columns(seed: u64, breaches: u64) -> [Vec<i16>; 4] {
    let mut x = seed | 1;
    let mut next = move |n: u64| {
        x ^= x >> 12;
        x ^= x << 25;
        x ^= x >> 27;
        (x.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % n
    };
    let mut out: [Vec<i16>; 4] = Default::default();
    for column in out.iter_mut().take(PROBES) {
        for hour in 0..ROWS {
            let warm = 24usize.saturating_sub(hour) as i16 * 20;
            column.push(80 + warm + next(15) as i16);
        }
        for _ in 0..breaches {
            let at = 48 + next(ROWS as u64 - 48) as usize;
            if let Some(v) = column.get_mut(at) {
                *v = 120;
            }
        }
    }
    out
}

fn main() {
    let schedule = treatment::by_id("us-t107-a-1.11").and_then(|s| s.schedule().ok());
    let Some(schedule) = schedule.map(Arc::new) else { return };
    let fitted = [true, true, true, false];
    let Some(setup) = Setup::new(&schedule, None, [TempUnit::C; 4], fitted).map(Arc::new) else {
        return;
    };
    println!("{BOXES} boxes x {ROWS} hourly rows x {PROBES} probes");
    for breaches in [0, 1, 10] {
        let boxes: Vec<_> = (0..BOXES).map(|i| columns(i as u64 + 7, breaches)).collect();
        let all = (BOXES * ROWS * PROBES) as f64;
        let rate = |name: &str, work: &mut dyn FnMut()| {
            let best = (0..5).map(|_| {
                let begun = Instant::now();
                work();
                begun.elapsed().as_secs_f64()
            });
            let s = best.fold(f64::INFINITY, f64::min);
            println!("{breaches:3} breaches a probe  {name:34} {:8.1} million/s", all / s / 1e6);
        };
        let start = Utc::from_ms(1_772_323_200_000);
        let times = fast::Times::Every { start, step_ms: 3_600_000, rows: ROWS };
        rate("columns, clock state", &mut || {
            for b in &boxes {
                let probes = [&b[0][..], &b[1][..], &b[2][..], &b[3][..]];
                black_box(fast::run(&setup, &fast::Columns { times, probes, scale: 2 }));
            }
        });
        rate("columns, whole answer", &mut || {
            for b in &boxes {
                let probes = [&b[0][..], &b[1][..], &b[2][..], &b[3][..]];
                let clock = fast::run(&setup, &fast::Columns { times, probes, scale: 2 });
                black_box(clock.map(|c| c.answer("QQQU1000011")));
            }
        });
        let rows: Vec<Vec<Row>> = boxes.iter().map(|b| rows_of(b, start)).collect();
        rate("rows, exact clock", &mut || {
            for b in &rows {
                let mut clock = Clock::new(Arc::clone(&setup));
                for row in b {
                    let _ = black_box(clock.feed(row.at, &row.probes));
                }
            }
        });
        rate("rows, ledger one by one", &mut || {
            for b in &rows {
                let mut ledger = Ledger::new(&schedule, None, [TempUnit::C; 4], &[]);
                b.iter().for_each(|row| ledger.push(row));
                black_box(ledger.len());
            }
        });
    }
}

fn rows_of(columns: &[Vec<i16>; 4], start: Utc) -> Vec<Row> {
    (0..ROWS)
        .map(|i| {
            let cell = |c: &Vec<i16>| c.get(i).and_then(|v| Decimal::new(i64::from(*v), 2));
            Row {
                at: Utc::from_ms(start.ms() + i as i64 * 3_600_000),
                probes: [
                    cell(&columns[0]),
                    cell(&columns[1]),
                    cell(&columns[2]),
                    cell(&columns[3]),
                ],
            }
        })
        .collect()
}
