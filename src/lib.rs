//! Which single fault explains the readings of a bench meter.
#![forbid(unsafe_code)]
#![warn(missing_docs)]
#![warn(clippy::print_stdout, clippy::print_stderr)]

pub mod circuit;
pub mod device;
pub mod diagnosis;
pub mod engine;
pub mod fault;
pub mod file;
pub mod finding;
pub mod meter;
pub mod plan;
pub mod quantity;
pub mod report;
pub mod study;
