//! Field cases: what technicians, makers and teachers measured, and what was wrong with the board.
//!
//! Each is a published field case, told in our own words: nets and part names are our own, values
//! and readings are the case's. Where the case leaves out a value that the circuit needs, the test
//! says which value is ours. A reading quoted without an accuracy counts as known to half of its
//! last digit or a little more, and is written with that half-width.

mod bench;
mod chips;
mod drops;
mod leaks;
mod lessons;
mod meters;
mod programmed;
mod set_points;
mod values;
