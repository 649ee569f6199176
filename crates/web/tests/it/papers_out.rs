//! Watch list, plan of repairs, load and restart on paper, read back by another library. The ship
//! is invented.

use lopdf::Document;
use papers::seal;
use record::sign::{PublicKey, Signature, SigningKey};
use std::fmt::Write as _;
use units::Utc;
use voyage::{AsOf, NamedBytes, Voyage, read_plant};
use web::papers_out::Press;

const LIST: &str = "unit,stow,size_type,full,weight_kg,set_point_c,cargo\n\
    QQQU1000011,0300182,45R1,true,20000,2.0,APPLES\n\
    QQQU1000027,0620482,45R1,true,20000,2.0,APPLES\n\
    QQQU1000032,0100202,45R1,true,24000,-18.0,FROZEN FISH\n";

const PLANT: &str = "other_kw = 100\nreserve_share = 0.85\n\
    [[generator]]\nname = \"DG1\"\nrated_kw = 200\nrated_kva = 250\nonline = true\n\
    [[feeder]]\nname = \"FP1\"\nbays = [10, 30]\nlimit_kva = 300\n";

/// Three days; two boxes without power in the last six hours.
fn logger() -> String {
    let mut out =
        "time_utc,unit,set_point_c,supply_c,return_c,ambient_c,power_kw,on_power\n".to_owned();
    for h in 0..72u32 {
        let at = format!("2026-03-{:02} {:02}:00", 1 + h / 24, h % 24);
        for unit in ["QQQU1000011", "QQQU1000027"] {
            let dead = h >= 66;
            let warm = if dead { 0.3 * f64::from(h - 66) } else { 0.0 };
            let (kw, on) = if dead { (0.0, 0) } else { (4.0, 1) };
            let _ =
                writeln!(out, "{at},{unit},2.0,{:.1},{:.1},28.0,{kw},{on}", 2.0 + warm, 2.8 + warm);
        }
        let _ = writeln!(out, "{at},QQQU1000032,-18.0,-19.0,-17.8,28.0,2.5,1");
    }
    out
}

fn ship(dir: &tempfile::TempDir) -> Voyage {
    let named = |name: &str, text: &str| {
        vec![NamedBytes { name: name.into(), bytes: text.as_bytes().to_vec() }]
    };
    let now = Utc::parse("2026-03-03T23:30:00Z").unwrap();
    let mut v = Voyage::open_or_create(&dir.path().join("v.holdfast")).unwrap();
    v.load(&named("list.csv", LIST), "Mate", now).unwrap();
    v.take(&named("logger.csv", &logger()), "Mate", now, &mut |_, _| {}).unwrap();
    v
}

fn press(v: &Voyage) -> Press {
    let made_at = Utc::parse("2026-03-03T23:40:00Z").unwrap();
    Press::with_key(v, SigningKey::from_seed(&[5; 32]), made_at).unwrap()
}

/// All its text. Every page has its number, the voyage's root and the seal of the key.
fn text(name: &str, pdf: &[u8]) -> String {
    // For a person to look at.
    std::fs::write(format!("{}/{name}.pdf", env!("CARGO_TARGET_TMPDIR")), pdf).unwrap();
    let holds =
        |m: &[u8], s: &seal::Signed| PublicKey(s.public_key).signed(m, &Signature(s.signature));
    assert!(seal::check(pdf, holds).unwrap().signed.is_some(), "{name}");
    let doc = Document::load_mem(pdf).unwrap();
    let pages: Vec<u32> = doc.get_pages().keys().copied().collect();
    let mut all = String::new();
    for n in &pages {
        // Lines and pieces of a line come apart in reading back; single blanks join them.
        let page = doc.extract_text(&[*n]).unwrap();
        let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(page.contains(&format!("page {n} of {}", pages.len())), "{name}: {page}");
        assert!(page.contains("journal root"), "{name}");
        all.push_str(&page);
    }
    all
}

fn holds_all(name: &str, text: &str, words: &[&str]) {
    for w in words {
        assert!(text.contains(w), "{name} lacks \"{w}\": {text}");
    }
}

#[test]
fn the_plan_of_repairs() {
    let dir = tempfile::tempdir().unwrap();
    let v = ship(&dir);
    let list = v.watch(AsOf::Latest).unwrap();
    let plan = v.repair_plan(&list, &["Jonah".into(), "Mira".into()], None).unwrap();
    let text = text("repairs", &press(&v).night(&plan).unwrap());
    let cautions = ["440 V", "Wet deck", "test the air in the hold", "ship's procedures"];
    holds_all("repairs", &text, &cautions);
    holds_all("repairs", &text, &["2026-03-03 23:00 UTC", "QQQU1000011", "QQQU1000027"]);
    holds_all("repairs", &text, &["plug, breaker", "Jonah", "Mira", "if nobody goes"]);
    // Each job stands with its reason, as the plan has it.
    for step in plan.plan.lanes.iter().flat_map(|l| &l.steps) {
        let begins: String = step.why.split(' ').take(2).collect::<Vec<_>>().join(" ");
        holds_all("repairs", &text, &[&begins]);
    }
    // Cautions come before the first job.
    assert!(text.find("440 V").unwrap() < text.find("QQQU1000011").unwrap());
}

#[test]
fn the_load_and_the_restart() {
    let dir = tempfile::tempdir().unwrap();
    let v = ship(&dir);
    let plant = read_plant(&NamedBytes { name: "p".into(), bytes: PLANT.into() }).unwrap();
    let list = v.watch(AsOf::Latest).unwrap();
    let loads = v.loads(&list, Some(&plant)).unwrap();
    let load = text("power", &press(&v).load(&v.power(&loads, None).unwrap()).unwrap());
    // 85 % of 200 kW (by hand).
    holds_all("power", &load, &["170 kW", "Three days ahead", "FP1", "bay 030", "no weather"]);
    let view = v.restart(&loads).unwrap();
    let restart = text("restart", &press(&v).restart(&view).unwrap());
    holds_all("restart", &restart, &["engineer of the watch", "Do not stand in front", "0 min"]);
    for start in &view.restart.starts {
        holds_all("restart", &restart, &[&start.id]);
    }
    // Without a plant it says so.
    let bare = v.loads(&list, None).unwrap();
    let load = text("power-bare", &press(&v).load(&v.power(&bare, None).unwrap()).unwrap());
    holds_all("power", &load, &["is not stated"]);
}

#[test]
fn the_watch_list() {
    let dir = tempfile::tempdir().unwrap();
    let v = ship(&dir);
    let list = v.watch(AsOf::Latest).unwrap();
    let text = text("watch", &press(&v).watch(&list).unwrap());
    holds_all("watch", &text, &["2026-03-03 23:00 UTC", "QQQU1000011", "First:", "6 h", "7 d"]);
    // A box that is fine is counted and not told.
    holds_all("watch", &text, &["1 ok"]);
    assert!(!text.contains("QQQU1000032"), "{text}");
}
