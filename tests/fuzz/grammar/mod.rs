//! Scenarios drawn from the declarations of the keys: every section, every key over its whole range, every list and log.
//!
//! What `check` takes goes through a run, its explanation and its margins, and everything that comes out must make sense.
//! A new key is drawn as soon as it is declared. `GRAMMAR_ROUNDS` sets how many accepted scenarios are wanted, `GRAMMAR_FROM`
//! the first seed, `GRAMMAR_SECONDS` when to stop at the latest; `GRAMMAR_SHOW=1` prints each
//! before it is tried; a failure prints its scenario and a shrunk one.

mod draw;
mod log;
mod shrink;
mod text;
mod trial;

use crate::MEMORY;
use crate::watch::{Watchdog, asked};
use sim_tests::dice::Dice;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};
use text::Text;
use trial::{Ended, Spent, tried};

/// Memory that everything may take at any time.
const MOST_BYTES: usize = 2 << 30;
/// Longest that one scenario may take, its explanation included, in time of a processor: two thousand drives over a year of days
/// come to a minute, and what stalls comes to more than this.
const MOST_SECONDS: f64 = 180.0;
/// Time on the wall after which a scenario hangs: a failure is shrunk in it too.
const HANG: Duration = Duration::from_secs(1200);
/// The longest that are named.
const NAMED: usize = 8;

/// Draws until so many were accepted; every failure is shrunk, printed and counted.
pub fn rounds(wanted: u64) {
    let (from, wanted) = (asked("GRAMMAR_FROM", 0), asked("GRAMMAR_ROUNDS", wanted));
    let until = Instant::now() + Duration::from_secs(asked("GRAMMAR_SECONDS", 36_000));
    let mut tally = Tally::default();
    let watchdog = Watchdog::new("grammar", HANG);
    let mut seed = from;
    while tally.accepted < wanted && Instant::now() < until {
        watchdog.begins(seed);
        one(seed, &mut tally);
        seed += 1;
    }
    watchdog.sleep();
    tally.print(from, seed);
    assert!(tally.failed.is_empty(), "{} scenarios failed: {:?}", tally.failed.len(), tally.failed);
    assert!(tally.peak < MOST_BYTES, "{} MB", tally.peak >> 20);
    // Drawn scenarios that are mostly refused try little.
    assert!(tally.drawn < 50 || tally.accepted * 2 > tally.drawn, "{} of {}", tally.accepted, tally.drawn);
}

#[derive(Default)]
struct Tally {
    drawn: u64,
    accepted: u64,
    given_up: u64,
    failed: Vec<(u64, String)>,
    keys: BTreeMap<String, u64>,
    spent: Spent,
    longest: Vec<(Spent, u64)>,
    peak: usize,
}

fn one(seed: u64, tally: &mut Tally) {
    MEMORY.reset_peak_usage();
    let mut text = draw::scenario(&mut Dice::new(seed));
    text.write_logs();
    let mut spent = Spent::default();
    let show = |text: &Text| {
        if asked("GRAMMAR_SHOW", 0) == 1 {
            println!("--- seed {seed}\n{text}");
        }
    };
    show(&text);
    let mut ended = tried(&text, &mut spent);
    // What was refused is left out, key by key: the rest is tried all the same.
    for _ in 0..12 {
        let Ended::Refused(paths) = &ended else { break };
        text.leave_out(paths);
        show(&text);
        ended = tried(&text, &mut spent);
    }
    tally.drawn += 1;
    tally.spent += spent;
    tally.peak = tally.peak.max(MEMORY.peak_usage());
    tally.longest.push((spent, seed));
    tally.longest.sort_by(|a, b| b.0.seconds().total_cmp(&a.0.seconds()));
    tally.longest.truncate(NAMED);
    match &ended {
        Ended::Refused(_) => return,
        Ended::Well => {}
        Ended::GaveUp => tally.given_up += 1,
        Ended::Badly(why) => {
            println!("--- seed {seed}: {why}\n{text}");
            let kind = trial::kind_of(why);
            // One of a kind is enough to look at.
            if tally.failed.iter().all(|(_, k)| *k != kind) {
                let ended = |t: &Text| tried(t, &mut Spent::default());
                let alike = |t: &Text| matches!(ended(t), Ended::Badly(w) if trial::kind_of(&w) == kind);
                println!("--- seed {seed}, shrunk: {kind}\n{}", shrink::shrunk(&text, alike));
            }
            tally.failed.push((seed, kind));
        }
    }
    if spent.seconds() > MOST_SECONDS {
        println!("--- seed {seed} took {spent}\n{text}");
        tally.failed.push((seed, "takes too long".into()));
    }
    tally.accepted += 1;
    for path in text.paths() {
        *tally.keys.entry(path).or_default() += 1;
    }
}

impl Tally {
    fn print(&self, from: u64, to: u64) {
        println!(
            "grammar: seeds {from} to {to}, {} accepted of {}, {} given up, {} failed; {:.0} s of a processor a thousand, {} MB at most; {} keys written; {}",
            self.accepted,
            self.drawn,
            self.given_up,
            self.failed.len(),
            1000.0 * self.spent.seconds() / self.accepted.max(1) as f64,
            self.peak >> 20,
            self.keys.len(),
            self.spent,
        );
        for (spent, seed) in &self.longest {
            println!("  seed {seed}: {spent}");
        }
        let mut kinds: BTreeMap<&str, u64> = BTreeMap::new();
        for (_, kind) in &self.failed {
            *kinds.entry(kind).or_default() += 1;
        }
        for (kind, n) in kinds {
            println!("  {n} × {kind}");
        }
        let never: Vec<String> =
            draw::all_paths().into_iter().filter(|p| !self.keys.contains_key(p)).collect();
        if !never.is_empty() && self.accepted >= 1000 {
            println!("  never written: {never:?}");
        }
        assert!(self.accepted < 1000 || never.is_empty(), "keys that no accepted scenario wrote");
    }
}

/// Whatever is drawn is a text of the format: keys, headers and logs stand as they would in a file.
#[test]
fn a_seed_draws_the_same_again() {
    for seed in 0..20 {
        let of = |s| draw::scenario(&mut Dice::new(s)).to_string();
        assert_eq!(of(seed), of(seed));
        assert_ne!(of(seed), of(seed + 1));
    }
}

impl Text {
    /// Paths of all keys written, numbers of lists left out.
    fn paths(&self) -> Vec<String> {
        let of = |s: &text::Section| {
            s.keys
                .iter()
                .map(|k| if s.name.is_empty() { k.0.clone() } else { format!("{}.{}", s.name, k.0) })
                .collect::<Vec<_>>()
        };
        self.sections.iter().flat_map(of).collect()
    }
}
