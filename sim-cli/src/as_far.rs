//! A run as far as it goes: where a vehicle comes to what is not simulated any further, the drive ends there for whoever
//! tells of it.

use crate::clock::clock;
use crate::failure::Failure;
use crate::load::Loaded;
use sim_core::{Options, Profile, Run, simulate_as_far};

/// Runs a scenario. Where the run ends early its drive is cut there, so that nothing is told of what was not simulated.
pub fn as_far(loaded: &mut Loaded, options: &Options) -> Result<Run, Failure> {
    let resolved = &mut loaded.resolved;
    let run = simulate_as_far(&resolved.model, &resolved.profile, options)?;
    if run.ended_early.is_some()
        && let Ok(cut) = resolved.profile.between(run.span.0, run.span.1)
    {
        resolved.profile = cut;
    }
    Ok(run)
}

/// That a run ended early, and why; `None` where it did not.
pub fn told(run: &Run, profile: &Profile) -> Option<String> {
    let why = run.ended_early.as_ref()?;
    let at = clock(profile.start_clock_s, run.span.1.as_s());
    Some(format!(
        "The run ends early, at {at}: {why}. What stands here is of the time up to then; what comes after it is not simulated."
    ))
}
