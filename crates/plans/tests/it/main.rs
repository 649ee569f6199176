//! Plans against brute force and against published results of scheduling theory.

mod repair;
