//! Effects beyond the plain model: what the scenario's keys make of them.
//!
//! A key at nothing leaves the plain model's part as it is, so that both are the same to the bit.

use super::entry::Entry;
use super::parts::{Maker, house_cells};
use crate::model::{Converter, Model, Protection, SignalUse, Vehicle};
use crate::plant::battery::{
    Battery, BatteryState, Chemistry, HOUSE_AGM, HOUSE_FLOODED, HOUSE_GEL, LeadAcid, LeadAcidSet, Lithium,
    STARTER_AGM, STARTER_FLOODED, ThermalNode, activation_k,
};
use crate::plant::cable::{Cable, Conductor};
use crate::plant::laying::{Laying, j_per_k_m};
use crate::scenario::Scenario;
use crate::scenario::field::{Num, Origin};
use crate::scenario::house_side::HouseBatterySpec;
use crate::scenario::unit_side::{ConverterSpec, StartStopSpec};
use crate::time::DAY_S;

/// Heat through a vent, W/K for each cm² of free area; from memory, low confidence.
const VENT_W_PER_K_CM2: f64 = 0.03;
/// A filter before the thresholds that settles faster than this is none, s: nothing that it could smooth lasts that little
/// here, and steps would have to follow it.
const SHORTEST_FILTER_S: f64 = 1e-3;
/// Heat capacity of a cable's joints together, J/K; from memory, low confidence.
const JOINTS_J_PER_K: f64 = 20.0;
/// Volts per cell of an LFP battery's protection where the file says nothing: high, its release, low, its release; from
/// memory.
const CELL_PROTECTION_V: [f64; 4] = [3.65, 3.45, 2.6, 3.1];
/// Compensation of charge voltages of a 12 V lead-acid battery, V/K; practice, -3 to -5 mV/K for each of six cells.
const LEAD_ACID_V_PER_K: f64 = -0.024;

/// What is wrong with half a cell.
pub(super) const CELLS_WHOLE: &str = "the number of cells is a whole number";

pub(super) fn typed(num: &Num) -> bool {
    !matches!(num.origin, Origin::Default(_))
}

/// Factor to a default that is that of a 12 V vehicle.
pub(super) fn twelves(num: &Num, s: &Scenario) -> f64 {
    if typed(num) { 1.0 } else { s.starter_battery.cells.value / 6.0 }
}

