//! What readings say of faults, and what to measure next.

#[path = "../bench/mod.rs"]
mod bench;
#[path = "../chance/mod.rs"]
mod chance;

mod cold_first;
mod coverage;
mod demos;
mod dictionary;
mod doubts;
mod figures;
mod groups;
mod inseparable;
mod planning;
mod proposals;
mod published_faults;
mod recovery;
mod splits;
