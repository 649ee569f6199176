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
