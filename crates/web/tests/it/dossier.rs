//! A dossier from a voyage file to the paper, with everything a box can have, read back by
//! another library.

use lopdf::{Document, Object};
use papers::dossier::Pack;
use papers::seal;
use papers::sheet::Fonts;
use record::dossier::Dossier;
use record::gauges::{GaugesRead, ToldFault};
use record::hold::{HoldEnd, HoldReading, HoldStart};
use record::sign::{PublicKey, Signature, SigningKey};
use record::{Act, SlurryReading, UnitId};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use units::Utc;
use voyage::{AsOf, NamedBytes, Voyage};

const UNIT: &str = "QQQU1000011";
const LIST: &str = "unit,stow,size_type,full,load_port,discharge_port,set_point_c,humidity_pct,cargo\n\
    QQQU1000011,0220382,45R1,true,XXSOL,XXNOR,-0.5,90,\"TABLE GRAPES, Señor Núñez & Söhne, a \
    consignee with a name much longer than any column of a table would ever wish for\"\n\
    QQQU1000027,0210182,45R1,true,XXSOL,XXMAR,13.5,,BANANAS\n";

fn at(text: &str) -> Utc {
    Utc::parse(text).unwrap()
}

fn unit() -> UnitId {
    UnitId::from_text(UNIT).unwrap()
}

fn named(name: &str, text: &str) -> Vec<NamedBytes> {
    vec![NamedBytes { name: name.into(), bytes: text.as_bytes().to_vec() }]
}

/// Hourly rows of nine days: no power for five hours on the fourth, nothing read for fifteen on
/// the sixth, the display's sign lost on the seventh.
fn logger() -> String {
    let mut out = String::from(
        "time_utc,unit,set_point_c,supply_c,return_c,ambient_c,probe1_c,probe2_c,probe3_c,\
         power_kw,on_power,mode,alarm,source,remark\n",
    );
    let start = at("2026-03-02T00:00:00Z");
    for h in 0..216 {
        if (126..141).contains(&h) {
            continue;
        }
        let off = (80..85).contains(&h);
        let warm = if off { f64::from(h - 79) } else { 0.0 };
        let set = if (150..156).contains(&h) { 0.5 } else { -0.5 };
        let (plug, mode) = if off { ("0", "") } else { ("1", "chilled") };
        let alarm = if (80..87).contains(&h) { "AL 31 power" } else { "" };
        let remark = if h == 86 { "\"=cmd breaker found tripped, reset\"" } else { "" };
        let _ = writeln!(
            out,
            "{},{UNIT},{set},{:.1},{:.1},28.0,{:.1},{:.1},{:.1},{},{plug},{mode},{alarm},logger,{remark}",
            start.plus_hours(f64::from(h)),
            -0.5 + 2.0 * warm,
            0.4 + 1.5 * warm,
            0.3 + 0.1 * warm,
            0.2 + 0.1 * warm,
            0.4 + 0.1 * warm,
            if off { "" } else { "4.2" },
        );
    }
    out
}

fn calibrated() -> Act {
    let slurry = |probe| SlurryReading { probe, reading: "0.1".into(), fahrenheit: false };
    Act::ProbesCalibrated {
        unit: unit(),
        at: at("2026-03-01T20:00:00Z"),
        readings: [1, 1, 2, 2, 3, 3].map(slurry).to_vec(),
        remark: "reference thermometer 7".into(),
    }
}

fn gauges() -> Act {
    Act::GaugesRead(Box::new(GaugesRead {
        rests_on: Vec::new(),
        unit: unit(),
        at: at("2026-03-05T23:10:00Z"),
        input: r#"{"fluid":"R134a","suction_kpag":12.0}"#.into(),
        as_written: BTreeMap::from([
            ("suction_kpag".to_owned(), "1.8 psig".to_owned()),
            ("discharge_kpag".to_owned(), "900".to_owned()),
        ]),
        told: vec![ToldFault {
            fault: "undercharge".into(),
            words: "too little refrigerant".into(),
            probability: 0.81,
            severity: Some(0.4),
            severity_p90: Some([0.3, 0.5]),
        }],
        derived: BTreeMap::from([("superheat_k".to_owned(), [17.1, 16.0, 18.2])]),
        version: "0.1.0".into(),
        note: "ice on the bulb".into(),
    }))
}

