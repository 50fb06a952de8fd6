//! All that can end a step early, as numbers that are at or above zero while the step may go on.

use crate::logic;
use crate::network::{Bias, Net, Regime, house_room, margins_with};
use crate::plant_view::{Held, Warms};
use crate::state::{self, Vector};

/// Number of guards.
pub const GUARDS: usize = 13;

/// Values of all guards.
pub type Values = [f64; GUARDS];

/// What a guard watches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Guard {
    /// One of the unit's limits takes over from the one that rules.
    UnitLimit,
    /// A source starts, stops or reaches its ceiling.
    SourceState,
    /// The input voltage passes a start/stop threshold.
    StartStop,
    /// The condition of the charge stage flips.
    Stage,
    /// The starter battery: current turns, an end of its range, a piece of its table.
    Starter,
    /// The house battery, likewise.
    House,
    /// The unit's case on its derating line, at its lock or reclose.
    Heat,
    /// The house battery's protection, or a battery that can give no more.
    Protection,
    /// The alternator's set-point at its target, or its pick-up at its greatest rate.
    Alternator,
}

impl Guard {
    /// What guard number `n` watches.
    pub fn of(n: usize) -> Guard {
        match n {
            0..=3 => Guard::UnitLimit,
            4 => Guard::SourceState,
            5 => Guard::StartStop,
            6 => Guard::Stage,
            7 => Guard::Heat,
            8 => Guard::Protection,
            9 | 10 => Guard::Alternator,
            11 => Guard::Starter,
            _ => Guard::House,
        }
    }
}

/// Evaluates all guards `dt` seconds into a step.
pub fn evaluate(held: &Held, regime: Regime, dt: f64, y: &Vector, net: &Net) -> Values {
    let warm = held.warm(y);
    evaluate_at(held, regime, &warm, &held.bias_at(&warm, dt, y), y, net)
}

/// Evaluates all guards, what temperatures decide and the network's inputs given.
pub fn evaluate_at(held: &Held, regime: Regime, warm: &Warms, bias: &Bias, y: &Vector, net: &Net) -> Values {
    let [a, b, c, d, e] = margins_with(bias, regime, net, held.free);
    let [start_stop, stage, heat, protection, set_point, pick_up] = logic::margins(held, y, net, regime);
    let protection = protection.min(house_room(bias, regime, net));
    let mode = &held.mode;
    let starter = warm.starter.margin(&state::starter(y), net.starter_a, &mode.starter_hold);
    let house = warm.house.margin(&state::house(y), net.house_a, &mode.house_hold);
    [a, b, c, d, e, start_stop, stage, heat, protection, set_point, pick_up, starter, house]
}
