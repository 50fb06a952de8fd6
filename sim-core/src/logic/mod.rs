//! Discrete rules. This is the only place that changes a mode.
//!
//! At one instant several transitions can fall due. They fire in a fixed order, the network is solved again after each:
//! expired timers first (their condition held over the whole interval), turn-off before turn-on before stage timers before
//! the end of cranking; then the boundary of the drive's piece; then conditions are read anew; repeat until nothing
//! changes.

pub mod engine_start;
mod mode;
pub mod stages;
pub mod start_stop;

pub use mode::{Mode, Stage, Timer, Timers};

use crate::model::{Link, Model};
use crate::network::{Net, Regime};
use crate::record::event::{Cause, EventKind};
use crate::time::Instant;

/// A transition that has been made: what, and why.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transition {
    /// What changed.
    pub kind: EventKind,
    /// Why.
    pub cause: Cause,
}

/// What the rules can see at one instant.
#[derive(Debug, Clone, Copy)]
pub struct Sight<'a> {
    /// The vehicle.
    pub model: &'a Model,
    /// The instant.
    pub t: Instant,
    /// Volts and amps now.
    pub net: &'a Net,
    /// The network's regime now.
    pub regime: Regime,
}

impl Sight<'_> {
    pub(crate) fn link(&self) -> &Link {
        self.model.link()
    }
}

/// Fires the first expired timer, if any.
pub fn fire_timer(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    start_stop::fire(mode, sight)
        .or_else(|| stages::fire(mode, sight))
        .or_else(|| engine_start::fire(mode, sight))
}

/// Reads all conditions anew, sets and clears timers, and makes the transitions that need no timer.
///
/// Returns the transition made, and whether anything at all changed.
pub fn read_conditions(mode: &mut Mode, sight: &Sight) -> (Option<Transition>, bool) {
    let before = *mode;
    start_stop::read(mode, sight);
    let made = stages::read(mode, sight);
    (made, *mode != before)
}

/// Distances of the logic's conditions from flipping: at or above zero while what [`read_conditions`] stored still
/// holds. `start_stop`, then `stages`.
pub fn margins(mode: &Mode, model: &Model, net: &Net, regime: Regime) -> [f64; 2] {
    [start_stop::margin(mode, model, net), stages::margin(mode, model, net, regime)]
}
