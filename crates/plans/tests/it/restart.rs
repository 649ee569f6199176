//! Restart: limits hold in every step, brute force, and a case by hand.

use plans::chance::Dice;
use plans::restart::{Capacity, Effort, Feeder, Restart, RestartBox, RestartTask, in_order, plan};
use plans::{Loss, Marked};

fn random_task(dice: &mut Dice, boxes: usize, feeders: usize, steps: usize) -> RestartTask {
    let mut list = Vec::new();
    for i in 0..boxes {
        let start_kw = dice.between(4.0, 11.0);
        let settled_kw = start_kw * dice.between(0.3, 0.8);
        let safe = dice.between(0.0, 0.5 * steps as f64);
        let mid = safe + dice.between(0.0, 0.5 * steps as f64);
        let end = mid + dice.between(0.1, 0.5 * steps as f64);
        let points = [safe, mid, end].map(|k| k / 60.0);
        list.push(RestartBox {
            id: format!("QQQU{i:07}"),
            feeder: dice.below(feeders),
            start_kw,
            start_kva: start_kw / 0.8,
            inrush_kva: Marked::estimate(dice.between(20.0, 60.0)),
            pull_down_h: dice.between(0.0, steps as f64) / 60.0,
            settled_kw,
            settled_kva: settled_kw / 0.8,
            loss: Loss::from_limit("x", dice.between(1.0, 50.0), points).unwrap(),
        });
    }
    let feeders = (0..feeders).map(|f| Feeder {
        id: format!("feeder {f}"),
        limit_kva: dice.between(12.0, 40.0) * boxes as f64 / 4.0,
        inrush_limit_kva: Marked::estimate(dice.between(60.0, 100.0)),
        from_h: if dice.chance(0.3) { 1.0 / 60.0 } else { 0.0 },
    });
    let feeders = feeders.collect();
    let kw = dice.between(8.0, 24.0) * boxes as f64 / 4.0;
    let capacity = |from_h: f64, kw: f64| Capacity {
        from_h,
        kw,
        kva: 1.25 * kw,
        step_kw: Marked::estimate(15.0),
        inrush_kva: Marked::estimate(90.0),
    };
    RestartTask {
        boxes: list,
        feeders,
        capacity: vec![capacity(0.0, kw), capacity(3.0 / 60.0, 1.6 * kw)],
        step_s: 60.0,
        horizon_h: steps as f64 / 60.0,
        box_hour_price: 0.1,
        value_unit: "USD".to_owned(),
    }
}

/// The rules counted anew from the task, apart from the crate: true when `slots` keep them all.
fn keeps_rules(t: &RestartTask, slots: &[Option<usize>]) -> bool {
    let steps = (t.horizon_h * 3600.0 / t.step_s).round() as usize;
    let hour = |k: usize| k as f64 * t.step_s / 3600.0;
    let drawn = |i: usize, k: usize| -> Option<(f64, f64)> {
        let b = &t.boxes[i];
        let s = slots[i]?;
        let since = k.checked_sub(s)?;
        let young = since == 0 || (since as f64) * t.step_s / 3600.0 < b.pull_down_h - 1e-9;
        Some(if young { (b.start_kw, b.start_kva) } else { (b.settled_kw, b.settled_kva) })
    };
    let all = 0..t.boxes.len();
    for k in 0..steps {
        let c = t.capacity.iter().rfind(|c| c.from_h <= hour(k) + 1e-9).unwrap();
        let run = |k: usize, f: Option<usize>| -> (f64, f64) {
            let mine = all.clone().filter(|&i| f.is_none_or(|f| t.boxes[i].feeder == f));
            let each = mine.filter_map(|i| drawn(i, k));
            each.fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
        };
        let before = |f| if k > 0 { run(k - 1, f).1 } else { 0.0 };
        let fresh: Vec<usize> = all.clone().filter(|&i| slots[i] == Some(k)).collect();
        let added: f64 = fresh.iter().map(|&i| t.boxes[i].start_kw).sum();
        let inrush = |f: Option<usize>| -> f64 {
            let mine = fresh.iter().filter(|i| f.is_none_or(|f| t.boxes[**i].feeder == f));
            mine.map(|&i| t.boxes[i].inrush_kva.value).sum()
        };
        let (kw, kva) = run(k, None);
        let plant_ok = kw <= c.kw + 1e-6 && kva <= c.kva + 1e-6 && added <= c.step_kw.value + 1e-6;
        if !plant_ok
            || (inrush(None) > 0.0 && before(None) + inrush(None) > c.inrush_kva.value + 1e-6)
        {
            return false;
        }
        for (f, feeder) in t.feeders.iter().enumerate() {
            let live = hour(k) + 1e-9 >= feeder.from_h;
            let peak = before(Some(f)) + inrush(Some(f));
            let surge = inrush(Some(f)) > 0.0;
            if run(k, Some(f)).1 > feeder.limit_kva + 1e-6
                || (surge && (peak > feeder.inrush_limit_kva.value + 1e-6 || !live))
            {
                return false;
            }
        }
    }
    true
}

fn slots_of(t: &RestartTask, r: &Restart) -> Vec<Option<usize>> {
    t.boxes.iter().map(|b| r.starts.iter().find(|s| s.id == b.id).unwrap().step).collect()
}

