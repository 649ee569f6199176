//! Thin and bad data as a stranger's ship has them: an answer gets wider and says what it lacks,
//! and nothing old is told as if it stood there now. Ship, boxes and figures are invented.

use serde_json::Value;

use crate::run::{Desk, unit};

const HEAD: &str = "time_utc,unit,set_point_c,supply_c,return_c,mode,source,probe1_c,probe2_c\n";

/// `2026-03-10 00:00` and `h` hours.
fn at(h: i32) -> String {
    units::Utc::parse("2026-03-10 00:00").unwrap().plus_hours(f64::from(h)).to_string()
}

fn row(h: i32, k: u32, rest: &str) -> String {
    format!("{},{},{rest}\n", at(h), unit(k))
}

/// Boxes 0 to `n` − 1: full, 40 ft, ordered to −18 °C, in cells of their own.
fn ship(n: u32, rows: &str) -> Desk {
    let d = Desk::new();
    let mut list = "unit,stow,size_type,full,weight_kg,set_point_c\n".to_owned();
    for k in 0..n {
        list += &format!("{},022{k:02}82,45R1,true,24000,-18.0\n", unit(k));
    }
    d.file("list.csv", list);
    d.file("r.csv", format!("{HEAD}{rows}"));
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d.json(&["take", "r.csv", "--voyage", "v.holdfast"]);
    d
}

fn line(d: &Desk, k: u32, more: &[&str]) -> Value {
    let args: Vec<&str> = ["watch", "--voyage", "v.holdfast"].iter().chain(more).copied().collect();
    let all = d.json(&args);
    let boxes = all["boxes"].as_array().unwrap();
    boxes.iter().find(|b| b["unit"] == unit(k)).unwrap_or_else(|| panic!("{k}: {all}")).clone()
}

fn text(d: &Desk, args: &[&str]) -> String {
    let all: Vec<&str> = args.iter().chain(&["--voyage", "v.holdfast"]).copied().collect();
    let out = d.run(&all);
    assert_eq!(out.status.code(), Some(0), "{args:?}");
    String::from_utf8(out.stdout).unwrap()
}

fn sound(k: u32, hours: std::ops::Range<i32>) -> String {
    // A tenth up and down in no order: a display that lives.
    let air = |h: i32| {
        let n = f64::from((h * 7 + h * h) % 3 - 1) * 0.1;
        format!("-18.0,{:.1},{:.1},frozen,logger,,", -19.0 + n, -17.4 - n)
    };
    hours.map(|h| row(h, k, &air(h))).collect()
}

#[test]
fn every_answer_says_loudly_how_old_it_is() {
    let d = ship(1, &sound(0, 0..72));
    for args in [&["watch"][..], &["power"], &["power", "--restart"]] {
        assert!(text(&d, args).contains("NOTHING READ SINCE"), "{args:?}");
    }
    let plan = ["repair", "plan", "--people", "1"];
    assert!(text(&d, &plan).contains("NOTHING READ SINCE"));
    let name = unit(0);
    assert!(text(&d, &["box", &name]).contains("NOTHING READ SINCE"));
    // Asked as of an instant that has readings: no claim that none came later.
    let then = text(&d, &["power", "--as-of", "2026-03-11T12:00:00Z"]);
    assert!(then.contains("every figure is as of then") && !then.contains("NOTHING"), "{then}");
    // Asked days after the last reading: it is named.
    let later = text(&d, &["power", "--as-of", "2026-03-20T00:00:00Z"]);
    assert!(later.contains("NOTHING READ SINCE 2026-03-12 23:00 UTC"), "{later}");
}

#[test]
fn what_was_seen_long_ago_is_not_told_as_now() {
    let warm: String = (0..48).map(|h| row(h, 0, "-18.0,-9.0,-8.0,frozen,logger,,")).collect();
    let d = ship(2, &(warm + &sound(1, 0..120)));
    let b = line(&d, 0, &[]);
    let reason = b["reason"].as_str().unwrap();
    assert!(reason.contains("Nothing read since 2026-03-11 23:00 UTC"), "{reason}");
    assert_ne!(b["state"], "ok");
    // A sound box that fell silent: its cargo gets wider, and it is to be read.
    let d = ship(2, &(sound(0, 0..48) + &sound(1, 0..120)));
    let width = |more: &[&str]| {
        let name = unit(0);
        let all: Vec<&str> =
            ["box", &name, "--voyage", "v.holdfast"].iter().chain(more).copied().collect();
        let b = d.json(&all);
        let p = b["cargo_c_p90"].as_array().unwrap_or_else(|| panic!("{b}")).clone();
        p[1].as_f64().unwrap() - p[0].as_f64().unwrap()
    };
    let (then, now) = (width(&["--as-of", "2026-03-11T23:00:00Z"]), width(&[]));
    assert!(now > then + 1.0, "{then} {now}");
    assert_eq!(line(&d, 0, &[])["state"], "watch");
}

