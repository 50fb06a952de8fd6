//! A variable set-point: the declared rule gives a target, the set-point moves there at its slew, up and down each at its own.

use super::{Mode, SetPointAim, Sight, Timer};
use crate::model::Model;
use crate::state::{SET_POINT_V, STARTER, Vector};

/// Volts within which the target counts as reached.
const THERE_V: f64 = 1e-9;

/// How far a starter battery that was low has to come up before it is low no more, share of full; assumed, no source. Without it
/// charging and not charging would take turns for ever, seconds apart.
pub(crate) const LOW_BAND_SOC: f64 = 0.01;

/// The state of charge under which the starter battery is low.
fn low_until(low_soc: f64, was_low: bool) -> f64 {
    if was_low { low_soc + LOW_BAND_SOC } else { low_soc }
}

/// Aims at the target that the conditions ask for.
pub fn read(mode: &mut Mode, sight: &Sight) {
    let Some(rule) = sight.model.alternator.rule else { return };
    let piece = sight.piece;
    let low = sight.y[STARTER] < low_until(rule.low_soc, mode.set_point.low);
    let starting = mode.timers.runs(Timer::StartUp);
    let target_v = rule.target_v(piece.phase, starting, low, piece.air_c, piece.vehicle_load_a);
    let gap_v = target_v - sight.y[SET_POINT_V];
    // It has come as far as it was sent, and a nanosecond further: that is there too, or it would go to and fro.
    let passed = target_v == mode.set_point.target_v && gap_v * f64::from(mode.set_point.way) <= 0.0;
    let way = if gap_v.abs() <= THERE_V || passed {
        0
    } else if gap_v > 0.0 {
        1
    } else {
        -1
    };
    mode.set_point = SetPointAim { target_v, way, low };
}

/// Volts to the target, or the state of charge's distance from the rule's threshold; negative once it is passed.
pub fn margin(mode: &Mode, model: &Model, y: &Vector) -> f64 {
    let Some(rule) = model.alternator.rule else { return f64::INFINITY };
    let gap_v = mode.set_point.target_v - y[SET_POINT_V];
    let aim = match mode.set_point.way {
        0 => f64::INFINITY,
        way => gap_v * f64::from(way),
    };
    let soc = y[STARTER] - low_until(rule.low_soc, mode.set_point.low);
    aim.min(if mode.set_point.low { 1e-12 - soc } else { soc + 1e-12 })
}
