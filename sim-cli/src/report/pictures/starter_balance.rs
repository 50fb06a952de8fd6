//! Fills the starter battery's account: every ampere-second of its current sorted by cause, step by step.

use super::super::soc_pct;
use super::view::{View, heading};
use crate::chart::figures::starter_balance::StarterBalance;
use sim_core::record::Sample;

/// Sums since the start, As: alternator, crank, parked, driving, unit, lost.
type Sums = [f64; 6];

/// Most points of a line; more would not be seen.
const MOST_POINTS: usize = 3000;

/// Rates of the sums at one instant, A.
fn rates(view: &View, s: &Sample) -> Sums {
    let told = view.told;
    let i = s.net.starter_a;
    let battery = &told.model.starter;
    let r = battery.rates(&sim_core::state::starter(&s.state), i, &s.mode.starter_hold);
    let mut sums =
        [i.max(0.0), 0.0, 0.0, 0.0, 0.0, r.lost_a + r.refused_a + r.gassed_a + r.self_discharged_a];
    let out = (-i).max(0.0);
    // What flows out serves the unit first: it is the one that could have stayed off.
    sums[4] = out.min(s.net.input_a);
    let rest = out - sums[4];
    let place = match (s.mode.cranking(), s.mode.engine_runs) {
        (true, _) => 1,
        (_, false) => 2,
        (_, true) => 3,
    };
    sums[place] = rest;
    sums
}

/// The account at the beginning and after every step, thinned to what can be seen; the last point is always kept.
pub fn account(view: &View) -> Vec<(f64, Sums)> {
    let told = view.told;
    let trace = &told.run.trace;
    let every = trace.len().div_ceil(MOST_POINTS).max(1);
    let mut sums = Sums::default();
    let mut points = vec![(view.told.run.span.0.as_s(), sums)];
    for (n, knot) in trace.steps(told.model, told.profile).enumerate() {
        for (sample, seconds) in trace.nodes(told.model, told.profile, &knot) {
            for (sum, rate) in sums.iter_mut().zip(rates(view, &sample)) {
                *sum += rate * seconds;
            }
        }
        if n % every == 0 || n + 1 == trace.len() {
            points.push((knot.start.plus_ns(knot.ns).as_s(), sums));
        }
    }
    points
}

/// Everything the picture shows.
pub fn fill(view: &View) -> StarterBalance {
    let told = view.told;
    let points = account(view);
    let column = |k: usize| -> Vec<f64> { points.iter().map(|p| p.1[k] / 3600.0).collect() };
    let s = told.summary;
    let last = points.last().map_or(Sums::default(), |p| p.1);
    let ah = |k: usize| last[k] / 3600.0;
    let out = ah(1) + ah(2) + ah(3) + ah(4);
    let verdict = if s.starter_gain_ah >= 0.0 { "left fuller" } else { "left emptier" };
    let answer = format!(
        "The starter battery is {verdict}: {:.1} Ah in ({:.1} not stored), {out:.1} Ah out ({:.1} through the unit); {:+.1} Ah stored, \
         {:.1} to {:.1} %.",
        ah(0),
        ah(5),
        ah(4),
        s.starter_gain_ah,
        soc_pct(s.starter_start_soc),
        soc_pct(s.starter_end_soc)
    );
    StarterBalance {
        heading: heading(told, "The starter battery's account", answer),
        timeline: view.timeline.clone(),
        time_s: points.iter().map(|p| p.0).collect(),
        alternator_ah: column(0),
        crank_ah: column(1),
        parked_ah: column(2),
        driving_ah: column(3),
        unit_ah: column(4),
        lost_ah: column(5),
    }
}
