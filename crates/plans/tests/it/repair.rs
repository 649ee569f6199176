//! Who first: brute force, published rules, and what must hold of any plan.

use plans::chance::Dice;
use plans::repair::{
    Effort, Job, PartNeed, Person, Place, RepairTask, Stock, UnderWay, Walk, loss_of, plan,
};
use plans::{Loss, Spread};

const HERE: Place = Place { x_m: 0.0, y_m: 0.0, z_m: 0.0 };

fn job(id: usize, hours: Spread, loss: Loss) -> Job {
    Job {
        id: format!("j{id}"),
        at: "bay 002".to_owned(),
        place: HERE,
        loss,
        duration: hours,
        success: 1.0,
        skills: Vec::new(),
        parts: Vec::new(),
        release_h: 0.0,
    }
}

fn person(name: &str) -> Person {
    Person {
        name: name.to_owned(),
        skills: vec!["electrical".to_owned()],
        place: HERE,
        from_h: 0.0,
        breaks: Vec::new(),
    }
}

fn task(jobs: Vec<Job>, people: usize) -> RepairTask {
    RepairTask {
        jobs,
        people: (0..people).map(|p| person(&format!("p{p}"))).collect(),
        stock: Vec::new(),
        under_way: Vec::new(),
        walk: Walk::default(),
        value_unit: "USD".to_owned(),
    }
}

/// Everything at once: ways, releases, skills, parts, rest, success, uncertain hours.
fn random_task(dice: &mut Dice, jobs: usize, people: usize) -> RepairTask {
    let place = |dice: &mut Dice| Place {
        x_m: 300.0 * dice.unit(),
        y_m: 40.0 * dice.unit() - 20.0,
        z_m: 40.0 * dice.unit() - 20.0,
    };
    let mut list = Vec::new();
    for i in 0..jobs {
        let low = 6.0 * dice.unit();
        let mid = low + 3.0 * dice.unit();
        let limits = [low, mid, mid + 5.0 * dice.unit()];
        let loss = Loss::from_limit("x", dice.between(5.0, 100.0), limits).unwrap();
        let mut j = job(i, Spread::lognormal(dice.between(0.2, 2.0), dice.between(0.0, 0.6)), loss);
        j.place = place(dice);
        j.success = if dice.chance(0.5) { 1.0 } else { dice.between(0.5, 1.0) };
        j.release_h = if dice.chance(0.3) { dice.between(0.0, 3.0) } else { 0.0 };
        if dice.chance(0.3) {
            j.skills.push("brazing".to_owned());
        }
        if dice.chance(0.5) {
            j.parts.push(PartNeed { part: "fan motor".to_owned(), count: 1 });
        }
        list.push(j);
    }
    let mut t = task(list, people);
    t.stock.push(Stock { part: "fan motor".to_owned(), count: 1 + dice.below(2) as u32 });
    t.walk.store = Some(HERE);
    for p in &mut t.people {
        p.place = place(dice);
        p.from_h = dice.unit();
        if dice.chance(0.7) {
            p.skills.push("brazing".to_owned());
        }
        if dice.chance(0.5) {
            p.breaks.push([3.0, 5.0]);
        }
    }
    t
}

/// Least loss over every way of putting some of the jobs into lists.
fn brute(t: &RepairTask, effort: &Effort) -> f64 {
    fn go(
        t: &RepairTask,
        effort: &Effort,
        lists: &mut Vec<Vec<usize>>,
        left: &mut Vec<usize>,
        p: usize,
        best: &mut f64,
    ) {
        if let Ok(loss) = loss_of(t, lists, effort) {
            *best = best.min(loss);
        }
        for q in p..lists.len() {
            for k in 0..left.len() {
                let j = left.remove(k);
                lists[q].push(j);
                go(t, effort, lists, left, q, best);
                lists[q].pop();
                left.insert(k, j);
            }
        }
    }
    let mut best = f64::INFINITY;
    let mut left: Vec<usize> = (0..t.jobs.len()).collect();
    go(t, effort, &mut vec![Vec::new(); t.people.len()], &mut left, 0, &mut best);
    best
}