impl Maker<'_> {
    /// Puts every effect that the scenario asks for into the model.
    pub(super) fn effects(&mut self, model: &mut Model, s: &Scenario) {
        self.alternator_effects(model, s);
        model.vehicle = Vehicle {
            drop_out_v: self.for_its_cells("vehicle.loads_stop_v", &s.vehicle.loads_stop_v, 1.0, s),
            return_v: self.for_its_cells("vehicle.loads_return_v", &s.vehicle.loads_return_v, 1.0, s),
            starter_in_bay: s.starter_battery.place.value == "bay",
            ..model.vehicle
        };
        let v = &model.vehicle;
        if v.drop_out_v > 0.0 && v.return_v <= v.drop_out_v {
            let told = [&s.vehicle.loads_return_v, &s.vehicle.loads_stop_v].into_iter().find(|n| typed(n));
            let what = format!(
                "the loads come back at {:.2} V, which does not lie above the {:.2} V at which they stop",
                v.return_v, v.drop_out_v
            );
            self.conflict("vehicle.loads_return_v", told, what);
        }
        if let Some(battery) = self.starter_chemistry(s) {
            model.starter = battery.moved_v(s.starter_battery.rests_over_mv.value * 1e-3);
        }
        if let Some(battery) = self.house_chemistry(&s.house_battery) {
            model.house = battery;
        }
        model.protection = self.protection(s);
        self.house_loads(model, s);
        self.runs(model, s);
        let link = &mut model.links[0];
        heat(&mut link.converter, &s.converter);
        let filter_s = s.start_stop.filter_s.value;
        link.start_stop.filter_s = if filter_s < SHORTEST_FILTER_S { 0.0 } else { filter_s };
        link.start_stop.signal = signal(&s.start_stop);
        link.stages.fixed_supply = s.stages.mode.value == "fixed-supply";
        link.stages.resume = s.stages.turn_on_begins.value == "where-it-left";
        link.stages.cap_cumulative = s.stages.cap_counts.value == "all";
        let lead_acid = matches!(model.house.chemistry, Chemistry::LeadAcid(_));
        let own = if lead_acid { LEAD_ACID_V_PER_K * house_cells(&s.house_battery) / 6.0 } else { 0.0 };
        link.stages.v_per_k = s.stages.compensation_mv_per_k.as_ref().map_or(own, |c| c.value * 1e-3);
        if lead_acid && s.stages.compensation_mv_per_k.is_none() {
            let how = "-4 mV/K for each cell, practice".to_owned();
            self.entries.push(Entry::derived("stages.compensation_mv_per_k", own, "V/K", how));
        }
        self.heat_checks(s);
    }

    /// A number in SI whose default, that of a 12 V vehicle, goes with the starter battery's cells.
    pub(super) fn for_its_cells(&mut self, path: &str, num: &Num, si: f64, s: &Scenario) -> f64 {
        self.by_twelves(path, num.value * si, twelves(num, s), "the starter battery's cells")
    }

    /// A default of a 12 V system times a factor, which is told where it is another system.
    pub(super) fn by_twelves(&mut self, path: &str, value: f64, factor: f64, by: &str) -> f64 {
        if factor != 1.0 && value != 0.0 {
            let unit = if path.ends_with("_per_k") { "V/K" } else { "V" };
            let how = format!("{factor} times that of 12 V, by {by}");
            self.entries.push(Entry::derived(path, value * factor, unit, how));
        }
        value * factor
    }

    fn starter_chemistry(&mut self, s: &Scenario) -> Option<Battery> {
        let spec = &s.starter_battery;
        let set = match spec.chemistry.value.as_str() {
            "flooded" => &STARTER_FLOODED,
            "agm" => &STARTER_AGM,
            _ => return None,
        };
        if spec.cells.value.fract() != 0.0 {
            self.conflict("starter_battery.cells", Some(&spec.cells), CELLS_WHOLE.into());
        }
        let (cells, label) = (spec.cells.value, spec.cranking_label_a.as_ref());
        let battery =
            self.lead_acid("starter_battery", set, (&spec.capacity_ah, cells), &spec.r0_mohm, label);
        let battery = battery.with_start_soc(spec.start_pct.value / 100.0);
        let thermal =
            if spec.temperature.value == "follows" { battery.thermal_node() } else { ThermalNode::FIXED };
        let start_c = spec.start_c.as_ref().map_or(f64::NAN, |c| c.value);
        Some(Battery { chemistry: Chemistry::LeadAcid(battery), thermal, start_c })
    }

    fn lead_acid(
        &mut self,
        path: &str,
        set: &LeadAcidSet,
        (ah, cells): (&Num, f64),
        r0: &Num,
        label_a: Option<&Num>,
    ) -> LeadAcid {
        let mut battery = LeadAcid::from_set(set, ah.value).with_cells(cells as u16);
        let mut how = "the kind's resistance over capacity; fitted to trade figures".to_owned();
        if typed(r0) {
            battery = battery.with_r0(r0.value * 1e-3);
        }
        if let Some(label) = label_a {
            battery = battery.with_cranking_label(label.value);
            how = format!("brought to the label's {} A of cold cranking", label.value);
        }
        if !typed(r0) || label_a.is_some() {
            self.entries.push(Entry::derived(&format!("{path}.r0_mohm"), battery.r0_ohm, "Ω", how));
        }
        let how = "rested-voltage tables of this kind of battery".to_owned();
        self.entries.push(Entry::derived(&format!("{path}.empty_v"), battery.empty_v, "V", how.clone()));
        self.entries.push(Entry::derived(&format!("{path}.full_v"), battery.full_v, "V", how));
        battery
    }

    fn house_chemistry(&mut self, spec: &HouseBatterySpec) -> Option<Battery> {
        let follows = spec.temperature.value == "follows";
        let start_c = spec.start_c.as_ref().map_or(f64::NAN, |c| c.value);
        let start_soc = spec.start_pct.value / 100.0;
        let set = match spec.chemistry.value.as_str() {
            "flooded" => &HOUSE_FLOODED,
            "agm" => &HOUSE_AGM,
            "gel" => &HOUSE_GEL,
            "lfp" => return lfp(spec),
            _ => return None,
        };
        let cells = house_cells(spec);
        let battery = self.lead_acid("house_battery", set, (&spec.capacity_ah, cells), &spec.r0_mohm, None);
        let battery = battery.with_start_soc(start_soc);
        let thermal = if follows { battery.thermal_node() } else { ThermalNode::FIXED };
        Some(Battery { chemistry: Chemistry::LeadAcid(battery), thermal, start_c })
    }

    fn protection(&mut self, s: &Scenario) -> Protection {
        let p = &s.protection;
        let lithium = s.house_battery.chemistry.value == "lfp";
        if !s.protected() {
            return Protection::NONE;
        }
        if p.over_a.is_none() {
            let ah = s.house_battery.capacity_ah.value;
            self.entries.push(Entry::derived(
                "protection.over_a",
                ah,
                "A",
                "the capacity in one hour".into(),
            ));
        }
        let cells = house_cells(&s.house_battery);
        let mut volts = |name: &str, given: &Option<Num>, n: usize, otherwise: f64| match given {
            Some(v) => v.value,
            None if lithium => {
                let v = CELL_PROTECTION_V[n] * cells;
                let how = format!("{} V for each cell, from memory", CELL_PROTECTION_V[n]);
                self.entries.push(Entry::derived(&format!("protection.{name}"), v, "V", how));
                v
            }
            None => otherwise,
        };
        let protection = Protection {
            cold_c: p.cold_c.value,
            cold_release_c: p.cold_release_c.value,
            high_v: volts("high_v", &p.high_v, 0, f64::INFINITY),
            high_release_v: volts("high_release_v", &p.high_release_v, 1, f64::INFINITY),
            low_v: volts("low_v", &p.low_v, 2, f64::NEG_INFINITY),
            low_release_v: volts("low_release_v", &p.low_release_v, 3, f64::NEG_INFINITY),
            over_a: p.over_a.as_ref().map_or(s.house_battery.capacity_ah.value, |a| a.value),
            over_release_s: p.over_release_s.value,
            heater_w: p.heater_w.value,
        };
        let order = [
            (protection.cold_release_c < protection.cold_c, "cold_release_c", "lies under cold_c"),
            (
                protection.high_v.is_finite() && protection.high_release_v >= protection.high_v,
                "high_release_v",
                "does not lie under high_v",
            ),
            (
                protection.low_v.is_finite() && protection.low_release_v <= protection.low_v,
                "low_release_v",
                "does not lie above low_v",
            ),
        ];
        for (wrong, key, what) in order {
            if wrong {
                self.conflict(&format!("protection.{key}"), None, format!("`{key}` {what}"));
            }
        }
        protection
    }

    /// Defaults are those of a 12 V house, and go with the battery's rested volts.
    fn house_loads(&mut self, model: &mut Model, s: &Scenario) {
        let house = &model.house;
        let half_full = BatteryState { soc: 0.5, temp_c: 25.0, ..BatteryState::default() };
        let rested_v = house.port(&half_full, &house.hold(&half_full, 0.0)).emf_v;
        let twelves = (rested_v / 12.5).round().max(1.0);
        let h = &s.house;
        let mut volts = |path: &str, own: &Num| {
            let factor = if typed(own) { 1.0 } else { twelves };
            self.by_twelves(path, own.value, factor, "the house battery's rested volts")
        };
        let stop_v = volts("house.loads_stop_v", &h.loads_stop_v);
        let return_v = volts("house.loads_return_v", &h.loads_return_v);
        if stop_v > 0.0 && return_v <= stop_v {
            let told = [&h.loads_return_v, &h.loads_stop_v].into_iter().find(|n| typed(n));
            let what = format!(
                "the loads come back at {return_v:.2} V, which does not lie above the {stop_v:.2} V at which they are shed"
            );
            self.conflict("house.loads_return_v", told, what);
        }
        (model.house_loads.stop_v, model.house_loads.return_v) = (stop_v, return_v);
    }

    fn runs(&mut self, model: &mut Model, s: &Scenario) {
        let link = &mut model.links[0];
        let input = &s.input_cable;
        let bay_m = input.engine_bay_m.value.min(input.length_m.value);
        if input.resistance_mohm.is_none() {
            let fields = Warmed {
                laying: &input.laying.value,
                length_m: input.length_m.value,
                bay_m,
                area_mm2: area_mm2(input.awg.as_ref(), input.sae.as_ref(), input.area_mm2.value),
                joints_w_per_k: input.joints_w_per_k.value,
            };
            warm(&mut link.input_cable, &fields);
        }
        let output = &s.output_cable;
        if output.resistance_mohm.is_none() {
            let fields = Warmed {
                laying: &output.laying.value,
                length_m: output.length_m.value,
                bay_m: 0.0,
                area_mm2: area_mm2(output.awg.as_ref(), output.sae.as_ref(), output.area_mm2.value),
                joints_w_per_k: output.joints_w_per_k.value,
            };
            warm(&mut link.output_cable, &fields);
        }
        if typed(&input.engine_bay_m) && input.engine_bay_m.value > input.length_m.value {
            let what = format!(
                "{} m in the engine bay is more than the cable's {} m",
                input.engine_bay_m.value, input.length_m.value
            );
            self.conflict("input_cable.engine_bay_m", Some(&input.engine_bay_m), what);
        }
    }

    fn heat_checks(&mut self, s: &Scenario) {
        let c = &s.converter;
        if c.derate_from_c.value > 0.0 && c.derate_to_c.value <= c.derate_from_c.value {
            let what = "the derating line must end above where it begins".to_owned();
            self.conflict("converter.derate_to_c", Some(&c.derate_to_c), what);
        }
        if c.lock_c.value > 0.0 && c.reclose_c.value >= c.lock_c.value {
            let what = "the unit must cool to restart: reclose_c lies under lock_c".to_owned();
            self.conflict("converter.reclose_c", Some(&c.reclose_c), what);
        }
    }
}

