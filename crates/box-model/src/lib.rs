//! Cargo biology, box heat, limits.
