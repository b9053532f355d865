//! The program `ohmhound`: one command per file of `cli`, all of them over the library.
#![forbid(unsafe_code)]

mod cli;

fn main() -> std::process::ExitCode {
    cli::run()
}
