//! Standard output and standard error. A reader that goes away (`| head`) is no fault.

use std::io::{self, Write};

use crate::fail::Fail;

/// Prints a text and a line end.
pub fn print(text: impl AsRef<str>) -> Result<(), Fail> {
    let mut out = io::stdout().lock();
    let done = out
        .write_all(text.as_ref().as_bytes())
        .and_then(|()| out.write_all(b"\n"))
        .and_then(|()| out.flush());
    match done {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => {
            Err(Fail::refused(format!("standard output: {e}")))
        }
        _ => Ok(()),
    }
}

/// Prints one JSON document.
pub fn print_json(value: &serde_json::Value) -> Result<(), Fail> {
    print(value.to_string())
}

/// One line on standard error.
pub fn complain(fail: &Fail) {
    let _ = writeln!(io::stderr().lock(), "holdfast: {fail}");
}

/// A remark for a person on standard error.
pub fn remark(text: &str) {
    let _ = writeln!(io::stderr().lock(), "{text}");
}

/// What is wrong with instruments in use, for a person, before what they read; empty when nothing
/// is.
pub fn instruments_wrong(all: &[String]) -> String {
    if all.is_empty() {
        return String::new();
    }
    let lines: String = all.iter().map(|line| format!("  - {line}\n")).collect();
    format!("Instruments to look at:\n{lines}\n")
}
