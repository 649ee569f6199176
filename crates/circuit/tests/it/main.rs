//! The circuit against the cards' own check values, textbook cycles, published sheets and itself.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod balance;
mod card;
mod derived;
mod diagnosis;
mod elsewhere;
mod input;
mod pairs;
mod rating;
mod signs;
mod standing;
mod textbook;

use circuit::{Card, Diagnosis, Fault, Input, Key};

/// Readings by key.
pub(crate) fn input(fluid: &str, readings: &[(Key, f64)]) -> Input {
    let mut i = Input { fluid: fluid.into(), barometer_kpa: Some(101.325), ..Input::default() };
    for (k, v) in readings {
        i.set(*k, Some(*v));
    }
    i
}

pub(crate) fn cards() -> Vec<&'static Card> {
    Card::embedded().iter().collect()
}

pub(crate) fn probability(d: &Diagnosis, fault: Fault) -> f64 {
    d.faults.iter().find(|f| f.fault == fault).unwrap().probability
}
