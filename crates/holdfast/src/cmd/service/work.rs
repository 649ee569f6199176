//! `holdfast service work`: works entered in the voyage, one of them, its paper.

use std::fmt::Write as _;
use std::path::PathBuf;

use record::{ServiceDeed, ServiceEntry, WorkFile};
use serde_json::{Value, json};
use service::Answer;
use service::words::{cautions, instruction};
use voyage::works::Work;

use super::refuse;
use crate::fail::Fail;
use crate::{files, out};

/// What is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ask {
    /// All of them, a line each.
    List,
    /// One.
    Show(String),
    /// One on paper.
    Paper(String, PathBuf),
}

/// What was typed after `service work`.
#[derive(Debug, Clone)]
pub struct Works {
    /// What is asked.
    pub ask: Ask,
    /// The voyage file.
    pub voyage: Option<PathBuf>,
    /// One JSON document.
    pub json: bool,
    /// Who prints.
    pub who: Option<String>,
}

impl Ask {
    /// From the words after `work` and `--out`.
    ///
    /// # Errors
    /// What is missing or too much.
    pub fn of(words: &[String], to: Option<PathBuf>) -> Result<Self, Fail> {
        let verb = words.first().map_or("list", String::as_str);
        let id = || match words {
            [_, id] => Ok(id.trim().to_uppercase()),
            _ => Err(refuse(format!("work {verb}: name one work, as in S1"))),
        };
        let ask = match (verb, &to) {
            ("list", None) if words.len() < 2 => Self::List,
            ("list", None) => return Err(refuse("work list takes no more; or work show ID")),
            ("show", None) => Self::Show(id()?),
            ("paper", Some(to)) => Self::Paper(id()?, to.clone()),
            ("paper", None) => return Err(refuse("work paper: say where to with --out FILE.pdf")),
            ("list" | "show", Some(_)) => return Err(refuse("--out goes with work paper")),
            _ => return Err(refuse(format!("work \"{verb}\" is not known; list, show or paper"))),
        };
        Ok(ask)
    }
}

/// Answers.
pub fn run(c: &Works) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let (id, to) = match &c.ask {
        Ask::List => return list(&v.acts().works, c.json).map(|()| 0),
        Ask::Show(id) => (id, None),
        Ask::Paper(id, to) => (id, Some(to)),
    };
    let Some(file) = v.work(id).cloned() else {
        return Err(refuse(format!(
            "there is no service work \"{id}\" in this voyage; holdfast service work lists them"
        )));
    };
    let work = Work::of(file).map_err(refuse)?;
    if let Some(to) = to {
        crate::cmd::paper(&mut v, c.who.as_deref(), to, |press| press.work(&work))?;
        return Ok(0);
    }
    let on = WayOn::of(&work);
    if c.json {
        out::print_json(&show_json(&work, &on))?;
    } else {
        out::print(show_text(&work, &on).trim_end())?;
    }
    Ok(0)
}

fn list(all: &[WorkFile], as_json: bool) -> Result<(), Fail> {
    if as_json {
        let lines: Vec<Value> = all.iter().map(head_json).collect();
        return out::print_json(&json!({ "works": lines }));
    }
    if all.is_empty() {
        return out::print(
            "No service work was begun on this voyage. Begin one on the page: holdfast serve, \
             then Service.",
        );
    }
    let mut t = String::new();
    for w in all.iter().rev() {
        let _ = writeln!(
            t,
            "{:4} {}  {}, in the hands of {}, {} steps; begun {} UTC, last entry {} UTC\n     {}",
            w.id,
            w.unit,
            w.standing.words(),
            w.person,
            w.steps(),
            w.since().to_minute(),
            w.last_at().to_minute(),
            w.goal_words
        );
    }
    out::print(t.trim_end())
}

fn head_json(w: &WorkFile) -> Value {
    json!({
        "work": w.id,
        "unit": w.unit.as_str(),
        "goal": w.goal,
        "goal_words": w.goal_words,
        "standing": w.standing.words(),
        "over": w.standing.is_over(),
        "person": w.person,
        "steps_done": w.steps(),
        "begun_at": w.since().to_string(),
        "last_entry_at": w.last_at().to_string(),
    })
}

/// What is left to do.
enum WayOn {
    Over,
    Reached,
    Unknown(usize),
    Answered(Answer),
    Failed(String),
}

impl WayOn {
    fn of(w: &Work) -> Self {
        if w.file.standing.is_over() {
            return Self::Over;
        }
        if w.reached() {
            return Self::Reached;
        }
        if !w.is_known() {
            return Self::Unknown(w.fillings.len());
        }
        w.answer().map_or_else(Self::Failed, Self::Answered)
    }

