//! `holdfast take`

use std::fmt::Write as _;

use voyage::{Problem, TakeOutcome, Voyage};

use crate::args::Take;
use crate::fail::Fail;
use crate::progress::Bar;
use crate::{files, json, out};

/// Refused rows shown to a person; the rest are counted.
const REFUSED_SHOWN: usize = 20;

/// Takes the readings in.
pub fn run(c: &Take) -> Result<u8, Fail> {
    let given = files::read_all(&c.files)?;
    let path = files::voyage_path(c.voyage.as_deref());
    // Files are read before a voyage file is made: a refused command leaves none behind.
    let existed = path.exists();
    if !existed {
        voyage::check_readings(&given).map_err(|p| refuse(c, p))?;
    }
    let mut v = Voyage::open_or_create(&path)?;
    let bar = Bar::start("filing readings");
    let who = files::who(c.who.as_deref());
    let taken = v.take(&given, &who, files::now(), &mut |done, all| bar.at(done, all));
    drop(bar);
    let outcome = taken.map_err(|p| refuse(c, p))?;
    if c.json {
        out::print_json(&json::take(&outcome))?;
    } else {
        out::print(text(&outcome))?;
    }
    Ok(0)
}

/// Where every row was refused, the lines are still told.
fn refuse(c: &Take, problem: Problem) -> Fail {
    if let (Problem::AllRefused(outcome), true) = (&problem, c.json) {
        let _ = out::print_json(&json::take(outcome));
    }
    problem.into()
}

fn text(t: &TakeOutcome) -> String {
    let mut s = String::new();
    for w in &t.warnings {
        let _ = writeln!(s, "! {w}");
    }
    for r in t.refused.iter().take(REFUSED_SHOWN) {
        let _ = writeln!(s, "refused {}:{}: {}", r.file, r.line, r.why);
    }
    if t.refused.len() > REFUSED_SHOWN {
        let _ =
            writeln!(s, "… and {} more; --json lists them all", t.refused.len() - REFUSED_SHOWN);
    }
    let _ = write!(
        s,
        "{} rows in {} file(s): {} stored, {} held already, {} refused",
        t.rows,
        t.files,
        t.stored,
        t.already_held,
        t.refused.len()
    );
    if t.conflicts > 0 {
        let _ = write!(
            s,
            "\n{} values differ from ones held for the same box, time and source: both are kept; \
             read again and say which is right",
            t.conflicts
        );
    }
    s
}
