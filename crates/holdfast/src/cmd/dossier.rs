//! `holdfast dossier`: the paper and the folder that go with a box.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use lexopt::{Arg, Parser, ValueExt};
use papers::dossier::{Pack, safe_name};
use papers::port::{Common, PortLine};
use papers::sheet::Fonts;
use record::UnitId;
use record::digest::Digest;
use record::dossier::{Dossier, OriginalFile};
use record::sign::SigningKey;
use serde_json::json;
use units::Utc;
use voyage::{AsOf, Gathering, Voyage};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::progress::Bar;
use crate::{files, out};

/// `holdfast dossier --help`
pub const HELP: &str = "\
holdfast dossier UNIT|--all --out DIR [--voyage FILE] [--as-of latest|now|TIME] [--who NAME]
                 [--json]

Makes the paper that goes with a box and can stand by itself: DIR/UNIT/dossier.pdf (PDF/A-3), with
the story on the first page, every reading with its source, gaps, alarms and what was done, spells
without power, set points with who and why, calibrations, cold treatment, gauge sheets, vacuum
holds, the log, and lines to sign on. Beside it, and attached to it: the data as CSV, the original
files byte for byte, the journal entries with their proofs (entries.jsonl), and manifest.json with
its signature. holdfast verify checks the folder, or the PDF alone, on any computer.

It prints what was recorded and judges nothing. Blank means not measured.

--all       every refrigerated box listed or read. Files with many boxes' data (larger than 4 kB)
            then lie once in DIR/originals/ and are named in each manifest with their SHA-256 but
            not attached. DIR/ports/PORT.pdf: one line for each box of a port, what to hand over.
--as-of     nothing later is looked at; the latest reading when not given
--who       who makes it; the first dossier of a voyage enters the ship's public key in the
            journal under that name

The signing key is made at the first use, apart from the voyage file (HOLDFAST_KEY names another
place). Keep it on board; send the public key and the root ashore with the daily message.

example: holdfast dossier QQQU1000011 --out handover --voyage v017.holdfast";

/// With `--all`, a file with many boxes' data is attached up to this size.
const ATTACHED_MOST: u64 = 4096;
/// Workers at most.
const WORKERS_MOST: usize = 8;

/// Options.
pub struct DossierOf {
    unit: Option<UnitId>,
    out: PathBuf,
    voyage: Option<PathBuf>,
    as_of: AsOf,
    who: Option<String>,
    json: bool,
}

/// Reads what stands after `dossier`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let (mut typed, mut all, mut out) = (String::new(), false, None);
    let (mut voyage, mut who, mut json, mut as_of) = (None, None, false, AsOf::Latest);
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => json = true,
            Arg::Long("all") => all = true,
            Arg::Long("out") => out = Some(PathBuf::from(parser.value().map_err(usage)?)),
            Arg::Long("voyage") => voyage = Some(parser.value().map_err(usage)?.into()),
            Arg::Long("who") => {
                who = Some(parser.value().and_then(ValueExt::string).map_err(usage)?);
            }
            Arg::Long("as-of") => as_of = super::repair::as_of(parser)?,
            Arg::Value(v) => typed.push_str(&v.to_string_lossy()),
            other => return Err(usage(other.unexpected())),
        }
    }
    let unit = UnitId::from_text(&typed);
    if unit.is_some() == all {
        return Err(Fail::refused("dossier: name one box or --all; holdfast dossier --help"));
    }
    let out = out.ok_or_else(|| {
        Fail::refused("dossier: name the folder to write into with --out; holdfast dossier --help")
    })?;
    Ok(Invocation::Run(Command::Dossier(DossierOf { unit, out, voyage, as_of, who, json })))
}

/// Makes what was asked for.
pub fn run(c: &DossierOf) -> Result<u8, Fail> {
    let path = files::voyage_path(c.voyage.as_deref());
    let mut voyage = Voyage::open(&path)?;
    let made_at = files::now();
    let key = voyage.ready_to_sign(&files::who(c.who.as_deref()), made_at)?;
    // Every worker must speak of the same instant.
    let as_of = voyage.instant(c.as_of)?.map_or(AsOf::Latest, AsOf::At);
    let task = Task { out: c.out.clone(), path, as_of, made_at, key };
    match &c.unit {
        Some(unit) => one(&task, &voyage, unit, c.json),
        None => all(&task, &voyage, c.json),
    }
}

/// What every dossier of one command has in common.
struct Task {
    out: PathBuf,
    path: PathBuf,
    as_of: AsOf,
    made_at: Utc,
    key: SigningKey,
}

fn fonts() -> Result<Fonts, Fail> {
    Fonts::load().ok_or_else(|| Fail::refused("dossier: the program's fonts cannot be read"))
}

