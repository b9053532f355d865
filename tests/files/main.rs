//! Files that are read and written, whatever is in them.

#[path = "../bench/mod.rs"]
mod bench;
#[path = "../program/mod.rs"]
mod program;

mod file;
mod kept_files;
mod log;
mod odd_files;
mod rejects;
mod rejects_floods;