/// An LFP battery with its effects, or `None` where all of them are nothing: then the plain one stands.
fn lfp(spec: &HouseBatterySpec) -> Option<Battery> {
    let follows = spec.temperature.value == "follows";
    let relaxes = spec.top.value == "relaxes";
    let plain = spec.hysteresis_mv.value == 0.0
        && spec.cold_ratio.value == 1.0
        && !relaxes
        && spec.self_discharge_pct_per_month.value == 0.0
        && !follows;
    if plain {
        return None;
    }
    let cells = house_cells(spec);
    let mut b = Lithium::lfp(spec.capacity_ah.value, cells as u16);
    b.r0_ohm = spec.r0_mohm.value * 1e-3;
    b.branch_ohm = [spec.r1_mohm.value * 1e-3, spec.r2_mohm.value * 1e-3];
    b.branch_s = [spec.tau1_s.value, spec.tau2_s.value];
    b.charge_efficiency = spec.charge_efficiency_pct.value / 100.0;
    b.hysteresis_v = cells * spec.hysteresis_mv.value * 1e-3;
    b.activation_k = activation_k(spec.cold_ratio.value);
    if !relaxes {
        b.top = None;
    }
    b.self_discharge_per_s = spec.self_discharge_pct_per_month.value / 100.0 / (30.0 * DAY_S);
    b.start_soc = spec.start_pct.value / 100.0;
    let thermal = if follows { b.thermal_node() } else { ThermalNode::FIXED };
    let start_c = spec.start_c.as_ref().map_or(f64::NAN, |c| c.value);
    Some(Battery { chemistry: Chemistry::Lithium(b), thermal, start_c })
}

