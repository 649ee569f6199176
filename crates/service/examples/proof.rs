//! Counts (scratch).
fn main() {
    let s = service::State::default();
    for held in [false, true] {
        let mut rules = service::Rules::default();
        rules.test_with_charge_held = held;
        for g in service::Goal::ALL {
            let t = std::time::Instant::now();
            match service::plan(&s, g, &rules, service::Hazards::NONE) {
                Ok(p) => {
                    println!(
                        "{} {} steps, cost {} looked at {} in {:?}",
                        g.id(),
                        p.steps.len(),
                        p.steps.iter().map(|s| s.effort).sum::<u32>(),
                        p.looked_at,
                        t.elapsed()
                    );
                    for st in &p.steps {
                        print!("{} ", st.action.id());
                    }
                    println!();
                }
                Err(e) => println!("{} none {:?} {:?}", g.id(), e, t.elapsed()),
            }
        }
    }
}
