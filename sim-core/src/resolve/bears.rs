//! What the parts of a scenario's vehicle bear.

use crate::model::Model;
use crate::plant::bears::{BatteryVolts, Bears, Limit, WINDING_C};
use crate::scenario::Scenario;
use crate::scenario::field::{Num, Origin};

fn limit(num: &Num) -> Limit {
    Limit { most: num.value, typed: !matches!(num.origin, Origin::Default(_)) }
}

/// Reads what the parts bear: what was typed, else the defaults with their sources.
pub(super) fn bears(s: &Scenario, model: &Model) -> Bears {
    let gel = s.house_battery.chemistry.value == "gel";
    let volts = |own: &Option<Num>| own.as_ref().map(|n| n.value);
    Bears {
        input_insulation_c: limit(&s.input_cable.insulation_c),
        output_insulation_c: limit(&s.output_cable.insulation_c),
        input_joints_c: limit(&s.input_cable.joints_most_c),
        output_joints_c: limit(&s.output_cable.joints_most_c),
        winding_c: Limit::assumed(WINDING_C),
        starter: BatteryVolts::of(&model.starter, false).or_typed(volts(&s.starter_battery.most_v)),
        house: BatteryVolts::of(&model.house, gel).or_typed(volts(&s.house_battery.most_v)),
    }
}