/// What decides how warm a cable gets.
struct Warmed<'a> {
    laying: &'a str,
    length_m: f64,
    bay_m: f64,
    area_mm2: f64,
    joints_w_per_k: f64,
}

/// Splits a cable of constant temperature into legs and sections with their heat.
fn warm(cable: &mut Cable, w: &Warmed) {
    let laying = match w.laying {
        "free-air" => Laying::FreeAir,
        "clipped" => Laying::Clipped,
        "sleeved" => Laying::Sleeved,
        "bundled" => Laying::Bundled,
        _ => return,
    };
    if w.length_m > 0.0 {
        let ohm_per_m = 0.5 * cable.conductor_ohm() / w.length_m;
        let leg = |length_m: f64, in_bay: bool| {
            if length_m <= 0.0 {
                return Conductor::default();
            }
            Conductor {
                ohm_20: ohm_per_m * length_m,
                j_per_k: j_per_k_m(w.area_mm2) * length_m,
                w_per_k: laying.w_per_k_m(w.area_mm2) * length_m,
                in_bay,
            }
        };
        let cabin_m = w.length_m - w.bay_m;
        cable.conductors = if w.bay_m > 0.0 {
            [leg(w.bay_m, true), leg(w.bay_m, true), leg(cabin_m, false), leg(cabin_m, false)]
        } else {
            [leg(cabin_m, false), leg(cabin_m, false), Conductor::default(), Conductor::default()]
        };
    }
    cable.joints_j_per_k = JOINTS_J_PER_K;
    cable.joints_w_per_k = w.joints_w_per_k;
    cable.joints_in_bay = w.bay_m > 0.0;
}

