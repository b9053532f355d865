//! The solver: laws on random circuits, other libraries, closed solutions, textbooks.

#[path = "../strategies/active.rs"]
mod active;
#[path = "../bench/mod.rs"]
mod bench;
#[path = "../chance/mod.rs"]
mod chance;
#[path = "../strategies/mod.rs"]
mod strategies;

mod active_circuits;
mod bands;
mod chips;
mod convergence;
mod curves;
mod independent_solve;
mod junctions;
mod ladder;
mod laws;
mod lines;
mod markings;
mod monte_carlo;
mod ports;
mod quantity;
mod regulators;
mod sensitivities;
mod several_points;
mod sparse;
mod stages;
mod standby;
mod structure;
mod torture;
mod transistors;
mod uncertainty;
mod worked_examples;
