//! Random vehicles, seeded and wild: every stepper in the tree against the reference, event by event.
//!
//! The whole, in a release build, prints a summary for each kind:
//! `cargo test --release -p sim-tests --test wild -- --ignored --nocapture`
//! `WILD_PLAIN` and `WILD_FULL` set how many vehicles of each kind it takes, `WILD_FROM` the first seed.

use sim_core::{Options, Record, Stepper, simulate};
use sim_tests::agree::{reference, steppers, tight};
use sim_tests::fleet::{Make, Tally, tally};
use sim_tests::wild::wild;
use sim_tests::wild_full::wild_full;
use sim_tests::wild_log::wild_log;

/// Asserts that nothing broke, that all but one in ten thousand agree on the sequence, and most on times and charge.
fn judge(name: &str, t: &Tally) {
    assert!(t.broken.is_empty(), "{name}: a run broke: {:?}", t.broken);
    let allowed = t.vehicles() / 10_000;
    assert!(t.disagree.len() as u64 <= allowed, "{name}: {:?}", t.disagree);
    // One in a thousand of the full ones leaves the model, and is told so: a heater on an empty battery, a joint past 300 °C.
    // The sample of five hundred happens to hold three of them.
    let refused_at_most = if name.starts_with("full") { 1 + t.vehicles() / 250 } else { 0 };
    assert!(t.refused.len() as u64 <= refused_at_most, "{name}: {:?}", t.refused);
    // The default tolerance is worth a little more than 10 ms, or 1e-6 of charge, to one in a thousand.
    assert!(t.off.len() as u64 <= t.vehicles() / 1000, "{name}: {:?}", t.off);
}

fn fleet(name: &str, from: u64, number: u64, make: Make) {
    let seeds: Vec<u64> = (from..from + number).collect();
    for (stepper, options) in steppers() {
        let t = tally(&seeds, make, &options, &reference());
        let name = format!("{name}, {stepper} stepper");
        t.print(&name);
        judge(&name, &t);
    }
}

/// A number from the environment.
fn asked(key: &str, otherwise: u64) -> u64 {
    std::env::var(key).ok().and_then(|v| v.parse().ok()).unwrap_or(otherwise)
}

#[test]
fn three_hundred_plain() {
    fleet("plain", 1_000_000, 300, wild);
}

#[test]
fn forty_full() {
    // From a seed on that meets none of the stiffest: a debug build has to get through them.
    fleet("full", 100, 40, wild_full);
}

/// Rows that change nothing that acts are no stops: the reference, which takes row by row, sees the same events at the same times.
#[test]
fn twenty_logs() {
    logs(5_000, 20);
}

#[test]
#[ignore = "minutes in a release build"]
fn a_thousand_logs() {
    logs(asked("WILD_FROM", 0), asked("WILD_LOGS", 1000));
}

fn logs(from: u64, number: u64) {
    let seeds: Vec<u64> = (from..from + number).collect();
    let row_by_row = Options { stepper: Stepper::Reference, ..Options::default() };
    let t = tally(&seeds, wild_log, &Options::default(), &row_by_row);
    t.print("logs, over rows");
    judge("full logs, over rows", &t);
    let (mut over, mut by_row) = (0, 0);
    for &seed in seeds.iter().take(10) {
        let (model, profile) = wild_log(seed);
        let run = simulate(&model, &profile, &Options { record: Record::Everything, ..Options::default() });
        if let Ok(run) = run {
            for knot in run.trace.knots() {
                let rows = profile.pieces().index_at(knot.start.plus_ns(knot.ns - 1)) - knot.piece;
                if rows > 0 { over += 1 } else { by_row += 1 }
            }
        }
    }
    assert!(over > 50, "{over} steps over several rows, {by_row} within one: the test says little");
}

/// What studies run with, and ten times that; of ten thousand vehicles those that part from the tight run there.
///
/// 9456 and 7427 are held at the edge of their source and change hands there: the first thousands of times for a few dozen, the
/// second, at 1e-4, until the run gives up. The others hang on less than a run at 1e-4 can tell: 1660 and 7386 count as idle ten
/// microvolts over their target, 1977 comes on once more at the end, and of 4972 and 6179 two events change places that lie 0.1 and
/// 3 ms apart.
const LOOSE: [(f64, &[u64]); 2] = [(1e-5, &[9456]), (1e-4, &[1660, 1977, 4972, 6179, 7386, 7427, 9456])];

/// At loose tolerances times and charge move by more than is allowed of a default run, but nothing is lost: the sequence is
/// that of the tight one.
fn loosely(from: u64, number: u64) {
    let seeds: Vec<u64> = (from..from + number).collect();
    for (tolerance, known) in LOOSE {
        let t = tally(&seeds, wild_full, &Options { tolerance, ..Options::default() }, &tight());
        println!(
            "full at {tolerance:e}: {} vehicles, {} agree, {} off in time or charge, {} ill-conditioned, {} refused \
             alike; disagree {:?}, broken {:?}",
            t.vehicles(),
            t.agree,
            t.off.len(),
            t.ill.len(),
            t.refused.len(),
            t.disagree,
            t.broken
        );
        for (seed, what) in t.broken.iter().chain(&t.disagree) {
            assert!(known.contains(seed), "at {tolerance:e}, seed {seed}: {what}");
        }
        assert!(t.ill.is_empty(), "at {tolerance:e}: {:?}", t.ill);
    }
}

#[test]
fn forty_full_loosely() {
    loosely(100, 40);
}

/// Of ten thousand, `WILD_FULL` of them.
#[test]
#[ignore = "ten minutes in a release build"]
fn ten_thousand_full_loosely() {
    loosely(asked("WILD_FROM", 0), asked("WILD_FULL", 10_000));
}

#[test]
#[ignore = "minutes in a release build"]
fn ten_thousand_plain() {
    fleet("plain", asked("WILD_FROM", 0), asked("WILD_PLAIN", 10_000), wild);
}

/// The explicit stepper takes short steps behind lags and filters: of the full vehicles it runs one in twenty.
const SAMPLE: usize = 20;

/// Before a collapsed starter battery was let carry nothing, 272 of ten thousand parted or were refused: a unit left on below
/// a volt has a fixed loss with two answers, and each stepper took its own (seeds 188, 541, 1969, 8123 among them).
#[test]
#[ignore = "five minutes in a release build"]
fn ten_thousand_full() {
    let (from, number) = (asked("WILD_FROM", 0), asked("WILD_FULL", 10_000));
    let all: Vec<u64> = (from..from + number).collect();
    let sample: Vec<u64> = all.iter().copied().step_by(SAMPLE).collect();
    let default = |stepper| Options { stepper, ..Options::default() };
    let held = [
        ("the tight implicit stepper against the explicit one", &sample, tight(), reference()),
        ("reference stepper", &sample, default(Stepper::Reference), reference()),
        ("fast stepper", &all, default(Stepper::Fast), tight()),
    ];
    let tallies = held.map(|(name, seeds, tried, against)| {
        let t = tally(seeds, wild_full, &tried, &against);
        t.print(&format!("full, {name}"));
        (format!("full, {name}"), t)
    });
    for (name, t) in tallies {
        judge(&name, &t);
    }
}
