//! The planner over everything that can be reached.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use service::belief::Known;
use service::estimate::at_least;
use service::explore::{Explored, explore, physical};
use service::plant::{Joint, Power, Seat};
use service::proof::{Slip, costs_to, holds, interruptions, slips};
use service::{
    Answer, Content, Goal, Hazard, Hazards, Rules, Site, State, Stated, Volume, answer, apply, plan,
};

fn all() -> &'static Explored {
    static ALL: OnceLock<Explored> = OnceLock::new();
    ALL.get_or_init(|| explore(&[State::default()], &Rules::default(), usize::MAX))
}

pub fn from_running(goal: Goal) -> &'static service::Plan {
    static PLANS: OnceLock<Vec<service::Plan>> = OnceLock::new();
    let made = |g: Goal| plan(&State::default(), g, &Rules::default(), Hazards::NONE).unwrap();
    &PLANS.get_or_init(|| {
        let mut all: Vec<service::Plan> = Goal::ALL.into_iter().map(made).collect();
        all[Goal::GaugesOff as usize] = on_and_off_again(&all[Goal::GaugesOn as usize]);
        all
    })[goal as usize]
}

/// Gauges come off a unit that has them on: both plans in one.
fn on_and_off_again(on: &service::Plan) -> service::Plan {
    let there = on.steps.last().unwrap().after;
    let off = plan(&there, Goal::GaugesOff, &Rules::default(), Hazards::NONE).unwrap();
    assert!(off.steps.len() > 5);
    service::Plan { steps: on.steps.iter().chain(&off.steps).copied().collect(), looked_at: 0 }
}

#[test]
fn no_published_plan_touches_a_hazard() {
    for goal in Goal::ALL {
        assert!(holds(&State::default(), from_running(goal), goal, &Rules::default()));
    }
}

/// Every safe step between all states that can be reached ends in a state without a new danger,
/// and the search's lower bound never exceeds the true cost.
#[test]
fn everything_that_can_be_reached_is_free_of_danger() {
    let all = all();
    assert!(all.states.len() > 1_000_000 && all.refused > 1_000_000);
    for s in &all.states {
        let danger = service::flow::standing(s, &Rules::default());
        assert!(danger.is_empty(), "{s:?}");
        // Said again in other words, from the state alone (G1, G2).
        let live = s.power != Power::Locked;
        let running = s.power == Power::Running;
        assert!(!(running && s.discharge == Seat::Front));
        assert!(
            !(live && matches!(s.of(Volume::Compressor), Content::Vacuum | Content::VacuumHeld))
        );
        assert!(!(live && s.joint == Joint::Open));
        assert!(s.content.iter().all(|c| *c != Content::Mixture));
    }
    no_plan_leads_into_a_dead_end(all);
    for goal in [Goal::LowSideOpen, Goal::PartFitted, Goal::EvacuatedHeld] {
        let cost = costs_to(all, |s| goal.reached(s, &Rules::default()));
        for (s, c) in all.states.iter().zip(&cost) {
            assert!(at_least(goal, s, &Rules::default()) <= *c, "{}: {c} from {s:?}", goal.id());
        }
        // The first state is the unit running normally: the search finds the least cost.
        let found: u32 = from_running(goal).steps.iter().map(|s| s.effort).sum();
        assert_eq!(Some(&found), cost.first(), "{}", goal.id());
    }
}

/// From every state on every published plan the unit can be brought back into service.
fn no_plan_leads_into_a_dead_end(all: &Explored) {
    let back =
        |s: &State| Goal::BackInService.reached(&State { checked: true, ..*s }, &Rules::default());
    let cost = costs_to(all, back);
    let mut passed: BTreeMap<u64, bool> = Goal::ALL
        .iter()
        .flat_map(|g| &from_running(*g).steps)
        .map(|step| (physical(step.after).packed(), false))
        .collect();
    for (s, c) in all.states.iter().zip(&cost) {
        if let Some(ok) = passed.get_mut(&s.packed()) {
            *ok = *c != u32::MAX;
        }
    }
    let dead: Vec<&u64> = passed.iter().filter(|(_, ok)| !**ok).map(|(s, _)| s).collect();
    assert!(passed.len() > 100 && dead.is_empty(), "{} of {}", dead.len(), passed.len());
}

#[test]
fn slips_are_counted_and_none_passes_a_hazard() {
    let mut tried = 0;
    for goal in Goal::ALL {
        let p = from_running(goal);
        for slip in [Slip::Omitted, Slip::Doubled, Slip::Swapped] {
            let s = slips(&State::default(), p, goal, &Rules::default(), slip);
            assert_eq!(s.tried, s.refused + s.stopped + s.reached + s.short);
            tried += s.tried;
        }
    }
    assert!(tried > 500);
}

