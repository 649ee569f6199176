//! What a check found, for a person and for a script.

use std::path::Path;

use record::digest::Digest;
use record::sign::PublicKey;
use serde_json::{Value, json};
use voyage::Tree;

/// What was checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Kind {
    /// A voyage file.
    #[default]
    Voyage,
    /// One dossier's folder.
    Dossier,
    /// A folder of several things.
    Folder,
    /// A PDF by itself.
    Pdf,
}

impl Kind {
    fn as_str(self) -> &'static str {
        match self {
            Self::Voyage => "voyage",
            Self::Dossier => "dossier",
            Self::Folder => "folder",
            Self::Pdf => "pdf",
        }
    }
}

/// The outcome of a check.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// What was checked.
    pub kind: Kind,
    /// Entries checked; `None` where there are none to check.
    pub entries: Option<i64>,
    /// Entries that the root is over.
    pub log_entries: Option<i64>,
    /// The root.
    pub root: Option<Digest>,
    /// The tree under it, of a voyage file.
    pub tree: Option<Tree>,
    /// Whether every byte of a voyage file is covered.
    pub sealed: Option<bool>,
    /// Who signed it.
    pub public_key: Option<PublicKey>,
    /// Things checked one by one: files of a dossier, members of a folder.
    pub checked: usize,
    /// Whether it continues the root it was held against.
    pub continues: Option<bool>,
    /// What does not hold, first entry or file first.
    pub problems: Vec<String>,
}

impl Found {
    /// Takes in what was found in one member of a folder.
    pub fn add(&mut self, path: &Path, one: Self) {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        self.checked += 1;
        self.entries = sum(self.entries, one.entries);
        // One root in the folder: it is the folder's. Several that differ: none is.
        if self.checked == 1 {
            (self.root, self.log_entries, self.tree) = (one.root, one.log_entries, one.tree);
            self.public_key = one.public_key;
        } else if self.root != one.root {
            (self.root, self.log_entries, self.tree) = (None, None, None);
        }
        if self.public_key != one.public_key {
            self.public_key = None;
        }
        self.problems.extend(one.problems.into_iter().map(|p| format!("{name}: {p}")));
    }

    /// The contract's answer and keys of our own.
    pub fn json(&self) -> Value {
        json!({
            "intact": self.problems.is_empty(),
            "entries": self.entries,
            "root": self.root.map(|r| r.to_string()),
            "kind": self.kind.as_str(),
            "log_entries": self.log_entries,
            "sealed": self.sealed,
            "public_key": self.public_key.map(|k| k.to_string()),
            "checked": self.checked,
            "continues": self.continues,
            "first_altered": self.problems.first(),
            "problems": self.problems,
        })
    }

    /// The same for a person.
    pub fn text(&self) -> String {
        let mut s = if self.problems.is_empty() {
            self.intact_text()
        } else {
            let more: Vec<String> = self.problems.iter().take(20).cloned().collect();
            let left = self.problems.len() - more.len();
            let tail = if left > 0 { format!("\n         and {left} more") } else { String::new() };
            format!("ALTERED: {}{tail}", more.join("\n         "))
        };
        if let Some(root) = self.root {
            s += &format!("\nroot {root}");
            if let Some(n) = self.log_entries {
                s += &format!("@{n}");
            }
        }
        if let Some(key) = self.public_key {
            s += &format!("\nsigned with the key {key}");
        }
        match self.continues {
            Some(true) => s += "\nIt continues the root it was held against.",
            Some(false) => {}
            None if self.problems.is_empty() => {
                s += "\nCompare the root, or the key, with one that left the ship before: a record \
                      rewritten\nwhole has others. holdfast verify --help says how.";
            }
            None => {}
        }
        s
    }

    fn intact_text(&self) -> String {
        let n = self.entries.unwrap_or(0);
        match self.kind {
            Kind::Voyage => {
                let bytes = match self.sealed {
                    Some(true) => "and no byte of the file was changed since it was closed",
                    _ => {
                        "(made by an older program: bytes that belong to no entry are not covered; \
                         the next entry covers them)"
                    }
                };
                format!(
                    "intact: {n} entries follow each other, every reading and original has its \
                     hash,\n{bytes}"
                )
            }
            Kind::Dossier => format!(
                "intact: {} files are those that were signed, {n} entries are in the log they \
                 name",
                self.checked
            ),
            Kind::Folder => format!(
                "intact: {} dossiers, voyage files and PDFs checked, {n} entries",
                self.checked
            ),
            Kind::Pdf => match self.entries {
                Some(n) => format!(
                    "intact: not a byte was changed since it was sealed; {} files attached, {n} \
                     entries\nare in the log they name",
                    self.checked
                ),
                None => "intact: not a byte was changed since it was sealed".to_owned(),
            },
        }
    }
}

fn sum(a: Option<i64>, b: Option<i64>) -> Option<i64> {
    match (a, b) {
        (None, None) => None,
        _ => Some(a.unwrap_or(0) + b.unwrap_or(0)),
    }
}
