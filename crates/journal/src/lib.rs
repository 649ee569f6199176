//! SQLite journal: append-only, hash-chained; knows bytes and order, not meaning.