/// Objective counted apart from the crate.
fn objective(t: &RestartTask, slots: &[Option<usize>]) -> f64 {
    let each = t.boxes.iter().zip(slots).map(|(b, s)| match s {
        Some(k) => {
            let h = *k as f64 * t.step_s / 3600.0;
            b.loss.at(h) + t.box_hour_price * h
        }
        None => b.loss.worst() + t.box_hour_price * t.horizon_h,
    });
    each.sum()
}

fn brute(t: &RestartTask, slots: &mut Vec<Option<usize>>, best: &mut f64) {
    let steps = (t.horizon_h * 3600.0 / t.step_s).round() as usize;
    if slots.len() == t.boxes.len() {
        let value = objective(t, slots);
        if value < *best && keeps_rules(t, slots) {
            *best = value;
        }
        return;
    }
    for k in (0..steps).map(Some).chain([None]) {
        slots.push(k);
        brute(t, slots, best);
        slots.pop();
    }
}

#[test]
fn proved_restarts_are_as_good_as_brute_force() {
    let mut dice = Dice::new(31);
    let mut harder = 0;
    for case in 0..40 {
        let t = random_task(&mut dice, 4, 1 + case % 2, 7);
        let mut best = f64::INFINITY;
        brute(&t, &mut Vec::new(), &mut best);
        let r = plan(&t, &Effort::default()).unwrap();
        let slots = slots_of(&t, &r);
        assert!(keeps_rules(&t, &slots), "{case}");
        assert!((objective(&t, &slots) - r.objective).abs() < 1e-9);
        assert!(r.exact && (r.objective - best).abs() < 1e-9 * best.max(1.0), "{case}: {best}");
        // The bound for large tasks never passes the best.
        let searched =
            plan(&t, &Effort { exact_boxes: 0, rounds: 0, ..Effort::default() }).unwrap();
        assert!(searched.lower_bound <= best + 1e-9 * best.max(1.0), "{case}");
        harder += usize::from(searched.objective > best + 1e-9);
    }
    // The proof had something to do.
    assert!(harder > 0);
}

#[test]
fn rules_hold_for_many_boxes_and_the_gap_is_stated() {
    let mut dice = Dice::new(77);
    for boxes in [30, 120] {
        let t = random_task(&mut dice, boxes, 6, 90);
        let r = plan(&t, &Effort { rounds: 40, ..Effort::default() }).unwrap();
        assert!(keeps_rules(&t, &slots_of(&t, &r)));
        assert!(r.lower_bound <= r.objective + 1e-9 && r.gap >= 0.0);
        let naive: Vec<usize> = (0..boxes).collect();
        let n = in_order(&t, &naive).unwrap();
        assert!(keeps_rules(&t, &slots_of(&t, &n)));
        assert!(r.objective <= n.objective + 1e-9);
        for p in &r.stair {
            assert!(p.kw <= p.limit_kw + 1e-6 && p.step_kw <= p.limit_step_kw + 1e-6);
        }
    }
}

/// By hand: two boxes of 10 kW, room for one until the second set comes after an hour. The one
/// with its limit at half an hour goes first, the other waits unharmed until its limit at 2 h.
#[test]
fn the_urgent_one_gets_the_room() {
    let each = |id: &str, limit: f64| RestartBox {
        id: id.to_owned(),
        feeder: 0,
        start_kw: 10.0,
        start_kva: 12.5,
        inrush_kva: Marked::measured(50.0),
        pull_down_h: 10.0,
        settled_kw: 10.0,
        settled_kva: 12.5,
        loss: Loss::from_limit(id, 100.0, [limit; 3]).unwrap(),
    };
    let capacity = |from_h, kw| Capacity {
        from_h,
        kw,
        kva: 2.0 * kw,
        step_kw: Marked::measured(100.0),
        inrush_kva: Marked::measured(500.0),
    };
    let mut t = RestartTask {
        boxes: vec![each("slow", 2.0), each("urgent", 0.5)],
        feeders: vec![Feeder {
            id: "feeder 1".to_owned(),
            limit_kva: 100.0,
            inrush_limit_kva: Marked::measured(200.0),
            from_h: 0.0,
        }],
        capacity: vec![capacity(0.0, 15.0), capacity(1.0, 30.0)],
        step_s: 60.0,
        horizon_h: 4.0,
        box_hour_price: 0.01,
        value_unit: "USD".to_owned(),
    };
    let r = plan(&t, &Effort::default()).unwrap();
    assert!(r.exact && r.loss == 0.0 && r.left_off == 0 && !r.cautions.is_empty());
    assert_eq!(r.starts.iter().map(|s| s.hour).collect::<Vec<_>>(), [Some(0.0), Some(1.0)]);
    assert!(r.starts[0].id == "urgent" && r.starts[1].why.contains("generators are full"));
    let naive = in_order(&t, &[0, 1]).unwrap();
    assert!((naive.loss - 100.0).abs() < 1e-9);
    t.capacity.pop();
    let short = plan(&t, &Effort::default()).unwrap();
    assert!(short.left_off == 1 && short.words.contains("stay without power"));
    t.capacity[0].from_h = 1.0;
    assert!(plan(&t, &Effort::default()).is_err());
    assert!(in_order(&t, &[0, 0]).is_err());
}