fn hold() -> HoldStart {
    HoldStart {
        id: "H1".into(),
        at: at("2026-03-06T02:00:00Z"),
        unit: Some(unit()),
        place: String::new(),
        volume_l: Some(20.0),
        coldest_c: Some(12.0),
        ambient_c: Some(25.0),
        fluid: Some("R134a".into()),
        gauge: "thermal gauge no. 3".into(),
        gauge_step: 1.0,
        pressure_unit: "um".into(),
        calibrated_on: "2025-11-01".into(),
        criterion: "usual-500".into(),
        rise_um: None,
    }
}

fn ended() -> HoldEnd {
    HoldEnd {
        id: "H1".into(),
        at: at("2026-03-06T02:45:00Z"),
        verdict: "leaking".into(),
        words: "Leaking. The criterion is not met.".into(),
        probabilities: [0.01, 0.02, 0.95, 0.02],
        readings: 39,
        remark: "flare nut at the liquid line retightened".into(),
    }
}

fn decided() -> Act {
    Act::OfficialDecided {
        unit: unit(),
        at: at("2026-03-09T10:00:00Z"),
        from_at: at("2026-03-05T08:00:00Z"),
        to_at: at("2026-03-05T13:00:00Z"),
        kind: None,
        probe: None,
        verified: true,
        official: "A. Person".into(),
        authority: "XX plant health".into(),
        document: "XX-12".into(),
    }
}

fn acts() -> Vec<(&'static str, Act)> {
    let read = |m: i32| HoldReading {
        at: hold().at.plus_hours(f64::from(m) / 60.0),
        pressure: format!("{}", 310 + 12 * m),
    };
    let readings = (0..40).map(read).collect();
    vec![
        ("J. Ruiz", calibrated()),
        ("J. Ruiz", gauges()),
        ("M. Sato", Act::HoldBegun(Box::new(hold()))),
        ("M. Sato", Act::HoldRead { id: "H1".into(), readings, source: None }),
        ("M. Sato", Act::HoldStruck { id: "H1".into(), number: 3 }),
        ("M. Sato", Act::HoldEnded(Box::new(ended()))),
        ("J. Ruiz", decided()),
    ]
}

/// A voyage in which a box has everything; its schedule is the program's first.
fn voyage(dir: &tempfile::TempDir) -> Voyage {
    let now = at("2026-03-11T06:00:00Z");
    let mut v = Voyage::open_or_create(&dir.path().join("v.holdfast")).unwrap();
    v.load(&named("01-list.csv", LIST), "J. Ruiz", at("2026-03-01T18:00:00Z")).unwrap();
    let second = LIST.replace("0220382", "0220384");
    v.load(&named("02-list.csv", &second), "J. Ruiz", at("2026-03-04T18:00:00Z")).unwrap();
    let id = voyage::schedules().first().map(|s| s.id).unwrap();
    let schedule = voyage::schedule_text(id, "", "").unwrap();
    v.order_treatment(vec![unit()], schedule, None, "J. Ruiz", now).unwrap();
    v.take(&named("logger.csv", &logger()), "J. Ruiz", now, &mut |_, _| {}).unwrap();
    for (who, act) in acts() {
        v.enter(&act, &[], who, now).unwrap();
    }
    v
}

fn key() -> SigningKey {
    SigningKey::from_seed(&[5; 32])
}

fn made() -> (Dossier, Pack) {
    let dir = tempfile::tempdir().unwrap();
    let mut v = voyage(&dir);
    let now = at("2026-03-11T07:00:00Z");
    v.announce_key(&key(), "J. Ruiz", now).unwrap();
    let g = v.gathering().unwrap();
    let d = g.dossier(&unit(), AsOf::Latest, now).unwrap().unwrap();
    let pack = web::dossier::make(&g, &d, &Fonts::load().unwrap(), &key(), &|_| false).unwrap();
    (d, pack)
}

