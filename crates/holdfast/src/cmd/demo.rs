//! `holdfast demo`: a made-up ship's files, taken in like anyone's.

use std::fs;
use std::path::{Path, PathBuf};

use record::{Act, UnitId};
use seatrial::{Output, ShipFile, Trial};
use serde_json::json;
use voyage::{NamedBytes, Voyage};

use crate::args::Demo;
use crate::cmd::serve::serve;
use crate::fail::Fail;
use crate::out;
use crate::progress::Bar;

/// The voyage file of the demo.
const VOYAGE: &str = "demo.holdfast";

/// Folders the demo writes.
const FOLDERS: [&str; 5] = ["lists", "loggers", "rounds", "treatments", "truth"];

/// Writes, takes in, serves.
pub fn run(c: &Demo) -> Result<u8, Fail> {
    make_room(&c.dir)?;
    let trial = Trial { boxes: c.boxes, days: c.days, seed: c.seed };
    let output = {
        let bar = Bar::start("sailing the ship");
        seatrial::run(&trial, &mut |done, all| bar.at(done, all))
    };
    write_all(&c.dir, &output)?;
    let path = c.dir.join(VOYAGE);
    let boxes = take_in(&path, &output)?;
    if c.json {
        out::print_json(&json!({
            "dir": c.dir.display().to_string(),
            "voyage": path.display().to_string(),
            "boxes": boxes,
            "files": output.files.len(),
            "start_at": output.start.to_string(),
            "end_at": output.end.to_string(),
        }))?;
    } else {
        out::remark(&format!(
            "{}, voyage {}: {boxes} boxes, {} files in {}; the truth is aside in {}",
            output.ship,
            output.voyage,
            output.files.len(),
            c.dir.display(),
            c.dir.join("truth").display()
        ));
        if !c.serve {
            out::print(format!("holdfast watch --voyage {}", path.display()))?;
        }
    }
    if c.serve { serve(&path, c.listen) } else { Ok(0) }
}

/// An empty folder, or one of an earlier demo, which is cleared. Anything else is left alone.
fn make_room(dir: &Path) -> Result<(), Fail> {
    let io = |e: std::io::Error| Fail::refused(format!("{}: {e}", dir.display()));
    fs::create_dir_all(dir).map_err(io)?;
    let mut ours = true;
    let mut empty = true;
    for item in fs::read_dir(dir).map_err(io)? {
        let name = item.map_err(io)?.file_name();
        let name = name.to_string_lossy();
        empty = false;
        ours &= FOLDERS.contains(&name.as_ref()) || name.starts_with(VOYAGE);
    }
    if empty {
        return Ok(());
    }
    if !ours || !dir.join("truth").is_dir() {
        return Err(Fail::refused(format!(
            "{}: holds other files than a demo's; name an empty folder with --dir",
            dir.display()
        )));
    }
    for folder in FOLDERS {
        let _ = fs::remove_dir_all(dir.join(folder));
    }
    for ending in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(dir.join(format!("{VOYAGE}{ending}")));
    }
    Ok(())
}

fn write_all(dir: &Path, output: &Output) -> Result<(), Fail> {
    for file in output.files.iter().chain(&output.truth) {
        let path: PathBuf = dir.join(&file.path);
        let io = |e: std::io::Error| Fail::refused(format!("{}: {e}", path.display()));
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(io)?;
        }
        fs::write(&path, &file.bytes).map_err(io)?;
    }
    Ok(())
}

/// Loads the lists one by one, then takes all readings. Entries are dated by the voyage, so that
/// the same seed gives the same voyage file.
fn take_in(path: &Path, output: &Output) -> Result<usize, Fail> {
    let mut v = Voyage::open_or_create(path)?;
    let clerk = output.crew.first().map_or("demo", String::as_str);
    let named = |f: &ShipFile| NamedBytes { name: f.path.clone(), bytes: f.bytes.clone() };
    let of = |folder: &str| -> Vec<&ShipFile> {
        output.files.iter().filter(|f| f.path.starts_with(folder)).collect()
    };
    for list in of("lists/") {
        v.load(&[named(list)], clerk, output.start)?;
    }
    order_treatments(&mut v, output, clerk)?;
    let readings: Vec<NamedBytes> =
        of("loggers/").into_iter().chain(of("rounds/")).map(named).collect();
    let bar = Bar::start("taking in readings");
    v.take(&readings, clerk, output.end, &mut |done, all| bar.at(done, all))?;
    Ok(v.held().units.values().filter(|u| u.listed.thermal).count())
}

/// Orders the treatments of the trial, with their probes' slurry readings.
fn order_treatments(v: &mut Voyage, output: &Output, clerk: &str) -> Result<(), Fail> {
    let file = |path: &str| output.files.iter().find(|f| f.path == path);
    for t in &output.treatments {
        let (Some(schedule), Some(slurry)) = (file(&t.schedule), file(&t.calibration)) else {
            continue;
        };
        let Some(unit) = UnitId::from_text(&t.unit) else { continue };
        let text = String::from_utf8_lossy(&schedule.bytes);
        let schedule = voyage::schedule_text("", &text, &schedule.path)?;
        v.order_treatment(vec![unit.clone()], schedule, None, clerk, output.start)?;
        let file = NamedBytes { name: slurry.path.clone(), bytes: slurry.bytes.clone() };
        let act = Act::ProbesCalibrated {
            unit,
            at: output.start,
            readings: voyage::read_slurry(&file)?,
            remark: String::new(),
        };
        v.enter(&act, &[file], clerk, output.start)?;
    }
    Ok(())
}
