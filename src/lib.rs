//! Which single fault explains the readings of a bench meter.
#![forbid(unsafe_code)]
#![warn(missing_docs)]
#![warn(clippy::print_stdout, clippy::print_stderr)]

pub mod circuit;
pub mod device;
pub mod engine;
pub mod file;
pub mod finding;
pub mod quantity;
pub mod report;
