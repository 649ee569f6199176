//! How urgent a treatment is, why, and what to do first.

use record::State;
use record::treatment::{Standing, TreatmentView};
use treatment::{BreachLine, Decimal, Kind, Schedule, precool};

/// A probe this near to its limit is watched, K.
const NEAR_K: f64 = 0.15;
/// Silence of the recorder beyond its usual hour, h.
const SILENT_H: f64 = 2.0;

/// Fills in state, reason and action.
pub(super) fn judge(v: &mut TreatmentView) {
    let (state, reason, action) = match v.standing {
        Standing::NoSchedule => (
            State::Watch,
            "Probes were read in slurry, but no schedule is ordered.".to_owned(),
            "Ask shore for the schedule and order it here.".to_owned(),
        ),
        Standing::BadSchedule => (
            State::Act,
            "The schedule ordered cannot be read, so nothing is judged.".to_owned(),
            "Order it again with a text that reads; the warnings below say what is wrong."
                .to_owned(),
        ),
        Standing::NoRecord => (
            State::Act,
            "No pulp probe was read yet.".to_owned(),
            "Check that the recorder runs and that its probes are fitted; take in its file."
                .to_owned(),
        ),
        Standing::OnlyRounds => (
            State::Act,
            "Only readings of the rounds are held; they are no hourly record.".to_owned(),
            "Fetch the recorder's file and take it in.".to_owned(),
        ),
        Standing::NotStartable => (
            State::Act,
            "The rule does not let it start: see the probes and warnings.".to_owned(),
            "Tell shore at once: probes are calibrated or exchanged before the cargo is sealed in."
                .to_owned(),
        ),
        Standing::NotStarted => not_started(v),
        Standing::Running => running(v),
        Standing::TimeMet => (
            State::Ok,
            "The time is met. The cold goes on until an authority releases the box.".to_owned(),
            "Keep it plugged in and closed until it is released.".to_owned(),
        ),
        Standing::InvalidPending => pending(v),
        Standing::Cancelled => (
            State::Act,
            "The rule itself ended this treatment.".to_owned(),
            "Keep the cold, save the record, tell shore: the authority decides what follows."
                .to_owned(),
        ),
    };
    v.state = if v.released_at.is_some() { State::Ok } else { state };
    v.reason = reason;
    v.action = action;
}

/// What the forecast alone asks for.
fn by_port(v: &TreatmentView) -> Option<(State, String)> {
    let p = v.forecast.as_ref()?.p_before_port?;
    let port = v.discharge_port.as_deref().unwrap_or("its port");
    let percent = (p * 100.0).round();
    if p < 0.5 {
        Some((State::Act, format!("Not likely to be met before {port}: {percent:.0} %.")))
    } else if p < 0.9 {
        Some((State::Watch, format!("May not be met before {port}: {percent:.0} %.")))
    } else {
        None
    }
}

const TELL_SHORE: &str = "Tell shore now, with the what-if below: a colder set point or a later \
    call is theirs to order.";

fn not_started(v: &TreatmentView) -> (State, String, String) {
    let warm: Vec<String> = v
        .probes
        .iter()
        .filter(|p| p.fitted && p.margin_k.is_some_and(|m| m < 0.0))
        .map(|p| format!("probe {}", p.number))
        .collect();
    let waiting = if warm.is_empty() {
        "Waiting for the start.".to_owned()
    } else {
        format!("Waiting for {} to cool.", warm.join(" and "))
    };
    match by_port(v) {
        Some((state, why)) => (state, format!("{waiting} {why}"), TELL_SHORE.to_owned()),
        None => (State::Watch, waiting, "Look again on the next round.".to_owned()),
    }
}

fn running(v: &TreatmentView) -> (State, String, String) {
    if let Some((state, why)) = by_port(v) {
        return (state, why, TELL_SHORE.to_owned());
    }
    if let Some(h) = silent_h(v) {
        return (
            State::Watch,
            format!("The recorder's record ends {h:.0} h before the latest reading on board."),
            "Take in its file: a gap in the record can cost the treatment.".to_owned(),
        );
    }
    let near = v.probes.iter().find(|p| p.fitted && p.margin_k.is_some_and(|m| m < NEAR_K));
    if let Some(p) = near {
        return (
            State::Watch,
            format!("Probe {} is within {NEAR_K} K of the limit.", p.number),
            "Look at supply air and defrost; tell shore if it goes on rising.".to_owned(),
        );
    }
    if v.forecast.as_ref().is_some_and(|f| f.p_breach > 0.2) {
        return (
            State::Watch,
            "A breach before the time is met is more likely than one in five.".to_owned(),
            "See which probe runs warmest; tell shore with the what-if below.".to_owned(),
        );
    }
    (State::Ok, "Running; nothing broke the rule.".to_owned(), String::new())
}

fn pending(v: &TreatmentView) -> (State, String, String) {
    let open =
        v.breaches.iter().filter(|b| b.effect == "invalid_unless_verified" && b.decided.is_none());
    let count = match open.count() {
        1 => "One breach waits".to_owned(),
        n => format!("{n} breaches wait"),
    };
    let plan = match v.planning_finish_at {
        Some(t) => format!(" Started anew it would end {} UTC at the earliest.", t.to_minute()),
        None => String::new(),
    };
    (
        State::Act,
        format!("{count} for an official's decision.{plan}"),
        "Keep the cold, save the record, report it to shore without delay; enter the decision here \
         when it comes."
            .to_owned(),
    )
}

/// Hours by which the recorder's last reading lies behind, when too many.
fn silent_h(v: &TreatmentView) -> Option<f64> {
    let last = v.points.last()?.at;
    let h = v.as_of.hours_since(last);
    (h > SILENT_H).then_some(h)
}

/// A breach in one sentence.
pub(super) fn breach_words(b: &BreachLine) -> String {
    let probe = b.probe.as_deref().unwrap_or("the record");
    let minutes = b.to_at.hours_since(b.from_at) * 60.0;
    let worst = b.worst_c.unwrap_or(0.0);
    match b.kind {
        Kind::Excursion => {
            format!("{probe} over the limit in {} readings, warmest {worst:.2} °C.", b.readings)
        }
        Kind::Cold => {
            format!(
                "{probe} under the cold side in {} readings, coldest {worst:.2} °C.",
                b.readings
            )
        }
        Kind::Step => format!("{probe} changed by {worst:.2} K from one reading to the next."),
        Kind::Gap => format!("no reading for {minutes:.0} minutes."),
        Kind::Fault => format!("{probe} gave no possible value in {} readings.", b.readings),
    }
}

/// A sample of the fruit against the precooling ceiling.
pub(super) fn precool_words(s: &Schedule, sample: Decimal) -> String {
    let unit = s.unit.sign();
    match precool(s, sample) {
        None => format!("{sample} {unit}; the schedule names no precooling ceiling"),
        Some(p) => {
            let load = if p.load { "its pallet may be loaded" } else { "its pallet goes back" };
            let begin = if p.begin { "cold enough to begin" } else { "still too warm to begin" };
            let max = s.precool_max.map(|m| m.to_string()).unwrap_or_default();
            format!("{sample} {unit} against {max} {unit}: {load}; {begin}")
        }
    }
}
