#![no_main]
//! Fuzzes `csv`.

ohmhound_fuzz::fuzzed!(csv);
