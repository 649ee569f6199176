//! The plan in times and in words.

use super::input::RepairTask;
use super::prepare::Prepared;
use crate::chance::quantile;
use crate::{Refused, hours_in_words};

/// Seed of the fresh durations on which the finished plan is reported.
const REPORT_SEED: u64 = 41_017;
/// How many of them.
const REPORT_SCENARIOS: usize = 400;

/// A plan, complete for showing.
#[derive(Debug, Clone, PartialEq)]
pub struct RepairPlan {
    /// One lane for each person, in the order of the task.
    pub lanes: Vec<Lane>,
    /// Jobs in no lane, and why.
    pub not_done: Vec<NotDone>,
    /// Expected loss of the plan on fresh durations, in the task's value unit.
    pub expected_loss: f64,
    /// 90 % of the drawn nights lose between these. It holds the scatter of durations only: each
    /// loss curve is itself already an expectation.
    pub expected_loss_p90: [f64; 2],
    /// Loss when nobody does anything more (work under way is finished).
    pub loss_if_idle: f64,
    /// Expected loss on the durations that plans were compared on.
    pub planning_loss: f64,
    /// No plan loses less than this on the same durations.
    pub lower_bound: f64,
    /// `planning_loss` less `lower_bound`: how far from the best this plan may be.
    pub gap: f64,
    /// True when the plan is proved best on those durations.
    pub exact: bool,
    /// How good the plan is, in words.
    pub quality: String,
    /// Value unit, from the task.
    pub value_unit: String,
    /// Assumptions that went in, in words.
    pub estimates: Vec<String>,
    /// To be shown above the plan.
    pub cautions: Vec<String>,
}

/// What is said before anybody is sent. Common practice; the ship's procedures rule.
const CAUTIONS: [&str; 5] = [
    "Plan only: the ship's procedures, permits and the maker's instructions come first.",
    "440 V: switch off, pull the plug, lock and tag before a unit is opened.",
    "Wet deck: no plug or socket is touched live; switch off at the board, dry it, then plug.",
    "Hold or aloft: tell the bridge, go in two, test the air in the hold, use fall protection.",
    "Nobody outside the lashing bridge in heavy weather or the dark, whatever the cargo is worth.",
];

/// What one person does, in order, with a time chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// The person's name.
    pub person: String,
    /// Jobs in order; work under way first.
    pub steps: Vec<Step>,
    /// Bars of the time chart by median times, in order, without overlap.
    pub spans: Vec<Span>,
}

/// One job in a lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Job id.
    pub job: String,
    /// Where, in words.
    pub at: String,
    /// Already begun.
    pub under_way: bool,
    /// Way there, h.
    pub way_h: f64,
    /// Start, 10, 50 and 90 % points, hours from now.
    pub start_h: [f64; 3],
    /// Finish, 10, 50 and 90 % points, hours from now.
    pub finish_h: [f64; 3],
    /// Expected loss on this job by this plan.
    pub expected_loss: f64,
    /// Loss if it is left.
    pub loss_if_left: f64,
    /// Hour by which half of what is at stake is lost; `None` when nothing is.
    pub half_lost_h: Option<f64>,
    /// What changing places with the next job of the lane would cost; `None` for the last.
    pub swap_cost: Option<f64>,
    /// Why it stands here.
    pub why: String,
}

/// A job that nobody is sent to.
#[derive(Debug, Clone, PartialEq)]
pub struct NotDone {
    /// Job id.
    pub job: String,
    /// Where, in words.
    pub at: String,
    /// What is lost on it.
    pub loss: f64,
    /// Why, and what would change it.
    pub why: String,
}

/// What a bar of the time chart shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SpanKind {
    /// On the way.
    Walk,
    /// Waiting until the job may start.
    Wait,
    /// Hands on.
    Work,
    /// Rest or another duty.
    Rest,
}

/// One bar of the time chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// What it shows.
    pub kind: SpanKind,
    /// From, hours from now (median).
    pub from_h: f64,
    /// To, hours from now (median).
    pub to_h: f64,
    /// Finish 10 and 90 % points of work, for a whisker.
    pub to_p10_p90_h: Option<[f64; 2]>,
    /// Job id; empty for rest.
    pub job: String,
}

