//! Papers read back by another library.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod message;
mod pdf_a;
