//! `holdfast verify`: has anything been altered? A voyage file, a dossier's folder, a folder of
//! them, or a PDF alone; nothing is opened for writing, and no voyage is needed.

mod against;
mod attached;
mod dossier;
mod found;
mod pdf;
mod trials;

use std::fs;
use std::path::{Path, PathBuf};

use lexopt::{Arg, Parser, ValueExt};
use voyage::{Verification, Voyage};

use crate::args::{Command, Invocation, usage};
use crate::fail::Fail;
use crate::out;
use against::Against;
use found::{Found, Kind};

/// `holdfast verify --help`
pub const HELP: &str = "\
holdfast verify FILE|DIR [--against ROOT@N] [--try N] [--json]

Has anything been altered? Works on any computer, without the voyage, and writes nothing:
  a voyage file      every reading, original, entry, and every byte of the file besides
  a dossier's folder the signed list of files, each file, each entry with its proof, the PDF
  a folder of those  all of them, the originals they share, voyage files and PDFs in it
  a PDF alone        every byte of it, and the signature
Names the first entry or file that was altered. Exit status 3 when anything was.

--against  a root from an earlier message or dossier, as printed: 64 digits (16 will do) @ the
           number of entries. Says whether the log now at hand continues that one. This is
           the only way to see a log that was rewritten whole, hashes included.
--try      damages a copy in memory N times at random (bits, deletions, swaps, cuts) and says how
           often it was seen

example: holdfast verify v017.holdfast --against 5b1c0de97a204f3e@212
         holdfast verify dossiers/QQQU1000011 --json";

/// Options.
pub struct Verify {
    path: PathBuf,
    against: Option<Against>,
    tries: Option<u64>,
    json: bool,
}

/// Reads what stands after `verify`.
pub fn parse(parser: &mut Parser) -> Result<Invocation, Fail> {
    let mut c = Verify { path: PathBuf::new(), against: None, tries: None, json: false };
    while let Some(arg) = parser.next().map_err(usage)? {
        match arg {
            Arg::Long("help") | Arg::Short('h') => return Ok(Invocation::Help(HELP)),
            Arg::Long("json") => c.json = true,
            Arg::Long("against") => {
                let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
                c.against = Some(Against::parse(&text)?);
            }
            Arg::Long("try") => {
                let text = parser.value().and_then(ValueExt::string).map_err(usage)?;
                let n = text.parse().ok().filter(|n| (1..=1_000_000).contains(n));
                c.tries = Some(n.ok_or_else(|| {
                    Fail::refused(format!("--try \"{text}\": write a number from 1 to 1000000"))
                })?);
            }
            Arg::Value(v) if c.path.as_os_str().is_empty() => c.path = v.into(),
            other => return Err(usage(other.unexpected())),
        }
    }
    if c.path.as_os_str().is_empty() {
        return Err(Fail::refused("verify: name a file or a folder; holdfast verify --help"));
    }
    Ok(Invocation::Run(Command::Verify(c)))
}

/// Checks; status 3 when anything was altered.
pub fn run(c: &Verify) -> Result<u8, Fail> {
    if let Some(n) = c.tries {
        return trials::run(&c.path, n, c.json);
    }
    let mut found = look(&c.path)?;
    if let Some(against) = &c.against {
        against.judge(&mut found)?;
    }
    if c.json {
        out::print_json(&found.json())?;
    } else {
        out::print(found.text())?;
    }
    Ok(if found.problems.is_empty() { 0 } else { 3 })
}

/// Checks whatever lies at a path.
fn look(path: &Path) -> Result<Found, Fail> {
    if path.is_dir() {
        return if dossier::is_one(path) { dossier::check(path) } else { folder(path) };
    }
    let start = first_bytes(path)?;
    if pdf::looks_like_one(path, &start) {
        let bytes = fs::read(path).map_err(|e| unreadable(path, &e))?;
        return pdf::check(path, &bytes);
    }
    Ok(voyage_file(Voyage::verify(path)?))
}

/// A voyage file's outcome.
fn voyage_file(v: Verification) -> Found {
    Found {
        kind: Kind::Voyage,
        entries: Some(v.entries),
        log_entries: Some(v.entries),
        root: Some(v.root),
        tree: Some(v.tree),
        sealed: Some(v.sealed),
        problems: v.problems,
        ..Found::default()
    }
}

/// A folder of dossiers, voyage files and PDFs: everything in it that can be checked.
fn folder(dir: &Path) -> Result<Found, Fail> {
    let mut all = Found { kind: Kind::Folder, ..Found::default() };
    let mut originals = None;
    let mut named = Vec::new();
    let mut waiting = items(dir)?;
    waiting.reverse();
    while let Some(path) = waiting.pop() {
        // Sheets for the ports lie in a folder of their own.
        if path.is_dir() && path.ends_with("ports") {
            waiting.extend(items(&path)?.into_iter().rev());
            continue;
        }
        let one = if path.is_dir() && dossier::is_one(&path) {
            named.extend(dossier::shared_names(&path));
            dossier::check(&path)?
        } else if path.is_dir() && path.ends_with("originals") {
            originals = Some(path);
            continue;
        } else if path.is_file() && (is_voyage(&path) || pdf::looks_like_one(&path, &[])) {
            look(&path)?
        } else {
            continue;
        };
        all.add(&path, one);
    }
    if all.checked == 0 {
        return Err(Fail::refused(format!(
            "{}: holds no voyage file, dossier or PDF; name the folder that does, or the file",
            dir.display()
        )));
    }
    // Originals that several dossiers share: each names those it needs; none may lie there unnamed.
    if let Some(originals) = originals.filter(|_| !named.is_empty()) {
        for path in items(&originals)? {
            let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            if !named.contains(&format!("../originals/{name}")) {
                all.problems
                    .push(format!("originals/{name}: belongs to no dossier of this folder"));
            }
        }
    }
    Ok(all)
}

fn is_voyage(path: &Path) -> bool {
    Voyage::is_voyage(path) || path.extension().is_some_and(|e| e == "holdfast")
}

/// Everything in a folder, by name.
fn items(dir: &Path) -> Result<Vec<PathBuf>, Fail> {
    let io = |e: std::io::Error| unreadable(dir, &e);
    let mut out = Vec::new();
    for item in fs::read_dir(dir).map_err(io)? {
        out.push(item.map_err(io)?.path());
    }
    out.sort();
    Ok(out)
}

fn first_bytes(path: &Path) -> Result<Vec<u8>, Fail> {
    use std::io::Read as _;
    let mut start = Vec::new();
    fs::File::open(path)
        .and_then(|f| f.take(16).read_to_end(&mut start))
        .map_err(|e| unreadable(path, &e))?;
    Ok(start)
}

fn unreadable(path: &Path, e: &std::io::Error) -> Fail {
    Fail::refused(format!("{}: {e}; check the name and try again", path.display()))
}
