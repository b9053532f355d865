#![no_main]
//! Fuzzes `diagnose`.

ohmhound_fuzz::fuzzed!(diagnose);
