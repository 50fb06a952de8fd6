//! The alternator's effects: its set-point with temperature, its heat, its pick-up, the rule that commands it.

use super::effects::{twelves, typed};
use super::entry::{Entry, From};
use super::parts::Maker;
use crate::model::Model;
use crate::plant::alternator::{PickUp, RegulatorHeat, SET_POINT_REFERENCE_C, Winding};
use crate::plant::set_point_rule::{DEEP, SHALLOW, SetPointRule};
use crate::scenario::Scenario;
use crate::scenario::field::{Num, Origin};
use crate::scenario::key::Unit;

/// How the set-point goes with temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct SetPoint {
    /// At 25 °C, V.
    pub(super) cold_v: f64,
    /// Change per kelvin, V/K.
    pub(super) v_per_k: f64,
}

/// Temperature of the regulator on a warm engine, over that at which the set-point is what it says, K.
fn warm_by_k(s: &Scenario) -> f64 {
    s.drive.bay_c.value + s.alternator.regulator_rise_k.value - SET_POINT_REFERENCE_C
}

/// The set-point of a scenario: two levels, or one of them and the change per kelvin.
pub(super) fn set_point(s: &Scenario) -> SetPoint {
    let a = &s.alternator;
    let own = &a.compensation_mv_per_k;
    let v_per_k = own.value * 1e-3 * twelves(own, s);
    let cold_v = a.set_point_v.value;
    match &a.warm_set_point_v {
        Some(warm) if typed(&a.set_point_v) => {
            SetPoint { cold_v, v_per_k: (warm.value - cold_v) / warm_by_k(s) }
        }
        Some(warm) => SetPoint { cold_v: warm.value - v_per_k * warm_by_k(s), v_per_k },
        None => SetPoint { cold_v, v_per_k },
    }
}

/// Where the deep rule's numbers come from, in the order of [`rule`]'s.
const DEEP_FROM: [&str; 9] = [
    "14.4 to 14.8 V",
    "no hold",
    "14.6 to 15.2 V",
    "12.8 to 13.4 V",
    "12.2 to 12.8 V",
    "13.0 to 13.8 V",
    "14.4 to 14.8 V",
    "a patent summary",
    "a patent summary",
];

/// The rule of a variable set-point, if one commands it. Each of its numbers that nobody typed is told with its source: of the
/// shallow rule the levels are those that a measured car shows at its posts, so what falls on the way to them under the
/// vehicle's own load comes on top.
pub(crate) fn rule(s: &Scenario, tell: &mut dyn FnMut(Entry)) -> Option<SetPointRule> {
    let a = &s.alternator;
    let shallow = match a.regulation.value.as_str() {
        "fixed" => return None,
        word => word == "variable-shallow",
    };
    let own = if shallow { SHALLOW } else { DEEP };
    let droop_v = a.droop_mohm.value * 1e-3 * s.vehicle.running_load_a.value;
    let mut n = 0;
    let mut number = |key: &str, typed: &Option<Num>, unit: Unit, own: f64| {
        let deep = DEEP_FROM[n];
        n += 1;
        if let Some(typed) = typed {
            return typed.value;
        }
        let (value, source) = match (shallow, unit) {
            (false, _) => (own, format!("deep rule, the worse for switching; from memory, {deep}")),
            (true, Unit::V) => (
                own + droop_v,
                format!("shallow rule: {own} V at a measured car's posts, and the droop to them"),
            ),
            (true, _) => (own, "shallow rule: a measured car".to_owned()),
        };
        let num = Num { value, origin: Origin::Default("") };
        tell(Entry { from: From::Default(source), ..Entry::of(format!("alternator.{key}"), unit, &num) });
        value
    };
    Some(SetPointRule {
        start_up_v: number("start_up_v", &a.start_up_v, Unit::V, own.start_up_v),
        start_up_s: number("start_up_s", &a.start_up_s, Unit::S, own.start_up_s),
        overrun_v: number("overrun_v", &a.overrun_v, Unit::V, own.overrun_v),
        cruise_v: number("cruise_v", &a.cruise_v, Unit::V, own.cruise_v),
        accelerating_v: number("accelerating_v", &a.accelerating_v, Unit::V, own.accelerating_v),
        idle_v: number("idle_v", &a.idle_v, Unit::V, own.idle_v),
        refresh_v: number("refresh_v", &a.refresh_v, Unit::V, own.refresh_v),
        low_soc: a.low_pct.value / 100.0,
        cold_c: a.cold_c.value,
        heavy_a: a.heavy_a.value,
        up_v_per_s: number("slew_up_v_per_s", &a.slew_up_v_per_s, Unit::VPerS, own.up_v_per_s),
        down_v_per_s: number("slew_down_v_per_s", &a.slew_down_v_per_s, Unit::VPerS, own.down_v_per_s),
    })
}

