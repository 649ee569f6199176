//! Entries into the account.

use record::Act;
use serde_json::json;
use units::Utc;
use voyage::{Words, gas_act, has_come};

use super::{Gas, Verb, refuse};
use crate::fail::Fail;
use crate::{files, out};

/// Enters what was typed.
pub fn run(c: &Gas) -> Result<u8, Fail> {
    let now = files::now();
    let at = match c.text("at") {
        None => now,
        Some(t) => Utc::parse(t).map_err(|e| refuse(format!("--at \"{t}\" {e}")))?,
    };
    has_come("--at", at, now).map_err(refuse)?;
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let who = files::who(c.text("who"));
    let find = |key: &str| word(c, key);
    let words = Words { find: &find, at, who: &who };
    let act = gas_act(c.verb.as_str(), &words, &v.acts().gas)
        .map_err(|e| refuse(format!("{e}; holdfast gas --help")))?;
    let title = act.title();
    let entry = v.enter(&Act::Gas(Box::new(act)), &[], &who, now)?;
    if c.json {
        out::print_json(&json!({
            "entry": entry, "who": who, "entered_at": now.to_string(), "words": title,
        }))?;
    } else {
        out::print(format!("entry {entry} by {who}: {title}"))?;
    }
    Ok(0)
}

/// What was typed under a field's name: the word behind the verb, a flag, or an option.
fn word(c: &Gas, key: &str) -> String {
    let behind_verb = match c.verb {
        Verb::Cylinder | Verb::Screen => "id",
        Verb::Weigh => "holder",
        Verb::Strike => "entry",
        _ => "unit",
    };
    if key == behind_verb {
        return c.about.clone().unwrap_or_default();
    }
    // `--certificate` is a person's; a cylinder's card has its facility's.
    let option = match (c.verb, key) {
        (Verb::Cylinder, "certificate") => "facility-certificate".to_owned(),
        _ => key.replace('_', "-"),
    };
    match c.text(&option) {
        Some("") if super::FLAGS.contains(&option.as_str()) => "yes".to_owned(),
        Some(typed) => typed.to_owned(),
        None => String::new(),
    }
}
