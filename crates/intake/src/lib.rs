//! Bytes in, values and problems out: EDIFACT, CSV; opens nothing.
