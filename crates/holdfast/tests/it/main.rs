//! The binary as a user runs it: contract, exit status, crashes, a full disk.

mod contract;
mod crash;
mod demo;
mod full_disk;
mod run;
