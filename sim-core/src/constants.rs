//! Numbers of the equations that no vehicle changes: references, and shares that rules go by.

use crate::logic::set_point::LOW_BAND_SOC;
use crate::logic::vehicle::{CRANKING_SHARE, MORE_A, NO_SUPPLY_V, SPENT_OFF_S};
use crate::logic::{NEARLY_EMPTY_SOC, REST_A};
use crate::model::STAGES_REFERENCE_C;
use crate::network::{IDLE_V, NEAR_MOST};
use crate::plant::alternator::{LEAST_HEAT_SHARE, SET_POINT_REFERENCE_C, WINDING_REFERENCE_C};
use crate::plant::battery::lead_acid::{MOST_Z, REFERENCE_C};
use crate::plant::battery::lithium::{REFERENCE_K, WALL_SOC, ZERO_C_K};
use crate::plant::conductor::{COPPER_PER_K, COPPER_REFERENCE_C};
use serde::Serialize;

/// What the equations use beside the model; `EQUATIONS.md` says where.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Constants {
    /// 0 °C, K.
    pub zero_c_k: f64,
    /// Temperature coefficient of copper, 1/K.
    pub copper_per_k: f64,
    /// Temperature of conductor tables, °C.
    pub copper_reference_c: f64,
    /// Temperature of the air at which a set-point is what it says, °C.
    pub set_point_reference_c: f64,
    /// Winding temperature at which the capability is that of the curve, °C.
    pub winding_reference_c: f64,
    /// Share of the capability that heat leaves at least.
    pub winding_least_share: f64,
    /// Temperature of a lead-acid battery's values, °C.
    pub lead_acid_reference_c: f64,
    /// Exponent past which gassing goes on straight.
    pub gassing_most_exponent: f64,
    /// Temperature of a lithium battery's resistance, K.
    pub lithium_reference_k: f64,
    /// Temperature of the house battery at which the charge voltages are what they say, °C.
    pub stages_reference_c: f64,
    /// How far the bus stands above the target before the unit counts as idle, V.
    pub idle_band_v: f64,
    /// Share of `drop_out_v` that counts while cranking.
    pub cranking_drop_out_share: f64,
    /// Posts of the starter battery under which there is no supply, V.
    pub no_supply_v: f64,
    /// How long a unit at least stays off whose supply went under it, s.
    pub spent_off_s: f64,
    /// Current to spare before a collapsed starter side runs again, A.
    pub return_spare_a: f64,
    /// State of charge up to which a battery counts as next to empty.
    pub nearly_empty_soc: f64,
    /// Current out of a battery that still counts as rest, A.
    pub rest_a: f64,
    /// State of charge at which a lithium battery with steep ends takes nothing more.
    pub lithium_full_soc: f64,
    /// How far a starter battery that was low for a variable set-point has to come up before it is low no more.
    pub low_band_soc: f64,
    /// How near, as a share, the house loads may come to the most that their bus can give.
    pub near_most_share: f64,
}

/// Their values.
pub const CONSTANTS: Constants = Constants {
    zero_c_k: ZERO_C_K,
    copper_per_k: COPPER_PER_K,
    copper_reference_c: COPPER_REFERENCE_C,
    set_point_reference_c: SET_POINT_REFERENCE_C,
    winding_reference_c: WINDING_REFERENCE_C,
    winding_least_share: LEAST_HEAT_SHARE,
    lead_acid_reference_c: REFERENCE_C,
    gassing_most_exponent: MOST_Z,
    lithium_reference_k: REFERENCE_K,
    stages_reference_c: STAGES_REFERENCE_C,
    idle_band_v: IDLE_V,
    cranking_drop_out_share: CRANKING_SHARE,
    no_supply_v: NO_SUPPLY_V,
    spent_off_s: SPENT_OFF_S,
    return_spare_a: MORE_A,
    nearly_empty_soc: NEARLY_EMPTY_SOC,
    rest_a: REST_A,
    lithium_full_soc: WALL_SOC,
    low_band_soc: LOW_BAND_SOC,
    near_most_share: NEAR_MOST,
};