#[test]
fn pulp_probes_alone_tell_where_the_cargo_goes() {
    // 0.02 K/h for five days: -18 at first, -15.6 at the end; the limit of -15 is 30 h away.
    let probes = |h: i32| {
        let t = -18.0 + 0.02 * f64::from(h);
        row(h, 0, &format!("-18.0,,,frozen,logger,{t:.2},{:.2}", t + 0.1))
    };
    let d = ship(1, &(0..120).map(probes).collect::<String>());
    let b = line(&d, 0, &[]);
    assert_eq!(b["state"], "act", "{b}");
    assert!(b["reason"].as_str().unwrap().contains("No air is read"), "{b}");
    let best = b["hours_to_limit"].as_f64().unwrap();
    let p90 = b["hours_to_limit_p90"].as_array().unwrap();
    let (low, high) = (p90[0].as_f64().unwrap(), p90[1].as_f64().unwrap());
    assert!((20.0..35.0).contains(&best) && low < best && best < high, "{b}");
    // Still probes: fine, and what was not read is said.
    let still = |h: i32| row(h, 0, "-18.0,,,frozen,logger,-18.2,-18.1");
    let d = ship(1, &(0..120).map(still).collect::<String>());
    let b = line(&d, 0, &[]);
    assert_eq!(b["state"], "ok", "{b}");
    assert!(b["reason"].as_str().unwrap().contains("no air is read"), "{b}");
}

#[test]
fn figures_that_never_move_are_said_to() {
    let same: String = (0..72).map(|h| row(h, 0, "-18.0,-19.1,-17.4,frozen,logger,,")).collect();
    let whole: String = (0..72).map(|h| row(h, 2, "-18.0,-19,-17,frozen,logger,,")).collect();
    let d = ship(3, &(same + &sound(1, 0..72) + &whole));
    let said = |k| line(&d, k, &[])["reason"].as_str().unwrap().contains("The same figures");
    // A display in whole degrees may well stand still.
    assert_eq!([said(0), said(1), said(2)], [true, false, false]);
}

#[test]
fn a_clock_days_ahead_moves_nobody_else() {
    let ahead = row(24 * 3650, 0, "-18.0,-9.0,-8.0,frozen,logger,,");
    let d = ship(3, &(sound(0, 0..48) + &sound(1, 0..48) + &sound(2, 0..48)));
    d.file("ahead.csv", format!("{HEAD}{ahead}"));
    let took = d.json(&["take", "ahead.csv", "--voyage", "v.holdfast"]);
    assert_eq!(took["stored"], 1);
    let said = text(&d, &["take", "ahead.csv"]);
    assert!(said.contains("ahead of this computer's clock"), "{said}");
    let watch = d.json(&["watch", "--voyage", "v.holdfast"]);
    assert_eq!(watch["as_of_at"], "2026-03-11T23:00:00Z", "{watch}");
    assert_eq!(line(&d, 0, &[])["state"], "ok");
}

#[test]
fn disorder_and_doubles_change_no_answer() {
    let plain = sound(0, 0..96);
    let mut rows: Vec<&str> = plain.lines().collect();
    // From the last to the first, each third one twice, in two files.
    rows.reverse();
    let again: Vec<&str> = rows.iter().step_by(3).copied().collect();
    let (a, b) = (ship(1, &plain), ship(1, &(rows.join("\n") + "\n")));
    b.file("again.csv", format!("{HEAD}{}\n", again.join("\n")));
    let took = b.json(&["take", "again.csv", "--voyage", "v.holdfast"]);
    assert_eq!((&took["stored"], &took["already_held"]), (&0.into(), &again.len().into()));
    for args in [&["watch"][..], &["power"], &["power", "--restart"]] {
        assert_eq!(text(&a, args), text(&b, args), "{args:?}");
    }
}

#[test]
fn a_cell_nobody_can_read_is_no_bay_nought() {
    let d = Desk::new();
    let list = format!(
        "unit,stow,size_type,full,weight_kg,set_point_c\n{},99,45R1,true,24000,-18.0\n",
        unit(0)
    );
    d.file("list.csv", list);
    d.file("r.csv", format!("{HEAD}{}", sound(0, 0..30)));
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d.json(&["take", "r.csv", "--voyage", "v.holdfast"]);
    let power = text(&d, &["power"]);
    assert!(power.contains("cell unknown") && !power.contains("bay 000"), "{power}");
}

#[test]
fn a_box_moved_to_another_cell_keeps_its_past() {
    let d = ship(2, &(sound(0, 0..60) + &sound(1, 0..60)));
    let before = line(&d, 0, &[]);
    let list = std::fs::read_to_string(d.path().join("list.csv")).unwrap();
    d.file(
        "list2.csv",
        list.replace(&format!("{},0220082", unit(0)), &format!("{},0220284", unit(0))),
    );
    let moved = d.json(&["load", "list2.csv", "--voyage", "v.holdfast"]);
    assert_eq!(moved["changes"]["moved"], 1, "{moved}");
    let after = line(&d, 0, &[]);
    assert_eq!((&after["stow"], &after["reason"]), (&"0220284".into(), &before["reason"]));
    assert_ne!(after["stow"], before["stow"]);
}