/// Times and words for `lists`, planned on `prep`.
pub fn explain(
    task: &RepairTask,
    prep: &Prepared,
    lists: &[Vec<usize>],
    lower_bound: f64,
    exact: bool,
) -> Result<RepairPlan, Refused> {
    let report = Prepared::new(task, REPORT_SCENARIOS, REPORT_SEED)?;
    let mut totals = vec![0.0; report.scenarios];
    let mut lanes = Vec::new();
    for (p, list) in lists.iter().enumerate() {
        lanes.push(lane(task, prep, &report, p, list, &mut totals));
    }
    let not_done = left_out(task, prep, lists, &mut totals);
    let planning_loss = prep.total(lists);
    let gap = (planning_loss - lower_bound).max(0.0);
    let ends = |p| quantile(&totals, p).unwrap_or(f64::NAN);
    let expected_loss = totals.iter().sum::<f64>() / totals.len() as f64;
    Ok(RepairPlan {
        lanes,
        not_done,
        expected_loss,
        expected_loss_p90: [ends(0.05), ends(0.95)],
        loss_if_idle: report.total(&[]),
        planning_loss,
        lower_bound,
        gap,
        exact,
        quality: quality(planning_loss, gap, exact, &task.value_unit),
        value_unit: task.value_unit.clone(),
        estimates: estimates(task),
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
    })
}

fn quality(loss: f64, gap: f64, exact: bool, unit: &str) -> String {
    if exact {
        return "Proved: no other order loses less on the drawn durations.".to_owned();
    }
    let share = if loss > 0.0 { 100.0 * gap / loss } else { 0.0 };
    format!(
        "Searched, not proved: the best possible order may lose up to {} {unit} less ({share:.0} % \
         of this plan's loss).",
        amount(gap)
    )
}

fn estimates(task: &RepairTask) -> Vec<String> {
    let walk = &task.walk;
    let mut out = Vec::new();
    let paces = [("walking", walk.deck_m_per_h), ("climbing", walk.climb_m_per_h)];
    for (what, pace) in paces {
        if pace.is_estimate() {
            out.push(format!("{what} pace {:.0} m/h: estimate", pace.value));
        }
    }
    out
}

fn lane(
    task: &RepairTask,
    prep: &Prepared,
    report: &Prepared,
    p: usize,
    list: &[usize],
    totals: &mut [f64],
) -> Lane {
    let person = &report.people[p];
    let mut times = person.free_h.clone();
    let mut steps = Vec::new();
    let mut spans = Vec::new();
    let mut now = 0.0;
    if let Some(j) = person.under_way {
        let step = under_way_step(task, report, p, j);
        now = step.finish_h[1];
        spans.push(work_span(&step));
        steps.push(step);
        add_losses(report, j, &times, totals);
    }
    let mut last = None;
    for (at, &j) in list.iter().enumerate() {
        let way_h = report.way(p, last, j);
        let starts: Vec<f64> = times.iter().map(|&t| report.start_h(p, j, t + way_h)).collect();
        let leaving = median(&times).max(now);
        report.advance(p, last, j, &mut times);
        add_losses(report, j, &times, totals);
        let swap_cost = swap_cost(prep, p, list, at);
        let step = Step {
            job: task.jobs[j].id.clone(),
            at: task.jobs[j].at.clone(),
            under_way: false,
            way_h,
            start_h: three_points(&starts),
            finish_h: three_points(&times),
            expected_loss: report.loss_at(j, &times),
            loss_if_left: report.jobs[j].loss.worst(),
            half_lost_h: report.jobs[j].loss.half_lost_h(),
            swap_cost,
            why: why(task, report, list, at, &times, swap_cost),
        };
        push_spans(&mut spans, &step, leaving, &person.breaks);
        now = step.finish_h[1];
        steps.push(step);
        last = Some(j);
    }
    for b in &person.breaks {
        let span = Span {
            kind: SpanKind::Rest,
            from_h: b[0],
            to_h: b[1],
            to_p10_p90_h: None,
            job: String::new(),
        };
        spans.push(span);
    }
    spans.sort_by(|a, b| a.from_h.total_cmp(&b.from_h));
    Lane { person: task.people[p].name.clone(), steps, spans }
}

