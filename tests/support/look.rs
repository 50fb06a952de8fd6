//! Running and looking at what came out.

use sim_core::record::{Event, EventKind, Sample, Summary};
use sim_core::{Instant, Model, Options, Profile, Run, simulate};

/// A run at a tolerance, everything recorded.
///
/// # Panics
/// When the run ends early, with its reason.
pub fn run_at(tolerance: f64, model: &Model, profile: &Profile) -> Run {
    simulate(model, profile, &Options { tolerance, ..Options::default() })
        .unwrap_or_else(|e| panic!("{e}: {model:?} {profile:?}"))
}

/// A run at the default tolerance.
pub fn run(model: &Model, profile: &Profile) -> Run {
    run_at(Options::default().tolerance, model, profile)
}

/// A run in a handful of numbers.
pub fn summary(model: &Model, profile: &Profile) -> Summary {
    Summary::new(&run(model, profile), model, profile)
}

/// When events of one kind happened, s.
pub fn times_s(run: &Run, kind: EventKind) -> Vec<f64> {
    run.events.iter().filter(|e| e.kind == kind).map(|e| e.t.as_s()).collect()
}

/// The first event of a kind.
///
/// # Panics
/// When there is none.
pub fn first(run: &Run, kind: EventKind) -> &Event {
    run.events.iter().find(|e| e.kind == kind).unwrap_or_else(|| panic!("no {kind:?}"))
}

/// Everything at an instant.
///
/// # Panics
/// Outside the run.
pub fn at(run: &Run, model: &Model, profile: &Profile, t_s: f64) -> Sample {
    run.trace.at(model, profile, Instant::from_s(t_s)).unwrap_or_else(|| panic!("no sample at {t_s} s"))
}

/// Both sides of every step and its middle: where a bound could be broken, it is broken here.
pub fn samples<'a>(
    run: &'a Run,
    model: &'a Model,
    profile: &'a Profile,
) -> impl Iterator<Item = Sample> + 'a {
    run.trace.samples(model, profile, 5.0)
}

/// Asserts that a value lies within `tolerance` of an expected one.
///
/// # Panics
/// When it does not.
#[track_caller]
pub fn near(what: &str, found: f64, expected: f64, tolerance: f64) {
    let off = (found - expected).abs();
    assert!(off <= tolerance, "{what}: {found} against {expected}, off by {off:e}, allowed {tolerance:e}");
}
