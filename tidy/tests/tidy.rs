//! Holds the layout: tiers, purity, sizes, headers, docs, licences.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Tier of each crate: it may use lower ones only (docs/architecture.md).
const TIERS: [(&str, u8); 18] = [
    ("units", 0),
    ("record", 1),
    ("fluids", 1),
    ("intake", 2),
    ("journal", 2),
    ("box-model", 2),
    ("treatment", 2),
    ("vacuum", 2),
    ("circuit", 2),
    ("plans", 2),
    ("service", 2),
    ("seatrial", 2),
    ("assess", 3),
    ("figures", 3),
    ("papers", 4),
    ("voyage", 4),
    ("web", 5),
    ("holdfast", 6),
];

/// Crates that a crate must not use although its tier would allow it.
const NEVER: [(&str, &[&str]); 6] = [
    ("journal", &["box-model", "intake"]),
    ("seatrial", &["box-model", "assess"]),
    ("figures", &["box-model", "assess"]),
    ("papers", &["box-model", "assess"]),
    ("holdfast", &["assess", "box-model", "intake"]),
    ("web", &["box-model", "seatrial"]),
];

/// Rooms that may open files or read a clock.
const WORLDLY: [&str; 3] = ["journal", "web", "holdfast"];

const FILE_LINES_MAX: usize = 500;
const FUNCTION_LINES_MAX: usize = 70;
const COLUMNS_MAX: usize = 110;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn read(path: impl AsRef<Path>) -> String {
    let path = root().join(path);
    fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn rust_files(dir: &Path, out: &mut Vec<PathBuf>) {
    let mut items: Vec<PathBuf> = fs::read_dir(dir).unwrap().map(|i| i.unwrap().path()).collect();
    items.sort();
    for path in items {
        if path.is_dir() && !path.ends_with("target") {
            rust_files(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

fn all_rust() -> Vec<(String, String)> {
    let mut files = Vec::new();
    rust_files(&root().join("crates"), &mut files);
    rust_files(&root().join("tidy"), &mut files);
    let name = |p: &PathBuf| p.strip_prefix(root()).unwrap().display().to_string();
    files.iter().map(|p| (name(p), fs::read_to_string(p).unwrap())).collect()
}

/// The crates of the workspace named in a manifest's section.
fn dependencies(name: &str, section: &str) -> Vec<String> {
    let manifest = read(format!("crates/{name}/Cargo.toml"));
    let mut inside = false;
    let mut out = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            inside = line == section;
        } else if let (true, Some((dep, _))) = (inside, line.split_once(['.', ' ', '='])) {
            out.push(dep.to_owned());
        }
    }
    out
}

#[test]
fn crates_use_lower_tiers_only() {
    let tiers: BTreeMap<&str, u8> = TIERS.into_iter().collect();
    let mut found: Vec<String> = fs::read_dir(root().join("crates"))
        .unwrap()
        .map(|i| i.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    found.sort();
    let mut known: Vec<&str> = tiers.keys().copied().collect();
    known.sort_unstable();
    assert_eq!(found, known, "a new crate needs its tier here and in docs/architecture.md");
    for (name, tier) in &tiers {
        for dep in dependencies(name, "[dependencies]") {
            if let Some(below) = tiers.get(dep.as_str()) {
                assert!(below < tier, "{name} (tier {tier}) uses {dep} (tier {below})");
            }
        }
    }
    for (name, never) in NEVER {
        let deps = dependencies(name, "[dependencies]");
        let bad: Vec<_> = deps.iter().filter(|d| never.contains(&d.as_str())).collect();
        assert!(bad.is_empty(), "{name} must not use {bad:?}");
    }
}

#[test]
fn pure_rooms_stay_pure() {
    let banned = [
        "std::fs",
        "std::env",
        "std::net",
        "std::thread",
        "SystemTime",
        "Instant::now",
        "HashSet",
        ".exp()",
        ".ln()",
        ".log10()",
        ".powf(",
        ".sin()",
        ".cos()",
        ".tan()",
        ".tanh()",
    ];
    for (name, text) in all_rust() {
        let room = name.split('/').nth(1).unwrap_or("");
        let in_src = name.contains("/src/");
        if !name.starts_with("crates/") || !in_src || WORLDLY.contains(&room) {
            continue;
        }
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for b in banned {
            let hit = code.lines().position(|l| l.contains(b) && !l.trim_start().starts_with("//"));
            assert!(hit.is_none(), "{name}:{}: {b} has no place in a pure room", hit.unwrap() + 1);
        }
    }
}

/// A sentence broken over lines without its backslash shows the indent to the person reading it.
#[test]
fn no_sentence_shown_to_a_person_holds_a_gap() {
    for (name, text) in all_rust() {
        for (i, line) in text.lines().enumerate() {
            let code = line.trim_start();
            let Some((_, string)) = code.split_once('"') else { continue };
            let gap = string.match_indices("        ").any(|(at, _)| {
                let before = string[..at].trim_start_matches(' ');
                before.split(' ').filter(|w| !w.is_empty()).count() > 3
                    && !before.contains("  ")
                    && !before.ends_with("\\n")
                    && !string[at..].trim_start().is_empty()
            });
            assert!(!gap, "{name}:{}: a gap within a sentence", i + 1);
        }
    }
}

#[test]
fn files_and_functions_are_small() {
    for (name, text) in all_rust() {
        let lines: Vec<&str> = text.lines().collect();
        assert!(lines.len() <= FILE_LINES_MAX, "{name}: {} lines", lines.len());
        let long = lines.iter().position(|l| l.chars().count() > COLUMNS_MAX && !l.contains('"'));
        assert!(long.is_none(), "{name}:{}: line too long", long.unwrap() + 1);
        for (i, line) in lines.iter().enumerate() {
            let indent = line.len() - line.trim_start().len();
            let head =
                line.trim_start().trim_start_matches("pub(crate) ").trim_start_matches("pub ");
            if !(head.starts_with("fn ")
                || head.starts_with("const fn ")
                || head.starts_with("async fn "))
            {
                continue;
            }
            let close = format!("{}}}", " ".repeat(indent));
            let length = lines.iter().skip(i).position(|l| *l == close).map_or(1, |n| n + 1);
            assert!(length <= FUNCTION_LINES_MAX, "{name}:{}: function of {length} lines", i + 1);
        }
    }
}

#[test]
fn every_file_says_what_it_is() {
    for (name, text) in all_rust() {
        let header = text.lines().find(|l| !l.is_empty() && !l.starts_with("#!["));
        assert!(header.is_some_and(|l| l.starts_with("//!")), "{name}: no //! header");
        for word in ["TODO", "FIXME", "unimplemented!", "todo!("] {
            let left = text.contains(word) && name != "tidy/tests/tidy.rs";
            assert!(!left, "{name}: {word} left open");
        }
    }
}

#[test]
fn docs_name_every_crate_and_dependency() {
    let architecture = read("docs/architecture.md");
    for (name, _) in TIERS {
        let row = architecture.lines().find(|l| l.contains(&format!("| `{name}` |")));
        assert!(row.is_some_and(|l| l.contains("*Invariant:*")), "architecture.md: {name}");
        let manifest = read(format!("crates/{name}/Cargo.toml"));
        assert!(manifest.contains("license.workspace = true") && manifest.contains("[lints]"));
    }
    let reasons = read("docs/dependencies.md");
    let manifest = read("Cargo.toml");
    let section = manifest.split("[workspace.dependencies]").nth(1).unwrap();
    for line in section.lines().take_while(|l| !l.starts_with("[workspace.lints")) {
        let Some((name, _)) = line.split_once(" = ") else { continue };
        if !line.contains("path =") {
            assert!(
                reasons.contains(&format!("| `{name}` |")),
                "dependencies.md: no reason for {name}"
            );
        }
    }
}

/// Licences that go with ours; every dependency must offer one of them.
#[test]
fn licences_agree() {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let out = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root())
        .output()
        .unwrap();
    let metadata: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap();
    let allowed = [
        "MIT",
        "Apache-2.0",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "ISC",
        "Zlib",
        "Unlicense",
        "0BSD",
        "CC0-1.0",
        "Apache-2.0 WITH LLVM-exception",
        "MIT-0",
    ];
    for p in metadata["packages"].as_array().unwrap() {
        let licence = p["license"].as_str().unwrap_or("none");
        // All of an AND, any of an OR. Unicode-3.0 covers data tables only.
        let fine = licence.split(" AND ").all(|part| {
            let part = part.trim_matches(['(', ')']);
            part == "Unicode-3.0"
                || part
                    .split(" OR ")
                    .flat_map(|l| l.split('/'))
                    .any(|l| allowed.contains(&l.trim()))
        });
        assert!(fine, "{}: licence {licence}", p["name"]);
    }
}

/// A data row without a source is nobody's word.
#[test]
fn cargo_rows_name_their_sources() {
    let table = read("data/cargoes.csv");
    let header = table.lines().next().unwrap();
    for column in ["src_temp", "src_freeze", "src_chill", "src_resp", "resp_unverified_at_c"] {
        assert!(header.contains(column), "data/cargoes.csv: no column {column}");
    }
    assert!(table.lines().count() > 60);
}
