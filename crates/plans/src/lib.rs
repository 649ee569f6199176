//! Plans for people and power: who first, demand, restart.
