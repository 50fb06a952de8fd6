//! Which effects beyond the plain model a scenario asks for.

use super::field::{Origin, Sourced, Text};
use super::key::choice;
use super::section::section;
use super::{Num, Scenario};

section! {
    /// `[physics]`: how much of the physics acts.
    PhysicsSpec {
        /// All effects with their defaults, or none beyond the plain model but what the file turns on.
        effects: Text = choice(&["all", "none"]).or_word("all", "the nearest to a vehicle"),
    }
}

/// What stands for nothing in the plain model.
const NOTHING: &str = "plain model: no effect";

/// Turns every effect that nobody wrote down into nothing: the plain model, which closed forms and other programs check.
pub(super) fn make_plain(s: &mut Scenario) {
    let number = |num: &mut Num, nothing: f64| {
        if matches!(num.origin, Origin::Default(_)) {
            *num = Sourced { value: nothing, origin: Origin::Default(NOTHING) };
        }
    };
    let word = |text: &mut Text, nothing: &str| {
        if matches!(text.origin, Origin::Default(_)) {
            *text = Sourced { value: nothing.to_owned(), origin: Origin::Default(NOTHING) };
        }
    };
    let a = &mut s.alternator;
    number(&mut a.compensation_mv_per_k, 0.0);
    number(&mut a.derate_pct_per_k, 0.0);
    number(&mut a.build_up_s, 0.0);
    number(&mut a.pick_up_a_per_s, 0.0);
    number(&mut s.vehicle.loads_stop_v, 0.0);
    number(&mut s.house.loads_stop_v, 0.0);
    number(&mut s.gears.stop_from_soc_pct, 0.0);
    number(&mut s.gears.restart_under_v, 0.0);
    word(&mut s.starter_battery.chemistry, "linear");
    word(&mut s.starter_battery.temperature, "stays");
    word(&mut s.input_cable.laying, "constant");
    word(&mut s.output_cable.laying, "constant");
    let c = &mut s.converter;
    number(&mut c.derate_from_c, 0.0);
    number(&mut c.lock_c, 0.0);
    let h = &mut s.house_battery;
    number(&mut h.hysteresis_mv, 0.0);
    number(&mut h.cold_ratio, 1.0);
    word(&mut h.top, "stays");
    number(&mut h.self_discharge_pct_per_month, 0.0);
    word(&mut h.temperature, "stays");
    word(&mut s.protection.fitted, "no");
}