fn under_way_step(task: &RepairTask, report: &Prepared, p: usize, j: usize) -> Step {
    let times = &report.people[p].free_h;
    let begun = task.under_way.iter().find(|u| u.job == task.jobs[j].id);
    let start = begun.map_or(0.0, |u| u.started_h);
    let finish_h = three_points(times);
    Step {
        job: task.jobs[j].id.clone(),
        at: task.jobs[j].at.clone(),
        under_way: true,
        way_h: 0.0,
        start_h: [start; 3],
        finish_h,
        expected_loss: report.loss_at(j, times),
        loss_if_left: report.jobs[j].loss.worst(),
        half_lost_h: report.jobs[j].loss.half_lost_h(),
        swap_cost: None,
        why: format!(
            "Under way for {}; it is finished first, in about {} more.",
            hours_in_words((-start).max(0.0)),
            hours_in_words(finish_h[1])
        ),
    }
}

/// Loss of `j` in each drawn night, success as an expectation.
fn add_losses(report: &Prepared, j: usize, times: &[f64], totals: &mut [f64]) {
    let job = &report.jobs[j];
    for (sum, &t) in totals.iter_mut().zip(times) {
        *sum += job.success * job.loss.at(t) + (1.0 - job.success) * job.loss.worst();
    }
}

fn median(times: &[f64]) -> f64 {
    quantile(times, 0.5).unwrap_or(0.0)
}

fn three_points(times: &[f64]) -> [f64; 3] {
    [0.1, 0.5, 0.9].map(|p| quantile(times, p).unwrap_or(f64::NAN))
}

fn work_span(step: &Step) -> Span {
    Span {
        kind: SpanKind::Work,
        from_h: step.start_h[1],
        to_h: step.finish_h[1],
        to_p10_p90_h: Some([step.finish_h[0], step.finish_h[2]]),
        job: step.job.clone(),
    }
}

/// Walk, wait and work of one step by median times.
fn push_spans(spans: &mut Vec<Span>, step: &Step, leaving_h: f64, breaks: &[[f64; 2]]) {
    let bar =
        |kind, from_h, to_h| Span { kind, from_h, to_h, to_p10_p90_h: None, job: step.job.clone() };
    let start = step.start_h[1];
    let arrive = (leaving_h + step.way_h).min(start);
    if arrive > leaving_h {
        spans.push(bar(SpanKind::Walk, leaving_h, arrive));
    }
    // Waiting stops where a rest begins: the rest has its own bar.
    let wait_to = breaks.iter().map(|b| b[0]).filter(|b| *b >= arrive).fold(start, f64::min);
    if wait_to > arrive + 1e-6 {
        spans.push(bar(SpanKind::Wait, arrive, wait_to));
    }
    spans.push(work_span(step));
}

fn swap_cost(prep: &Prepared, p: usize, list: &[usize], at: usize) -> Option<f64> {
    if at + 1 >= list.len() {
        return None;
    }
    let mut other = list.to_vec();
    other.swap(at, at + 1);
    Some(prep.list_loss(p, &other) - prep.list_loss(p, list))
}

