//! Where each number of the resolved model comes from: a key of the scenario, other numbers, or what is built in.
//!
//! Paths are those of the model as it is written out, an index of a list as a number. `*` stands for one part of a path.

/// Where a number of the model comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// A key, or a derived number of that name.
    Key(&'static str),
    /// It follows from others; with how.
    Derived(&'static str),
    /// Built in; with the source.
    BuiltIn(&'static str),
}

use super::numbers;
use Source::{BuiltIn, Derived, Key};

/// Where a fuse's curves come from.
const FUSE_CURVE: &str = "the curve typed, or the band of its type: ISO 8820-3 and -5, from memory";
/// Where a fuse's time constant comes from.
const FUSE_COOLS: &str = "the late edge's time at twice the rating, over ln(4/(4 - 1.21))";

/// Numbers outside the batteries that are more, or less, than what one key says; the others stand in [`super::numbers`].
const MODEL: &[(&str, Source)] = &[
    ("alternator.set_point_v", Key("alternator.set_point_v")),
    ("alternator.set_point_v_per_k", Key("alternator.compensation_mv_per_k")),
    ("alternator.regulator.rise_k", Key("alternator.regulator_rise_k")),
    ("alternator.regulator.warms_s", Key("alternator.regulator_warms_min")),
    ("alternator.regulator.cools_s", Key("alternator.regulator_cools_min")),
    ("alternator.regulator.start_c", Key("alternator.regulator_start_c")),
    ("alternator.heat.full_rise_k", Key("alternator.winding_rise_k")),
    ("alternator.heat.time_s", Key("alternator.winding_min")),
    ("alternator.heat.derate_per_k", Key("alternator.derate_pct_per_k")),
    ("alternator.pick_up.rate_a_per_s", Key("alternator.pick_up_a_per_s")),
    ("alternator.pick_up.lag_s", Key("alternator.pick_up_lag_s")),
    ("alternator.rule.start_up_v", Key("alternator.start_up_v")),
    ("alternator.rule.start_up_s", Key("alternator.start_up_s")),
    ("alternator.rule.overrun_v", Key("alternator.overrun_v")),
    ("alternator.rule.cruise_v", Key("alternator.cruise_v")),
    ("alternator.rule.accelerating_v", Key("alternator.accelerating_v")),
    ("alternator.rule.idle_v", Key("alternator.idle_v")),
    ("alternator.rule.refresh_v", Key("alternator.refresh_v")),
    ("alternator.rule.low_soc", Key("alternator.low_pct")),
    ("alternator.rule.cold_c", Key("alternator.cold_c")),
    ("alternator.rule.heavy_a", Key("alternator.heavy_a")),
    ("alternator.rule.up_v_per_s", Key("alternator.slew_up_v_per_s")),
    ("alternator.rule.down_v_per_s", Key("alternator.slew_down_v_per_s")),
    ("alternator.droop_ohm", Key("alternator.droop_mohm")),
    ("alternator.asymptote_a", Key("alternator.asymptote_a")),
    ("alternator.cut_in_rpm", Key("alternator.cut_in_rpm")),
    ("alternator.rise_rpm", Key("alternator.rise_rpm")),
    ("alternator.pulley_ratio", Key("alternator.pulley_ratio")),
    ("vehicle.drop_out_v", Key("vehicle.loads_stop_v")),
    ("vehicle.return_v", Key("vehicle.loads_return_v")),
    ("house_loads.stop_v", Key("house.loads_stop_v")),
    ("house_loads.return_v", Key("house.loads_return_v")),
    ("protection.cold_c", Key("protection.cold_c")),
    ("protection.cold_release_c", Key("protection.cold_release_c")),
    ("protection.high_v", Key("protection.high_v")),
    ("protection.high_release_v", Key("protection.high_release_v")),
    ("protection.low_v", Key("protection.low_v")),
    ("protection.low_release_v", Key("protection.low_release_v")),
    ("protection.over_a", Key("protection.over_a")),
    ("protection.over_release_s", Key("protection.over_release_s")),
    ("protection.heater_w", Key("protection.heater_w")),
    ("links.*.converter.locker.j_per_k", Key("converter.locker_heat_j_per_k")),
    ("links.*.converter.locker.w_per_k", Derived("walls, and 0.03 W/K for each cm² of vent, from memory")),
    ("links.*.converter.derate_from_c", Key("converter.derate_from_c")),
    ("links.*.converter.derate_to_c", Key("converter.derate_to_c")),
    ("links.*.converter.lock_c", Key("converter.lock_c")),
    ("links.*.converter.reclose_c", Key("converter.reclose_c")),
    ("links.*.start_stop.signal.second_pair.turn_on_v", Key("start_stop.signal_turn_on_v")),
    ("links.*.start_stop.signal.second_pair.turn_off_v", Key("start_stop.signal_turn_off_v")),
    ("links.*.start_stop.filter_s", Key("start_stop.filter_s")),
    ("links.*.stages.v_per_k", Key("stages.compensation_mv_per_k")),
    ("links.*.input_cable.joints_w_per_k", Key("input_cable.joints_w_per_k")),
    ("links.*.input_cable.joints_ohm", Key("input_cable.joints_mohm")),
    ("links.*.output_cable.joints_w_per_k", Key("output_cable.joints_w_per_k")),
    ("links.*.output_cable.joints_ohm", Key("output_cable.joints_mohm")),
    ("links.*.input_cable.battery_end_fuse.rating_a", Key("input_cable.fuse_a")),
    (
        "links.*.input_cable.battery_end_fuse.breaks_a",
        Derived("fuse_breaks_a, or what fuses of its type break"),
    ),
    ("links.*.input_cable.battery_end_fuse.opening.curves.*.times_rating.*", Derived(FUSE_CURVE)),
    ("links.*.input_cable.battery_end_fuse.opening.curves.*.opens_s.*", Derived(FUSE_CURVE)),
    ("links.*.input_cable.battery_end_fuse.opening.cools_s", Derived(FUSE_COOLS)),
    ("links.*.input_cable.unit_end_fuse.rating_a", Key("input_cable.unit_end_fuse_a")),
    (
        "links.*.input_cable.unit_end_fuse.breaks_a",
        Derived("unit_end_fuse_breaks_a, or what fuses of its type break"),
    ),
    ("links.*.input_cable.unit_end_fuse.opening.curves.*.times_rating.*", Derived(FUSE_CURVE)),
    ("links.*.input_cable.unit_end_fuse.opening.curves.*.opens_s.*", Derived(FUSE_CURVE)),
    ("links.*.input_cable.unit_end_fuse.opening.cools_s", Derived(FUSE_COOLS)),
    ("links.*.output_cable.battery_end_fuse.rating_a", Key("output_cable.fuse_a")),
    (
        "links.*.output_cable.battery_end_fuse.breaks_a",
        Derived("fuse_breaks_a, or what fuses of its type break"),
    ),
    ("links.*.output_cable.battery_end_fuse.opening.curves.*.times_rating.*", Derived(FUSE_CURVE)),
    ("links.*.output_cable.battery_end_fuse.opening.curves.*.opens_s.*", Derived(FUSE_CURVE)),
    ("links.*.output_cable.battery_end_fuse.opening.cools_s", Derived(FUSE_COOLS)),
    ("links.*.output_cable.unit_end_fuse.rating_a", Key("output_cable.unit_end_fuse_a")),
    (
        "links.*.output_cable.unit_end_fuse.breaks_a",
        Derived("unit_end_fuse_breaks_a, or what fuses of its type break"),
    ),
    ("links.*.output_cable.unit_end_fuse.opening.curves.*.times_rating.*", Derived(FUSE_CURVE)),
    ("links.*.output_cable.unit_end_fuse.opening.curves.*.opens_s.*", Derived(FUSE_CURVE)),
    ("links.*.output_cable.unit_end_fuse.opening.cools_s", Derived(FUSE_COOLS)),
    ("links.*.*.conductors.*.ohm_20", Derived("resistance per metre of its size, times its length")),
    (
        "links.*.*.conductors.*.j_per_k",
        Derived("3.45e-3 J/(K·mm³) of copper, IEC 60364-5-54 annex A; 0: not followed"),
    ),
    (
        "links.*.*.conductors.*.w_per_k",
        Derived("12 W/(m²·K) times surface and the share of its laying, from memory"),
    ),
    ("links.*.*.joints_j_per_k", BuiltIn("from memory, low confidence; 0: not followed")),
];

/// Numbers of a battery, with the key of its section.
const BATTERY: &[(&str, Source)] = &[
    ("start_c", Key("start_c")),
    ("thermal.j_per_k", Derived("per capacity and cell of its kind, from memory")),
    (
        "thermal.w_per_k",
        Derived(
            "per surface of a battery of its capacity: lead-acid fitted to a bench battery, lithium assumed",
        ),
    ),
    ("chemistry.*.capacity_c", Key("capacity_ah")),
    ("chemistry.*.start_soc", Key("start_pct")),
    ("chemistry.*.cells", Key("cells")),
    ("chemistry.*.emf.linear.empty_v", Key("empty_v")),
    ("chemistry.*.emf.linear.full_v", Key("full_v")),
    (
        "chemistry.*.emf.table.*.*",
        Derived("`table_pct` and `table_v`, or the measured table of an LFP cell times cells"),
    ),
    ("chemistry.*.r0_ohm", Key("r0_mohm")),
    ("chemistry.*.branch_ohm.0", Key("r1_mohm")),
    ("chemistry.*.branch_ohm.1", Key("r2_mohm")),
    ("chemistry.*.branch_s.0", Key("tau1_s")),
    ("chemistry.*.branch_s.1", Key("tau2_s")),
    ("chemistry.plain.charge_efficiency", Key("charge_efficiency_pct")),
    ("chemistry.lithium.charge_efficiency", Key("charge_efficiency_pct")),
    (
        "chemistry.lithium.top.excess.*.*",
        BuiltIn(
            "a bank rested at 13.26 to 13.28 V; a full cell near 3.35 to 3.40 V, common practice: 3.375 V taken",
        ),
    ),
    ("chemistry.lithium.top.relax_s", BuiltIn("assumed, tens of minutes")),
    ("chemistry.lithium.top.follow_c", BuiltIn("assumed, a fifth of a per cent of the capacity")),
    (
        "chemistry.lithium.activation_k",
        Derived("`cold_ratio` between 0 and 25 °C, as an activation temperature"),
    ),
    ("chemistry.lithium.hysteresis_v", Derived("`hysteresis_mv` times cells")),
    ("chemistry.lithium.hysteresis_rate", BuiltIn("assumed, 95 % of the way after 15 % of the capacity")),
    ("chemistry.lithium.self_discharge_per_s", Key("self_discharge_pct_per_month")),
    ("chemistry.lithium.start_hysteresis", BuiltIn("half way round its hysteresis")),
    ("chemistry.lead_acid.empty_v", Key("empty_v")),
    ("chemistry.lead_acid.full_v", Key("full_v")),
    ("chemistry.lead_acid.emf_v_per_k", BuiltIn("0.2 mV/K a cell, from memory")),
    ("chemistry.lead_acid.r0_empty_rise", BuiltIn("fitted")),
    ("chemistry.lead_acid.r0_per_k", BuiltIn("1.75 times at -18 °C, trade range 1.5 to 2.5")),
    (
        "chemistry.lead_acid.depletion_per_v",
        BuiltIn("fitted: flooded starter to trade figures, AGM to a bench battery; scaled, other kinds"),
    ),
    ("chemistry.lead_acid.depletion_soft_v", BuiltIn("fitted with it")),
    (
        "chemistry.lead_acid.gassing.scale_a",
        BuiltIn("between trade and IEC 62485-2, from memory; fitted to a bench battery, AGM and gel"),
    ),
    (
        "chemistry.lead_acid.gassing.slope_v",
        BuiltIn("11 1/V a cell, Schiffer et al., J. Power Sources 168 (2007), from memory"),
    ),
    ("chemistry.lead_acid.gassing.onset_v", Derived("its rested voltage when full")),
    (
        "chemistry.lead_acid.gassing.carried_v",
        BuiltIn("thermoneutral voltage of water splitting, 1.48 V a cell; 0: gas recombines"),
    ),
    ("chemistry.lead_acid.self_discharge_per_s", BuiltIn("common practice, 2 to 5 % a month by kind")),
    ("chemistry.lead_acid.gassing_per_k", BuiltIn("1.8 times per 10 K, Schiffer et al., from memory")),
    (
        "chemistry.lead_acid.charge_efficiency",
        BuiltIn("flooded: gassing tells the loss; AGM and gel: a bench battery"),
    ),
    (
        "chemistry.lead_acid.fast.discharge_ohm",
        BuiltIn("fitted: flooded to the cranking dip, AGM to a bench battery; scaled, other kinds"),
    ),
    (
        "chemistry.lead_acid.slow.discharge_ohm",
        BuiltIn("fitted: flooded to recovery after a load, AGM to a bench battery; scaled, other kinds"),
    ),
    ("chemistry.lead_acid.fast.time_s", BuiltIn("0.70 F/Ah, fitted to the first 10 s after key-off")),
    (
        "chemistry.lead_acid.slow.time_s",
        BuiltIn(
            "200 F/Ah: 10 A removes surface charge in about 5 min; AGM and gel 82 F/Ah, fitted to a bench battery",
        ),
    ),
    (
        "chemistry.lead_acid.*.charge_share",
        BuiltIn("fitted: flooded to the taper at 14.2 V, AGM to a bench battery; scaled, other kinds"),
    ),
    ("chemistry.lead_acid.*.acceptance", BuiltIn("assumed: it shuts at full, the slow branch not quite")),
    (
        "chemistry.lead_acid.slow.charge_soft_v",
        BuiltIn("fitted to rest after charge: flooded to an aircraft's bus, AGM and gel to a bench battery"),
    ),
    ("chemistry.lead_acid.*.charge_soft_v", BuiltIn("fitted")),
    (
        "chemistry.lead_acid.slow.charge_power",
        BuiltIn("a bench battery's surface charge falls as t^-0.19, with 5 as t^-0.25"),
    ),
    ("chemistry.lead_acid.*.charge_power", BuiltIn("structure: a square")),
    ("chemistry.lead_acid.*.discharge_soft_v", BuiltIn("fitted")),
    ("chemistry.lead_acid.*.charge_per_k", BuiltIn("0.32 times at 0 °C, common practice, low confidence")),
    ("chemistry.lead_acid.fast.discharge_per_k", BuiltIn("fitted to cranking at -18 °C")),
    ("chemistry.lead_acid.slow.discharge_per_k", BuiltIn("fitted to about 55 % of the capacity at -18 °C")),
    ("chemistry.lead_acid.*.half_soc", BuiltIn("assumed")),
];

/// Where a number of the model comes from, and the section of the scenario that its key stands in if the key is a
/// battery's. `None` for a path that is not the model's.
pub fn source_of(path: &str) -> Option<(Option<&'static str>, Source)> {
    let find = |list: &[(&str, Source)], path: &str| {
        list.iter().find(|(pattern, _)| matches(pattern, path)).map(|(_, source)| *source)
    };
    for (side, section) in [("starter.", "starter_battery"), ("house.", "house_battery")] {
        if let Some(within) = path.strip_prefix(side) {
            return find(BATTERY, within).map(|source| (Some(section), source));
        }
    }
    let lists = [MODEL, numbers::MODEL, numbers::LINK];
    lists.iter().find_map(|list| find(list, path)).map(|source| (None, source))
}

fn matches(pattern: &str, path: &str) -> bool {
    let (mut wanted, mut found) = (pattern.split('.'), path.split('.'));
    loop {
        match (wanted.next(), found.next()) {
            (None, None) => return true,
            (Some(a), Some(b)) if a == "*" || a == b => {}
            _ => return false,
        }
    }
}