#[test]
fn the_record_is_gathered_whole() {
    let (d, _) = made();
    assert_eq!(d.readings.len(), 216 - 15);
    assert!(d.readings.iter().all(|r| r.file.is_some() && r.entry == 4));
    let stows: Vec<_> = d.cells.iter().map(|c| c.stow.clone().unwrap()).collect();
    assert_eq!(stows, ["0220382", "0220384"]);
    let shown: Vec<_> = d.set_points.iter().map(|s| (s.ordered, s.set_c.unwrap())).collect();
    assert_eq!(shown, [(true, -0.5), (false, -0.5), (false, 0.5), (false, -0.5)]);
    assert_eq!(d.power_off.len(), 1);
    assert_eq!(d.power_off[0].from, at("2026-03-05T08:00:00Z"));
    assert_eq!(d.power_off[0].back_at, Some(at("2026-03-05T13:00:00Z")));
    assert_eq!(d.alarms.len(), 1);
    assert!(d.alarms[0].done.iter().any(|x| x.what.contains("breaker found tripped")));
    let long: Vec<_> = d.gaps.iter().filter(|g| g.long).map(|g| (g.from, g.to)).collect();
    assert_eq!(long, [(at("2026-03-07T05:00:00Z"), at("2026-03-07T21:00:00Z"))]);
    // Every act of the hold stands in the log, though only its beginning names the box.
    assert_eq!(d.log.iter().filter(|l| l.what.starts_with("vacuum hold H1")).count(), 4);
    assert_eq!((d.gauges.len(), d.holds.len(), d.calibrations.len()), (1, 1, 1));
    assert_eq!(d.holds[0].points.len(), 39);
    assert!(d.treatment.is_some());
}

#[test]
fn the_paper_tells_it_and_judges_nothing() {
    let (_, pack) = made();
    // For a person to look at.
    std::fs::write(concat!(env!("CARGO_TARGET_TMPDIR"), "/dossier.pdf"), &pack.pdf).unwrap();
    let pdf = Document::load_mem(&pack.pdf).unwrap();
    let pages: Vec<u32> = pdf.get_pages().keys().copied().collect();
    assert_eq!(pages.len(), pack.pages);
    let page = |n: u32| pdf.extract_text(&[n]).unwrap().replace(['\n', '\u{a0}'], " ");
    let first = page(1);
    for words in ["No power", "Noticed", "Done", "breaker found tripped", "QQQU1000011", "0220384"]
    {
        assert!(first.contains(words), "{words}: {first}");
    }
    let all: String = pages.iter().map(|n| page(*n)).collect();
    for words in
        ["Vacuum hold H1", "too little refrigerant", "XX-12", "1.8 psig", "struck", "Núñez"]
    {
        assert!(all.contains(words), "{words}");
    }
    let low = all.to_lowercase();
    for never in ["cargo sound", "treatment successful", "leak-free", "leak free", "passed"] {
        assert!(!low.contains(never), "{never}");
    }
    // The forecast says that it is one, and stands over the limits of the cargo.
    for words in ["What may lie ahead", "no measurement", "present course", "power lost"] {
        assert!(all.contains(words), "{words}");
    }
    for n in &pages {
        let text = page(*n);
        assert!(text.contains(&format!("page {n} of {}", pages.len())) && text.contains("root"));
    }
}

fn attached(pdf: &Document) -> BTreeMap<String, Vec<u8>> {
    let get = |o: &Object| pdf.dereference(o).unwrap().1.clone();
    let root = get(pdf.trailer.get(b"Root").unwrap());
    let af = get(root.as_dict().unwrap().get(b"AF").unwrap());
    let one = |spec: &Object| {
        let spec = get(spec).as_dict().unwrap().clone();
        let ef = get(spec.get(b"EF").unwrap());
        let stream = get(ef.as_dict().unwrap().get(b"F").unwrap());
        let stream = stream.as_stream().unwrap().clone();
        let name = spec.get(b"F").unwrap().as_str().unwrap().to_vec();
        (String::from_utf8(name).unwrap(), stream.decompressed_content().unwrap())
    };
    af.as_array().unwrap().iter().map(one).collect()
}

