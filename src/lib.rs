//! Which single fault explains the readings of a bench meter.
//!
//! ohmhound solves the DC part of a board by modified nodal analysis, lays faults over it, and
//! lists which of them reproduce a technician's readings, how likely each is, and what to measure
//! next. The layers, each using only those before it:
//!
//! | layer | what it holds |
//! | --- | --- |
//! | [`quantity`] | values with units, tolerances, preferred series |
//! | [`finding`] | errors and findings as data, with places in text |
//! | [`circuit`] | nets, parts, setups, overlays, readings: plain data |
//! | [`device`] | the kinds of parts: tables, equations, failure modes |
//! | [`mod@file`] | TOML and CSV to the model: the only untrusted input |
//! | [`engine`] | assembly, Newton's method, checked operating points |
//! | [`fault`] | faults, their phrases, hypotheses and weights |
//! | [`meter`] | what a meter would show |
//! | [`diagnosis`] | which faults reproduce the readings |
//! | [`plan`] | what to measure next |
//! | [`study`] | operating points, bands, substitutes, curves, lessons, fault tables, quizzes |
//! | [`picture`] | the voltage ladder and plots as SVG |
//! | [`report`] | text, JSON, Markdown, HTML |
//! | [`guide`] | tutorial, reference of the files, models, what the numbers mean |
//!
//! Nothing in the library prints, reads the clock or depends on the environment; the same input
//! gives the same result.
#![forbid(unsafe_code)]
#![warn(missing_docs)]
#![warn(clippy::print_stdout, clippy::print_stderr)]
#![warn(clippy::missing_errors_doc, clippy::missing_panics_doc)]

pub mod circuit;
pub mod device;
pub mod diagnosis;
pub mod engine;
pub mod fault;
pub mod file;
pub mod finding;
pub mod guide;
pub mod meter;
pub mod picture;
pub mod plan;
pub mod quantity;
pub mod report;
pub mod study;

/// The README's example runs as a test.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
