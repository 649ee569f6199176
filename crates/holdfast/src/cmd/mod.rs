//! One file per command.

use std::path::Path;

use voyage::Voyage;
use web::papers_out::Press;

use crate::fail::Fail;
use crate::{files, out};

pub mod chart;
pub mod demo;
pub mod dossier;
pub mod fluid;
pub mod gas;
pub mod gauge;
pub mod handover;
pub mod instrument;
pub mod load;
pub mod log;
pub mod note;
pub mod one_box;
pub mod power;
pub mod repair;
pub mod report;
pub mod round;
pub mod serve;
pub mod service;
pub mod spares;
pub mod take;
pub mod treatment;
pub mod vacuum;
pub mod verify;
pub mod watch;

/// Writes a paper and says so on standard error. A file that is there and no PDF is left alone.
fn paper(
    v: &mut Voyage,
    who: Option<&str>,
    path: &Path,
    make: impl FnOnce(&Press) -> Result<Vec<u8>, String>,
) -> Result<(), Fail> {
    let cannot = |why: &dyn std::fmt::Display| Fail::refused(format!("{}: {why}", path.display()));
    if std::fs::read(path).is_ok_and(|held| !held.starts_with(b"%PDF-")) {
        return Err(cannot(&"it is there already and is no PDF; name another file with --out"));
    }
    let press = Press::ready(v, &files::who(who), files::now()).map_err(|e| cannot(&e))?;
    let pdf = make(&press).map_err(|e| cannot(&e))?;
    let check =
        |e: std::io::Error| cannot(&format!("{e}; check the folder and the room on the disk"));
    std::fs::write(path, &pdf).map_err(check)?;
    out::remark(&format!("{}: {} kB; holdfast verify checks it", path.display(), pdf.len() / 1000));
    Ok(())
}