fn cannot(what: &Path, e: &dyn std::fmt::Display) -> Fail {
    Fail::refused(format!("{}: {e}; check the folder and the room on the disk", what.display()))
}

fn one(task: &Task, voyage: &Voyage, unit: &UnitId, as_json: bool) -> Result<u8, Fail> {
    let g = voyage.gathering()?;
    let Some(d) = g.dossier(unit, task.as_of, task.made_at)? else {
        return Err(Fail::refused(format!(
            "box {unit}: on no list and never read; check the number, holdfast watch --all lists \
             them"
        )));
    };
    let pack = web::dossier::make(&g, &d, &fonts()?, &task.key, &|_| false)
        .map_err(|e| Fail::refused(format!("dossier of {unit}: {e}")))?;
    let folder = write_folder(&task.out, unit, &pack)?;
    let pdf = folder.join("dossier.pdf");
    if as_json {
        out::print_json(&json!({
            "unit": unit.as_str(),
            "folder": folder.display().to_string(),
            "pdf": pdf.display().to_string(),
            "pages": pack.pages,
            "files": pack.files.len(),
            "entries": d.entries,
            "root": d.root.to_string(),
            "public_key": task.key.public().to_string(),
        }))?;
    } else {
        out::print(format!(
            "{}: {} pages, {} files beside it\nroot {} over {} entries\nholdfast verify {}",
            pdf.display(),
            pack.pages,
            pack.files.len(),
            d.root,
            d.entries,
            folder.display()
        ))?;
    }
    Ok(0)
}

/// Writes a box's folder whole: beside its place first, then moved there.
fn write_folder(out: &Path, unit: &UnitId, pack: &Pack) -> Result<PathBuf, Fail> {
    let folder = out.join(safe_name(unit.as_str()));
    let made = out.join(format!(".{}.new", safe_name(unit.as_str())));
    let write = || -> std::io::Result<()> {
        let _ = fs::remove_dir_all(&made);
        fs::create_dir_all(&made)?;
        fs::write(made.join("dossier.pdf"), &pack.pdf)?;
        for f in &pack.files {
            let path = made.join(&f.name);
            if let Some(parent) = path.parent() {
                fs::create_dir_all(parent)?;
            }
            fs::write(path, &f.bytes)?;
        }
        Ok(())
    };
    write().map_err(|e| cannot(&made, &e))?;
    if folder.exists() {
        if !is_dossier(&folder) {
            let _ = fs::remove_dir_all(&made);
            return Err(Fail::refused(format!(
                "{}: it is there already and is no dossier; name another folder with --out",
                folder.display()
            )));
        }
        fs::remove_dir_all(&folder).map_err(|e| cannot(&folder, &e))?;
    }
    fs::rename(&made, &folder).map_err(|e| cannot(&folder, &e))?;
    Ok(folder)
}

/// An older dossier may be replaced; nothing else is.
fn is_dossier(folder: &Path) -> bool {
    let manifest = fs::read(folder.join("manifest.json")).ok();
    let manifest = manifest.and_then(|b| serde_json::from_slice::<serde_json::Value>(&b).ok());
    manifest.is_some_and(|m| m["kind"].as_str().is_some_and(|k| k.starts_with("holdfast dossier")))
}

