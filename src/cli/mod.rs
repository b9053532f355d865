//! The command line: what was typed, what it means, and where the answers go.

mod args;
mod bench;
mod check;
mod completions;
mod curve;
mod diagnose;
mod editor;
mod fault_table;
mod help;
mod inputs;
mod kinds;
mod lesson;
mod manual;
mod marking;
mod next;
mod output;
mod patience;
mod picture;
mod quiz;
mod report;
mod schema;
mod session;
mod solve;
mod starter;
mod substitute;
mod threads;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

use args::{Args, Command};
use output::Output;

/// How a command ended, as scripts see it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Exit {
    /// Done; warnings alone too.
    Done = 0,
    /// The answer is "no".
    No = 1,
    /// Bad input or usage.
    BadInput = 2,
    /// No operating point.
    NoPoint = 3,
}

/// What a command could not do; it has been told already.
struct Stop(Exit);

/// The command line, with the forms of fault phrases under `help faults` too.
fn command() -> clap::Command {
    let forms = help::forms();
    Args::command().mut_subcommand("faults", |faults| faults.after_help(forms))
}

/// Runs the program.
pub(crate) fn run() -> ExitCode {
    let parsed = command().try_get_matches().and_then(|found| Args::from_arg_matches(&found));
    let args = match parsed {
        Ok(args) => args,
        Err(error) => {
            // Help and version come this way too, and are no errors; on a full disk they are.
            let is_told = match error.print() {
                Ok(()) => true,
                Err(why) => why.kind() == std::io::ErrorKind::BrokenPipe,
            };
            let is_done = is_told && !error.use_stderr();
            return ExitCode::from(if is_done { Exit::Done } else { Exit::BadInput } as u8);
        }
    };
    let output = Output::new(args.color);
    let is_much = threads::are_worth_it(&args.command);
    let _threads = is_much.then(|| threads::start(args.threads));
    let result = match &args.command {
        Command::Starter(command) => starter::run(command, &output),
        Command::Check(command) => check::run(command, &output),
        Command::Solve(command) => solve::run(command, &output),
        Command::Diagnose(command) => diagnose::run(command, &output),
        Command::Next(command) => next::run(command, &output),
        Command::Bench(command) => bench::run(command, &output),
        Command::Substitute(command) => substitute::run(command, &output),
        Command::Marking(command) => marking::run(command, &output),
        Command::Curve(command) => curve::run(command, &output),
        Command::Report(command) => report::run(command, &output),
        Command::Quiz(command) => quiz::run(command, &output),
        Command::FaultTable(command) => fault_table::run(command, &output),
        Command::Lesson(command) => lesson::run(command, &output),
        Command::Kinds(command) => kinds::run(command, &output),
        Command::Faults => help::faults(&output),
        Command::Schema(command) => schema::run(command, &output),
        Command::Completions(command) => completions::run(command, &output),
        Command::Manual(command) => manual::run(command, &output),
    };
    let exit = result.unwrap_or_else(|Stop(exit)| exit);
    ExitCode::from(exit as u8)
}
