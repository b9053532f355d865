//! The program as it is run.

#[path = "../program/mod.rs"]
mod program;

mod install;
mod json;
mod picture;
mod quiz;
mod refusals;
mod screens;
mod session;
mod threads;
