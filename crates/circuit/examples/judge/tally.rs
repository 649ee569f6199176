//! Counts right and wrong answers and prints the tables.

use circuit::card::Card;
use circuit::diagnose::diagnose_with;
use circuit::{Effort, Fault, Input};

use crate::Case;

/// What was judged so far.
#[derive(Default, Clone)]
pub struct Tally {
    pub cases: usize,
    top1: usize,
    top3: usize,
    sound: usize,
    alarms: usize,
    /// False alarms whose answer does not say that it cannot tell them from a sound unit.
    alarms_sure: usize,
    bins: [(f64, f64, f64); 10],
    log_loss: f64,
    severity_in: usize,
    severity_of: usize,
    severity_by: [(usize, usize); 14],
    confusion: [[usize; 14]; 14],
    seconds: f64,
    pairs_told: usize,
}

impl Tally {
    /// Judges one case.
    pub fn add(&mut self, case: &Case, input: &Input, cards: &[&Card], effort: &Effort) {
        let clock = std::time::Instant::now();
        let d = match diagnose_with(input, cards, effort) {
            Ok(d) => d,
            Err(e) => {
                println!("refused: {e} ({:?} {:.2})", case.truth, case.severity);
                self.cases += 1;
                return;
            }
        };
        self.seconds += clock.elapsed().as_secs_f64();
        self.cases += 1;
        self.pairs_told += usize::from(!d.pairs.is_empty());
        let top = &d.faults[0];
        let right = top.fault == case.truth;
        self.top1 += usize::from(right);
        self.top3 += usize::from(d.faults[..3].iter().any(|f| f.fault == case.truth));
        if case.truth == Fault::None {
            self.sound += 1;
            self.alarms += usize::from(!right);
            let told = d.alike.iter().any(|t| t.contains(Fault::None.words()));
            self.alarms_sure += usize::from(!right && !told);
        }
        let bin = &mut self.bins[((top.probability * 10.0) as usize).min(9)];
        bin.0 += 1.0;
        bin.1 += top.probability;
        bin.2 += f64::from(u8::from(right));
        let mine = d.faults.iter().find(|f| f.fault == case.truth);
        if let Some(f) = mine {
            if std::env::args().any(|a| a == "--wrong") && !right {
                println!(
                    "{:?} {:.2} p {:.4} | {:?} {:.2} {:?} | {:?}",
                    case.truth,
                    case.severity,
                    f.probability,
                    top.fault,
                    top.probability,
                    top.detail,
                    input.readings
                );
            }
            self.log_loss -= f.probability.max(1e-9).ln();
            if let (Some([a, b]), true) = (f.severity_p90, case.truth != Fault::None) {
                self.severity_of += 1;
                let inside = case.severity >= a && case.severity <= b;
                self.severity_in += usize::from(inside);
                let slot = &mut self.severity_by[case.truth as usize];
                slot.0 += 1;
                slot.1 += usize::from(inside);
            }
        }
        self.confusion[case.truth as usize][top.fault as usize] += 1;
    }

    /// A row of the table.
    pub fn line(&self, name: &str) {
        let n = self.cases as f64;
        let error: f64 = self.bins.iter().map(|b| (b.1 - b.2).abs()).sum::<f64>() / n;
        println!(
            "| {name} | {} | {:.1} | {:.1} | {:.1} | {:.1} | {:.3} | {:.3} | {:.0} | {:.1} | {:.0} |",
            self.cases,
            100.0 * self.top1 as f64 / n,
            100.0 * self.top3 as f64 / n,
            100.0 * self.alarms as f64 / self.sound.max(1) as f64,
            100.0 * self.alarms_sure as f64 / self.sound.max(1) as f64,
            error,
            self.log_loss / n,
            100.0 * self.severity_in as f64 / self.severity_of.max(1) as f64,
            100.0 * self.pairs_told as f64 / n,
            1e3 * self.seconds / n,
        );
    }

    /// Rows the truth, columns the first answer.
    pub fn confusion(&self, name: &str) {
        for f in Fault::ALL {
            let (n, inside) = self.severity_by[f as usize];
            println!("severity of {}: {inside} of {n} inside", f.id());
        }
        println!("\n{name}: rows the truth, columns the first answer\n");
        print!("| |");
        for f in Fault::ALL {
            print!(" {} |", short(f));
        }
        println!("\n|---|{}", "---|".repeat(14));
        for f in Fault::ALL.into_iter().filter(|f| *f != Fault::WrongRefrigerant) {
            print!("| {} |", f.id());
            for v in self.confusion[f as usize] {
                if v == 0 { print!(" |") } else { print!(" {v} |") }
            }
            println!();
        }
    }
}

fn short(f: Fault) -> String {
    f.id().split('_').map(|w| w.chars().take(3).collect::<String>()).collect::<Vec<_>>().join("·")
}