fn all(task: &Task, voyage: &Voyage, as_json: bool) -> Result<u8, Fail> {
    let units = voyage.dossier_units()?;
    let first = voyage.gathering()?;
    let (entries, root) = (first.proofs().size() as u64, first.proofs().root());
    drop(first);
    fs::create_dir_all(&task.out).map_err(|e| cannot(&task.out, &e))?;
    let bar = Bar::start("dossiers");
    let work = Work {
        task,
        units: &units,
        next: AtomicUsize::new(0),
        done: AtomicUsize::new(0),
        entries,
        shared: Mutex::default(),
        lines: Mutex::default(),
    };
    let workers =
        std::thread::available_parallelism().map_or(1, usize::from).clamp(1, WORKERS_MOST);
    let outcomes: Vec<Result<(), Fail>> = std::thread::scope(|s| {
        let handles: Vec<_> = (0..workers).map(|_| s.spawn(|| work.run())).collect();
        loop {
            bar.at(work.done.load(Ordering::Relaxed) as u64, units.len() as u64);
            if handles.iter().all(std::thread::ScopedJoinHandle::is_finished) {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        let stopped = || Err(Fail::refused("dossier: a worker stopped; try again"));
        handles.into_iter().map(|h| h.join().unwrap_or_else(|_| stopped())).collect()
    });
    drop(bar);
    outcomes.into_iter().collect::<Result<Vec<()>, Fail>>()?;
    let common = Common {
        ship_line: voyage.ship_line(),
        made_at: task.made_at,
        entries,
        root,
        public_key: task.key.public(),
    };
    let lines = work.lines.into_inner().unwrap_or_default();
    let ports = write_ports(task, &common, lines)?;
    if as_json {
        out::print_json(&json!({
            "folder": task.out.display().to_string(),
            "boxes": units.len(),
            "ports": ports,
            "entries": entries,
            "root": root.to_string(),
            "public_key": task.key.public().to_string(),
        }))?;
    } else {
        out::print(format!(
            "{} dossiers and {} port sheets in {}\nroot {root} over {entries} entries\n\
             holdfast verify {}/UNIT",
            units.len(),
            ports.len(),
            task.out.display(),
            task.out.display()
        ))?;
    }
    Ok(0)
}

/// Work that several threads share.
struct Work<'a> {
    task: &'a Task,
    units: &'a [UnitId],
    next: AtomicUsize,
    done: AtomicUsize,
    entries: u64,
    shared: Mutex<BTreeMap<Digest, ()>>,
    lines: Mutex<Vec<(UnitId, PortLine)>>,
}

impl Work<'_> {
    fn run(&self) -> Result<(), Fail> {
        let outcome = self.boxes();
        if outcome.is_err() {
            // The others need not go on.
            self.next.store(self.units.len(), Ordering::Relaxed);
        }
        outcome
    }

    fn boxes(&self) -> Result<(), Fail> {
        let voyage = Voyage::open(&self.task.path)?;
        let g = voyage.gathering()?;
        if g.proofs().size() as u64 != self.entries {
            return Err(Fail::refused(
                "dossier: something was entered in the voyage file meanwhile; run it again",
            ));
        }
        let fonts = fonts()?;
        while let Some(unit) = self.units.get(self.next.fetch_add(1, Ordering::Relaxed)) {
            if let Some(d) = g.dossier(unit, self.task.as_of, self.task.made_at)? {
                self.one(&g, &d, &fonts)?;
            }
            self.done.fetch_add(1, Ordering::Relaxed);
        }
        Ok(())
    }

    fn one(&self, g: &Gathering<'_>, d: &Dossier, fonts: &Fonts) -> Result<(), Fail> {
        let shared = |o: &OriginalFile| o.whole_ship && o.bytes > ATTACHED_MOST;
        for o in d.originals.iter().filter(|o| shared(o)) {
            self.share(g, o)?;
        }
        let pack = web::dossier::make(g, d, fonts, &self.task.key, &shared)
            .map_err(|e| Fail::refused(format!("dossier of {}: {e}", d.unit)))?;
        write_folder(&self.task.out, &d.unit, &pack)?;
        let line = PortLine::of(d, &pack.pdf, pack.pages);
        if let Ok(mut lines) = self.lines.lock() {
            lines.push((d.unit.clone(), line));
        }
        Ok(())
    }

    /// Writes a shared original once.
    fn share(&self, g: &Gathering<'_>, o: &OriginalFile) -> Result<(), Fail> {
        let Ok(mut written) = self.shared.lock() else { return Ok(()) };
        if written.insert(o.sha256, ()).is_some() {
            return Ok(());
        }
        let folder = self.task.out.join("originals");
        fs::create_dir_all(&folder).map_err(|e| cannot(&folder, &e))?;
        let path = folder.join(web::dossier::shared_name(o));
        let bytes = g.original(&o.sha256)?.unwrap_or_default();
        fs::write(&path, bytes).map_err(|e| cannot(&path, &e))
    }
}

fn write_ports(
    task: &Task,
    common: &Common,
    mut lines: Vec<(UnitId, PortLine)>,
) -> Result<Vec<String>, Fail> {
    lines.sort_by(|a, b| a.0.cmp(&b.0));
    let mut by_port: BTreeMap<String, Vec<PortLine>> = BTreeMap::new();
    for (_, line) in lines {
        by_port.entry(line.port.clone()).or_default().push(line);
    }
    let folder = task.out.join("ports");
    fs::create_dir_all(&folder).map_err(|e| cannot(&folder, &e))?;
    let fonts = fonts()?;
    let mut out = Vec::new();
    for (port, lines) in &by_port {
        let name = if port.is_empty() { "not-known".to_owned() } else { safe_name(port) };
        let path = folder.join(format!("{name}.pdf"));
        let sign = |bytes: &[u8]| task.key.sign(bytes);
        let pdf = papers::port::sheet(port, lines, common, &fonts, &sign)
            .map_err(|e| Fail::refused(format!("sheet of {name}: {e}")))?;
        fs::write(&path, pdf).map_err(|e| cannot(&path, &e))?;
        out.push(path.display().to_string());
    }
    Ok(out)
}
