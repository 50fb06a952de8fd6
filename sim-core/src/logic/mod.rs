//! Discrete rules. This is the only place that changes a mode.
//!
//! At one instant several transitions can fall due. They fire in a fixed order, the network is solved again after each:
//! expired timers first (their condition held over the whole interval), turn-off before turn-on before stage timers before
//! protection before the end of cranking; then the boundary of the drive's piece; then conditions are read anew, loads without
//! any volts first, fuses, the run signal and heat before voltage, protection and the loads of both sides after; repeat until
//! nothing changes.

pub mod engine_start;
pub mod fuse;
pub mod heat;
pub mod house_loads;
pub mod pick_up;
pub mod protection;
pub mod set_point;
pub mod stages;
pub mod start_stop;
pub mod vehicle;

pub use crate::mode::{Derate, Mode, OpenFuses, Refusal, SetPointAim, Stage, Timer, Timers};

use crate::model::{Link, Model, Piece};
use crate::network::{Net, Regime};
use crate::plant::battery::BatteryHold;
use crate::plant::fuse::Wear;
use crate::plant_view::Held;
use crate::run_data::event::{Cause, EventKind};
use crate::state::Vector;
use crate::time::Instant;

/// State of charge up to which a battery that gave its last counts as empty: shed loads then come back only where something
/// else carries them.
pub(crate) const NEARLY_EMPTY_SOC: f64 = 0.01;
/// Current out of a battery that still counts as rest, A: rounding behind a few milliohms.
pub(crate) const REST_A: f64 = 1e-6;

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
    /// The conditions of the drive.
    pub piece: &'a Piece,
    /// The instant.
    pub t: Instant,
    /// Slow states.
    pub y: &'a Vector,
    /// Volts and amps now.
    pub net: &'a Net,
    /// The network's regime now.
    pub regime: Regime,
    /// How far the house bus is from the most that it can give, as a share of it: see `network::house_room`.
    pub house_room: f64,
    /// What is held about the house battery.
    pub mode_house_hold: BatteryHold,
    /// How far the fuses are on the way to opening.
    pub worn: Wear,
}

impl Sight<'_> {
    pub(crate) fn link(&self) -> &Link {
        self.model.link()
    }
}

/// Fires the first expired timer, if any.
pub fn fire_timer(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    house_loads::fire(mode, sight);
    start_stop::fire(mode, sight)
        .or_else(|| stages::fire(mode, sight))
        .or_else(|| protection::fire(mode, sight))
        .or_else(|| engine_start::fire(mode, sight))
}

/// Reads all conditions anew, sets and clears timers, and makes the transitions that need no timer.
///
/// Returns the transition made, and whether anything at all changed.
pub fn read_conditions(mode: &mut Mode, sight: &Sight) -> (Option<Transition>, bool) {
    let before = *mode;
    set_point::read(mode, sight);
    let made = house_loads::collapse(mode, sight)
        .or_else(|| fuse::read(mode, sight))
        .or_else(|| start_stop::read_signal(mode, sight))
        .or_else(|| heat::read(mode, sight))
        .or_else(|| {
            start_stop::read(mode, sight);
            stages::read(mode, sight)
        })
        .or_else(|| protection::read(mode, sight))
        .or_else(|| house_loads::read(mode, sight))
        .or_else(|| vehicle::read(mode, sight));
    (made, *mode != before)
}

/// How far past its threshold a quantity must be before it ends a step, V and A: far under anything printed, far over the
/// rounding of volts. A course that touches its threshold with next to no slope, as at the top of its bend, would otherwise
/// pass it to and fro by rounding, nanoseconds apart.
const SLACK: f64 = 1e-11;

/// Distances of the logic's conditions from flipping: at or above zero while what [`read_conditions`] stored still
/// holds. Start/stop, stages, heat, protection, set-point, pick-up.
pub fn margins(held: &Held, y: &Vector, net: &Net, regime: Regime) -> [f64; 6] {
    let (mode, model) = (&held.mode, held.model);
    [
        start_stop::margin(mode, model, y, net) + SLACK,
        stages::margin(mode, model, net, regime) + SLACK,
        heat::margin(mode, model, y),
        SLACK
            + protection::margin(mode, model, net, y)
                .min(house_loads::margin(mode, model, held.piece, y, net))
                .min(vehicle::margin(mode, model, held.piece, y, net)),
        set_point::margin(mode, model, y),
        pick_up::margin(held, y, net),
    ]
}
