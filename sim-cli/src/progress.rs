//! A sign of life on standard error for work that takes more than a second, where somebody watches.

use crate::streams::Streams;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// How long work may take before anything is said, and between two signs.
const PATIENCE: Duration = Duration::from_secs(1);

/// Does the work; says how long it has been going if somebody watches.
pub fn while_working<T: Send>(io: &mut Streams, what: &str, work: impl FnOnce() -> T + Send) -> T {
    if !io.watched {
        return work();
    }
    let begun = Instant::now();
    std::thread::scope(|scope| {
        let (done, waiting) = channel();
        let worker = scope.spawn(move || {
            let result = work();
            let _ = done.send(());
            result
        });
        let mut shown = false;
        while waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
            shown = true;
            let _ = write!(io.err.raw(), "\r{what}, {} s so far", begun.elapsed().as_secs());
            let _ = io.err.raw().flush();
        }
        if shown {
            let _ = write!(io.err.raw(), "\r{}\r", " ".repeat(what.chars().count() + 24));
            let _ = io.err.raw().flush();
        }
        match worker.join() {
            Ok(result) => result,
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_shown_and_taken_away_again() {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let mut input = std::io::empty();
        let mut io = Streams::plain(&mut input, &mut out, &mut err);
        io.watched = true;
        assert_eq!(while_working(&mut io, "simulating", || 1), 1);
        let slow = || std::thread::sleep(PATIENCE + PATIENCE / 4);
        while_working(&mut io, "simulating", slow);
        drop(io);
        let text = String::from_utf8(err).expect("text");
        assert_eq!(text.matches("so far").count(), 1, "nothing is said of quick work");
        assert!(text.starts_with("\rsimulating, 1 s so far\r ") && text.ends_with(" \r"));
    }
}
