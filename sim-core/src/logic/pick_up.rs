//! Whether the alternator takes up load at its greatest rate or follows its regulator.

use crate::network::Net;
use crate::plant_view::Held;
use crate::state::Vector;

/// Overlap of the two, A/s.
const SLACK: f64 = 1e-6;

/// Whether the greatest rate rules at this state.
pub fn slews(held: &Held, y: &Vector, net: &Net) -> bool {
    held.model.alternator.pick_up.is_some_and(|p| held.pick_up_rate(y, net) > p.rate_a_per_s)
}

/// Amperes per second from the other; negative once it should rule.
pub fn margin(held: &Held, y: &Vector, net: &Net) -> f64 {
    let Some(p) = held.model.alternator.pick_up else { return f64::INFINITY };
    let over = held.pick_up_rate(y, net) - p.rate_a_per_s;
    let margin = SLACK + if held.mode.slewing { over } else { -over };
    // The rate has no kink that would end a step where the regulator is at its ceiling; held over several rows, at the lowest of
    // their speeds, that ceiling is not the row's own.
    if held.over_rows { margin.min(net.sb_v - held.regulator(y).full_below_v()) } else { margin }
}
