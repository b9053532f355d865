//! The published schemas, of the files and of the output, held against what reads and prints them.

#[path = "../program/mod.rs"]
mod program;

mod files;
mod output;
