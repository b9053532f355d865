#![no_main]
//! Fuzzes `stock`.

ohmhound_fuzz::fuzzed!(stock);
