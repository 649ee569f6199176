//! The refrigeration circuit: machine card, steady cycle, faults, diagnosis, next measurement.
