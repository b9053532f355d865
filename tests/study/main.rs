//! What is made of a solved board: tables for a class, quizzes, substitutes, starters.

#[path = "../bench/mod.rs"]
mod bench;

mod fault_tables;
mod quiz;
mod quiz_sheets;
mod starters;
mod substitutes;
