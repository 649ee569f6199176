//! `holdfast load`

use std::fmt::Write as _;
use std::path::Path;

use record::ListedUnit;
use voyage::{LoadOutcome, Voyage};

use crate::args::Load;
use crate::fail::Fail;
use crate::{files, json, out};

/// Reads the lists and, unless told otherwise or nowhere to put them, stores them.
pub fn run(c: &Load) -> Result<u8, Fail> {
    let named = files::named_voyage(c.voyage.as_deref());
    let default = Path::new(files::DEFAULT_VOYAGE);
    let given = files::read_all(&c.files)?;
    let target = named.or_else(|| default.exists().then(|| default.to_path_buf()));
    let (outcome, stored) = match target {
        Some(path) if !c.dry_run => {
            // Lists are read before a voyage file is made: a refused command leaves none behind.
            if !path.exists() {
                voyage::read_only(&given)?;
            }
            let mut v = Voyage::open_or_create(&path)?;
            let who = files::who(c.who.as_deref());
            (v.load(&given, &who, files::now())?, true)
        }
        Some(path) if path.exists() => (Voyage::open(&path)?.load_dry(&given)?, false),
        _ => (voyage::read_only(&given)?, false),
    };
    if c.json {
        out::print_json(&json::load(&outcome.report, outcome.changes))?;
    } else {
        out::print(text(&outcome, stored))?;
    }
    Ok(0)
}

fn text(outcome: &LoadOutcome, stored: bool) -> String {
    let (report, c) = (&outcome.report, outcome.changes);
    let thermal: Vec<&ListedUnit> = report.units.iter().filter(|u| u.thermal).collect();
    let mut s = format!(
        "{} containers, {} of them thermal, in {} file(s)\n",
        report.units.len(),
        thermal.len(),
        report.files
    );
    for w in &report.warnings {
        let _ = writeln!(s, "! {w}");
    }
    let set_point = |u: &ListedUnit| {
        u.set_point_c.map_or_else(|| "no set point".to_owned(), |t| format!("{t:.1} °C"))
    };
    for u in thermal {
        let _ = writeln!(
            s,
            "{:11}  {:28}  {:5}  {:>12}  {}",
            u.unit.as_ref().map_or("-", |n| n.as_str()),
            u.cell.map_or_else(|| "no cell".to_owned(), |c| c.to_string()),
            u.size_type.as_deref().unwrap_or("-"),
            set_point(u),
            u.remarks.first().map_or("", String::as_str),
        );
    }
    for u in report.units.iter().filter(|u| !u.warnings.is_empty()) {
        let name = u.unit.as_ref().map_or("(no number)", |n| n.as_str());
        for w in &u.warnings {
            let _ = writeln!(s, "! {name}: {w}");
        }
    }
    let _ = write!(
        s,
        "{} added, {} removed, {} moved, {} set points changed: {}",
        c.added,
        c.removed,
        c.moved,
        c.set_point_changed,
        if stored { "stored" } else { "shown only, nothing stored" }
    );
    s
}
