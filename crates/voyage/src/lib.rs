//! One voyage file: load, take, replay, look.
