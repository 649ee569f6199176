//! `holdfast repair`, `power` and the forecast of `box`, as a user's script sees them. Ship, boxes
//! and figures are invented; what is held against something outside is named at the check.

use serde_json::Value;

use crate::run::Desk;

const LIST: &str = "unit,stow,size_type,full,weight_kg,set_point_c,cargo\n\
    QQQU1000011,0300182,45R1,true,20000,2.0,APPLES\n\
    QQQU1000027,0620482,45R1,true,20000,2.0,APPLES\n\
    QQQU1000032,0100202,45R1,true,24000,-18.0,FROZEN FISH\n";

/// Three days of hourly readings; from `dead_from` on the first two boxes have no power.
fn logger(dead_from: u32) -> String {
    let mut text =
        "time_utc,unit,set_point_c,supply_c,return_c,ambient_c,power_kw,on_power\n".to_owned();
    for h in 0..72u32 {
        let at = format!("2026-03-{:02} {:02}:00", 1 + h / 24, h % 24);
        let ambient = 28.0 + 4.0 * (f64::from(h) * std::f64::consts::TAU / 24.0).sin();
        for unit in ["QQQU1000011", "QQQU1000027"] {
            let (supply, back, kw, on) = if h < dead_from {
                (2.0, 2.8, 4.0, 1)
            } else {
                let warm = 0.3 * f64::from(h - dead_from);
                (2.8 + warm, 2.8 + warm, 0.0, 0)
            };
            text.push_str(&format!(
                "{at},{unit},2.0,{supply:.1},{back:.1},{ambient:.1},{kw},{on}\n"
            ));
        }
        text.push_str(&format!("{at},QQQU1000032,-18.0,-19.0,-17.8,{ambient:.1},2.5,1\n"));
    }
    text
}

fn ship(dead_from: u32) -> Desk {
    let d = Desk::new();
    d.file("list.csv", LIST);
    d.file("logger.csv", logger(dead_from));
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d.json(&["take", "logger.csv", "--voyage", "v.holdfast"]);
    d
}

fn plan(d: &Desk, more: &[&str]) -> Value {
    let args = [&["repair", "plan", "--people", "1", "--voyage", "v.holdfast"], more].concat();
    d.json(&args)
}

