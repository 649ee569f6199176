//! Shows the planner over everything that can be reached; the tables of docs/service.md.
//! `cargo run --release -p service --example proof [quick | broken GOAL]`

#![allow(clippy::print_stdout)]

use std::collections::BTreeMap;
use std::time::Instant;

use service::belief::Known;
use service::explore::{Explored, explore};
use service::proof::{Interruptions, Slip, Slips, costs_to, holds, interruptions, reach, slips};
use service::{Content, Goal, Hazards, Plan, Rules, State, plan};

fn main() {
    let quick = std::env::args().any(|a| a == "quick");
    let args: Vec<String> = std::env::args().skip(1).collect();
    if let [word, goal] = args.as_slice()
        && word == "broken"
    {
        match Goal::named(goal) {
            Some(goal) => broken(goal),
            None => println!("no goal {goal}"),
        }
        return;
    }
    for held in [false, true] {
        let rules = Rules { test_with_charge_held: held, ..Rules::default() };
        println!("\n## nitrogen test with the charge held in the receiver: {held}");
        one(&rules, quick);
    }
}

/// A running unit with both gauges on.
fn gauges_on(rules: &Rules) -> State {
    let p = plan(&State::default(), Goal::GaugesOn, rules, Hazards::NONE).unwrap_or_default();
    p.steps.last().map_or_else(State::default, |s| s.after)
}

/// What was found where a plan is broken off, as cells of a row.
fn found(i: &Interruptions) -> String {
    let Interruptions { blind, all_solved, true_solved, fillings, solved, .. } = i;
    format!("{blind} | {all_solved} | {true_solved} | {fillings} | {solved}")
}

/// One plan broken off after each of its steps, a line for each place.
fn broken(goal: Goal) {
    let rules = Rules::default();
    let all = explore(&[State::default()], &rules, usize::MAX);
    let p = plan(&State::default(), goal, &rules, Hazards::NONE).unwrap_or_default();
    let mut known = Known::default();
    println!(
        "| place | without reading | every filling has a way | the true one has | fillings | with a way | time |"
    );
    println!("|---|---|---|---|---|---|---|");
    for (n, step) in p.steps.iter().enumerate() {
        let t = Instant::now();
        let one = Plan { steps: vec![*step], ..Plan::default() };
        let i = interruptions(&one, goal, &rules, &all, &mut known);
        println!("| {} | {} | {:.1?} |", n + 1, found(&i), t.elapsed());
    }
}

/// What is common to states from which the unit cannot be brought back into service.
fn dead_ends(all: &Explored, rules: &Rules) {
    let is_goal = |s: &State| Goal::BackInService.reached(&State { checked: true, ..*s }, rules);
    let cost = costs_to(all, is_goal);
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for (s, c) in all.states.iter().zip(&cost) {
        if *c != u32::MAX {
            continue;
        }
        let hoses = || s.content.iter().skip(4);
        let kind = if hoses().any(|c| *c == Content::NitrogenPressure) {
            "test pressure shut into a hose whose nitrogen regulator is off"
        } else if hoses().any(|c| *c == Content::Refrigerant) && !s.recovery {
            "refrigerant shut into a hose or the centre, and no recovery unit fitted"
        } else if s.content.iter().take(4).any(|c| *c == Content::NitrogenPressure) {
            "test pressure shut into a side"
        } else {
            "air on one side, below the atmosphere on the other"
        };
        *kinds.entry(kind).or_default() += 1;
    }
    println!("\nNo way back into service:");
    for (kind, n) in kinds {
        println!("- {n}: {kind}");
    }
}

fn one(rules: &Rules, quick: bool) {
    let start = State::default();
    let t = Instant::now();
    let all = explore(&[start], rules, usize::MAX);
    println!(
        "{} states, {} safe steps, {} refused for a hazard, {} not possible; {:.1?}",
        all.states.len(),
        all.steps.len(),
        all.refused,
        all.impossible,
        t.elapsed()
    );
    println!("\n| goal | steps | minutes | g lost | replayed | states with a way | without |");
    println!("|---|---|---|---|---|---|---|");
    let mut plans = Vec::new();
    for goal in Goal::ALL {
        let from = if goal == Goal::GaugesOff { gauges_on(rules) } else { start };
        let p = plan(&from, goal, rules, Hazards::NONE).unwrap_or_default();
        let r = reach(&all, goal, rules);
        let minutes: u32 = p.steps.iter().map(|s| s.effort).sum();
        let lost: u32 = p.steps.iter().map(|s| s.lost_g).sum();
        let ok = holds(&from, &p, goal, rules);
        let n = p.steps.len();
        println!("| {} | {n} | {minutes} | {lost} | {ok} | {} | {} |", goal.id(), r.can, r.cannot);
        plans.push((goal, from, p));
    }
    println!(
        "\n| slip | tried | refused: hazard | stopped: cannot | goal all the same | harmless, not there |"
    );
    println!("|---|---|---|---|---|---|");
    for slip in [Slip::Omitted, Slip::Doubled, Slip::Swapped] {
        let mut sum = Slips::default();
        for (goal, from, p) in &plans {
            let s = slips(from, p, *goal, rules, slip);
            sum.tried += s.tried;
            sum.refused += s.refused;
            sum.stopped += s.stopped;
            sum.reached += s.reached;
            sum.short += s.short;
        }
        println!(
            "| {slip:?} | {} | {} | {} | {} | {} |",
            sum.tried, sum.refused, sum.stopped, sum.reached, sum.short
        );
    }
    dead_ends(&all, rules);
    if quick {
        return;
    }
    println!(
        "\n| plan broken off | places | without reading | every filling has a way | the true one has | fillings | with a way | time |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let mut known = Known::default();
    for (goal, _, p) in &plans {
        let t = Instant::now();
        let i = interruptions(p, *goal, rules, &all, &mut known);
        println!("| {} | {} | {} | {:.1?} |", goal.id(), i.places, found(&i), t.elapsed());
    }
}
