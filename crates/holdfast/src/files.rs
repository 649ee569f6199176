//! Reading the files a command names, and finding the voyage.

use std::path::{Path, PathBuf};

use voyage::{NamedBytes, Voyage};
pub use web::now;

use crate::fail::Fail;

/// Name of the voyage file where nobody named one.
pub const DEFAULT_VOYAGE: &str = "voyage.holdfast";

/// Reads every file whole. The first that cannot be read refuses the command.
pub fn read_all(paths: &[PathBuf]) -> Result<Vec<NamedBytes>, Fail> {
    paths
        .iter()
        .map(|path| {
            let bytes = std::fs::read(path).map_err(|e| {
                Fail::refused(format!("{}: {e}; check the name and try again", path.display()))
            })?;
            Ok(NamedBytes { name: path.display().to_string(), bytes })
        })
        .collect()
}

/// The voyage file named on the command line or in the environment.
pub fn named_voyage(option: Option<&Path>) -> Option<PathBuf> {
    let from_environment =
        || std::env::var_os("HOLDFAST_VOYAGE").filter(|v| !v.is_empty()).map(PathBuf::from);
    option.map(Path::to_path_buf).or_else(from_environment)
}

/// The voyage file to use: named, or the default.
pub fn voyage_path(option: Option<&Path>) -> PathBuf {
    named_voyage(option).unwrap_or_else(|| PathBuf::from(DEFAULT_VOYAGE))
}

/// Opens the voyage for looking.
pub fn open_voyage(option: Option<&Path>) -> Result<Voyage, Fail> {
    Ok(Voyage::open(&voyage_path(option))?)
}

/// Who is at the keyboard: `--who`, else the login name.
pub fn who(option: Option<&str>) -> String {
    let login = || ["USER", "USERNAME"].iter().find_map(|v| std::env::var(v).ok());
    option.map(str::to_owned).or_else(login).unwrap_or_else(|| "not named".to_owned())
}
