//! A second opinion on plans and slips: `masses`.

use std::collections::BTreeSet;

use service::{Action, Goal, Hazards, Rules, State, apply, plan};

use crate::masses::Plant;

fn harms(order: &[Action]) -> BTreeSet<&'static str> {
    let mut p = Plant::running();
    for a in order {
        p.step(*a);
    }
    p.harm
}

fn plans() -> Vec<(Goal, Rules, Vec<Action>)> {
    let held = Rules { test_with_charge_held: true, ..Rules::default() };
    let order = |p: &service::Plan| p.steps.iter().map(|s| s.action).collect();
    let mut out = Vec::new();
    for goal in Goal::ALL {
        out.push((goal, Rules::default(), order(crate::planner::from_running(goal))));
        out.push((
            goal,
            held,
            order(&plan(&State::default(), goal, &held, Hazards::NONE).unwrap()),
        ));
    }
    out
}

#[test]
fn plans_do_no_harm_by_masses_either() {
    for (goal, _, order) in plans() {
        let mut p = Plant::running();
        for (i, a) in order.iter().enumerate() {
            p.step(*a);
            assert!(p.harm.is_empty(), "{} step {} {}: {:?}", goal.id(), i + 1, a.id(), p.harm);
        }
    }
}

/// Every slip that the guards let pass does no harm by masses; most that they refuse would.
#[test]
fn slips_are_refused_or_harmless() {
    let (mut passed, mut refused, mut refused_harm) = (0, 0, 0);
    for (goal, rules, order) in plans() {
        for i in 0..order.len() {
            let mut omitted = order.clone();
            omitted.remove(i);
            let mut doubled = order.clone();
            doubled.insert(i, order[i]);
            let mut swapped = order.clone();
            if i + 1 < order.len() {
                swapped.swap(i, i + 1);
            }
            for slip in [omitted, doubled, swapped] {
                let (done, hazard) = taken(&slip, &rules);
                let harm = harms(&done);
                assert!(harm.is_empty(), "{} slip at {}: {harm:?} in {done:?}", goal.id(), i + 1);
                passed += 1;
                if let Some(a) = hazard {
                    let mut on = done.clone();
                    on.push(a);
                    refused += 1;
                    refused_harm += usize::from(!harms(&on).is_empty());
                }
            }
        }
    }
    println!("{passed} slips, {refused} end at a hazard, {refused_harm} of them harm by masses");
    assert!(refused_harm * 2 > refused, "{refused_harm} of {refused}");
}

/// The steps of an order that the guards let pass, and the one refused for a hazard.
fn taken(order: &[Action], rules: &Rules) -> (Vec<Action>, Option<Action>) {
    let mut s = State::default();
    let mut done = Vec::new();
    for a in order {
        match apply(&s, *a, rules) {
            Err(why) if why.contains("already") || why.contains("stands") => {}
            Err(_) => return (done, None),
            Ok(out) if !out.hazards.is_empty() => return (done, Some(*a)),
            Ok(out) => {
                s = out.after;
                done.push(*a);
            }
        }
    }
    (done, None)
}
