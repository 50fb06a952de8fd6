//! Which effects beyond the plain model act in a vehicle: one row each, and nobody else decides it.
//!
//! A row says when its effect acts, which states it moves, and whether a netlist can have it. The key and the value of it that
//! is nothing stand in the scenario's sections; what ends a step by it is a margin in `logic`.

use crate::model::Model;
use crate::plant::battery::Chemistry;
use crate::state::{
    HOUSE_C, HOUSE_HYSTERESIS, INPUT_CABLE_C, INPUT_JOINTS_C, LOCKER_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C,
    PICKED_UP_A, PLAIN, REGULATOR_C, SEEN_V, SET_POINT_V, STARTER_C, WINDING_C,
};

/// A netlist says this effect too.
const WRITTEN: bool = true;
/// A netlist cannot have this effect.
const MISSING: bool = false;
/// The effect moves no state of its own.
const NONE: [usize; 2] = [0, 0];

macro_rules! effects {
    ($model:ident; $( $(#[doc = $doc:literal])+ $name:ident: $acts:expr => $states:expr, $netlist:ident; )+) => {
        /// The effects that act, of a vehicle or at one moment.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub struct Effects {
            $( $(#[doc = $doc])+ pub $name: bool, )+
        }

        impl Effects {
            /// What acts in a vehicle.
            pub fn of($model: &Model) -> Effects {
                Effects { $( $name: $acts, )+ }
            }

            /// How many states, from the first on, a model with these moves: those of the plain model, and theirs.
            pub fn used(&self) -> usize {
                let mut used = PLAIN;
                $( if self.$name {
                    let [first, states]: [usize; 2] = $states;
                    used = used.max(first + states);
                } )+
                used
            }

            /// Whether a netlist says all of them.
            pub fn in_netlist(&self) -> bool {
                true $( && ($netlist || !self.$name) )+
            }
        }
    };
}

effects! { m;
    /// The starter battery warms.
    starter_heat: m.starter.thermal.moves() => [STARTER_C, 1], WRITTEN;
    /// The house battery warms.
    house_heat: m.house.thermal.moves() => [HOUSE_C, 1], MISSING;
    /// The house battery has a hysteresis and a top that relaxes.
    lithium_house: matches!(m.house.chemistry, Chemistry::Lithium(_)) => [HOUSE_HYSTERESIS, 2], MISSING;
    /// The starter battery is of lithium.
    lithium_starter: matches!(m.starter.chemistry, Chemistry::Lithium(_)) => NONE, MISSING;
    /// The unit stands in a locker whose air warms.
    locker: m.link().converter.locker.moves() => [LOCKER_C, 1], MISSING;
    /// The input cable's conductors warm.
    input_cable: m.link().input_cable.warms() => [INPUT_CABLE_C, 4], WRITTEN;
    /// The output cable's conductors warm.
    output_cable: m.link().output_cable.warms() => [OUTPUT_CABLE_C, 2], WRITTEN;
    /// The input cable's joints warm; nothing else feels it.
    input_joints: m.link().input_cable.joints_warm() => [INPUT_JOINTS_C, 1], WRITTEN;
    /// The output cable's joints warm; nothing else feels it.
    output_joints: m.link().output_cable.joints_warm() => [OUTPUT_JOINTS_C, 1], WRITTEN;
    /// The alternator gives less as its winding warms.
    winding: m.alternator.heat.is_some() => [WINDING_C, 1], MISSING;
    /// The set-point goes with the temperature of the alternator's regulator.
    regulator: m.alternator.regulator.is_some() => [REGULATOR_C, 1], MISSING;
    /// The alternator takes up its load slowly.
    pick_up: m.alternator.pick_up.is_some() => [PICKED_UP_A, 1], MISSING;
    /// A rule commands the set-point.
    rule: m.alternator.rule.is_some() => [SET_POINT_V, 1], MISSING;
    /// The alternator gives nothing while its field builds up.
    build_up: m.alternator.build_up_s > 0.0 => NONE, MISSING;
    /// The unit filters the voltage that it sees.
    filter: m.link().start_stop.filter_s > 0.0 => [SEEN_V, 1], MISSING;
    /// The unit's output limit falls as its case warms.
    derate: m.link().converter.derate_from_c.is_finite() => NONE, MISSING;
    /// The charge voltages go with the house battery's temperature.
    compensation: m.link().stages.v_per_k != 0.0 => NONE, MISSING;
    /// The vehicle stays awake after key-off.
    awake: m.vehicle.awake_a > 0.0 => NONE, MISSING;
    /// The vehicle's loads drop out at low volts.
    drop_out: m.vehicle.drop_out_v > 0.0 => NONE, MISSING;
}
