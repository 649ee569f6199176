//! Cases that another simulator made.

use circuit::reading::Value;
use circuit::{Fault, Input};

use super::Case;

/// Cases from somebody else's simulator.
pub(super) fn cases_of(text: &str) -> Vec<Case> {
    let mut out = Vec::new();
    for line in text.lines().filter(|l| !l.starts_with('#')) {
        let mut words = line.split_whitespace();
        let truth = words.next().and_then(Fault::from_id);
        let severity = words.next().and_then(|w| w.parse::<f64>().ok());
        let (Some(truth), Some(severity)) = (truth, severity) else {
            println!("left out: {line}");
            continue;
        };
        let mut input = Input::default();
        for (key, v) in words.filter_map(|w| w.split_once('=')) {
            let value = v.parse().map_or_else(|_| Value::Text(v.into()), Value::Number);
            if let Err(e) = input.put(key, &value) {
                println!("left out: {e}");
            }
        }
        out.push(Case { input, truth, severity });
    }
    out
}
