//! `holdfast service work` and the record books on paper, as a user runs them. The ship, its boxes
//! and cylinders are invented; the papers are read back by another library (lopdf).

use lopdf::Document;
use record::{Act, ServiceAct, ServiceDeed, UnitId};
use service::{Answer, State};
use units::Utc;
use voyage::Voyage;
use voyage::works::{Work, plant_words};

use crate::run::Desk;

const LIST: &str = "unit,stow,size_type,full,set_point_c,cargo\n\
    QQQU1000027,0620482,45R1,true,2.0,APPLES\n";
const V: [&str; 2] = ["--voyage", "v.holdfast"];

fn ship() -> Desk {
    let d = Desk::new();
    d.file("list.csv", LIST);
    d.json(&["load", "list.csv", "--voyage", "v.holdfast"]);
    d
}

fn now() -> Utc {
    Utc::parse("2026-03-11T10:00:00Z").unwrap()
}

fn put(v: &mut Voyage, deed: ServiceDeed) {
    let unit = UnitId::from_text("QQQU1000027").unwrap();
    let act = Act::Service(Box::new(ServiceAct { work: "S1".into(), unit, at: now(), deed }));
    v.enter(&act, &[], "Ann", now()).unwrap();
}

/// A pump-down begun, and so many of its steps done.
fn begun(d: &Desk, steps: usize) {
    let mut v = Voyage::open(&d.path().join("v.holdfast")).unwrap();
    put(
        &mut v,
        ServiceDeed::Begun {
            goal: "pumped-down".into(),
            goal_words: "pumped down".into(),
            plant: plant_words(&[State::default()]),
            remark: "permit 17".into(),
        },
    );
    for _ in 0..steps {
        let w = Work::of(v.work("S1").unwrap().clone()).unwrap();
        let Answer::Possible(all) = w.answer().unwrap() else { panic!("no way") };
        // 250 µm is within "at most 500 µm" (reference §4.3), the only reading of these steps.
        let deed = w.step(all[0].step.action, &|_| "250".to_owned(), String::new()).unwrap();
        put(&mut v, deed);
    }
}

fn text_of(d: &Desk, name: &str) -> (usize, String) {
    let doc = Document::load(d.path().join(name)).unwrap();
    let pages: Vec<u32> = doc.get_pages().keys().copied().collect();
    let all: Vec<String> = pages
        .iter()
        .map(|n| {
            let page = doc.extract_text(&[*n]).unwrap();
            page.split_whitespace().collect::<Vec<_>>().join(" ")
        })
        .collect();
    (pages.len(), all.join(" "))
}

