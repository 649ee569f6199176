//! `holdfast gas` and `spares`, as a user's script sees them. Figures of §6.4 and §5.2 of the
//! reference are named at the check; boxes and cylinders are invented.

use serde_json::Value;

use crate::run::Desk;

const LIST: &str = "unit,stow,size_type,full,set_point_c,cargo\n\
    QQQU1000011,0300182,45R1,true,2.0,APPLES\n\
    QQQU1000027,0620482,45R1,true,2.0,APPLES\n";

fn ship() -> Desk {
    let d = Desk::new();
    d.file("list.csv", LIST);
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d
}

fn gas(d: &Desk, args: &[&str]) -> Value {
    d.json(&[&["gas"], args, &["--voyage", "v.holdfast", "--who", "Ann"]].concat())
}

fn refused(d: &Desk, args: &[&str]) -> String {
    d.refused(&[&["gas"], args, &["--voyage", "v.holdfast"]].concat())
}

fn stocked() -> Desk {
    let d = ship();
    gas(&d, &["cylinder", "C12", "--gas", "r134A", "--volume-l", "12", "--source", "virgin"]);
    gas(&d, &["plate", "QQQU1000011", "--gas", "R134a", "--kg", "5"]);
    let supply =
        ["--from", "supplier:chandler", "--to", "C12", "--kg", "9.1", "--reason", "supply"];
    gas(&d, &[&["move"], &supply[..], &["--at", "2025-09-01 10:00"]].concat());
    d
}

fn top_up(d: &Desk, kg: &str, at: &str) {
    let to = ["--from", "C12", "--to", "QQQU1000011", "--kg", kg, "--reason", "top-up", "--at", at];
    gas(d, &[&["move"], &to[..]].concat());
}

#[test]
fn the_account_keeps_every_gram() {
    let d = stocked();
    top_up(&d, "0.25", "2025-09-12 10:00");
    top_up(&d, "0.5", "2026-03-11 10:00");
    let a = gas(&d, &["list"]);
    let c = &a["cylinders"][0];
    assert_eq!((&c["gas"], &c["held_kg"]), (&"R134a".into(), &8.35.into()));
    // §5.2 G13: 80 % of 12 l at 20 °C is full of liquid at 72.5 °C; with less in it, later.
    assert!(c["limit_kg"].as_f64().unwrap() > 11.0);
    let u = &a["units"][0];
    // §6.4: 10 of 100 in 180 days is 20.28 %.
    assert_eq!(u["annualised_pct"], 20.28);
    assert_eq!(u["annualised_is_at_least"], false);
    // §6.4: 5 kg R134a is 7.15 t CO2e; §6.5: a 12-month item.
    assert_eq!((&u["co2e_t"], &u["check_months"]), (&7.15.into(), &12.into()));
    assert_eq!(
        (&a["gases"][0]["lost_kg"], &a["gases"][0]["leaked_kg"]),
        (&0.75.into(), &0.75.into())
    );
    // A check, and when the next is due.
    gas(&d, &["check", "QQQU1000011", "--method", "bubbles", "--at", "2026-03-12 08:00"]);
    assert_eq!(gas(&d, &["list"])["units"][0]["check_due_at"], "2027-03-12T08:00:00Z");
    // The scale finds less: it is said as unexplained.
    gas(&d, &["weigh", "C12", "--kg", "8.2"]);
    assert_eq!(gas(&d, &["list"])["gases"][0]["unexplained_kg"], 0.15);
    // It stands in the log and the box's dossier has the words.
    let log = d.json(&["log", "--voyage", "v.holdfast"]).to_string();
    assert!(log.contains("0.500 kg R134a from cylinder C12 to QQQU1000011"), "{log}");
}

#[test]
fn what_cannot_be_is_refused_in_one_line() {
    let d = stocked();
    let mv = |from, to, kg, reason| {
        refused(&d, &["move", "--from", from, "--to", to, "--kg", kg, "--reason", reason])
    };
    for (says, line) in [
        ("9.100 kg", mv("C12", "QQQU1000011", "12", "top-up")),
        ("not entered", mv("C13", "QQQU1000011", "1", "top-up")),
        ("back from the air", mv("air", "C12", "1", "transfer")),
        ("neither on a list", mv("C12", "QQQU1000032", "1", "top-up")),
        ("none of the reasons top-up", mv("C12", "QQQU1000011", "1", "fill")),
        ("masses are kg", mv("C12", "QQQU1000011", "-1", "top-up")),
        ("do not go together", refused(&d, &["weigh", "C12", "--gas", "R404A", "--kg", "1"])),
        ("would mix", refused(&d, &["cylinder", "C12", "--gas", "R404A"])),
        (
            "virgin, recycled",
            refused(&d, &["cylinder", "C14", "--gas", "R404A", "--source", "new"]),
        ),
        ("no refrigerant's name", refused(&d, &["cylinder", "C14", "--gas", "freezing"])),
        ("does not go here", refused(&d, &["weigh", "C12", "--sealed"])),
        ("none of list", refused(&d, &["fill", "C12"])),
        ("none of the refrigerant account", refused(&d, &["strike", "1", "--remark", "slip"])),
        (
            "ahead of this computer",
            refused(&d, &["weigh", "C12", "--kg", "1", "--at", "2099-01-01 00:00"]),
        ),
        ("is missing", refused(&d, &["check", "QQQU1000011"])),
    ] {
        assert!(line.contains(says), "{says}: {line}");
    }
}