/// Broken off after any step, the next person sees valves only: from what is really there a safe
/// way on is found.
#[test]
fn plans_survive_an_interruption() {
    let mut known = Known::default();
    for goal in [Goal::GaugesOn, Goal::RunningChecked, Goal::NitrogenTested] {
        let i = interruptions(from_running(goal), goal, &Rules::default(), all(), &mut known);
        assert_eq!(i.true_solved, i.places, "{}", goal.id());
    }
}

#[test]
fn order_of_a_repair_is_the_published_one() {
    let order: Vec<&str> = from_running(Goal::Repair).steps.iter().map(|s| s.action.id()).collect();
    // Reg. (EC) 1516/2007 Art. 8(2) and the state machine of the reference §5.2.
    let want = [
        "recover",
        "break_with_nitrogen",
        "open_joint",
        "fit_part",
        "test_with_nitrogen",
        "vent_nitrogen",
        "evacuate",
        "hold",
        "weigh_in",
        "start",
        "run_check",
    ];
    let mut rest = order.iter();
    // The first evacuation clears hoses; the one that counts comes after the test.
    for w in want {
        assert!(rest.any(|o| *o == w), "{w} is missing in its place: {order:?}");
    }
}

fn hazards(s: &State, a: service::Action) -> Hazards {
    apply(s, a, &Rules::default()).unwrap().hazards
}

/// Guards of the reference, one state each.
#[test]
fn guards_refuse() {
    use service::Action as A;
    let normal = State { low_hose: true, suction: Seat::Mid, ..State::default() };
    let s = normal.with(Volume::LowHose, Content::Refrigerant);
    assert!(hazards(&s, A::Discharge(Seat::Front)).has(Hazard::ClosedDischarge), "G1");
    assert!(hazards(&s, A::King(Seat::Front)).has(Hazard::BlindPumpDown), "G3");
    let full = State { suction: Seat::Back, ..s };
    assert!(hazards(&full, A::RemoveLowHose).has(Hazard::HoseUnderPressure), "G18");
    let pumped = State { pump: true, recovery: true, low_hand: true, ..s }
        .with(Volume::Centre, Content::Refrigerant);
    assert!(hazards(&pumped, A::Evacuate).has(Hazard::PumpOnCharge), "G9");
    let standing = State { power: Power::Standby, ..s };
    assert!(hazards(&standing, A::King(Seat::Front)).has(Hazard::TrappedLiquid));
    let open = State { joint: Joint::Sound, king: Seat::Front, power: Power::Locked, ..s };
    assert!(hazards(&open, A::OpenJoint).has(Hazard::OpenUnderPressure), "G5");
    let suspect = Rules { gas_suspect: true, ..Rules::default() };
    assert!(apply(&open, A::OpenJoint, &suspect).unwrap().hazards.has(Hazard::SuspectGas), "G16");
    let vacuum = State { power: Power::Locked, pump: true, ..State::default() }
        .with(Volume::Compressor, Content::VacuumHeld)
        .with(Volume::Evaporator, Content::VacuumHeld);
    assert!(hazards(&vacuum, A::Unlock).has(Hazard::LiveInVacuum), "G2");
}

#[test]
fn no_way_says_what_would_help() {
    let rules = Rules { cylinder_room: false, ..Rules::default() };
    let a = answer(&State::default(), Goal::Charged, &rules, &Site::default()).unwrap();
    let Answer::Impossible(why) = a else { panic!("{a:?}") };
    assert!(why.reached > 1000);
    assert_eq!(why.hazards, [Hazard::CylinderOverfilled]);
    assert!(why.would_help[0].contains("cylinder"), "{:?}", why.would_help);
}

#[test]
fn states_in_plain_words() {
    let mut s = Stated::default();
    s.set("king_valve", "Front-seated").unwrap();
    s.set("power", "standby").unwrap();
    s.set("ambient_c", "38").unwrap();
    s.set_content("liquid_line", "refrigerant near atmospheric").unwrap();
    let s = s.finish().unwrap();
    assert_eq!((s.state.king, s.site.ambient_c), (Seat::Front, 38.0));
    let told = Stated::described(&s.state);
    let mut back = Stated::default();
    for (key, value) in told {
        back.set(key, value).unwrap();
    }
    assert_eq!(back.state.seen(), s.state.seen());
    let mut wrong = Stated::default();
    assert!(wrong.set("king_valve", "half").unwrap_err().contains("back-seated"));
    assert!(wrong.set("ambient_c", "warm").is_err());
    wrong.set_content("high_side", "air").unwrap();
    assert!(wrong.finish().unwrap_err().contains("correct a valve"));
}
