//! The slow states of a vehicle, as the steppers see them: a short vector.

use crate::model::Model;
use crate::plant::battery::BatteryState;

/// Most states that any model has.
pub const N: usize = 8;

/// State vector. The places are [`STARTER`], [`HOUSE`] and [`CASE_C`].
pub type Vector = [f64; N];

/// First of the starter battery's states: SOC, fast branch, slow branch.
pub const STARTER: usize = 0;
/// First of the house battery's states.
pub const HOUSE: usize = 3;
/// Temperature of the converter's case, °C.
pub const CASE_C: usize = 6;
/// States in use.
pub const USED: usize = 7;

/// What one tolerance unit is worth in each state: SOC 1, 1 V, 100 K.
pub const SCALE: Vector = [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 100.0, 1.0];

/// Reads a battery's states.
pub fn battery(y: &Vector, first: usize) -> BatteryState {
    BatteryState { soc: y[first], v1: y[first + 1], v2: y[first + 2] }
}

/// Writes a battery's states.
pub fn put_battery(y: &mut Vector, first: usize, x: &BatteryState) {
    y[first] = x.soc;
    y[first + 1] = x.v1;
    y[first + 2] = x.v2;
}

/// The states at the start of a run: batteries rested, the case at the temperature of the air.
pub fn at_start(model: &Model, air_c: f64) -> Vector {
    let mut y = [0.0; N];
    put_battery(&mut y, STARTER, &model.starter.start());
    put_battery(&mut y, HOUSE, &model.house.start());
    y[CASE_C] = air_c;
    y
}
