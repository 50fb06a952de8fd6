//! Takes the rounds of a target one by one: panics and hangs are reported with their seed, and memory is bounded.

use crate::MEMORY;
use sim_tests::dice::Dice;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::Mutex;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// A case that takes longer than this hangs: an ordinary one takes milliseconds.
const HANG: Duration = Duration::from_secs(120);
/// Memory that a case may take whatever it says, and on top of it per byte of its text.
const FIXED_BYTES: usize = 64 << 20;
const PER_BYTE: usize = 2000;

/// One case at a time, or the memory of two would be one number.
static ALONE: Mutex<()> = Mutex::new(());

/// A number from the environment.
pub fn asked(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().map_or(otherwise, |n| n.parse().unwrap_or_else(|_| panic!("{name}: a number")))
}

/// Ends everything, with its seed, where a case hangs.
pub struct Watchdog {
    tell: Sender<u64>,
    thread: JoinHandle<()>,
}

impl Watchdog {
    /// Watches cases that may take so long each.
    pub fn new(name: &str, longest: Duration) -> Watchdog {
        let (tell, told) = channel::<u64>();
        let name = name.to_owned();
        let thread = std::thread::spawn(move || {
            let mut seed = None;
            loop {
                match told.recv_timeout(longest) {
                    Ok(next) => seed = Some(next),
                    Err(RecvTimeoutError::Disconnected) => return,
                    Err(RecvTimeoutError::Timeout) => {
                        eprintln!("{name}: seed {seed:?} hangs");
                        std::process::abort();
                    }
                }
            }
        });
        Watchdog { tell, thread }
    }

    /// A case begins.
    pub fn begins(&self, seed: u64) {
        self.tell.send(seed).expect("the watchdog listens");
    }

    /// All are done.
    pub fn sleep(self) {
        drop(self.tell);
        self.thread.join().expect("the watchdog");
    }
}

/// Runs what counts memory while nothing else does.
pub fn alone(work: impl FnOnce()) {
    let _alone = ALONE.lock().unwrap_or_else(|e| e.into_inner());
    work();
}

/// Runs a target on so many seeds. A target makes its input from the dice, tries it and says how long it was, in bytes, and
/// whether it was taken for good.
///
/// # Panics
/// On the first case that panics, hangs or takes too much memory, with its seed.
pub fn rounds(name: &str, usual: u64, target: fn(&mut Dice) -> (usize, bool)) {
    let _alone = ALONE.lock().unwrap_or_else(|e| e.into_inner());
    let (from, number) = (asked("FUZZ_FROM", 0), asked("FUZZ_ROUNDS", usual));
    let (mut good, mut most) = (0_u64, 0);
    let watchdog = Watchdog::new(name, HANG);
    for seed in from..from + number {
        watchdog.begins(seed);
        MEMORY.reset_peak_usage();
        let before = MEMORY.current_usage();
        let (bytes, taken) =
            catch_unwind(AssertUnwindSafe(|| target(&mut Dice::new(seed)))).unwrap_or_else(|e| {
                eprintln!("{name}: seed {seed} fails; FUZZ_FROM={seed} FUZZ_ROUNDS=1 does it again");
                resume_unwind(e)
            });
        let took = MEMORY.peak_usage().saturating_sub(before);
        most = most.max(took);
        good += u64::from(taken);
        assert!(took <= FIXED_BYTES + PER_BYTE * bytes, "{name}: seed {seed}: {took} bytes for {bytes}");
    }
    watchdog.sleep();
    println!(
        "{name}: {number} inputs from seed {from}, {good} of them without fault, {} MB at most",
        most >> 20
    );
    // Inputs that are all refused, or all taken, say little about what lies behind.
    assert!(number < 300 || (good > 0 && good < number), "{name}: {good} of {number} are good");
}
