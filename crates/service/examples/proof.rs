//! Shows the planner over everything that can be reached; the tables of docs/service.md.
//! `cargo run --release -p service --example proof [quick]`

#![allow(clippy::print_stdout)]

use std::time::Instant;

use service::belief::Known;
use service::proof::{Slip, Slips, holds, interruptions, reach, slips};
use service::{Goal, Hazards, Rules, State, explore::explore, plan};

fn main() {
    let quick = std::env::args().any(|a| a == "quick");
    for held in [false, true] {
        let rules = Rules { test_with_charge_held: held, ..Rules::default() };
        println!("\n## nitrogen test with the charge held in the receiver: {held}");
        one(&rules, quick);
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
        let p = plan(&start, goal, rules, Hazards::NONE).unwrap_or_default();
        let r = reach(&all, goal, rules);
        let minutes: u32 = p.steps.iter().map(|s| s.effort).sum();
        let lost: u32 = p.steps.iter().map(|s| s.lost_g).sum();
        let ok = holds(&start, &p, goal, rules);
        let n = p.steps.len();
        println!("| {} | {n} | {minutes} | {lost} | {ok} | {} | {} |", goal.id(), r.can, r.cannot);
        plans.push((goal, p));
    }
    println!(
        "\n| slip | tried | refused: hazard | stopped: cannot | goal all the same | harmless, not there |"
    );
    println!("|---|---|---|---|---|---|");
    for slip in [Slip::Omitted, Slip::Doubled, Slip::Swapped] {
        let mut sum = Slips::default();
        for (goal, p) in &plans {
            let s = slips(&start, p, *goal, rules, slip);
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
    if quick {
        return;
    }
    println!(
        "\n| plan broken off | places | without reading | every filling has a way | the true one has | fillings | with a way | time |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let mut known = Known::default();
    for (goal, p) in &plans {
        let t = Instant::now();
        let i = interruptions(p, *goal, rules, &all, &mut known);
        println!(
            "| {} | {} | {} | {} | {} | {} | {} | {:.1?} |",
            goal.id(),
            i.places,
            i.blind,
            i.all_solved,
            i.true_solved,
            i.fillings,
            i.solved,
            t.elapsed()
        );
    }
}
