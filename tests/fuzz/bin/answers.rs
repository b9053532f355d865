#![no_main]
//! Fuzzes `answers`.

ohmhound_fuzz::fuzzed!(answers);
