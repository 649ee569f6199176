//! The demo: same seed, same files; the right boxes on the watch list.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;

use crate::run::Desk;

fn files(dir: &Path, base: &Path, out: &mut BTreeMap<String, Vec<u8>>) {
    for item in std::fs::read_dir(dir).unwrap() {
        let path = item.unwrap().path();
        if path.is_dir() {
            files(&path, base, out);
        } else {
            let name = path.strip_prefix(base).unwrap().display().to_string();
            out.insert(name, std::fs::read(&path).unwrap());
        }
    }
}

fn all_files(dir: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    files(dir, dir, &mut out);
    out
}

#[test]
fn same_seed_same_bytes() {
    let d = Desk::new();
    let demo = |dir: &str, seed: &str| {
        d.json(&[
            "demo",
            "--dir",
            dir,
            "--boxes",
            "40",
            "--days",
            "3",
            "--seed",
            seed,
            "--no-serve",
        ]);
        all_files(&d.path().join(dir))
    };
    let a = demo("a", "7");
    assert!(a.len() > 8, "{:?}", a.keys());
    let b = demo("b", "7");
    assert!(a.keys().eq(b.keys()));
    for (name, bytes) in &a {
        assert!(b[name] == *bytes, "{name} differs");
    }
    assert_ne!(demo("c", "8"), a);
    // Once more into the same folder; never into a folder that holds other things.
    assert_eq!(demo("a", "7"), a);
    std::fs::create_dir(d.path().join("mine")).unwrap();
    std::fs::write(d.path().join("mine/notes.txt"), "keep").unwrap();
    let args = ["demo", "--dir", "mine", "--no-serve"];
    assert!(d.refused(&args).contains("mine"));
    assert_eq!(std::fs::read(d.path().join("mine/notes.txt")).unwrap(), b"keep");
}

/// What the truth kept aside says is live and grave stands on the watch list with a reason, and
/// sound boxes do not.
#[test]
fn the_watch_list_against_the_truth() {
    let d = Desk::new();
    d.json(&["demo", "--dir", "demo", "--no-serve"]);
    let watch = d.json(&["watch", "--voyage", "demo/demo.holdfast"]);
    let boxes = watch["boxes"].as_array().unwrap();
    let by_unit: BTreeMap<&str, &Value> =
        boxes.iter().map(|b| (b["unit"].as_str().unwrap(), b)).collect();
    let truth = std::fs::read_to_string(d.path().join("demo/truth/faults.csv")).unwrap();
    let mut faulty = Vec::new();
    let mut header = Vec::new();
    for (n, line) in truth.lines().enumerate() {
        let cells: Vec<&str> = line.split(',').collect();
        if n == 0 {
            header = cells;
            continue;
        }
        let cell = |name: &str| cells[header.iter().position(|h| *h == name).unwrap()];
        let (unit, fault) = (cell("unit"), cell("fault"));
        faulty.push(unit);
        let Some(b) = by_unit.get(unit) else { continue };
        let state = b["state"].as_str().unwrap();
        let grave = match fault {
            "plug_tripped" => &["urgent"][..],
            "compressor_failure" | "set_point_sign_lost" | "fahrenheit_typed_as_celsius" => {
                &["urgent", "act"]
            }
            "probe_code" | "swapped_supply_return" => &["urgent", "act", "watch"],
            _ => continue,
        };
        assert!(grave.contains(&state), "{unit} {fault}: {state}: {}", b["reason"]);
    }
    let false_calls: Vec<&Value> = boxes
        .iter()
        .filter(|b| b["state"] == "urgent" && !faulty.contains(&b["unit"].as_str().unwrap()))
        .collect();
    assert!(false_calls.is_empty(), "{false_calls:?}");
    let top = &boxes[0];
    assert!(faulty.contains(&top["unit"].as_str().unwrap()), "{top}");
}
