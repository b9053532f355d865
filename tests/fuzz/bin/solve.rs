#![no_main]
//! Fuzzes `solve`.

ohmhound_fuzz::fuzzed!(solve);
