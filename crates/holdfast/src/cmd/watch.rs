//! `holdfast watch`

use std::fmt::Write as _;

use record::{BoxLine, State, WatchList};
use units::Utc;
use voyage::AsOf;

use crate::args::Watch;
use crate::fail::Fail;
use crate::{files, json, out};

/// Shows the watch list.
pub fn run(c: &Watch) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let list = v.watch(c.as_of)?;
    if let Some(path) = &c.out {
        super::paper(&mut v, None, path, |press| press.watch(&list))?;
    }
    if c.json {
        out::print_json(&json::watch(&list))?;
    } else {
        out::print(text(&v.ship_line(), &list, c.all, &as_of(&list, c.as_of)))?;
    }
    Ok(0)
}

fn text(ship: &str, list: &WatchList, all: bool, as_of: &str) -> String {
    let mut s = format!("{ship}: {as_of}\n");
    let count = |state| list.count(state);
    let _ = writeln!(
        s,
        "{} urgent, {} act, {} watch, {} ok",
        count(State::Urgent),
        count(State::Act),
        count(State::Watch),
        count(State::Ok)
    );
    for b in list.boxes.iter().filter(|b| all || b.state != State::Ok) {
        s.push('\n');
        push_line(&mut s, b);
    }
    if list.boxes.is_empty() {
        s.push_str("\nNo boxes yet: holdfast load takes a loading list, holdfast take a round.");
    }
    s.trim_end().to_owned()
}

/// What instant a list speaks of, and loudly how old that is and what was read by then.
pub fn as_of(list: &WatchList, asked: AsOf) -> String {
    let newest = list.boxes.iter().filter_map(|b| b.last_read_at).max();
    as_of_instant(list.as_of, newest, asked, files::now())
}

/// The same, of the newest reading up to that instant.
pub fn as_of_instant(at: Option<Utc>, newest: Option<Utc>, asked: AsOf, now: Utc) -> String {
    let Some(t) = at else {
        return "nothing read yet".to_owned();
    };
    let age_h = now.hours_since(t);
    let age = match age_h {
        h if h < 1.0 => "less than an hour ago".to_owned(),
        h if h < 48.0 => format!("{h:.0} h ago"),
        h => format!("{:.0} days ago", h / 24.0),
    };
    let before = newest.filter(|n| t.hours_since(*n) > 12.0);
    let stale = match (asked, before) {
        (_, Some(n)) => format!("; NOTHING READ SINCE {} UTC", n.to_minute()),
        (AsOf::Latest, _) if age_h > 12.0 => {
            "; NOTHING READ SINCE, every figure is as of then".to_owned()
        }
        (AsOf::At(_), _) if age_h > 12.0 => "; every figure is as of then".to_owned(),
        _ => String::new(),
    };
    format!("as of {} UTC, {age} by this computer's clock{stale}", t.to_minute())
}

/// One box in a few lines: what, where, how long, why, what to do first.
pub fn push_line(s: &mut String, b: &BoxLine) {
    let place = b.cell.map_or_else(
        || b.stow.clone().unwrap_or_else(|| "cell unknown".to_owned()),
        |c| c.to_string(),
    );
    let _ = writeln!(
        s,
        "{:7} {}  {place}  {}",
        b.state.as_str().to_uppercase(),
        b.unit,
        b.cargo.as_deref().unwrap_or("cargo not known")
    );
    let _ = writeln!(s, "        {}", b.reason);
    if let Some(h) = b.hours_to_limit {
        let interval = b
            .hours_to_limit_p90
            .map_or_else(String::new, |[lo, hi]| format!(" ({lo:.1} to {hi:.1} h)"));
        let limit = b.limit.as_deref().unwrap_or("its limit");
        let _ = writeln!(s, "        {h:.1} h{interval} to {limit}");
    }
    if !b.action.is_empty() {
        let _ = writeln!(s, "        Do first: {}", b.action);
    }
}
