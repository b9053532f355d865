#![no_main]
//! Fuzzes `values`.

ohmhound_fuzz::fuzzed!(values);