#[test]
fn proved_plans_are_as_good_as_brute_force() {
    let mut dice = Dice::new(11);
    let effort = Effort { scenarios: 7, ..Effort::default() };
    for case in 0..24 {
        let people = 1 + case % 3;
        let t = random_task(&mut dice, 4 + case % 2, people);
        let best = brute(&t, &effort);
        let p = plan(&t, &effort).unwrap();
        assert!(p.exact);
        assert!((p.planning_loss - best).abs() < 1e-9 * best.max(1.0), "{case}: {best}");
        // The bound used for larger tasks never passes the best.
        let searched = plan(&t, &Effort { exact_jobs: 0, ..effort }).unwrap();
        assert!(!searched.exact || t.jobs.is_empty());
        assert!(searched.lower_bound <= best + 1e-9 * best.max(1.0), "{case}");
        assert!(searched.planning_loss >= best - 1e-9 * best.max(1.0), "{case}");
    }
}

/// Hours and the loss at a finish time.
type Own = (f64, Box<dyn Fn(f64) -> f64>);

/// Least loss of one person without ways, by trying all orders with its own arithmetic.
fn all_orders(jobs: &[Own], used: &mut Vec<bool>, now: f64) -> f64 {
    let mut best: Option<f64> = None;
    for k in 0..jobs.len() {
        if !used[k] {
            used[k] = true;
            let done = now + jobs[k].0;
            let value = (jobs[k].1)(done) + all_orders(jobs, used, done);
            used[k] = false;
            best = Some(best.map_or(value, |b: f64| b.min(value)));
        }
    }
    best.unwrap_or(0.0)
}

/// Weighted tardiness, counted apart from the crate.
#[test]
fn weighted_tardiness_as_all_orders() {
    let mut dice = Dice::new(3);
    for _ in 0..10 {
        let mut jobs = Vec::new();
        let mut own: Vec<Own> = Vec::new();
        for i in 0..7 {
            let (hours, due, weight) =
                (dice.between(0.5, 3.0), dice.between(1.0, 10.0), dice.between(1.0, 9.0));
            let points = [[due, 0.0], [due + 100.0, 100.0 * weight]];
            jobs.push(job(i, Spread::exactly(hours), Loss::new("x", &points).unwrap()));
            own.push((hours, Box::new(move |t| weight * (t - due).max(0.0))));
        }
        let best = all_orders(&own, &mut vec![false; 7], 0.0);
        let p = plan(&task(jobs, 1), &Effort::default()).unwrap();
        assert!(p.exact && (p.planning_loss - best).abs() < 1e-9 * best.max(1.0));
        assert!((p.expected_loss - best).abs() < 1e-9 * best.max(1.0));
    }
}

/// One person, each hour of waiting costs: shortest weighted time first is best (W. E. Smith,
/// "Various optimizers for single-stage production", Naval Research Logistics Quarterly 3, 1956).
#[test]
fn smiths_rule() {
    let mut dice = Dice::new(8);
    for n in [5, 9, 12, 30] {
        let mut data: Vec<(f64, f64)> =
            (0..n).map(|_| (dice.between(0.2, 3.0), dice.between(1.0, 9.0))).collect();
        let jobs = data.iter().enumerate().map(|(i, (hours, weight))| {
            job(i, Spread::exactly(*hours), Loss::per_hour("x", *weight, 1000.0).unwrap())
        });
        let t = task(jobs.collect(), 1);
        data.sort_by(|a, b| (a.0 / a.1).total_cmp(&(b.0 / b.1)));
        let (mut now, mut best) = (0.0, 0.0);
        for (hours, weight) in &data {
            now += hours;
            best += weight * now;
        }
        let p = plan(&t, &Effort { scenarios: 2, ..Effort::default() }).unwrap();
        assert_eq!(p.exact, n <= 12, "{n}");
        // The search for more jobs finds it, too.
        assert!((p.planning_loss - best).abs() < 1e-9 * best, "{n}: {} {best}", p.planning_loss);
        assert!(p.lower_bound <= best * (1.0 + 1e-12));
    }
}

/// Fewest late jobs on one machine (J. M. Moore, Management Science 15, 1968, with Hodgson's
/// form of the rule).
fn moore_hodgson(jobs: &[(f64, f64)]) -> usize {
    let mut by_due = jobs.to_vec();
    by_due.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut kept: Vec<f64> = Vec::new();
    let mut late = 0;
    for (hours, due) in by_due {
        kept.push(hours);
        if kept.iter().sum::<f64>() > due {
            let longest = kept.iter().copied().fold(0.0, f64::max);
            let at = kept.iter().position(|h| *h == longest).unwrap();
            kept.remove(at);
            late += 1;
        }
    }
    late
}

fn late_jobs(jobs: &[(f64, f64)]) -> RepairTask {
    let list = jobs.iter().enumerate().map(|(i, (hours, due))| {
        let loss = Loss::new("x", &[[*due, 0.0], [due + 1e-6, 1.0]]).unwrap();
        job(i, Spread::exactly(*hours), loss)
    });
    task(list.collect(), 1)
}

