#![no_main]
//! Fuzzes `circuit`.

ohmhound_fuzz::fuzzed!(circuit);
