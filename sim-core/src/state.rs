//! The slow states of a vehicle, as the steppers see them: a short vector.
//!
//! The states of the plain model come first; a model uses a prefix, as long as its effects need
//! ([`crate::effects::Effects::used`]).

use crate::model::Model;
use crate::plant::battery::BatteryState;

/// Most states that any model has.
pub const N: usize = 25;

/// State vector. The places are the constants of this module.
pub type Vector = [f64; N];

/// First of the starter battery's states: SOC, fast branch, slow branch.
pub const STARTER: usize = 0;
/// First of the house battery's states.
pub const HOUSE: usize = 3;
/// Temperature of the converter's case, °C.
pub const CASE_C: usize = 6;
/// States of the plain model.
pub const PLAIN: usize = 7;
/// Temperature of the starter battery, °C.
pub const STARTER_C: usize = 7;
/// Temperature of the house battery, °C.
pub const HOUSE_C: usize = 8;
/// Hysteresis of the house battery.
pub const HOUSE_HYSTERESIS: usize = 9;
/// Unrelaxed top of the house battery.
pub const HOUSE_UNRELAXED: usize = 10;
/// Air in the converter's locker, °C.
pub const LOCKER_C: usize = 11;
/// First of the input cable's conductors, °C: positive and negative leg in the engine bay, the same in the cabin.
pub const INPUT_CABLE_C: usize = 12;
/// First of the output cable's conductors, °C: positive and negative leg.
pub const OUTPUT_CABLE_C: usize = 16;
/// Joints of the input cable, °C.
pub const INPUT_JOINTS_C: usize = 18;
/// Joints of the output cable, °C.
pub const OUTPUT_JOINTS_C: usize = 19;
/// Alternator winding, °C.
pub const WINDING_C: usize = 20;
/// The alternator's regulator, °C.
pub const REGULATOR_C: usize = 21;
/// Alternator current behind its pick-up, A.
pub const PICKED_UP_A: usize = 22;
/// Set-point behind its slew, V.
pub const SET_POINT_V: usize = 23;
/// The unit's filtered input voltage, V.
pub const SEEN_V: usize = 24;

/// What one tolerance unit is worth in each state: SOC 1, 1 V, 100 K, 100 A.
pub const SCALE: Vector = {
    let mut scale = [1.0; N];
    let mut n = 0;
    while n < N {
        if n == CASE_C || (n >= STARTER_C && n <= HOUSE_C) || (n >= LOCKER_C && n <= REGULATOR_C) {
            scale[n] = 100.0;
        }
        n += 1;
    }
    scale[PICKED_UP_A] = 100.0;
    scale
};

/// Names of the states, for messages.
pub const NAMES: [&str; N] = [
    "starter battery SOC",
    "starter battery fast polarisation",
    "starter battery slow polarisation",
    "house battery SOC",
    "house battery fast polarisation",
    "house battery slow polarisation",
    "unit case temperature",
    "starter battery temperature",
    "house battery temperature",
    "house battery hysteresis",
    "house battery top",
    "locker air temperature",
    "input cable temperature, positive leg in the engine bay",
    "input cable temperature, negative leg in the engine bay",
    "input cable temperature, positive leg in the cabin",
    "input cable temperature, negative leg in the cabin",
    "output cable temperature, positive leg",
    "output cable temperature, negative leg",
    "input cable joint temperature",
    "output cable joint temperature",
    "alternator winding temperature",
    "alternator regulator temperature",
    "alternator current",
    "alternator set-point",
    "unit's filtered input voltage",
];

/// Reads the starter battery's states.
pub fn starter(y: &Vector) -> BatteryState {
    BatteryState {
        soc: y[STARTER],
        v1: y[STARTER + 1],
        v2: y[STARTER + 2],
        hysteresis: 0.0,
        unrelaxed: 0.0,
        temp_c: y[STARTER_C],
    }
}

/// Reads the house battery's states.
pub fn house(y: &Vector) -> BatteryState {
    BatteryState {
        soc: y[HOUSE],
        v1: y[HOUSE + 1],
        v2: y[HOUSE + 2],
        hysteresis: y[HOUSE_HYSTERESIS],
        unrelaxed: y[HOUSE_UNRELAXED],
        temp_c: y[HOUSE_C],
    }
}

/// Writes the starter battery's states.
pub fn put_starter(y: &mut Vector, x: &BatteryState) {
    y[STARTER] = x.soc;
    y[STARTER + 1] = x.v1;
    y[STARTER + 2] = x.v2;
    y[STARTER_C] = x.temp_c;
}

/// Writes the house battery's states.
pub fn put_house(y: &mut Vector, x: &BatteryState) {
    y[HOUSE] = x.soc;
    y[HOUSE + 1] = x.v1;
    y[HOUSE + 2] = x.v2;
    y[HOUSE_HYSTERESIS] = x.hysteresis;
    y[HOUSE_UNRELAXED] = x.unrelaxed;
    y[HOUSE_C] = x.temp_c;
}

/// The states at the start of a run: batteries rested, everything at the temperature of its air, the alternator's regulator
/// cold where nothing else is said.
pub fn at_start(model: &Model, air_c: f64, bay_c: f64) -> Vector {
    let mut y = [0.0; N];
    put_starter(&mut y, &model.starter.start(air_c));
    put_house(&mut y, &model.house.start(air_c));
    for place in [CASE_C, LOCKER_C, INPUT_CABLE_C + 2, INPUT_CABLE_C + 3, OUTPUT_CABLE_C, OUTPUT_CABLE_C + 1]
    {
        y[place] = air_c;
    }
    for place in [INPUT_CABLE_C, INPUT_CABLE_C + 1, INPUT_JOINTS_C, WINDING_C] {
        y[place] = bay_c;
    }
    y[OUTPUT_JOINTS_C] = air_c;
    y[REGULATOR_C] = model.alternator.regulator.map_or(air_c, |r| r.start(air_c));
    y[SET_POINT_V] = model.alternator.set_point_v;
    y
}
