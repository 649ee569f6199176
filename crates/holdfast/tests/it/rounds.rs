//! `holdfast round sheet`: the paper read back with another library.

use lopdf::Document;
use serde_json::Value;

use crate::run::{Desk, unit};

const STOWS: [&str; 12] = [
    "0220384", "0220484", "0220084", "0220182", "0220282", "0210382", "0230382", "0220302",
    "0060182", "", "0220202", "0220382",
];

/// Twelve refrigerated boxes and three dry ones, one of them read in °C although it is dry.
fn ship() -> Desk {
    let d = Desk::new();
    let mut list =
        String::from("unit,stow,size_type,full,set_point_c,humidity_pct,cargo,discharge_port\n");
    for (n, stow) in STOWS.iter().enumerate() {
        let n = u32::try_from(n).unwrap();
        let humidity = if n == 3 { "95" } else { "" };
        list += &format!("{},{stow},45R1,true,-18.0,{humidity},FROZEN FISH,XXMAR\n", unit(n));
    }
    for n in 100..103 {
        list += &format!("{},0300182,45G1,true,,,STEEL,XXMAR\n", unit(n));
    }
    let mut round = String::from("time_utc,unit,supply_c,return_c,source\n");
    for n in 0..11 {
        round += &format!("2026-03-05 0{}:10,{},-18.{n},-17.{n},round-MV\n", n % 4, unit(n));
    }
    d.file("list.csv", list);
    d.file("round.csv", round);
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d.json(&["take", "round.csv", "--voyage", "v.holdfast"]);
    d
}

/// As [`Desk::json`], with the signing key in the test's own folder.
fn made(d: &Desk, args: &[&str]) -> Value {
    let out = d.command(args).arg("--json").env("HOLDFAST_KEY", d.path().join("key")).output();
    let out = out.unwrap();
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

/// The text of every page; narrow spaces read as spaces.
fn pages(d: &Desk, name: &str) -> Vec<String> {
    let pdf = Document::load(d.path().join(name)).unwrap();
    let numbers: Vec<u32> = pdf.get_pages().keys().copied().collect();
    numbers.iter().map(|n| pdf.extract_text(&[*n]).unwrap().replace('\u{a0}', " ")).collect()
}

/// Container numbers as painted, in the order printed.
fn printed(pages: &[String]) -> Vec<String> {
    let lines = pages.iter().flat_map(|p| p.lines()).filter(|l| l.starts_with("QQQU "));
    lines.map(|l| l.split_whitespace().collect::<String>()).collect()
}

#[test]
fn every_reefer_stands_on_the_sheet_once_in_walking_order() {
    let d = ship();
    let told = made(&d, &["round", "sheet", "--out", "r.pdf", "--voyage", "v.holdfast"]);
    assert_eq!((&told["boxes"], &told["pages"]), (&Value::from(12), &Value::from(2)));
    let text = pages(&d, "r.pdf");
    // Bay by bay from the bow, deck before hold; tier 82 from port to starboard, tier 84 back;
    // the 20 ft boxes of bays 021 and 023 with bay 022; without a cell last.
    let order = [8, 4, 3, 5, 11, 6, 0, 2, 1, 10, 7, 9].map(unit);
    assert_eq!(printed(&text), order);
    let units: Vec<&str> =
        told["units"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!(units, order);
    let all = text.concat();
    for words in [
        "440 V",
        "page 1 of 2",
        "journal root",
        "Bay 022 on deck with 021, 023: 8 boxes",
        "Bay 022 in the hold: 2 boxes",
        "Cell not known: 1 box",
        "−18.3 / −17.3",
        "never read",
        "read also: RH % not read yet",
        "wind, sea, deck",
        "Round 2",
    ] {
        assert!(all.contains(words), "{words}: {all}");
    }
    assert!(!all.contains(&unit(100)[4..10]), "dry boxes are not read");
    // The paper is sealed against damage: verify says it is whole.
    assert_eq!(d.run(&["verify", "r.pdf"]).status.code(), Some(0));
}

#[test]
fn a_part_of_the_ship_or_a_blank_table() {
    let d = ship();
    let v = ["--voyage", "v.holdfast"];
    let told = made(&d, &["round", "sheet", "--out", "r.pdf", "--bays", "5-7", v[0], v[1]]);
    assert_eq!(told["boxes"], 1);
    assert!(pages(&d, "r.pdf").concat().contains("bays 005 to 007"));
    // A 20 ft bay brings the bay that it is walked with only where it is asked for.
    let told = made(&d, &["round", "sheet", "--out", "r.pdf", "--bays", "21", v[0], v[1]]);
    assert_eq!(told["boxes"], 1);
    let told = made(&d, &["round", "sheet", "--out", "b.csv", v[0], v[1]]);
    assert_eq!((&told["boxes"], &told["pages"]), (&Value::from(12), &Value::Null));
    // Filled in, it is taken.
    let text = std::fs::read_to_string(d.path().join("b.csv")).unwrap();
    let filled: String = text
        .lines()
        .map(|l| match l.strip_prefix(&format!(",{},,,", unit(3))) {
            Some(rest) => format!("2026-03-05 20:10,{},-18.0,-18.3,-17.9{rest}\n", unit(3)),
            None if l.starts_with(',') => String::new(),
            None => format!("{l}\n"),
        })
        .collect();
    d.file("b.csv", filled);
    let taken = d.json(&["take", "b.csv", v[0], v[1]]);
    assert_eq!(
        (&taken["stored"], taken["refused"].as_array().unwrap().len()),
        (&Value::from(1), 0)
    );
}

#[test]
fn an_empty_voyage_says_so() {
    let d = Desk::new();
    d.file("list.csv", "unit,stow,size_type\n");
    d.file("dry.csv", format!("unit,stow,size_type\n{},0300182,45G1\n", unit(1)));
    d.json(&["load", "dry.csv", "--voyage", "v.holdfast"]);
    let told = made(&d, &["round", "sheet", "--out", "r.pdf", "--voyage", "v.holdfast"]);
    assert_eq!(told["boxes"], 0);
    assert!(pages(&d, "r.pdf").concat().contains("nothing to go round for"));
}

#[test]
fn what_cannot_be_made_is_refused_in_one_line() {
    let d = ship();
    for (args, words) in [
        (&["round"][..], "write round sheet"),
        (&["round", "sheet"], "--out"),
        (&["round", "sheet", "--out", "r.txt"], "let it end .pdf or .csv"),
        (&["round", "sheet", "--out", "r.pdf", "--bays", "9-2"], "write bays as 2-30,42"),
        (&["round", "sheet", "--out", "none/r.pdf", "--voyage", "v.holdfast"], "none/r.pdf"),
    ] {
        let said = d.refused(args);
        assert!(said.contains(words), "{said}");
    }
}
