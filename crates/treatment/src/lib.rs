//! Cold treatment as a rule engine: schedules as data, a clock, breaches, a verdict.
