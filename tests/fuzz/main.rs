//! Inputs mutated by a seeded generator: a scenario, a drive file, `--set`. Never a panic, never a hang, never memory that
//! grows with a number instead of with the text, never an exit without words.
//!
//! Runs on the stable toolchain as an ordinary test. `FUZZ_ROUNDS` sets how many inputs each target takes, `FUZZ_FROM` the
//! first seed; a failure names its seed, and the same seed makes the same input.

mod drive;
mod grammar;
mod mutate;
mod scenario;
mod set;
mod watch;

/// Memory is counted, so that a case can be asked what it took.
#[global_allocator]
static MEMORY: peak_alloc::PeakAlloc = peak_alloc::PeakAlloc;

#[test]
fn scenarios() {
    watch::rounds("scenario", 600, scenario::one);
}

#[test]
fn drive_files() {
    watch::rounds("drive file", 3000, drive::one);
}

#[test]
fn set_words() {
    watch::rounds("--set", 600, set::one);
}

#[test]
fn drawn_from_the_grammar() {
    watch::alone(|| grammar::rounds(40));
}
