//! `holdfast verify`

use serde_json::json;
use voyage::Voyage;

use crate::args::Verify;
use crate::fail::Fail;
use crate::out;

/// Checks a voyage file; status 3 when it was altered.
pub fn run(c: &Verify) -> Result<u8, Fail> {
    let v = Voyage::verify(&c.file)?;
    if c.json {
        out::print_json(&json!({
            "intact": v.problems.is_empty(),
            "entries": v.entries,
            "root": v.root.to_string(),
            "problems": v.problems,
        }))?;
    } else if v.problems.is_empty() {
        out::print(format!(
            "intact: {} entries follow each other, every reading and original has its hash\n\
             root {}\nCompare the root with one that left the ship: a log rewritten whole has \
             another.",
            v.entries, v.root
        ))?;
    } else {
        out::print(format!("ALTERED: {}", v.problems.join("\n         ")))?;
    }
    Ok(if v.problems.is_empty() { 0 } else { 3 })
}
