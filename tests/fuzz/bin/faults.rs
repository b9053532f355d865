#![no_main]
//! Fuzzes `faults`.

ohmhound_fuzz::fuzzed!(faults);