fn ok(d: &Desk, args: &[&str]) -> String {
    let out = d.run(&[args, &V[..]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn works_are_listed_and_shown() {
    let d = ship();
    assert!(ok(&d, &["service", "work"]).contains("No service work was begun"));
    let none = d.json(&[&["service", "work", "list"], &V[..]].concat());
    assert_eq!(none["works"].as_array().unwrap().len(), 0);
    begun(&d, 8);
    let list = ok(&d, &["service", "work", "list"]);
    assert!(list.contains("S1   QQQU1000027  under way, in the hands of Ann, 8 steps"), "{list}");
    let show = ok(&d, &["service", "work", "show", "s1"]);
    for words in ["9 steps to go", "step 8:", "vacuum gauge: 250", "at most 500 µm", "permit 17"] {
        assert!(show.contains(words), "{words}: {show}");
    }
    assert!(show.contains("has no authority"), "{show}");
    let j = d.json(&[&["service", "work", "show", "S1"], &V[..]].concat());
    assert_eq!((&j["way_on"], &j["steps_to_go"]), (&"known".into(), &9.into()));
    assert_eq!(j["entries"].as_array().unwrap().len(), 9);
    assert_eq!(j["entries"][7]["readings"][0]["value"], 250.0);
    assert_eq!(j["plant"]["suction_valve"], "mid");
    // What is shown as the next step is the first step of the plan from there.
    assert!(show.contains(j["next"]["instruction"].as_str().unwrap()), "{show}");
}

#[test]
fn a_work_on_paper_can_be_read_back_and_checked() {
    let d = ship();
    begun(&d, 8);
    ok(&d, &["service", "work", "paper", "S1", "--out", "s1.pdf"]);
    assert_eq!(d.run(&["verify", "s1.pdf"]).status.code(), Some(0));
    let (pages, text) = text_of(&d, "s1.pdf");
    assert!((2..=6).contains(&pages), "{pages}");
    let words = ["440 V", "permit to work", "suction valve", "250 (told: at most 500 µm)", "Ann"];
    for w in words.iter().chain(&["17.", "kPa gauge", "time UTC", "“permit 17”"]) {
        assert!(text.contains(w), "{w}: {text}");
    }
    // Cautions before the first step.
    assert!(text.find("440 V").unwrap() < text.find("Steps to go").unwrap());
    // The file attached holds every entry, a line each.
    let doc = Document::load(d.path().join("s1.pdf")).unwrap();
    let files: Vec<Vec<u8>> = doc
        .objects
        .values()
        .filter_map(|o| o.as_stream().ok())
        .filter(|s| {
            s.dict.get(b"Type").and_then(|t| t.as_name()).is_ok_and(|n| n == b"EmbeddedFile")
        })
        .map(|s| s.decompressed_content().unwrap_or_else(|_| s.content.clone()))
        .collect();
    let csv = files.iter().find(|f| f.starts_with(b"at_utc,who,kind")).expect("the table");
    let csv = String::from_utf8_lossy(csv);
    assert_eq!(csv.lines().count(), 1 + 9, "{csv}");
    assert!(csv.contains(",vacuum gauge,250,250,um,,500,"), "{csv}");
    // The dossier of the box tells the work too.
    ok(&d, &["dossier", "QQQU1000027", "--out", "d"]);
    let (_, dossier) = text_of(&d, "d/QQQU1000027/dossier.pdf");
    assert!(dossier.contains("Service work S1: pumped down; under way"), "{dossier}");
}

#[test]
fn books_on_paper() {
    let d = ship();
    let gas = |args: &[&str]| ok(&d, &[&["gas"], args, &["--who", "Ann"]].concat());
    gas(&["cylinder", "C12", "--gas", "R134a", "--volume-l", "12", "--source", "virgin"]);
    gas(&["plate", "QQQU1000027", "--gas", "R134a", "--kg", "5", "--serial", "X-99"]);
    gas(&["move", "--from", "supplier:x", "--to", "C12", "--kg", "9.1", "--reason", "supply"]);
    let charge = ["--from", "C12", "--to", "QQQU1000027", "--kg", "0.45", "--reason", "top-up"];
    gas(&[&["move"], &charge[..], &["--by", "J. Ruiz", "--certificate", "A7"]].concat());
    gas(&["book", "QQQU1000027", "--out", "unit.pdf"]);
    let (_, unit) = text_of(&d, "unit.pdf");
    for w in ["5.000 kg R134a", "X-99", "0.450", "for a leak", "J. Ruiz", "A7", "Art. 7"] {
        assert!(unit.contains(w), "{w}: {unit}");
    }
    gas(&["book", "ozone", "--out", "ozone.pdf"]);
    let (_, ozone) = text_of(&d, "ozone.pdf");
    assert!(ozone.contains("No entry") && ozone.contains("regulation 12"), "{ozone}");
    for paper in ["unit.pdf", "ozone.pdf"] {
        assert_eq!(d.run(&["verify", paper]).status.code(), Some(0), "{paper}");
    }
}

#[test]
fn what_cannot_be_is_refused_in_one_line() {
    let d = ship();
    begun(&d, 0);
    d.file("notes.txt", "mine");
    for (args, says) in [
        (&["service", "work", "show", "S9"][..], "no service work \"S9\""),
        (&["service", "work", "show"], "name one work"),
        (&["service", "work", "mend"], "list, show or paper"),
        (&["service", "work", "paper", "S1"], "--out"),
        (&["service", "work", "show", "S1", "--out", "x.pdf"], "goes with work paper"),
        (&["service", "work", "paper", "S1", "--out", "notes.txt"], "is no PDF"),
        (&["service", "work", "list", "--goal", "repair"], "go with plan"),
        (&["gas", "book", "QQQU1000027", "--out", "notes.txt"], "is no PDF"),
        (&["gas", "list", "--out", "x.pdf"], "does not go here"),
    ] {
        let said = d.refused(&[args, &V[..]].concat());
        assert!(said.contains(says), "{args:?}: {said}");
    }
    assert_eq!(std::fs::read(d.path().join("notes.txt")).unwrap(), b"mine");
    let said = d.refused(&["service", "plan", "--goal", "repair", "--voyage", "v.holdfast"]);
    assert!(said.contains("go with work"), "{said}");
}