fn area_mm2(awg: Option<&crate::scenario::Text>, sae: Option<&crate::scenario::Text>, metric: f64) -> f64 {
    use crate::plant::conductor::{awg_area_mm2, sae_area_mm2};
    awg.and_then(|t| awg_area_mm2(t.value.trim()))
        .or_else(|| sae.and_then(|t| sae_area_mm2(t.value.trim())))
        .unwrap_or(metric)
}

fn heat(c: &mut Converter, spec: &ConverterSpec) {
    let walls = spec.locker_w_per_k.value;
    if walls > 0.0 {
        c.locker = ThermalNode {
            j_per_k: spec.locker_heat_j_per_k.value,
            w_per_k: walls + VENT_W_PER_K_CM2 * spec.vent_cm2.value,
        };
    }
    if spec.derate_from_c.value > 0.0 {
        c.derate_from_c = spec.derate_from_c.value;
        c.derate_to_c = spec.derate_to_c.value;
    }
    if spec.lock_c.value > 0.0 {
        c.lock_c = spec.lock_c.value;
        c.reclose_c = spec.reclose_c.value;
    }
}

fn signal(spec: &StartStopSpec) -> SignalUse {
    match spec.signal.value.as_str() {
        "required" => SignalUse::Required,
        "either" => SignalUse::Either,
        "second-pair" => SignalUse::SecondPair {
            turn_on_v: spec.signal_turn_on_v.value,
            turn_off_v: spec.signal_turn_off_v.value,
        },
        _ => SignalUse::Ignored,
    }
}