    fn word(&self) -> &'static str {
        match self {
            Self::Over => "over",
            Self::Reached => "reached",
            Self::Unknown(_) => "contents unknown",
            Self::Answered(Answer::Possible(_)) => "known",
            Self::Answered(Answer::Impossible(_)) => "none",
            Self::Failed(_) => "not worked out",
        }
    }
}

fn show_json(w: &Work, on: &WayOn) -> Value {
    let entries: Vec<Value> = w.file.entries.iter().map(entry_json).collect();
    let (next, to_go) = match on {
        WayOn::Answered(Answer::Possible(all)) => {
            let next = all.first().map(|s| {
                json!({"action": s.step.action.id(), "instruction": s.instruction,
                       "cautions": cautions(s.step.action, true),
                       "expect": s.expect.iter().map(super::expect_json).collect::<Vec<_>>()})
            });
            (next, Some(all.len()))
        }
        WayOn::Reached => (None, Some(0)),
        _ => (None, None),
    };
    let dangers: Vec<Value> = w
        .dangers()
        .iter()
        .map(|h| json!({"id": h.id(), "guard": h.guard(), "why": h.why()}))
        .collect();
    let mut out = head_json(&w.file);
    if let Some(map) = out.as_object_mut() {
        map.insert("way_on".into(), on.word().into());
        map.insert("steps_to_go".into(), to_go.into());
        map.insert("next".into(), next.into());
        map.insert("dangers_now".into(), dangers.into());
        map.insert("fillings".into(), w.fillings.len().into());
        map.insert("plant".into(), json!(w.file.plant.keys));
        map.insert("content".into(), json!(w.file.plant.content));
        map.insert("entries".into(), entries.into());
        map.insert("cautions".into(), json!([super::AUTHORITY.trim()]));
    }
    out
}

/// The entry as it stands in the journal, with who entered it.
fn entry_json(e: &ServiceEntry) -> Value {
    let mut out = serde_json::to_value(&e.act).unwrap_or_default();
    if let Some(map) = out.as_object_mut() {
        map.remove("work");
        map.remove("unit");
        map.insert("who".into(), e.who.clone().into());
    }
    out
}

fn show_text(w: &Work, on: &WayOn) -> String {
    let f = &w.file;
    let mut t = format!(
        "Service work {} on {}: {}\n{}, in the hands of {}, {} steps done; begun {} UTC, last \
         entry {} UTC\n",
        f.id,
        f.unit,
        f.goal_words,
        f.standing.words(),
        f.person,
        f.steps(),
        f.since().to_minute(),
        f.last_at().to_minute()
    );
    for h in w.dangers().iter() {
        let _ = writeln!(t, "DANGER NOW: {} ({})", h.why(), h.guard());
    }
    t.push('\n');
    push_way(&mut t, on);
    t += "\nEntered:\n";
    let mut n = 0;
    for e in &f.entries {
        let is_step = matches!(e.act.deed, ServiceDeed::StepDone { .. });
        n += usize::from(is_step);
        let step = if is_step { format!("step {n}: ") } else { String::new() };
        let told = papers::work::told(e).replace('\n', "\n      ");
        let _ = writeln!(t, "  {} UTC  {}  {step}{told}", e.act.at.to_minute(), e.who);
    }
    t + super::AUTHORITY
}

fn push_way(t: &mut String, on: &WayOn) {
    let line = match on {
        WayOn::Over => "Nothing is to be done: the work is over.".to_owned(),
        WayOn::Reached => "The goal is reached; enter on the page that it is finished.".to_owned(),
        WayOn::Failed(why) => format!("The way on could not be worked out: {why}."),
        WayOn::Unknown(ways) => format!(
            "What is inside is not known: {ways} ways of filling fit. The page tells what to read \
             first: holdfast serve, then Service."
        ),
        WayOn::Answered(Answer::Impossible(why)) => {
            super::impossible(t, why);
            return;
        }
        WayOn::Answered(Answer::Possible(all)) => {
            let _ = writeln!(t, "{} steps to go. Next:", all.len());
            if let Some(s) = all.first() {
                for caution in cautions(s.step.action, true) {
                    let _ = writeln!(t, "    ! {caution}");
                }
                let _ = writeln!(t, "    {}", instruction(s.step.action));
                for e in &s.expect {
                    let _ = writeln!(t, "     -> {}: {} ({})", e.what, e.range_words(), e.note);
                }
            }
            return;
        }
    };
    t.push_str(&line);
    t.push('\n');
}
