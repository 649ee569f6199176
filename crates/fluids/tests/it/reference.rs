//! A committed sample of the reference states (CoolProp 8, `tools/fluid-tables/reference.py 400`).
//! The full check of 10,000 states per refrigerant is `tools/fluid-tables/check`.

use crate::compare::compare;

/// The goals of the project, ten times looser within 2 K of critical. `skip` names what is
/// known to miss them (docs/accuracy.md says by how much).
fn meets_goals(name: &str, text: &str, skip: &[&str]) {
    let found = compare(name, text);
    assert!(found.source.contains("CoolProp 8") && found.name == name && found.failed < 20);
    assert!(found.points.len() > 200 && found.refused[2] == 0, "{:?}", found.refused);
    for w in found.worst.iter().filter(|w| !skip.contains(&w.what)) {
        for (n, goal) in [(0, w.goal), (1, w.goal * 10.0)] {
            let (t, p) = w.at[n];
            assert!(
                w.error[n] <= goal,
                "{name} {}: {} {} at {t:.3} °C {p:.4} kPa",
                w.what,
                w.error[n],
                w.unit
            );
        }
    }
    assert!(found.worst[0].count[0] > 300 && found.worst[7].count[0] > 200, "{name}: few states");
}

/// One row per refrigerant.
macro_rules! refrigerants {
    ($($test:ident $name:literal $skip:expr;)*) => {$(
        #[test]
        fn $test() {
            let text = include_str!(concat!("../reference/", $name, ".csv"));
            meets_goals($name, text, &$skip);
        }
    )*};
}

refrigerants! {
    r134a "R134a" [];
    r404a "R404A" [];
    r452a "R452A" [];
    r513a "R513A" [];
    r744 "R744" [];
    r290 "R290" ["conductivity (T,p)"];
    r1234yf "R1234yf" [];
    r23 "R23" [];
}
