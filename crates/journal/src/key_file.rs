//! The ship's signing key: one small file apart from the voyage file, readable by its owner only.

use std::env;
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write as _};
use std::path::{Path, PathBuf};

use record::sign::SigningKey;

use crate::JournalError;

/// First word of the file, so that nobody takes it for something else.
const HEAD: &str = "holdfast signing key 1: ";

/// Where the key lies: `HOLDFAST_KEY`, else a folder of the user's own. `None` when neither is
/// known.
#[must_use]
pub fn key_place() -> Option<PathBuf> {
    let set = |name: &str| env::var_os(name).filter(|v| !v.is_empty()).map(PathBuf::from);
    if let Some(path) = set("HOLDFAST_KEY") {
        return Some(path);
    }
    let config = set("XDG_CONFIG_HOME")
        .or_else(|| set("APPDATA"))
        .or_else(|| set("HOME").map(|home| home.join(".config")));
    config.map(|folder| folder.join("holdfast").join("signing-key"))
}

/// The key in a file; made from the operating system's random source when there is no file yet.
///
/// # Errors
/// [`JournalError::Key`]: the file cannot be read or made, or holds no key; it is left as it is.
pub fn load_or_make_key(path: &Path) -> Result<SigningKey, JournalError> {
    match fs::read_to_string(path) {
        Ok(text) => key_of(&text).ok_or_else(|| {
            bad(path, "it holds no signing key; name another file with HOLDFAST_KEY")
        }),
        Err(e) if e.kind() == ErrorKind::NotFound => make(path),
        Err(e) => Err(bad(path, &format!("{e}; name another file with HOLDFAST_KEY"))),
    }
}

fn make(path: &Path) -> Result<SigningKey, JournalError> {
    let system = |e: &dyn std::fmt::Display| {
        bad(path, &format!("{e}; name a file that you may write with HOLDFAST_KEY"))
    };
    let mut seed = [0u8; 32];
    getrandom::fill(&mut seed).map_err(|e| system(&e))?;
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|e| system(&e))?;
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    let mut file = match options.open(path) {
        Ok(file) => file,
        // Another process was quicker: its key is the ship's.
        Err(e) if e.kind() == ErrorKind::AlreadyExists => return theirs(path),
        Err(e) => return Err(system(&e)),
    };
    file.write_all(format!("{HEAD}{}\n", record::hex::text(&seed)).as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(|e| system(&e))?;
    Ok(SigningKey::from_seed(&seed))
}

fn theirs(path: &Path) -> Result<SigningKey, JournalError> {
    let text = fs::read_to_string(path).unwrap_or_default();
    key_of(&text).ok_or_else(|| bad(path, "another program is just making it; try again"))
}

fn key_of(text: &str) -> Option<SigningKey> {
    let hex = text.strip_prefix(HEAD)?.trim_end();
    record::digest::Digest::from_hex(hex).map(|seed| SigningKey::from_seed(&seed.0))
}

fn bad(path: &Path, why: &str) -> JournalError {
    JournalError::Key { path: path.to_path_buf(), why: why.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_is_made_once_and_stays() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("config/holdfast/signing-key");
        let key = load_or_make_key(&path).unwrap();
        assert_eq!(load_or_make_key(&path).unwrap().public(), key.public());
        let other = load_or_make_key(&dir.path().join("other")).unwrap();
        assert_ne!(other.public(), key.public());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        }
    }

    #[test]
    fn a_file_that_holds_no_key_is_refused_and_left() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("notes");
        fs::write(&path, "my notes").unwrap();
        let e = load_or_make_key(&path).unwrap_err().to_string();
        assert!(e.contains("holds no signing key") && e.contains("notes"), "{e}");
        assert_eq!(fs::read(&path).unwrap(), b"my notes");
    }
}
