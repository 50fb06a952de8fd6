//! Defaults that nothing reads in a scenario are no part of its model: nobody needs to measure them.

use super::entry::{Entry, From};
use crate::scenario::Scenario;
use crate::scenario::drive::PieceSpec;

/// Takes out defaults that this scenario does not use, and those that a derived number replaces.
pub(super) fn drop_unused(s: &Scenario, entries: &mut Vec<Entry>) {
    let mut unused: Vec<String> =
        entries.iter().filter(|e| matches!(e.from, From::Derived(_))).map(|e| e.name.clone()).collect();
    let mut drop = |section: &str, names: &[&str]| {
        unused.extend(names.iter().map(|n| format!("{section}.{n}")));
    };
    alternator(s, &mut drop);
    batteries(s, &mut drop);
    unit(s, &mut drop);
    sources(s, &mut drop);
    let files = !s.drive_files().is_empty();
    if !files {
        let all = ["shift_up_rpm", "shift_down_rpm", "stop_after_s", "stop_from_c", "fuel_cut_above_rpm"];
        drop("gears", &all);
        drop("gears", &["warm_up_min", "fast_idle_rpm", "cools_h"]);
        drop("drive", &["longest_sample_s"]);
    } else if s.gears.stop_start.value == "no" {
        drop("gears", &["stop_after_s", "stop_from_c"]);
    }
    let by_calendar =
        s.calendar.iter().flat_map(|c| c.drives()).any(|(_, d)| d.between.value == "stop-start");
    let stops = by_calendar || files && s.gears.stop_start.value == "yes";
    if !stops {
        drop("gears", &["stop_from_soc_pct", "restart_under_v"]);
    }
    if !files && !stops {
        drop("gears", &["idle_rpm"]);
    }
    if s.gears.warm_up_min.value == 0.0 {
        drop("gears", &["fast_idle_rpm", "cools_h"]);
    }
    if s.vehicle.awake_load_a.value == 0.0 {
        drop("vehicle", &["sleep_after_min"]);
    }
    drop("drive", &["repeat"]);
    drop("calendar", &["drive_factor", "sun_step_min"]);
    for (path, drive) in s.calendar.iter().flat_map(|c| c.drives()) {
        if drive.times.place().is_none() {
            drop(&path, &["times"]);
        }
    }
    entries.retain(|e| !matches!(e.from, From::Default(_)) || !unused.contains(&e.name));
}

fn alternator(s: &Scenario, drop: &mut impl FnMut(&str, &[&str])) {
    let a = &s.alternator;
    if a.regulation.value == "fixed" {
        drop("alternator", &["low_pct", "cold_c", "heavy_a"]);
        drop("gears", &["fuel_cut_above_rpm"]);
    }
    const REGULATOR: [&str; 3] = ["regulator_rise_k", "regulator_warms_min", "regulator_cools_min"];
    let fixed = a.regulation.value == "fixed";
    let warms = fixed && a.compensated_by.value == "regulator" && a.compensation_mv_per_k.value != 0.0;
    if !warms && a.warm_set_point_v.is_none() {
        drop("alternator", &REGULATOR);
    }
    if !fixed {
        drop("alternator", &["compensation_mv_per_k"]);
    }
    if a.derate_pct_per_k.value == 0.0 {
        drop("alternator", &["winding_rise_k", "winding_min"]);
    }
    if a.pick_up_a_per_s.value == 0.0 {
        drop("alternator", &["pick_up_lag_s"]);
    }
    let cold = s.input_cable.laying.value == "constant"
        && a.derate_pct_per_k.value == 0.0
        && s.starter_battery.place.value != "bay"
        && !warms;
    if cold {
        drop("drive", &["bay_c"]);
    }
}

