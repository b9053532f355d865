//! How many threads compute.
//!
//! The pool is made here and with its number given: neither an environment variable nor a state of
//! the library decides. The thread that runs the command is one of them, so that one thread is no
//! other at all.

use rayon::{ThreadPool, ThreadPoolBuilder};

use super::args::Command;

/// Room for the calls of one thread, in bytes: as much as the first one of a program usually has.
const STACK: usize = 8 << 20;

/// Whether a command computes enough for several threads. Others are done before they have started.
pub(super) fn are_worth_it(command: &Command) -> bool {
    match command {
        Command::Diagnose(_)
        | Command::Next(_)
        | Command::Bench(_)
        | Command::Report(_)
        | Command::Substitute(_)
        | Command::Quiz(_)
        | Command::FaultTable(_) => true,
        Command::Solve(solve) => solve.bands,
        Command::Starter(_)
        | Command::Check(_)
        | Command::Marking(_)
        | Command::Curve(_)
        | Command::Lesson(_)
        | Command::Faults
        | Command::Kinds(_)
        | Command::Schema(_)
        | Command::Completions(_)
        | Command::Manual(_) => false,
    }
}

/// Starts the threads that compute; as many as the machine has cores where no number is given. They
/// are there as long as what is returned.
pub(super) fn start(threads: Option<u16>) -> Option<ThreadPool> {
    let cores = || std::thread::available_parallelism().map_or(1, usize::from);
    let wanted = threads.map_or_else(cores, usize::from);
    let pool = |threads: usize| {
        let builder = ThreadPoolBuilder::new().num_threads(threads).use_current_thread();
        builder.stack_size(STACK).build()
    };
    // Where the system gives no more threads, one is enough: the answers are the same.
    pool(wanted).or_else(|_| pool(1)).ok()
}
