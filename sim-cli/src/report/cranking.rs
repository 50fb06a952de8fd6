//! Engine starts that are not to be expected: the starter posts fall further than a starter is rated to turn at.

use super::days::moment_and_days;
use super::{Told, soc_pct};
use crate::clock::day_and_time;
use crate::problems::count;
use sim_core::record::{Event, EventKind};
use sim_core::state::STARTER;

/// Volts at the posts of a 12 V battery below which no start is to be expected: where cold cranking tests end. EN 50342-1
/// rates a starter battery by the current at which it stands at 7.5 V after ten seconds; from memory.
const CRANKS_V: f64 = 7.5;

/// Engine starts at which the starter posts fall under [`CRANKS_V`].
fn doubtful<'a>(told: &'a Told) -> impl Iterator<Item = &'a Event> {
    told.run.events.iter().filter(|e| e.kind == EventKind::KeyOn && e.after.sb_v < CRANKS_V)
}

/// What comes before every other answer: the first engine start that is not to be expected.
pub fn answer(told: &Told) -> Option<String> {
    let first = doubtful(told).next()?;
    let t_s = first.t.as_s();
    let when = if told.days.is_empty() {
        day_and_time(told.profile, t_s)
    } else {
        moment_and_days(told.profile, t_s)
    };
    let before = told.run.trace.at(told.model, told.profile, first.t);
    let stands = before.map_or_else(String::new, |s| {
        format!(", the starter battery being at {:.0} %", soc_pct(s.state[STARTER]).max(0.0))
    });
    let more = match doubtful(told).count() - 1 {
        0 => String::new(),
        n => format!(" So it is at {} more.", count(n, "start")),
    };
    Some(format!(
        "Do not expect the engine to start at {when}: cranking pulls the starter posts down to {:.1} V{stands}; starters are \
         rated down to {CRANKS_V} V.{more} What follows holds if it is started all the same, as from another vehicle's \
         battery.",
        first.after.sb_v.max(0.0)
    ))
}