#[test]
fn books_and_screening() {
    let d = stocked();
    // §8 vector 12: R134a at 25 °C has 665 kPa; 577 is another gas, 715 air in it.
    for (p, says) in [("577kPaa", "too low"), ("715kPaa", "too high"), ("665kPaa", "not prove")] {
        let words = gas(&d, &["screen", "C12", "--p", p, "--t", "25C"])["words"].to_string();
        assert!(words.contains(says), "{words}");
    }
    top_up(&d, "0.5", "2026-03-11 10:00");
    let r = gas(&d, &["book", "QQQU 100001 1"]);
    assert_eq!((&r["charge_kg"], &r["added"][0]["mass_kg"]), (&5.0.into(), &0.5.into()));
    assert!(r["added"][0]["source"].as_str().unwrap().contains("virgin"));
    assert_eq!(gas(&d, &["book", "ozone"])["entries"].as_array().unwrap().len(), 0);
    gas(&d, &["cylinder", "C22", "--gas", "R22"]);
    let supply = ["move", "--from", "supplier:x", "--to", "C22", "--kg", "3", "--reason", "supply"];
    let entry = gas(&d, &supply)["entry"].to_string();
    let book = gas(&d, &["book", "ozone"]);
    assert_eq!(
        (&book["entries"][0]["kind"], &book["entries"][0]["mass_kg"]),
        (&"supply to the ship".into(), &3.0.into())
    );
    gas(&d, &["strike", &entry, "--remark", "wrong gas"]);
    assert_eq!(gas(&d, &["book", "ozone"])["entries"].as_array().unwrap().len(), 0);
}

/// A part that the crew file names and a job needs is planned with what lies on the shelf now.
#[test]
fn a_part_that_is_used_up_is_planned_as_gone() {
    let d = ship();
    let mut text = "time_utc,unit,set_point_c,supply_c,return_c,on_power\n".to_owned();
    for h in 0..24 {
        let warm = 0.3 * f64::from(h);
        text.push_str(&format!(
            "2026-03-01 {h:02}:00,QQQU1000011,2.0,{:.1},{:.1},0\n",
            3.0 + warm,
            3.2 + warm
        ));
    }
    d.file("log.csv", text);
    d.json(&["take", "log.csv", "--voyage", "v.holdfast"]);
    d.file(
        "crew.toml",
        "[[person]]\nname = \"Ann\"\n[[part]]\nname = \"breaker\"\ncount = 1\n\
         [[job]]\nunit = \"QQQU1000011\"\nparts = [\"breaker\"]\n",
    );
    d.json(&["repair", "crew", "crew.toml", "--voyage", "v.holdfast"]);
    let jobs = || {
        let plan = d.json(&["repair", "plan", "--people", "1", "--voyage", "v.holdfast"]);
        plan["people"][0]["jobs"].as_array().unwrap().len()
    };
    assert_eq!(jobs(), 1);
    d.json(&["spares", "count", "Breaker", "0", "--voyage", "v.holdfast"]);
    assert_eq!(jobs(), 0);
}

#[test]
fn spares_say_what_will_be_short() {
    let d = ship();
    let spares = |args: &[&str]| d.json(&[&["spares"], args, &["--voyage", "v.holdfast"]].concat());
    spares(&["count", "fan motor", "3", "--least", "1", "--at", "2026-01-01 00:00"]);
    let job = ["--for", "fan changed", "--unit", "QQQU1000011", "--at", "2026-01-05 00:00"];
    spares(&[&["use", "Fan Motor", "2"], &job[..]].concat());
    let s = spares(&["list"]);
    let p = &s["parts"][0];
    assert_eq!((&p["on_board"], &p["used"]), (&1.into(), &2.into()));
    assert!(p["runs_out"].as_f64().unwrap() > 0.0);
    let no = d.refused(&["spares", "use", "drier", "1", "--voyage", "v.holdfast"]);
    assert!(no.contains("--for"), "{no}");
    let no = d.refused(&["spares", "count", "drier", "many", "--voyage", "v.holdfast"]);
    assert!(no.contains("no count"), "{no}");
}
