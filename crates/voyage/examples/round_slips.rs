//! How many true figures of rounds are questioned, and how many slips are seen: the rounds of a
//! voyage file keyed again, once as they are and once with a slip of each kind. Prints the table
//! of docs/papers.md.
//!
//! usage: round_slips VOYAGE.holdfast [ROUNDS]

#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used)]

use std::path::Path;

use record::{Channel, KeyedRow, Reading, RoundLine};
use units::temperature::fahrenheit_from_celsius;
use voyage::rounds::judged_row;
use voyage::{AsOf, Voyage};

/// A slip: what the pair of figures becomes; `None` where it changes nothing.
type Slip = (&'static str, fn(f64, f64) -> Option<(String, String)>);

fn plain(v: f64) -> String {
    format!("{v:.1}")
}

const SLIPS: [Slip; 8] = [
    ("as read", |s, r| Some((plain(s), plain(r)))),
    ("minus lost", |s, r| (s <= -0.1).then(|| (plain(-s), plain(r)))),
    ("point lost", |s, r| (s.abs() >= 0.1).then(|| (plain(s).replace('.', ""), plain(r)))),
    ("°F", |s, r| Some((plain(fahrenheit_from_celsius(s)), plain(fahrenheit_from_celsius(r))))),
    ("exchanged", |s, r| ((s - r).abs() > 0.05).then(|| (plain(r), plain(s)))),
    ("first digit one more", |s, r| {
        let more: f64 = if s.abs() >= 10.0 { 10.0 } else { 1.0 };
        Some((plain(s + more.copysign(s)), plain(r)))
    }),
    ("two digits exchanged", |s, r| {
        let t = plain(s.abs());
        let whole: Vec<char> = t.split('.').next()?.chars().collect();
        let [a, b] = whole.as_slice() else { return None };
        let sign = if s < 0.0 { "-" } else { "" };
        (a != b).then(|| (format!("{sign}{b}{a}{}", &t[2..]), plain(r)))
    }),
    ("last digit one more", |s, r| Some((plain(s + 0.1_f64.copysign(s)), plain(r)))),
];

fn main() {
    let mut args = std::env::args().skip(1);
    let path = args.next().expect("name a voyage file");
    let most: usize = args.next().and_then(|n| n.parse().ok()).unwrap_or(6);
    let v = Voyage::open(Path::new(&path)).unwrap();
    let list = v.watch(AsOf::Latest).unwrap();
    let to = list.as_of.unwrap();
    let rounds = v.rounds_walked(&list, to.plus_hours(-12.0 * most as f64), to).unwrap();
    let mut counts = [[0u64; 3]; SLIPS.len()];
    for round in &rounds {
        let before = round.from.plus_hours(-1.0 / 60.0);
        let lines = v.round_lines(&list, before).unwrap();
        for line in &lines {
            let rows = v.journal().rows(line.unit().as_str(), round.from, round.to).unwrap();
            for row in rows {
                let r = Reading::from_canonical(line.unit().clone(), row.t, &row.bytes).unwrap();
                if r.source.starts_with("round") {
                    judge(&r, line, &mut counts);
                }
            }
        }
    }
    println!("{} rounds; slip | boxes | questioned | true figure offered", rounds.len());
    for ((name, _), [n, asked, right]) in SLIPS.iter().zip(counts) {
        let share = |k: u64| 100.0 * k as f64 / n.max(1) as f64;
        println!("{name} | {n} | {:.1} % | {:.1} %", share(asked), share(right));
    }
}

fn judge(r: &Reading, line: &RoundLine, counts: &mut [[u64; 3]; SLIPS.len()]) {
    let (Some(s), Some(b)) = (r.sane_c(Channel::Supply), r.sane_c(Channel::Return)) else { return };
    for ((_, slip), count) in SLIPS.iter().zip(counts.iter_mut()) {
        let Some((supply, back)) = slip(s, b) else { continue };
        let mut row = KeyedRow::new(r.unit.clone());
        row.values.insert("supply".into(), supply);
        row.values.insert("return".into(), back);
        row.defrost = r.mode == Some(record::Mode::Defrost);
        let asked = judged_row(&row, line, r.at).questions;
        let right = asked
            .iter()
            .any(|q| q.instead.iter().any(|(c, v)| *c == Channel::Supply && (v - s).abs() < 0.06));
        count[0] += 1;
        count[1] += u64::from(!asked.is_empty());
        count[2] += u64::from(right);
    }
}