/// The worked example of M. Pinedo, Scheduling, §3.3 (from memory, unverified): two jobs late.
/// Then random cases against the rule.
#[test]
fn fewest_late_jobs() {
    let book = [(7.0, 9.0), (8.0, 17.0), (4.0, 18.0), (6.0, 19.0), (6.0, 21.0)];
    assert_eq!(moore_hodgson(&book), 2);
    let p = plan(&late_jobs(&book), &Effort::default()).unwrap();
    assert!((p.planning_loss - 2.0).abs() < 1e-9);
    let mut dice = Dice::new(21);
    for _ in 0..15 {
        let jobs: Vec<(f64, f64)> = (0..10)
            .map(|_| (1.0 + dice.below(8) as f64, 2.0 + dice.below(30) as f64 + 1e-3))
            .collect();
        let p = plan(&late_jobs(&jobs), &Effort { scenarios: 1, ..Effort::default() }).unwrap();
        let late = moore_hodgson(&jobs) as f64;
        assert!(p.exact && (p.planning_loss - late).abs() < 1e-6, "{jobs:?}");
    }
}

/// Equal people, total time waited: shortest first, dealt out in turn, is best (Conway, Maxwell
/// and Miller, Theory of Scheduling, 1967, ch. 4).
#[test]
fn several_people_shortest_first() {
    let mut dice = Dice::new(4);
    for people in [2, 3] {
        let mut hours: Vec<f64> = (0..9).map(|_| dice.between(0.2, 3.0)).collect();
        let jobs = hours
            .iter()
            .enumerate()
            .map(|(i, h)| job(i, Spread::exactly(*h), Loss::per_hour("x", 1.0, 1000.0).unwrap()));
        let t = task(jobs.collect(), people);
        hours.sort_by(f64::total_cmp);
        let mut free = vec![0.0; people];
        let mut best = 0.0;
        for (k, h) in hours.iter().enumerate() {
            free[k % people] += h;
            best += free[k % people];
        }
        let p = plan(&t, &Effort { scenarios: 1, ..Effort::default() }).unwrap();
        assert!(p.exact && (p.planning_loss - best).abs() < 1e-9 * best);
    }
}

#[test]
fn work_under_way_stays_and_comes_first() {
    let mut dice = Dice::new(17);
    let mut t = random_task(&mut dice, 5, 2);
    t.under_way.push(UnderWay { job: "j2".into(), person: "p1".into(), started_h: -0.4 });
    let p = plan(&t, &Effort::default()).unwrap();
    let first = &p.lanes[1].steps[0];
    assert!(first.job == "j2" && first.under_way && first.start_h == [-0.4; 3]);
    let count: usize = p.lanes.iter().map(|l| l.steps.len()).sum::<usize>() + p.not_done.len();
    assert_eq!(count, 5);
    for lane in &p.lanes {
        let own: Vec<_> = lane.spans.iter().filter(|s| !s.job.is_empty()).collect();
        assert!(own.windows(2).all(|w| w[0].to_h <= w[1].from_h + 1e-9), "{:?}", lane.spans);
    }
}

#[test]
fn what_nobody_can_do_is_named() {
    let loss = Loss::from_limit("x", 10.0, [2.0, 3.0, 4.0]).unwrap();
    let mut a = job(0, Spread::exactly(1.0), loss.clone());
    a.skills.push("brazing".into());
    let mut b = job(1, Spread::exactly(1.0), loss.clone());
    b.parts.push(PartNeed { part: "contactor".into(), count: 2 });
    let c = job(2, Spread::exactly(50.0), loss);
    let p = plan(&task(vec![a, b, c], 1), &Effort::default()).unwrap();
    let why: Vec<&str> = p.not_done.iter().map(|n| n.why.as_str()).collect();
    assert!(why[0].contains("brazing") && why[1].contains("contactor"));
    assert!(why[2].contains("Nothing can be saved"));
    assert!((p.expected_loss - 30.0).abs() < 1e-9 && p.exact);
}

#[test]
fn refused_with_reason() {
    let loss = Loss::none();
    let twice =
        vec![job(1, Spread::exactly(1.0), loss.clone()), job(1, Spread::exactly(1.0), loss)];
    assert!(plan(&task(twice, 1), &Effort::default()).unwrap_err().0.contains("twice"));
    assert!(plan(&task(Vec::new(), 0), &Effort::default()).is_err());
    assert!(plan(&task(Vec::new(), 1), &Effort::default()).unwrap().exact);
}
