//! The program `ohmhound`.
fn main() {}
