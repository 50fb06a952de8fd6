//! Greatest and smallest values of a run.

use crate::logic::start_stop::{above_turn_off_v, above_turn_on_v, is_dead};
use crate::mode::Mode;
use crate::model::Model;
use crate::network::Net;
use crate::state::Vector;
use crate::time::Instant;
use serde::Serialize;

/// A value and when it was met.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Met {
    /// The value, in the unit of its field.
    pub value: f64,
    /// When, s since the start.
    pub t_s: f64,
}

/// Greatest and smallest values met, at step ends and on both sides of every event.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Extremes {
    /// Largest input current while on, A.
    pub input_a: Option<Met>,
    /// How far what the unit sees stands above the turn-off that counts then, at least, unit on and engine running, V;
    /// negative below it. With a second pair of thresholds that of the pair in force counts; a dead input does not.
    pub margin_v: Option<Met>,
    /// Highest input voltage with the engine running and the unit off, V.
    pub waiting_in_v: Option<Met>,
    /// How far what a waiting unit sees stands above the turn-on that counts then, at most, engine running, V.
    pub waiting_above_v: Option<Met>,
    /// Lowest voltage at the starter posts, V.
    pub starter_low_v: Option<Met>,
}

impl Extremes {
    pub(crate) fn see(&mut self, t: Instant, mode: &Mode, model: &Model, y: &Vector, net: &Net) {
        if mode.on {
            raise(&mut self.input_a, t, net.input_a);
            let above = above_turn_off_v(mode, model, y, net);
            if let Some(above) = above.filter(|_| mode.alternator_turns() && !is_dead(net)) {
                lower(&mut self.margin_v, t, above);
            }
        } else if mode.alternator_turns() {
            raise(&mut self.waiting_in_v, t, net.in_v);
            if let Some(above) = above_turn_on_v(mode, model, y, net) {
                raise(&mut self.waiting_above_v, t, above);
            }
        }
        lower(&mut self.starter_low_v, t, net.sb_v);
    }
}

fn raise(met: &mut Option<Met>, t: Instant, value: f64) {
    if met.is_none_or(|m| value > m.value) {
        *met = Some(Met { value, t_s: t.as_s() });
    }
}

fn lower(met: &mut Option<Met>, t: Instant, value: f64) {
    if met.is_none_or(|m| value < m.value) {
        *met = Some(Met { value, t_s: t.as_s() });
    }
}
