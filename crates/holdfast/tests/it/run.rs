//! Running the binary.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// A folder that goes when the test ends, in which commands run.
pub struct Desk {
    dir: tempfile::TempDir,
}

impl Desk {
    pub fn new() -> Self {
        Self { dir: tempfile::tempdir().unwrap() }
    }

    pub fn path(&self) -> &Path {
        self.dir.path()
    }

    pub fn file(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.dir.path().join(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut c = Command::new(env!("CARGO_BIN_EXE_holdfast"));
        c.args(args).current_dir(self.dir.path()).env_remove("HOLDFAST_VOYAGE");
        c
    }

    pub fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().unwrap()
    }

    /// Runs with `--json`, expecting status 0 and one document.
    pub fn json(&self, args: &[&str]) -> Value {
        let all: Vec<&str> = args.iter().copied().chain(["--json"]).collect();
        let out = self.run(&all);
        let err = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(0), "{args:?}: {err}");
        serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{args:?}: {e}"))
    }

    /// Runs, expecting status 2, one line on standard error, nothing on standard output.
    pub fn refused(&self, args: &[&str]) -> String {
        let out = self.run(args);
        let err = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{args:?}: {err}");
        assert_eq!(err.lines().count(), 1, "{args:?}: {err}");
        assert!(out.stdout.is_empty(), "{args:?}");
        err
    }
}

/// Readings of many boxes: `rows` rows from `first_hour` on.
pub fn logger(first_hour: u32, rows: u32) -> String {
    let mut text = String::from("time_utc,unit,set_point_c,supply_c,return_c,on_power,source\n");
    let start = units::Utc::parse("2026-03-01 00:00").unwrap();
    for k in 0..rows {
        let at = start.plus_hours(f64::from(first_hour + k / 40));
        let unit = unit(k % 40);
        let t = f64::from(k % 7) / 10.0;
        text += &format!("{at},{unit},-18.0,{:.1},{:.1},1,logger\n", -18.5 + t, -17.5 + t);
    }
    text
}

/// The k-th made-up unit, with its check digit.
pub fn unit(k: u32) -> String {
    let body = format!("QQQU{:06}", 200_000 + k);
    let digit = record::unit_id::check_digit(&body).unwrap();
    format!("{body}{digit}")
}
