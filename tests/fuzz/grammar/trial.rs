//! One scenario through check, run, explanation and margins.

use super::text::Text;
use crate::scenario::{judged, program};
use sim_cli::{Exit, Failure};
use sim_core::{Options, Record, RunError, simulate_as_far};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

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

/// Failures of one kind: what is said of them, numbers left out.
pub fn kind_of(why: &str) -> String {
    let words = why.split_whitespace().filter(|w| !w.contains(|c: char| c.is_ascii_digit()));
    words.take(14).collect::<Vec<_>>().join(" ")
}

/// Tries one.
pub fn tried(text: &Text) -> Ended {
    let text = text.to_string();
    catch_unwind(AssertUnwindSafe(|| all_of(&text))).unwrap_or_else(|e| {
        let what = e.downcast_ref::<String>().cloned();
        let what = what.or_else(|| e.downcast_ref::<&str>().map(|s| (*s).to_owned()));
        Ended::Badly(format!("panic: {}", what.unwrap_or_default()))
    })
}

fn all_of(text: &str) -> Ended {
    let mut input = text.as_bytes();
    let loaded = match sim_cli::load::load_from(Path::new("-"), &[], &mut input) {
        Ok(loaded) => loaded,
        Err(Failure::Problems(_, problems)) => {
            return Ended::Refused(problems.into_iter().map(|p| p.path).collect());
        }
        Err(other) => return Ended::Badly(format!("check: {}", other.told(false).0)),
    };
    let (m, p) = (&loaded.resolved.model, &loaded.resolved.profile);
    let options = Options { most_events: MOST_EVENTS, record: Record::Summary, ..Options::default() };
    // The gate of every run says whether it makes sense: states, balances, losses, temperatures.
    match simulate_as_far(m, p, &options) {
        Ok(run) if matches!(run.ended_early, Some(RunError::TooManyEvents { .. })) => return Ended::GaveUp,
        Ok(_) => {}
        Err(e) => return Ended::Badly(format!("run: {e}")),
    }
    let (exit, out, err) = program(&["check", "-"], text.as_bytes());
    if !judged(exit, &out, &err) {
        return Ended::Badly(format!("check takes it and refuses it: {err}"));
    }
    for command in ["margins", "why"] {
        let (exit, out, err) = program(&[command, "-"], text.as_bytes());
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
