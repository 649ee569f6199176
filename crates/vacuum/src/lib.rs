//! Evacuation: how long it takes, and what a pressure-rise hold says.
