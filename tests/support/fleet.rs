//! Many vehicles at once: each compared with the reference, what does not agree looked into.

use crate::agree::{Agreement, Difference, TIME_S, compare_runs, most_moved};
use crate::nudge;
use sim_core::{Model, Options, Profile, Record, RunError, simulate};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Makes a vehicle from a seed.
pub type Make = fn(u64) -> (Model, Profile);

/// What became of one vehicle.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The same events, times and states of charge.
    Agree(Agreement),
    /// Another sequence, and a microvolt changes the reference's own.
    IllConditioned(String),
    /// Another sequence, and no microvolt explains it.
    Disagree(String),
    /// The same sequence; a time or a state of charge is off.
    Off(String),
    /// Both runs ended with the same message at the same time: no operating point, rules that contradict each other.
    Refused(String),
    /// A run ended early, gave a number that is not finite, or panicked.
    Broken(String),
}

/// What became of many.
#[derive(Debug, Default)]
pub struct Tally {
    /// Vehicles that agree.
    pub agree: u64,
    /// Seeds that agree on the sequence but not on a time or state of charge, and why.
    pub off: Vec<(u64, String)>,
    /// Ill-conditioned seeds, with the proof.
    pub ill: Vec<(u64, String)>,
    /// Seeds that disagree.
    pub disagree: Vec<(u64, String)>,
    /// Seeds whose runs are refused alike.
    pub refused: Vec<(u64, String)>,
    /// Seeds that broke.
    pub broken: Vec<(u64, String)>,
    /// Worst of those that agree.
    pub worst: Agreement,
    /// Events in all.
    pub events: u64,
    /// The slowest vehicle.
    pub slowest: (u64, Duration),
    /// Time taken.
    pub took: Duration,
}

impl Tally {
    /// How many vehicles there were.
    pub fn vehicles(&self) -> u64 {
        self.agree
            + (self.off.len() + self.ill.len() + self.disagree.len()) as u64
            + (self.refused.len() + self.broken.len()) as u64
    }

    fn put(&mut self, seed: u64, outcome: Outcome, took: Duration) {
        if took > self.slowest.1 {
            self.slowest = (seed, took);
        }
        match outcome {
            Outcome::Agree(a) => {
                self.agree += 1;
                self.events += a.events as u64;
                self.worst.events = self.worst.events.max(a.events);
                self.worst.worst_s = self.worst.worst_s.max(a.worst_s);
                self.worst.share = self.worst.share.max(a.share);
                self.worst.worst_soc = self.worst.worst_soc.max(a.worst_soc);
            }
            Outcome::Off(why) => self.off.push((seed, why)),
            Outcome::IllConditioned(why) => self.ill.push((seed, why)),
            Outcome::Disagree(why) => self.disagree.push((seed, why)),
            Outcome::Refused(why) => self.refused.push((seed, why)),
            Outcome::Broken(why) => self.broken.push((seed, why)),
        }
    }

    /// The summary, in lines.
    pub fn print(&self, name: &str) {
        println!(
            "{name}: {} vehicles, {} events: {} agree, {} off in time or charge, {} ill-conditioned, {} disagree, {} \
             refused alike, {} broken; {:.1} s",
            self.vehicles(),
            self.events,
            self.agree,
            self.off.len(),
            self.ill.len(),
            self.disagree.len(),
            self.refused.len(),
            self.broken.len(),
            self.took.as_secs_f64()
        );
        println!(
            "  of those that agree: no event moves by more than {:.2e} s or {:.3} of what is allowed, no state of charge \
             by more than {:.1e}; most events {}; slowest seed {} with {:.2} s",
            self.worst.worst_s,
            self.worst.share,
            self.worst.worst_soc,
            self.worst.events,
            self.slowest.0,
            self.slowest.1.as_secs_f64()
        );
        let lists = [
            ("off", &self.off),
            ("ill-conditioned", &self.ill),
            ("refused", &self.refused),
            ("DISAGREE", &self.disagree),
            ("BROKEN", &self.broken),
        ];
        for (what, list) in lists {
            for (seed, why) in list {
                println!("  {what} seed {seed}: {why}");
            }
        }
    }
}

/// The same message within a second; a stall is no answer. Too hot a part is noticed at a step's end.
fn refused_alike(a: &RunError, b: &RunError) -> bool {
    match (a, b) {
        (RunError::NotFinite { t: x, .. }, RunError::NotFinite { t: y, .. })
        | (RunError::EndlessSwitching { t: x }, RunError::EndlessSwitching { t: y }) => {
            (x.as_s() - y.as_s()).abs() < 1.0
        }
        (RunError::TooHot { t: x, what: p, .. }, RunError::TooHot { t: y, what: q, .. }) => {
            p == q && (x.as_s() - y.as_s()).abs() < 60.0
        }
        _ => false,
    }
}

/// One vehicle.
pub fn one(model: &Model, profile: &Profile, tried: &Options, reference: &Options) -> Outcome {
    // Steps are kept only where they must be looked at: stiff vehicles take millions.
    let light = |o: &Options| simulate(model, profile, &Options { record: Record::Summary, ..*o });
    let (a, mut b) = match (light(tried), light(reference)) {
        (Ok(a), Ok(b)) => (a, b),
        (Err(a), Err(b)) if refused_alike(&a, &b) => return Outcome::Refused(a.to_string()),
        (a, b) => {
            let tell = |r: Result<_, RunError>| r.err().map_or("ran".into(), |e| e.to_string());
            return Outcome::Broken(format!("as tried: {}; reference: {}", tell(a), tell(b)));
        }
    };
    if most_moved(&a, &b) > TIME_S {
        match simulate(model, profile, reference) {
            Ok(kept) => b = kept,
            Err(e) => return Outcome::Broken(e.to_string()),
        }
    }
    match compare_runs(model, profile, &a, &b) {
        Ok(agreement) => Outcome::Agree(agreement),
        Err(Difference::Sequence { place, what }) => {
            match nudge::proof(model, profile, reference, &b, place) {
                Some(proof) => Outcome::IllConditioned(format!("{what}: {proof}")),
                None => Outcome::Disagree(format!("event {place}: {what}")),
            }
        }
        Err(Difference::Time { place, what }) => Outcome::Off(format!("event {place}: {what}")),
        Err(Difference::Soc(what)) => Outcome::Off(what),
        Err(Difference::Broken(what)) => Outcome::Broken(what),
    }
}

/// Many vehicles, on as many threads as there are processors.
///
/// # Panics
/// Never: a vehicle that panics is counted.
pub fn tally(seeds: &[u64], make: Make, tried: &Options, reference: &Options) -> Tally {
    let began = Instant::now();
    let next = AtomicUsize::new(0);
    let sum = Mutex::new(Tally::default());
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let Some(&seed) = seeds.get(next.fetch_add(1, Ordering::Relaxed)) else { return };
                    let from = Instant::now();
                    let outcome = catch_unwind(AssertUnwindSafe(|| {
                        let (m, p) = make(seed);
                        one(&m, &p, tried, reference)
                    }));
                    let outcome = outcome.unwrap_or_else(|_| Outcome::Broken("it panicked".into()));
                    sum.lock().expect("no thread panics").put(seed, outcome, from.elapsed());
                }
            });
        }
    });
    let mut sum = sum.into_inner().expect("no thread panics");
    for list in [&mut sum.off, &mut sum.ill, &mut sum.disagree, &mut sum.refused, &mut sum.broken] {
        list.sort();
    }
    sum.took = began.elapsed();
    sum
}
