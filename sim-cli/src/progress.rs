//! A sign of life on standard error for work that takes more than a second, where somebody watches.

use crate::streams::Streams;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// How long work may take before anything is said, and between two signs.
const PATIENCE: Duration = Duration::from_secs(1);

/// Does the work; says how long it has been going if somebody watches.
pub fn while_working<T: Send>(io: &mut Streams, what: &str, work: impl FnOnce() -> T + Send) -> T {
    watching(io, work, |begun| format!("{what}, {} s so far", begun.elapsed().as_secs()))
}

/// Does work that counts what it has done; says how much of `all` that is, and how long the rest will take.
pub fn while_counting<T: Send>(
    io: &mut Streams,
    what: &str,
    done: &AtomicU64,
    all: u64,
    work: impl FnOnce() -> T + Send,
) -> T {
    let there = done.load(Ordering::Relaxed);
    watching(io, work, |begun| {
        let (now, seconds) = (done.load(Ordering::Relaxed), begun.elapsed().as_secs_f64());
        let share = 100.0 * now as f64 / all.max(1) as f64;
        let left = match now.saturating_sub(there) {
            0 => String::new(),
            new => format!(", {} left", left(seconds * all.saturating_sub(now) as f64 / new as f64)),
        };
        format!("{now} of {all} {what}, {share:.0} %{left}")
    })
}

/// A time in the roundest words that say enough.
fn left(seconds: f64) -> String {
    match seconds {
        s if s < 100.0 => format!("{} s", s.ceil()),
        s if s < 6000.0 => format!("{} min", (s / 60.0).ceil()),
        s => format!("{:.1} h", s / 3600.0),
    }
}

fn watching<T: Send>(
    io: &mut Streams,
    work: impl FnOnce() -> T + Send,
    told: impl Fn(Instant) -> String,
) -> T {
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
        let mut widest = 0;
        while waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
            let text = told(begun);
            widest = widest.max(text.chars().count());
            let _ = write!(io.err.raw(), "\r{text:<widest$}");
            let _ = io.err.raw().flush();
        }
        if widest > 0 {
            let _ = write!(io.err.raw(), "\r{}\r", " ".repeat(widest));
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