/// Why the job at `at` stands there.
fn why(
    task: &RepairTask,
    report: &Prepared,
    list: &[usize],
    at: usize,
    times: &[f64],
    swap_cost: Option<f64>,
) -> String {
    let j = list[at];
    let unit = &task.value_unit;
    let rest = &list[at..];
    let job = &report.jobs[j];
    let stake = job.loss.worst() - job.loss.least();
    let lost = report.loss_at(j, times) - job.loss.least();
    let mut text = format!("{} {unit} at stake", amount(stake));
    if let Some(half) = job.loss.half_lost_h() {
        text.push_str(&match half {
            h if h > 0.0 => format!(", half of it lost if it waits {}", hours_in_words(h)),
            _ => ", more than half of it already lost".to_owned(),
        });
    }
    text.push_str(&format!("; done here {} is expected lost", amount(lost)));
    if lost > 0.9 * stake {
        text.push_str(", so little can be saved here that it waits for the others");
    }
    let lowest = |value: &dyn Fn(usize) -> f64| rest.iter().all(|&i| value(j) <= value(i));
    let half = |i: usize| report.jobs[i].loss.half_lost_h().unwrap_or(f64::INFINITY);
    let mut marks = Vec::new();
    if rest.len() > 1 {
        if lowest(&half) {
            marks.push("the soonest limit");
        }
        if lowest(&|i| report.jobs[i].median_h) {
            marks.push("the shortest repair");
        }
        if lowest(&|i| report.jobs[i].loss.least() - report.jobs[i].loss.worst()) {
            marks.push("the most at stake");
        }
    }
    if !marks.is_empty() {
        let words = match marks.split_last() {
            Some((last, first)) if !first.is_empty() => format!("{} and {last}", first.join(", ")),
            _ => marks.concat(),
        };
        text.push_str(&format!("; of what is left in this list it has {words}"));
    }
    if let (Some(cost), Some(&next)) = (swap_cost, list.get(at + 1)) {
        let id = &task.jobs[next].id;
        text.push_str(&if cost > 1e-9 {
            format!("; taking {id} first would lose {} more", amount(cost))
        } else {
            format!("; taking {id} first would be as good")
        });
    }
    if job.success < 1.0 {
        text.push_str(&format!("; chance that the repair helps {:.0} %", 100.0 * job.success));
    }
    text.push('.');
    text
}

/// An amount of value for people: three figures, thousands apart.
fn amount(value: f64) -> String {
    let size = value.abs();
    if size >= 99.5 {
        let whole = format!("{value:.0}");
        let digits = whole.trim_start_matches('-');
        let mut out = String::new();
        for (i, c) in digits.chars().enumerate() {
            if i > 0 && (digits.len() - i) % 3 == 0 {
                out.push(' ');
            }
            out.push(c);
        }
        return if whole.starts_with('-') { format!("-{out}") } else { out };
    }
    if size >= 9.95 { format!("{value:.0}") } else { format!("{value:.1}") }
}

/// Jobs in no list, with the reason; their losses go into `totals`.
fn left_out(
    task: &RepairTask,
    prep: &Prepared,
    lists: &[Vec<usize>],
    totals: &mut [f64],
) -> Vec<NotDone> {
    let mut out = Vec::new();
    for (j, job) in task.jobs.iter().enumerate() {
        if prep.is_under_way(j) || lists.iter().flatten().any(|&i| i == j) {
            continue;
        }
        let loss = job.loss.worst();
        for sum in totals.iter_mut() {
            *sum += loss;
        }
        let why = why_left(task, prep, j);
        out.push(NotDone { job: job.id.clone(), at: job.at.clone(), loss, why });
    }
    out
}

fn why_left(task: &RepairTask, prep: &Prepared, j: usize) -> String {
    let job = &task.jobs[j];
    let skilled = task.people.iter().any(|p| job.skills.iter().all(|s| p.skills.contains(s)));
    if !skilled {
        return format!(
            "Nobody here has the skill: {}. Ask for help ashore or move the cargo's power.",
            job.skills.join(", ")
        );
    }
    for need in &job.parts {
        let have: u32 = task.stock.iter().filter(|s| s.part == need.part).map(|s| s.count).sum();
        if have < need.count {
            return format!(
                "Part missing: {} (needed {}, on the shelf {have}). Order it for the next port or \
                 take it from an empty unit.",
                need.part, need.count
            );
        }
    }
    let best = (0..prep.people.len()).map(|p| prep.at_once(p, j));
    if best.fold(f64::INFINITY, f64::min) >= job.loss.worst() * (1.0 - 1e-9) {
        return "Nothing can be saved by going there now; do it when the rest is done.".to_owned();
    }
    if !job.parts.is_empty() {
        return "The parts it needs save more elsewhere.".to_owned();
    }
    "By the time somebody could be there nothing would be saved.".to_owned()
}