#[test]
fn folder_and_paper_hold_the_same_files_and_originals_are_untouched() {
    let (_, pack) = made();
    let pdf = Document::load_mem(&pack.pdf).unwrap();
    let folder: BTreeMap<String, Vec<u8>> =
        pack.files.iter().map(|f| (f.name.clone(), f.bytes.clone())).collect();
    assert_eq!(attached(&pdf), folder);
    assert_eq!(folder["originals/logger.csv"], logger().into_bytes());
    assert_eq!(folder["originals/01-list.csv"], LIST.as_bytes());
    let manifest: serde_json::Value = serde_json::from_slice(&folder["manifest.json"]).unwrap();
    assert_eq!(manifest["kind"], "holdfast dossier 1");
    let listed = manifest["files"].as_array().unwrap();
    assert_eq!(listed.len(), folder.len() - 2);
    for file in listed {
        let bytes = &folder[file["name"].as_str().unwrap()];
        let sha = record::digest::Digest::of(bytes).to_string();
        assert_eq!(
            (file["bytes"].as_u64(), file["sha256"].as_str()),
            (Some(bytes.len() as u64), Some(&*sha))
        );
    }
    let signature = std::str::from_utf8(&folder["manifest.sig"]).unwrap();
    let signature = Signature::from_hex(signature).unwrap();
    assert!(key().public().signed(&folder["manifest.json"], &signature));
    let readings = String::from_utf8(folder["readings.csv"].clone()).unwrap();
    assert_eq!(readings.lines().count(), 1 + 201);
    assert!(readings.contains(",\"'=cmd breaker found tripped, reset\""), "a formula is harmless");
    assert!(readings.contains(",-0.5,"), "a minus number is a number");
}

#[test]
fn the_seal_is_the_ships() {
    let (_, mut pack) = made();
    let holds = |message: &[u8], s: &seal::Signed| {
        PublicKey(s.public_key).signed(message, &Signature(s.signature))
    };
    let found = seal::check(&pack.pdf, holds).unwrap();
    assert_eq!(found.signed.map(|s| s.public_key), Some(key().public().0));
    for step in 1..200 {
        let bit = (step * 7919 * 131) % (pack.pdf.len() * 8);
        pack.pdf[bit / 8] ^= 1 << (bit % 8);
        assert!(seal::check(&pack.pdf, holds).is_err(), "bit {bit}");
        pack.pdf[bit / 8] ^= 1 << (bit % 8);
    }
}

#[test]
fn a_box_that_nobody_knows_has_none() {
    let dir = tempfile::tempdir().unwrap();
    let v = voyage(&dir);
    let g = v.gathering().unwrap();
    let stranger = UnitId::from_text("QQQU9999999").unwrap();
    assert!(g.dossier(&stranger, AsOf::Latest, at("2026-03-11T07:00:00Z")).unwrap().is_none());
    // Listed and never read: a dossier that says so.
    let silent = UnitId::from_text("QQQU1000027").unwrap();
    let d = g.dossier(&silent, AsOf::Latest, at("2026-03-11T07:00:00Z")).unwrap().unwrap();
    let fonts = Fonts::load().unwrap();
    let pack = web::dossier::make(&g, &d, &fonts, &key(), &|_| false).unwrap();
    std::fs::write(concat!(env!("CARGO_TARGET_TMPDIR"), "/silent.pdf"), &pack.pdf).unwrap();
    let pdf = Document::load_mem(&pack.pdf).unwrap();
    assert!(pdf.extract_text(&[1]).unwrap().contains("Nothing was read from this container."));
}