fn batteries(s: &Scenario, drop: &mut impl FnMut(&str, &[&str])) {
    const BRANCHES: [&str; 5] = ["r1_mohm", "tau1_s", "r2_mohm", "tau2_s", "charge_efficiency_pct"];
    for (section, chemistry) in [
        ("starter_battery", &s.starter_battery.chemistry.value),
        ("house_battery", &s.house_battery.chemistry.value),
    ] {
        let lead_acid = matches!(chemistry.as_str(), "flooded" | "agm" | "gel");
        if lead_acid {
            drop(section, &BRANCHES);
        }
        if !lead_acid {
            drop(section, &["rests_over_mv"]);
        }
        if chemistry != "linear" {
            drop(section, &["empty_v", "full_v"]);
        }
        if !lead_acid && chemistry != "lfp" {
            drop(section, &["cells"]);
        }
        if chemistry != "lfp" {
            drop(section, &["hysteresis_mv", "cold_ratio", "self_discharge_pct_per_month"]);
        }
    }
    let p = &s.protection;
    let fitted =
        p.fitted.value == "yes" || (p.fitted.value == "auto" && s.house_battery.chemistry.value == "lfp");
    if !fitted {
        drop("protection", &["cold_c", "cold_release_c", "over_release_s", "heater_w"]);
    }
}

fn unit(s: &Scenario, drop: &mut impl FnMut(&str, &[&str])) {
    let c = &s.converter;
    for (section, laying) in
        [("input_cable", &s.input_cable.laying), ("output_cable", &s.output_cable.laying)]
    {
        if laying.value == "constant" {
            drop(section, &["insulation_c", "joints_most_c"]);
        }
    }
    if c.locker_w_per_k.value == 0.0 {
        drop("converter", &["locker_heat_j_per_k", "vent_cm2"]);
    }
    if c.derate_from_c.value == 0.0 {
        drop("converter", &["derate_to_c"]);
    }
    if c.lock_c.value == 0.0 {
        drop("converter", &["reclose_c"]);
    }
    if s.stages.mode.value == "fixed-supply" {
        let stages =
            ["tail_a", "tail_hold_s", "absorption_cap_min", "float_v", "recharge_v", "recharge_hold_s"];
        drop("stages", &stages);
    }
    if s.start_stop.signal.value != "second-pair" {
        drop("start_stop", &["signal_turn_on_v", "signal_turn_off_v"]);
    }
    for (cable, whole, laying) in [
        ("input_cable", s.input_cable.resistance_mohm.is_some(), &s.input_cable.laying.value),
        ("output_cable", s.output_cable.resistance_mohm.is_some(), &s.output_cable.laying.value),
    ] {
        if whole {
            drop(cable, &["length_m", "area_mm2", "joints_mohm"]);
        }
        if whole || laying == "constant" {
            drop(cable, &["engine_bay_m", "joints_w_per_k"]);
        }
    }
}

fn sources(s: &Scenario, drop: &mut impl FnMut(&str, &[&str])) {
    const REGULATOR: [&str; 2] = ["set_point_v", "resistance_mohm"];
    let any = |shines: fn(&PieceSpec) -> bool| s.pieces.iter().any(shines);
    let above = |n: &Option<crate::scenario::Num>| n.as_ref().is_some_and(|w| w.value > 0.0);
    let days = || s.calendar.iter().flat_map(|c| c.days.iter().flat_map(|d| &d.during));
    let lay_ups = || s.calendar.iter().flat_map(|c| &c.lay_ups);
    let seasons = || s.calendar.iter().flat_map(|c| &c.seasons);
    let sun = s.house_solar.power_w.value > 0.0
        || days().any(|d| above(&d.house_solar_w))
        || lay_ups().any(|l| above(&l.house_solar_w))
        || seasons().any(|x| above(&x.noon_w))
        || any(|p| p.file.is_some() || p.house_solar_w.as_ref().is_some_and(|w| w.value > 0.0));
    if !sun {
        drop("house_solar", &REGULATOR);
    }
    if s.house_mains.current_a.value == 0.0
        && !s.pieces.iter().any(|p| above(&p.house_mains_a))
        && !days().any(|d| above(&d.house_mains_a))
        && !lay_ups().any(|l| above(&l.house_mains_a))
    {
        drop("house_mains", &REGULATOR);
    }
    if s.starter_solar.power_w.value == 0.0
        && !s.pieces.iter().any(|p| above(&p.starter_solar_w))
        && !days().any(|d| above(&d.starter_solar_w))
        && !lay_ups().any(|l| above(&l.starter_solar_w))
    {
        drop("starter_solar", &REGULATOR);
    }
}
