//! Tables of a voyage file.

/// `HOLD` in ASCII: tells a voyage file from any other SQLite database.
pub const APPLICATION_ID: i32 = 0x484F_4C44;

/// Version of the layout below.
///
/// 1: without a seal. 2: sealed at every commit.
pub const FORMAT_VERSION: i32 = 2;

/// Where the seal lies; see [`crate::seal`].
pub const SEAL_TABLE: &str = "
CREATE TABLE seal (
  id INTEGER PRIMARY KEY,
  bytes BLOB NOT NULL
) STRICT;
";

/// The tables, with triggers that refuse to change or delete what stands.
pub const TABLES: &str = "
CREATE TABLE entry (
  seq INTEGER PRIMARY KEY,
  kind TEXT NOT NULL,
  at_ms INTEGER NOT NULL,
  who TEXT NOT NULL,
  body BLOB NOT NULL,
  row_count INTEGER NOT NULL,
  rows_sha256 BLOB NOT NULL,
  prev_sha256 BLOB NOT NULL,
  sha256 BLOB NOT NULL
) STRICT;
CREATE TABLE original (
  sha256 BLOB PRIMARY KEY,
  size INTEGER NOT NULL,
  packed BLOB NOT NULL
) STRICT;
CREATE TABLE entry_original (
  entry INTEGER NOT NULL,
  n INTEGER NOT NULL,
  name TEXT NOT NULL,
  sha256 BLOB NOT NULL,
  PRIMARY KEY (entry, n)
) STRICT, WITHOUT ROWID;
CREATE TABLE item (
  series TEXT NOT NULL,
  t_ms INTEGER NOT NULL,
  entry INTEGER NOT NULL,
  n INTEGER NOT NULL,
  bytes BLOB NOT NULL,
  PRIMARY KEY (series, t_ms, entry, n)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER entry_stands BEFORE UPDATE ON entry
  BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry
  BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TRIGGER original_stands BEFORE UPDATE ON original
  BEGIN SELECT RAISE(ABORT, 'originals are never changed'); END;
CREATE TRIGGER original_stays BEFORE DELETE ON original
  BEGIN SELECT RAISE(ABORT, 'originals are never deleted'); END;
CREATE TRIGGER entry_original_stands BEFORE UPDATE ON entry_original
  BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entry_original_stays BEFORE DELETE ON entry_original
  BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TRIGGER item_stands BEFORE UPDATE ON item
  BEGIN SELECT RAISE(ABORT, 'rows are never changed'); END;
CREATE TRIGGER item_stays BEFORE DELETE ON item
  BEGIN SELECT RAISE(ABORT, 'rows are never deleted'); END;
";
