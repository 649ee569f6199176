//! `holdfast verify`

use std::path::{Path, PathBuf};

use serde_json::json;
use voyage::{Verification, Voyage};

use crate::args::Verify;
use crate::fail::Fail;
use crate::out;

/// Checks a voyage file, or every voyage file in a folder; status 3 when anything was altered.
pub fn run(c: &Verify) -> Result<u8, Fail> {
    if !c.file.is_dir() {
        let v = Voyage::verify(&c.file)?;
        return report(&v, c.json);
    }
    let mut all = Verification::default();
    let mut found = 0;
    for path in voyage_files(&c.file)? {
        let v = Voyage::verify(&path)?;
        found += 1;
        all.entries += v.entries;
        // One voyage in the folder: its root; several: the last one's, each is named below.
        all.root = v.root;
        let name = path.display();
        all.problems.extend(v.problems.iter().map(|p| format!("{name}: {p}")));
    }
    if found == 0 {
        return Err(Fail::refused(format!(
            "{}: holds no voyage file; name the folder that does, or the file",
            c.file.display()
        )));
    }
    report(&all, c.json)
}

/// Files of a folder that begin as a voyage file does, by name.
fn voyage_files(dir: &Path) -> Result<Vec<PathBuf>, Fail> {
    let io = |e: std::io::Error| Fail::refused(format!("{}: {e}", dir.display()));
    let mut out = Vec::new();
    for item in std::fs::read_dir(dir).map_err(io)? {
        let path = item.map_err(io)?.path();
        if path.is_file() && Voyage::is_voyage(&path) {
            out.push(path);
        }
    }
    out.sort();
    Ok(out)
}

fn report(v: &Verification, json: bool) -> Result<u8, Fail> {
    let intact = v.problems.is_empty();
    if json {
        out::print_json(&json!({
            "intact": intact,
            "entries": v.entries,
            "root": v.root.to_string(),
            "problems": v.problems,
        }))?;
    } else if intact {
        out::print(format!(
            "intact: {} entries follow each other, every reading and original has its hash\n\
             root {}\nCompare the root with one that left the ship: a log rewritten whole has \
             another.",
            v.entries, v.root
        ))?;
    } else {
        out::print(format!("ALTERED: {}", v.problems.join("\n         ")))?;
    }
    Ok(if intact { 0 } else { 3 })
}
