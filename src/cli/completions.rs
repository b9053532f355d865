//! `completions`: the script by which a shell completes commands, options and words.

use clap_complete::generate;

use super::args::Completions;
use super::output::Output;
use super::{Exit, Stop};

pub(super) fn run(args: &Completions, output: &Output) -> Result<Exit, Stop> {
    let mut script = Vec::new();
    generate(args.shell, &mut super::command(), "ohmhound", &mut script);
    output.result(&String::from_utf8_lossy(&script))?;
    Ok(Exit::Done)
}
