//! One scenario through check, run, explanation and margins.

use super::text::Text;
use crate::scenario::{judged, program};
use sim_cli::{Exit, Failure};
use sim_core::{Options, Record, RunError, simulate_as_far};
use std::fmt;
use std::ops::AddAssign;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::OnceLock;
use std::time::Instant;

/// Events after which a run is given up here: what a user waits for is another matter.
const MOST_EVENTS: u64 = 20_000;

/// What became of a scenario.
pub enum Ended {
    /// `check` refuses it, for what stands at these paths.
    Refused(Vec<String>),
    /// All went well.
    Well,
    /// It switches more often than is waited for.
    GaveUp,
    /// It failed, and how.
    Badly(String),
}

/// What a scenario took, s of a processor.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Spent {
    run_s: f64,
    check_s: f64,
    margins_s: f64,
    why_s: f64,
}

impl Spent {
    /// All of it, s.
    pub fn seconds(&self) -> f64 {
        self.run_s + self.check_s + self.margins_s + self.why_s
    }
}

impl AddAssign for Spent {
    fn add_assign(&mut self, more: Spent) {
        self.run_s += more.run_s;
        self.check_s += more.check_s;
        self.margins_s += more.margins_s;
        self.why_s += more.why_s;
    }
}

impl fmt::Display for Spent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Spent { run_s, check_s, margins_s, why_s } = self;
        let all_s = self.seconds();
        write!(f, "{all_s:.1} s: run {run_s:.1}, check {check_s:.1}, margins {margins_s:.1}, why {why_s:.1}")
    }
}

/// Time that a processor has given this thread, s; the time on the wall where the system does not say.
fn processor_s() -> f64 {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let told = told.and_then(|t| t.split_whitespace().next()?.parse::<f64>().ok());
    told.map_or_else(|| WALL.get_or_init(Instant::now).elapsed().as_secs_f64(), |ns| 1e-9 * ns)
}

static WALL: OnceLock<Instant> = OnceLock::new();

/// Does something, and adds what it took.
fn timed<T>(spent: &mut f64, work: impl FnOnce() -> T) -> T {
    let began_s = processor_s();
    let done = work();
    *spent += processor_s() - began_s;
    done
}

/// Failures of one kind: what is said of them, numbers left out.
pub fn kind_of(why: &str) -> String {
    let words = why.split_whitespace().filter(|w| !w.contains(|c: char| c.is_ascii_digit()));
    words.take(14).collect::<Vec<_>>().join(" ")
}

/// Tries one.
pub fn tried(text: &Text, spent: &mut Spent) -> Ended {
    let text = text.to_string();
    catch_unwind(AssertUnwindSafe(|| all_of(&text, spent))).unwrap_or_else(|e| {
        let what = e.downcast_ref::<String>().cloned();
        let what = what.or_else(|| e.downcast_ref::<&str>().map(|s| (*s).to_owned()));
        Ended::Badly(format!("panic: {}", what.unwrap_or_default()))
    })
}

fn all_of(text: &str, spent: &mut Spent) -> Ended {
    let mut input = text.as_bytes();
    let loaded = timed(&mut spent.check_s, || sim_cli::load::load_from(Path::new("-"), &[], &mut input));
    let loaded = match loaded {
        Ok(loaded) => loaded,
        Err(Failure::Problems(_, problems)) => {
            return Ended::Refused(problems.into_iter().map(|p| p.path).collect());
        }
        Err(other) => return Ended::Badly(format!("check: {}", other.told(false).0)),
    };
    let (m, p) = (&loaded.resolved.model, &loaded.resolved.profile);
    let options = Options { most_events: MOST_EVENTS, record: Record::Summary, ..Options::default() };
    // The gate of every run says whether it makes sense: states, balances, losses, temperatures.
    match timed(&mut spent.run_s, || simulate_as_far(m, p, &options)) {
        Ok(run)
            if matches!(
                run.ended_early,
                Some(RunError::TooManyEvents { .. } | RunError::TooManySteps { .. })
            ) =>
        {
            return Ended::GaveUp;
        }
        Ok(_) => {}
        Err(e) => return Ended::Badly(format!("run: {e}")),
    }
    let (exit, out, err) = timed(&mut spent.check_s, || program(&["check", "-"], text.as_bytes()));
    if !judged(exit, &out, &err) {
        return Ended::Badly(format!("check takes it and refuses it: {err}"));
    }
    for (command, spent_s) in [("margins", &mut spent.margins_s), ("why", &mut spent.why_s)] {
        let (exit, out, err) = timed(spent_s, || program(&[command, "-"], text.as_bytes()));
        if exit != Exit::Done {
            return Ended::Badly(format!("{command}: {exit:?}, {err}"));
        }
        if let Some(word) = out.split(|c: char| !c.is_alphanumeric()).find(|w| ["NaN", "inf"].contains(w)) {
            let line = out.lines().find(|l| l.contains(word)).unwrap_or_default();
            return Ended::Badly(format!("{command} prints: {line}"));
        }
    }
    Ended::Well
}