impl Maker<'_> {
    pub(super) fn alternator_effects(&mut self, model: &mut Model, s: &Scenario) {
        let spec = &s.alternator;
        let a = &mut model.alternator;
        a.heat = (spec.derate_pct_per_k.value > 0.0).then(|| Winding {
            full_rise_k: spec.winding_rise_k.value,
            time_s: spec.winding_min.value * 60.0,
            derate_per_k: spec.derate_pct_per_k.value / 100.0,
        });
        a.pick_up = (spec.pick_up_a_per_s.value > 0.0)
            .then_some(PickUp { rate_a_per_s: spec.pick_up_a_per_s.value, lag_s: spec.pick_up_lag_s.value });
        a.rule = rule(s, &mut |entry| self.entries.push(entry));
        if let Some(rule) = &a.rule {
            // A rule has its say from the first second: the run starts at what it asks for at rest. Its levels are commanded
            // volts, and nothing compensates them again.
            (a.set_point_v, a.set_point_v_per_k) = (rule.idle_v, 0.0);
            return;
        }
        let SetPoint { cold_v, v_per_k } = set_point(s);
        (a.set_point_v, a.set_point_v_per_k) = (cold_v, v_per_k);
        let by_regulator = spec.compensated_by.value == "regulator";
        a.regulator = (by_regulator && v_per_k != 0.0).then(|| RegulatorHeat {
            rise_k: spec.regulator_rise_k.value,
            warms_s: spec.regulator_warms_min.value * 60.0,
            cools_s: spec.regulator_cools_min.value * 60.0,
            start_c: spec.regulator_start_c.as_ref().map_or(f64::NAN, |c| c.value),
        });
        self.set_point_entries(s);
        self.set_point_checks(s);
    }

    /// Tells what follows from the two levels, or from the cells.
    fn set_point_entries(&mut self, s: &Scenario) {
        let spec = &s.alternator;
        let SetPoint { cold_v, v_per_k } = set_point(s);
        match &spec.warm_set_point_v {
            Some(warm) if typed(&spec.set_point_v) => {
                let how = format!(
                    "{} V warm, {} K over {SET_POINT_REFERENCE_C} °C at the regulator",
                    warm.value,
                    warm_by_k(s)
                );
                self.entries.push(Entry::derived("alternator.compensation_mv_per_k", v_per_k, "V/K", how));
            }
            Some(warm) => {
                let how = format!("{} V warm, at {:.1} mV/K", warm.value, 1e3 * v_per_k);
                self.entries.push(Entry::derived("alternator.set_point_v", cold_v, "V", how));
            }
            None => {
                let own = &spec.compensation_mv_per_k;
                self.for_its_cells("alternator.compensation_mv_per_k", own, 1e-3, s);
            }
        }
    }

    fn set_point_checks(&mut self, s: &Scenario) {
        let spec = &s.alternator;
        let Some(warm) = &spec.warm_set_point_v else { return };
        let path = "alternator.warm_set_point_v";
        if spec.compensated_by.value == "air" {
            let what =
                "the air compensates here, so there is no warm regulator; leave it out, or `compensated_by`";
            self.conflict(path, Some(warm), what.into());
        } else if warm_by_k(s) < 1.0 {
            let what = "its regulator is no warmer than 25 °C in this engine bay; see drive.bay_c and regulator_rise_k";
            self.conflict(path, Some(warm), what.into());
        } else if typed(&spec.set_point_v) && typed(&spec.compensation_mv_per_k) {
            let what = "set_point_v and warm_set_point_v say the change with temperature; leave compensation_mv_per_k out";
            self.conflict("alternator.compensation_mv_per_k", Some(&spec.compensation_mv_per_k), what.into());
        } else if typed(&spec.set_point_v) && warm.value > spec.set_point_v.value {
            let what = format!(
                "a warm regulator holds no more volts than a cold one: {} V over {} V",
                warm.value, spec.set_point_v.value
            );
            self.conflict(path, Some(warm), what);
        }
    }
}
