//! Engine starts that are not to be expected: the starter posts fall further than a starter is rated to turn at.

use super::days::moment_and_days;
use super::{Told, soc_pct};
use crate::clock::day_and_time;
use crate::numbers::{apart, plain};
use crate::problems::count;
use sim_core::Instant;
use sim_core::judge::{Finding, Kind, Measure};
use sim_core::state::STARTER;

/// Whether an engine start is not to be expected.
pub fn is_doubtful(told: &Told) -> bool {
    told.verdict.find(|k| matches!(k, Kind::StartNotExpected { .. })).is_some()
}

/// The first start that is not to be expected, and why.
pub fn why(told: &Told, finding: &Finding) -> String {
    let t_s = finding.when.first_s;
    let when = if told.days.is_empty() {
        day_and_time(told.profile, t_s)
    } else {
        moment_and_days(told.profile, t_s)
    };
    let dead = matches!(finding.kind, Kind::StartNotExpected { dead: true });
    let Measure { value: posts_v, limit: least_v, .. } =
        finding.measure.unwrap_or(Measure::at_least(0.0, 0.0, "V"));
    let why = if dead {
        "The starter battery is flat by then, and nothing on its side runs.".to_owned()
    } else {
        let at_start = told.run.trace.at(told.model, told.profile, Instant::from_s(t_s));
        let stands = at_start.map_or_else(String::new, |s| {
            format!(", with the battery at {} %", plain(soc_pct(s.state[STARTER]), 0))
        });
        let (posts, least) = apart(posts_v, least_v, 1);
        format!(
            "Cranking pulls the starter posts down to {posts} V{stands}; starters are rated down to {least} V."
        )
    };
    let more = match finding.when.times {
        0 | 1 => String::new(),
        n => format!(" The same holds of {}.", count(n as usize - 1, "later start")),
    };
    format!(
        "do not expect the engine to start at {when}. {why}{more} What follows holds if it is started all the same, as from \
         another vehicle's battery."
    )
}