fn jobs(plan: &Value) -> Vec<String> {
    let jobs = plan["people"][0]["jobs"].as_array().unwrap();
    jobs.iter().map(|j| j["unit"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_plan_is_made_anew_as_repairs_begin_and_end() {
    let d = ship(66);
    assert_eq!(jobs(&plan(&d, &[])).len(), 2);
    let v = ["--voyage", "v.holdfast"];
    let begun = ["repair", "begin", "QQQU1000027", "--by", "Ann", "--at", "2026-03-03T22:30:00Z"];
    d.json(&[&begun[..], &v].concat());
    // Begun before: it stays with its person and comes first.
    let now = plan(&d, &["--name", "Ann"]);
    assert_eq!(jobs(&now)[0], "QQQU1000027");
    assert!(now["people"][0]["jobs"][0]["why"].as_str().unwrap().contains("Under way for 30 min"));
    let ended = ["repair", "end", "QQQU1000027", "--who", "Ann", "--at", "2026-03-03T23:00:00Z"];
    d.json(&[&ended[..], &v].concat());
    let after = plan(&d, &[]);
    assert_eq!(jobs(&after), ["QQQU1000011"]);
    assert!(after["estimates"].to_string().contains("repaired at 2026-03-03 23:00 UTC; read it"));
    // Readings from an hour on show that it did not help.
    let mut late = "time_utc,unit,supply_c,return_c,on_power\n".to_owned();
    for h in 0..6 {
        late.push_str(&format!("2026-03-04 0{h}:00,QQQU1000027,5.0,5.2,0\n"));
    }
    d.file("late.csv", late);
    d.json(&["take", "late.csv", "--voyage", "v.holdfast"]);
    assert!(jobs(&plan(&d, &[])).contains(&"QQQU1000027".to_owned()));
}

#[test]
fn skills_parts_rest_and_values_come_from_the_crew_file() {
    let d = ship(66);
    let crew = |parts: u32| {
        format!(
            "value_unit = \"USD\"\nvalue_each = 1000\n\
             [[person]]\nname = \"Ann\"\nskills = [\"electrical\"]\nbay = 30\n\
             [[part]]\nname = \"breaker\"\ncount = {parts}\n\
             [[job]]\nunit = \"QQQU1000027\"\nwork = \"new breaker\"\nparts = [\"breaker\"]\n\
             value = 90000\n"
        )
    };
    d.file("crew.toml", crew(1));
    let with = plan(&d, &["--crew", "crew.toml"]);
    assert_eq!(with["value_unit"], "USD");
    assert_eq!(with["people"][0]["name"], "Ann");
    let all = with["people"][0]["jobs"].as_array().unwrap();
    let named = all.iter().find(|j| j["unit"] == "QQQU1000027").unwrap();
    assert!(named["at"].as_str().unwrap().contains("new breaker"), "{named}");
    // What is at stake: 90 000 USD of the box named, 1 000 of the other.
    assert!(with["loss_if_idle"].as_f64().unwrap() > 50_000.0);
    d.file("crew.toml", crew(0));
    let without = plan(&d, &["--crew", "crew.toml"]);
    assert_eq!(jobs(&without), ["QQQU1000011"], "there is no breaker on the shelf");
    let left = without["not_done"].as_array().unwrap();
    assert!(left.iter().any(|n| n["unit"] == "QQQU1000027"), "{left:?}");
    // Held, it counts without being named.
    d.json(&["repair", "crew", "crew.toml", "--who", "Ann", "--voyage", "v.holdfast"]);
    assert_eq!(jobs(&plan(&d, &[])), ["QQQU1000011"]);
    d.file("bad.toml", "[[person]]\nname = 7\n");
    let why = d.refused(&["repair", "crew", "bad.toml", "--voyage", "v.holdfast"]);
    assert!(why.contains("bad.toml:2"), "{why}");
}

/// A box that a later list moves is planned at its new cell.
#[test]
fn a_moved_box_is_looked_for_where_it_stands_now() {
    let d = ship(66);
    let place = |plan: &Value, unit: &str| {
        let jobs = plan["people"][0]["jobs"].as_array().unwrap().clone();
        let job = jobs.into_iter().find(|j| j["unit"] == unit).unwrap();
        job["at"].as_str().unwrap().to_owned()
    };
    assert!(place(&plan(&d, &[]), "QQQU1000027").starts_with("bay 062"));
    d.file("list2.csv", LIST.replace("0620482", "0140482"));
    d.json(&["load", "list2.csv", "--voyage", "v.holdfast"]);
    assert!(place(&plan(&d, &[]), "QQQU1000027").starts_with("bay 014"));
}

const PLANT: &str = "other_kw = 20\nreserve_share = 0.85\n\
    [[generator]]\nname = \"DG1\"\nrated_kw = 40\nrated_kva = 50\nonline = true\n\
    [[generator]]\nname = \"DG2\"\nrated_kw = 40\nrated_kva = 50\nonline = false\n\
    [[feeder]]\nname = \"FP1\"\nbays = [30]\nlimit_kva = 4\n\
    [[hold]]\nname = \"hold 1\"\nbays = [10]\nair_m3_h = 2000\n";

#[test]
fn the_plant_is_held_and_margin_feeders_and_holds_follow() {
    let d = ship(72);
    let bare = d.json(&["power", "--voyage", "v.holdfast"]);
    assert!(bare["margin"].is_null());
    d.file("plant.toml", PLANT);
    d.file("w.csv", "time_utc,ambient_c,sun\n2026-03-03 23:00,30,0\n2026-03-07 00:00,40,1\n");
    let args = ["power", "--plant", "plant.toml", "--weather", "w.csv", "--keep", "--who", "Ann"];
    d.json(&[&args[..], &["--voyage", "v.holdfast"]].concat());
    let held = d.json(&["power", "--voyage", "v.holdfast"]);
    // 85 % of the one set on the board is 34 kW (by hand).
    assert_eq!(held["margin"]["allowed_kw"], 34.0);
    let left = 34.0 - 20.0 - held["demand_kw"].as_f64().unwrap();
    assert!((held["margin"]["margin_kw"].as_f64().unwrap() - left).abs() < 0.02);
    // 4 kW at a power factor of 0.85 on a breaker of 4 kVA.
    let feeder = &held["feeders"][0];
    assert!((feeder["demand_kva"].as_f64().unwrap() - 4.0 / 0.85).abs() < 0.1, "{feeder}");
    let hold = &held["holds"][0];
    // V = Q/(ρ·c_p·ΔT) at the density and heat of reference cargo-and-box.md §6.4.
    let rise = 3600.0 * hold["heat_kw"].as_f64().unwrap() / (1.13 * 1.006 * 2000.0);
    let outside = held["ahead"].as_array().unwrap().iter();
    let outside = outside.map(|p| p["ambient_c"].as_f64().unwrap()).fold(0.0, f64::max);
    assert!((hold["air_c"].as_f64().unwrap() - outside - rise).abs() < 0.1, "{hold}");
    // The load grows with the weather stated.
    let ahead = held["ahead"].as_array().unwrap();
    let kw = |i: usize| ahead[i]["demand_kw"].as_f64().unwrap();
    assert!(kw(ahead.len() - 1) > kw(0) + 1.0);
    for s in d.json(&["power", "--restart", "--voyage", "v.holdfast"])["starts"].as_array().unwrap()
    {
        assert!(s["safe_until_h"].as_f64().is_none_or(|h| h >= 0.0), "{s}");
    }
    d.file("w.csv", "time_utc,ambient_c\nnoon,30\n");
    let why = d.refused(&["power", "--weather", "w.csv", "--voyage", "v.holdfast"]);
    assert!(why.contains("w.csv:2"), "{why}");
}

/// Without power a box is at its limit no later than with it; a repair helps.
#[test]
fn a_box_shows_what_may_lie_ahead() {
    let d = ship(66);
    let dead = d.json(&["box", "QQQU1000011", "--repair-in-h", "3", "--voyage", "v.holdfast"]);
    let courses = dead["ahead"]["courses"].as_array().unwrap();
    let of = |name: &str| courses.iter().find(|c| c["course"] == name);
    assert!(of("power_off").is_none(), "the present course has no power already");
    let last = |c: &Value| {
        let cargo = c["cargo"].as_array().unwrap();
        cargo[cargo.len() - 1]["cargo_c"].as_f64().unwrap()
    };
    assert!(last(of("repaired").unwrap()) < last(of("present").unwrap()) - 2.0);
    let fine = d.json(&["box", "QQQU1000032", "--voyage", "v.holdfast"]);
    let courses = fine["ahead"]["courses"].as_array().unwrap();
    assert_eq!(courses[0]["course"], "present");
    let off = courses.iter().find(|c| c["course"] == "power_off").unwrap();
    let limit = &off["limits"][0];
    let [low, high] = [0, 1].map(|i| limit["hours_to_limit_p90"][i].as_f64().unwrap());
    let best = limit["hours_to_limit"].as_f64().unwrap();
    assert!(low <= best && best <= high);
    // 24 t of frozen fish a few kelvin under its limit lasts more than a day: reference
    // cargo-and-box.md §3.3 [calc] gives days for a full frozen 40 ft box.
    assert!(best > 24.0, "{best}");
    d.refused(&["box", "QQQU1000011", "--repair-in-h", "-2", "--voyage", "v.holdfast"]);
}
