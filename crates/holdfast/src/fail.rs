//! How a command ends when it cannot do what was asked.

use std::fmt;

use voyage::Problem;

/// Input or usage refused: one line for standard error and an exit status.
#[derive(Debug)]
pub struct Fail {
    /// One line: what, where, what to do.
    pub line: String,
    /// Exit status; 2 unless a check itself says no.
    pub code: u8,
}

impl Fail {
    /// Refused with status 2.
    pub fn refused(line: impl Into<String>) -> Self {
        // One line, whatever stood in a file's name or a system's message.
        let line: String = line.into().split_whitespace().collect::<Vec<_>>().join(" ");
        Self { line, code: 2 }
    }
}

impl fmt::Display for Fail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.line)
    }
}

impl From<Problem> for Fail {
    fn from(p: Problem) -> Self {
        Self::refused(p.to_string())
    }
}
