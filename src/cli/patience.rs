//! Word that the program is at work, where that takes a while.

use std::io::{IsTerminal, Write, stderr};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::time::Duration;

/// What takes longer than this is announced.
const PATIENCE: Duration = Duration::from_millis(500);

/// Does something, and says on a terminal that it is being done where that takes a while: nobody
/// should wonder whether the program still lives.
pub(super) fn patiently<T>(work: impl FnOnce() -> T) -> T {
    if !stderr().is_terminal() {
        return work();
    }
    let (done, waiting) = mpsc::channel::<()>();
    let watcher = std::thread::spawn(move || {
        if waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
            let _ = stderr().write_all(b"  thinking ...\r");
            let _ = waiting.recv();
            let _ = stderr().write_all(b"              \r");
        }
    });
    let result = work();
    drop(done);
    // A watcher that could not write has nothing to say about the result.
    let _ = watcher.join();
    result
}
