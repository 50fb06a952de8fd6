//! Numbers of the model that are what one key says: a row puts the key's value there, in SI, and tells where it comes from.

use super::sources::Source;
use crate::model::{Link, Model};
use crate::scenario::Scenario;

macro_rules! own_keys {
    (
        $list:ident, $put:ident, $part:ty, $prefix:literal;
        $( $at:ident $(. $within:ident)* = $section:ident . $key:ident $(* $times:literal)? $(/ $over:literal)?; )+
    ) => {
        /// Each of these numbers with its key.
        pub(super) const $list: &[(&str, Source)] = &[$( (
            concat!($prefix, stringify!($at) $(, ".", stringify!($within))*),
            Source::Key(concat!(stringify!($section), ".", stringify!($key))),
        ), )+];

        /// Puts them into their part of the model.
        pub(super) fn $put(part: &mut $part, s: &Scenario) {
            $( part.$at $(. $within)* = s.$section.$key.value $(* $times)? $(/ $over)?; )+
        }
    };
}

own_keys! { MODEL, put_into_model, Model, "";
    alternator.efficiency = alternator.efficiency_pct / 100.0;
    alternator.fuel_l_per_kwh = alternator.fuel_l_per_kwh;
    alternator.build_up_s = alternator.build_up_s;
    vehicle.crank_a = vehicle.crank_a;
    vehicle.crank_s = vehicle.crank_s;
    vehicle.awake_a = vehicle.awake_load_a;
    vehicle.sleep_after_s = vehicle.sleep_after_min * 60.0;
    house_loads.hold_s = house.loads_hold_s;
    house_solar.set_v = house_solar.set_point_v;
    house_solar.droop_ohm = house_solar.resistance_mohm * 1e-3;
    house_mains.set_v = house_mains.set_point_v;
    house_mains.droop_ohm = house_mains.resistance_mohm * 1e-3;
    starter_solar.set_v = starter_solar.set_point_v;
    starter_solar.droop_ohm = starter_solar.resistance_mohm * 1e-3;
}

own_keys! { LINK, put_into_link, Link, "links.*.";
    converter.output_limit_a = converter.output_limit_a;
    converter.input_limit_a = converter.input_limit_a;
    converter.floor_v = converter.input_floor_v;
    converter.loss.fixed_w = converter.fixed_loss_w;
    converter.loss.proportional = converter.proportional_loss_pct / 100.0;
    converter.loss.square_per_w = converter.square_loss_per_w;
    converter.ramp_s = converter.ramp_s;
    converter.standby_a = converter.standby_ma * 1e-3;
    converter.case_j_per_k = converter.case_heat_j_per_k;
    converter.case_w_per_k = converter.case_release_w_per_k;
    start_stop.turn_on_v = start_stop.turn_on_v;
    start_stop.turn_on_delay_s = start_stop.turn_on_delay_s;
    start_stop.turn_off_v = start_stop.turn_off_v;
    start_stop.turn_off_delay_s = start_stop.turn_off_delay_s;
    start_stop.least_off_s = start_stop.least_off_s;
    start_stop.compensation_ohm = start_stop.compensation_mohm * 1e-3;
    stages.absorption_v = stages.absorption_v;
    stages.tail_a = stages.tail_a;
    stages.tail_hold_s = stages.tail_hold_s;
    stages.absorption_cap_s = stages.absorption_cap_min * 60.0;
    stages.float_v = stages.float_v;
    stages.recharge_v = stages.recharge_v;
    stages.recharge_hold_s = stages.recharge_hold_s;
}
