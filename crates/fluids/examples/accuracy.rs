//! `accuracy FOLDER DOC PLOTS`: compares the tables with the reference states in FOLDER, writes the
//! table of largest errors to DOC (between its marks) and one plot per refrigerant into PLOTS.
//! Run by `tools/fluid-tables/check`.
#![allow(missing_docs, dead_code, clippy::unwrap_used, clippy::panic, clippy::print_stdout)]

use std::fmt::Write;
use std::fs;

#[path = "../tests/it/compare.rs"]
mod compare;

use compare::{Found, compare};

fn number(x: f64) -> String {
    if x.is_nan() {
        "no value".into()
    } else if x == 0.0 || (0.01..10_000.0).contains(&x) {
        format!("{x:.3}")
    } else {
        format!("{x:.1e}")
    }
}

fn table(found: &Found) -> String {
    let mut out = format!("\n## {}\n\nReference: {}.", found.name, found.source);
    let [near, frozen, outside] = found.refused;
    let _ = write!(
        out,
        " Refused by us: {near} states in the box around the critical point, {frozen} that may be \
         solid, {outside} outside the tables. CoolProp failed on {}.\n\n",
        found.failed
    );
    let file = found.name.to_lowercase();
    let _ = write!(out, "![density errors](accuracy/{file}.svg)\n\n");
    out.push_str(
        "| quantity | unit | goal | states | largest error | at | within 2 K of critical: ",
    );
    out.push_str("states | largest error | at |\n|---|---|---|---|---|---|---|---|---|\n");
    for w in found.worst.iter().filter(|w| w.count[0] + w.count[1] > 0) {
        let place = |n: usize| {
            let (t, p) = w.at[n];
            if t.is_nan() { "-".to_owned() } else { format!("{t:.2} °C, {p:.4} kPa") }
        };
        let mark = |n: usize, goal: f64| if w.error[n] <= goal { "" } else { " **over**" };
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | {}{} | {} | {} | {}{} | {} |",
            w.what,
            w.unit,
            number(w.goal),
            w.count[0],
            number(w.error[0]),
            mark(0, w.goal),
            place(0),
            w.count[1],
            number(w.error[1]),
            mark(1, w.goal * 10.0),
            place(1)
        );
    }
    out
}

fn shade(error: f64) -> (usize, &'static str) {
    const STEPS: [(f64, &str); 4] =
        [(1e-7, "#c8c8c8"), (1e-6, "#8fb0d0"), (1e-5, "#3060a0"), (f64::INFINITY, "#c02020")];
    STEPS
        .iter()
        .enumerate()
        .find(|(_, (to, _))| error.abs() <= *to)
        .map_or((3, "#c02020"), |(i, s)| (i, s.1))
}

/// Density errors over the state plane: temperature across, pressure up (logarithmic).
fn plot(found: &Found) -> String {
    let (wide, high) = (640.0, 400.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" \
         font-family=\"sans-serif\" font-size=\"12\">\n<rect width=\"100%\" height=\"100%\" \
         fill=\"white\"/>\n",
        wide + 80.0,
        high + 70.0
    );
    let (t0, t1) = (-110.0, 160.0);
    let (p0, p1) = (0.0_f64, 4.3);
    let x = |t: f64| 50.0 + (t - t0) / (t1 - t0) * wide;
    let y = |p: f64| 20.0 + high - (p.log10() - p0) / (p1 - p0) * high;
    for t in [-100, -50, 0, 50, 100, 150] {
        let at = x(f64::from(t));
        let _ = writeln!(
            out,
            "<path d=\"M{at:.1} 20V{:.1}\" stroke=\"#ddd\"/><text x=\"{at:.1}\" y=\"{:.1}\" \
             text-anchor=\"middle\">{t} °C</text>",
            20.0 + high,
            36.0 + high
        );
    }
    for p in [1.0, 10.0, 100.0, 1000.0, 10_000.0] {
        let at = y(p);
        let _ = writeln!(
            out,
            "<path d=\"M50 {at:.1}H{:.1}\" stroke=\"#ddd\"/><text x=\"46\" y=\"{:.1}\" \
             text-anchor=\"end\">{p}</text>",
            50.0 + wide,
            at + 4.0
        );
    }
    let step = (found.points.len() / 700).max(1);
    let mut points: Vec<_> = found.points.iter().collect();
    points.sort_by(|a, b| a.2.abs().total_cmp(&b.2.abs()));
    let last = points.len().saturating_sub(120);
    for (i, (t, p, e)) in points.into_iter().enumerate() {
        if i % step == 0 || i >= last {
            let (size, colour) = shade(*e);
            let _ = writeln!(
                out,
                "<circle cx=\"{:.0}\" cy=\"{:.0}\" r=\"{}\" fill=\"{colour}\"/>",
                x(*t),
                y(*p),
                1.2 + 0.5 * size as f64
            );
        }
    }
    let _ = writeln!(
        out,
        "<text x=\"50\" y=\"14\">{}: |density error| in kPa over °C. Dots grow and darken: to 1e-7, \
         1e-6, 1e-5, above</text>\n</svg>",
        found.name
    );
    out
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, doc, plots] = args.as_slice() else { panic!("accuracy FOLDER DOC PLOTS") };
    let mut text = String::new();
    fs::create_dir_all(plots).unwrap();
    for name in fluids::refrigerant::NAMES {
        let Ok(reference) = fs::read_to_string(format!("{folder}/{name}.csv")) else {
            println!("{name}: no reference states");
            continue;
        };
        let found = compare(name, &reference);
        for w in &found.worst {
            let over = [w.error[0] > w.goal, w.error[1] > w.goal * 10.0];
            for n in [0, 1] {
                if over[n] || w.error[n].is_nan() {
                    let (t, p) = w.at[n];
                    println!("{name} {}: {} at {t:.3} °C {p:.4} kPa", w.what, number(w.error[n]));
                }
            }
        }
        text += &table(&found);
        fs::write(format!("{plots}/{}.svg", name.to_lowercase()), plot(&found)).unwrap();
    }
    let old = fs::read_to_string(doc).unwrap_or_default();
    let mark = "<!-- below: made by tools/fluid-tables/check -->\n";
    let head = old.split(mark).next().unwrap_or("");
    fs::write(doc, format!("{head}{mark}{text}")).unwrap();
}
