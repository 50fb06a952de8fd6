//! Engine starts that are not to be expected: the starter posts fall further than a starter is rated to turn at.

use super::days::moment_and_days;
use super::{Told, soc_pct};
use crate::clock::day_and_time;
use crate::problems::count;
use sim_core::Instant;
use sim_core::plant::battery::Chemistry;
use sim_core::record::EventKind;
use sim_core::state::STARTER;

/// Volts of a cell below which no start is to be expected: where cold cranking tests end. EN 50342-1 rates a starter battery
/// of six cells by the current at which it stands at 7.5 V after ten seconds; from memory.
const CRANKS_V_PER_CELL: f64 = 7.5 / 6.0;
/// Cells where the battery does not say it.
const CELLS: u16 = 6;

/// An engine start that is not to be expected.
struct Doubtful {
    t: Instant,
    /// Lowest volts at the starter posts met, at the beginning or the end of cranking; `None` where the starter side is dead
    /// before it.
    posts_v: Option<f64>,
}

fn least_v(told: &Told) -> f64 {
    let cells = match &told.model.starter.chemistry {
        Chemistry::LeadAcid(battery) => battery.cells,
        _ => CELLS,
    };
    CRANKS_V_PER_CELL * f64::from(cells)
}

fn doubtful(told: &Told) -> Vec<Doubtful> {
    let least_v = least_v(told);
    let (mut all, mut dead) = (Vec::new(), false);
    let mut cranks: Option<(Instant, f64, bool)> = None;
    for event in &told.run.events {
        match event.kind {
            EventKind::KeyOn => cranks = Some((event.t, event.after.sb_v, dead)),
            EventKind::EngineRuns | EventKind::KeyOff => {
                let Some((t, begins_v, was_dead)) = cranks.take() else { continue };
                let lowest_v = begins_v.min(event.before.sb_v);
                if was_dead || lowest_v < least_v {
                    all.push(Doubtful { t, posts_v: (!was_dead).then_some(lowest_v) });
                }
            }
            EventKind::StarterDead { dead: now } => dead = now,
            _ => {}
        }
    }
    all
}

/// Whether an engine start is not to be expected.
pub fn is_doubtful(told: &Told) -> bool {
    !doubtful(told).is_empty()
}

/// What comes before every other answer: the first engine start that is not to be expected.
pub fn answer(told: &Told) -> Option<String> {
    let all = doubtful(told);
    let first = all.first()?;
    let t_s = first.t.as_s();
    let when = if told.days.is_empty() {
        day_and_time(told.profile, t_s)
    } else {
        moment_and_days(told.profile, t_s)
    };
    let why = match first.posts_v {
        None => "the starter battery is flat by then, and nothing on its side runs".to_owned(),
        Some(posts_v) => {
            let at_start = told.run.trace.at(told.model, told.profile, first.t);
            let stands = at_start.map_or_else(String::new, |s| {
                format!(", the battery being at {:.0} %", soc_pct(s.state[STARTER]).max(0.0))
            });
            let (posts_v, least_v) = (posts_v.max(0.0), least_v(told));
            format!(
                "cranking pulls the starter posts down to {posts_v:.1} V{stands}; starters are rated down to {least_v:.1} V"
            )
        }
    };
    let more = match all.len() - 1 {
        0 => String::new(),
        n => format!(" The same holds of {}.", count(n, "later start")),
    };
    Some(format!(
        "Do not expect the engine to start at {when}: {why}.{more} What follows holds if it is started all the same, as from \
         another vehicle's battery."
    ))
}
