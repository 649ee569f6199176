//! From bytes to text: byte-order marks, UTF-8, Latin-1; what is no text at all.

use std::borrow::Cow;
use std::fmt;

/// A file that cannot be read as its kind. Displays as one line: where, what, what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable {
    /// Name of the file.
    pub file: String,
    /// Line in it, where one is to blame.
    pub line: Option<u32>,
    /// What is wrong and what to do.
    pub why: String,
}

impl Unreadable {
    pub(crate) fn new(file: &str, line: Option<u32>, why: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line, why: why.into() }
    }
}

impl fmt::Display for Unreadable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: {}", self.file, self.why),
            None => write!(f, "{}: {}", self.file, self.why),
        }
    }
}

impl std::error::Error for Unreadable {}

/// Decodes a file: UTF-8 with or without mark, else ISO 8859-1, in which every byte is a letter.
pub(crate) fn decode<'a>(file: &str, bytes: &'a [u8]) -> Result<Cow<'a, str>, Unreadable> {
    let refuse = |why: &str| Err(Unreadable::new(file, None, why));
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return refuse("the file is empty; ask for it again");
    }
    by_first_bytes(file, bytes)?;
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if bytes.contains(&0) {
        return Err(zero_bytes(file));
    }
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(Cow::Borrowed(text)),
        Err(_) => Ok(Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect())),
    }
}

/// Refuses what its first bytes show to be no text.
pub(crate) fn by_first_bytes(file: &str, bytes: &[u8]) -> Result<(), Unreadable> {
    let refuse = |why: &str| Err(Unreadable::new(file, None, why));
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return refuse("is in UTF-16; save it as CSV in UTF-8 and try again");
    }
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        return refuse(
            "is a spreadsheet workbook or an archive; save the sheet as CSV and try again",
        );
    }
    Ok(())
}

/// A file with zero bytes in it.
pub(crate) fn zero_bytes(file: &str) -> Unreadable {
    let why = "is no text (it holds zero bytes); give the list or the CSV itself";
    Unreadable::new(file, None, why)
}

/// A text short enough to stand in a message.
pub(crate) fn shown(text: &str) -> String {
    const LONGEST: usize = 40;
    let one_line: String =
        text.chars().take(LONGEST).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > LONGEST { format!("{one_line}…") } else { one_line }
}
