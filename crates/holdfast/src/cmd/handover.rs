//! `holdfast handover`: what has to be shown at a port, and what of it is held.

use std::path::PathBuf;

use lexopt::{Arg, Parser, ValueExt};
use papers::sheet::Fonts;
use record::handover::{Handover, Part};
use serde_json::{Map, Value, json};
use voyage::{AsOf, Voyage};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::{files, out};

/// `holdfast handover --help`
pub const HELP: &str = "\
holdfast handover PORT [--out FILE.pdf] [--as-of latest|now|TIME] [--who NAME] [--voyage FILE]
                  [--json]

The hand-over list of a port: containers to discharge there with what is open, cold treatments and
their papers, probe calibrations, recorder charts and where the originals are, service, certificates
of instruments as they stand at arrival, dossiers. Beside each part stands what has to be shown,
where that is written and how far that was read. Blank: nobody entered it. It lists; an authority,
the cargo's papers and the ship's procedures may ask for more.

--out       a signed PDF/A-3 with each part as CSV; the first paper of a voyage enters the ship's
            public key in the journal (HOLDFAST_KEY names the key's place)
--as-of     readings later than this are not looked at; the latest reading when not given

example: holdfast handover XXNOR --out handover/XXNOR-list.pdf
         holdfast treatment arrival XXNOR --eta 2026-03-20T06:00Z     (certificates then are
                                                             judged as of that day)";

/// Options.
pub struct HandoverOf {
    port: String,
    out: Option<PathBuf>,
    as_of: AsOf,
    who: Option<String>,
    voyage: Option<PathBuf>,
    json: bool,
}

/// Reads what stands after `handover`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = HandoverOf {
        port: String::new(),
        out: None,
        as_of: AsOf::Latest,
        who: None,
        voyage: None,
        json: false,
    };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("out") => c.out = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("voyage") => c.voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("as-of") => c.as_of = super::repair::as_of(parser)?,
            Arg::Long("who") => {
                c.who = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Value(v) if c.port.is_empty() => c.port = v.to_string_lossy().into_owned(),
            other => return Err(usage(other.unexpected())),
        }
    }
    if c.port.trim().is_empty() {
        return Err(Fail::refused("handover: name the port; holdfast handover --help"));
    }
    Ok(Invocation::Run(Command::Handover(c)))
}

/// Makes it.
pub fn run(c: &HandoverOf) -> Result<u8, Fail> {
    let mut v = files::open_voyage(c.voyage.as_deref())?;
    let now = files::now();
    // Asked for once before the key is entered: a slip in the port must store nothing.
    let mut list = asked(&v, c, now)?;
    if let Some(path) = &c.out {
        let key = v.ready_to_sign(&files::who(c.who.as_deref()), now)?;
        list = asked(&v, c, now)?;
        let cannot = |e: &dyn std::fmt::Display| {
            let what = path.display();
            Fail::refused(format!("{what}: {e}; check the folder and the room on the disk"))
        };
        let fonts = Fonts::load()
            .ok_or_else(|| Fail::refused("handover: the program's fonts cannot be read"))?;
        let pdf = papers::handover::paper(&list, &fonts, key.public(), &|b| key.sign(b))
            .map_err(|e| Fail::refused(format!("handover: {e}")))?;
        if let Some(parent) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
            std::fs::create_dir_all(parent).map_err(|e| cannot(&e))?;
        }
        std::fs::write(path, pdf).map_err(|e| cannot(&e))?;
    }
    let path = c.out.as_ref().map(|p| p.display().to_string());
    if c.json {
        out::print_json(&list_json(&list, path.as_deref()))?;
    } else {
        let made = path.map(|p| format!("\n\n{p}\nholdfast verify {p}")).unwrap_or_default();
        out::print(text(&list) + &made)?;
    }
    Ok(0)
}

fn asked(v: &Voyage, c: &HandoverOf, now: units::Utc) -> Result<Handover, Fail> {
    v.handover(&c.port, c.as_of, now)?.ok_or_else(|| {
        let known: Vec<String> = v.handover_ports().into_iter().map(|(p, _)| p).collect();
        let known = match known.as_slice() {
            [] => "no list names a port of discharge".to_owned(),
            all => format!("the list names {}", all.join(", ")),
        };
        Fail::refused(format!("handover: no container is for \"{}\"; {known}", c.port.trim()))
    })
}

fn text(h: &Handover) -> String {
    let eta = h.eta.map_or_else(
        || "arrival not known".to_owned(),
        |t| format!("expected {} UTC", t.to_minute()),
    );
    let mut s = format!("{}: what to show at {} ({eta}), {} boxes", h.ship_line, h.port, h.boxes);
    s += "\n\nStill open";
    if h.open.is_empty() {
        s += "\n  Nothing that is entered is open.";
    }
    for line in &h.open {
        s += &format!("\n  [ ] {line}");
    }
    for p in &h.parts {
        s += &format!("\n\n{}", p.title);
        for m in p.musts {
            s += &format!("\n  must: {} [{}; {}]", m.what, m.source, m.trust);
        }
        if p.rows.is_empty() {
            s += &format!("\n  {}", p.empty);
        }
        for row in &p.rows {
            let cells = p.columns.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
            let told: Vec<String> = cells
                .enumerate()
                .map(|(i, ((_, head), cell))| match i {
                    0 => cell.clone(),
                    _ => format!("{} {cell}", head.trim_start_matches('>')),
                })
                .collect();
            s += &format!("\n  - {}", told.join("; "));
        }
    }
    s + &format!("\n\nroot {} over {} entries", h.root, h.entries)
}

fn list_json(h: &Handover, path: Option<&str>) -> Value {
    let mut parts = Map::new();
    for p in &h.parts {
        parts.insert(p.key.to_owned(), part_json(p));
    }
    json!({
        "port": h.port, "ship": h.ship_line, "eta_at": h.eta.map(|t| t.to_string()),
        "as_of_at": h.as_of.map(|t| t.to_string()), "made_at": h.made_at.to_string(),
        "boxes": h.boxes, "open": h.open, "parts": parts, "entries": h.entries,
        "root": h.root.to_string(), "pdf": path,
    })
}

fn part_json(p: &Part) -> Value {
    let row = |row: &Vec<String>| -> Value {
        let cells = p.columns.iter().zip(row).map(|((key, _), cell)| {
            ((*key).to_owned(), if cell.is_empty() { Value::Null } else { json!(cell) })
        });
        Value::Object(cells.collect())
    };
    let musts: Vec<Value> = p
        .musts
        .iter()
        .map(|m| json!({ "what": m.what, "source": m.source, "trust": m.trust }))
        .collect();
    json!({ "title": p.title, "must": musts, "rows": p.rows.iter().map(row).collect::<Vec<_>>() })
}
