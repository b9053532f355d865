#![no_main]
//! Fuzzes `readings`.

ohmhound_fuzz::fuzzed!(readings);
