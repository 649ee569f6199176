//! Columns of fixed-point numbers, scanned in chunks.
