//! What a scenario says of the engine side: alternator, vehicle loads, starter battery, gears.

use super::Scenario;
use super::field::{Num, Nums, Text};
use super::key::{Unit, choice, number, numbers};
use super::section::section;
use crate::spread::Spread;

section! {
    /// `[alternator]`: the alternator and its cable to the starter battery.
    AlternatorSpec {
        /// Set-point of a fixed-voltage alternator with its regulator cold, at 25 °C, V; where only `warm_set_point_v` is
        /// typed it follows from that.
        set_point_v: Num = number(Unit::V, 10.0, 62.0)
            .or(14.4, "a measured hatchback: 14.30 V at a cold start (14.08 to 14.38), 0.1 V of droop below it")
            .spreads(Spread::Triangular { from: 13.8, likeliest: 14.4, to: 14.8 },
                "the hatchback, 14.2 to 14.5 V over 39 starts; a self-built car, 14.7 V; service data of a small car, 13.7 to 14.6 V"),
        /// The same with the regulator warm, V: what a meter shows at the posts after half an hour's drive, droop added.
        warm_set_point_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Fall of the regulated voltage at the starter posts per ampere, cable included, mΩ.
        droop_mohm: Num = number(Unit::MilliOhm, 0.1, 200.0).or(3.0, "common practice, 1.5 to 6 mΩ"),
        /// Label current at 1500 alternator rpm, A; with `rated_a` it fixes the capability curve. Half of it where not stated.
        idle_a: Option<Num> = number(Unit::A, 1.0, 1000.0),
        /// Label current at 6000 alternator rpm, A: the one that an alternator is called by. Labels are taken as of a cold winding;
        /// ISO 8854, from memory, tests a warm one: here that settles at some 86 % of its label in a workshop of 23 °C.
        rated_a: Option<Num> = number(Unit::A, 1.0, 1000.0),
        /// Greatest current at endless speed, A, where the curve is given by its own numbers.
        asymptote_a: Num = number(Unit::A, 1.0, 1000.0).or(140.0, "invented mid-size van; type the label's currents"),
        /// Alternator speed at which it begins to give current, alternator rpm.
        cut_in_rpm: Num = number(Unit::Rpm, 100.0, 4000.0).or(1000.0, "common practice, 900 to 1300 rpm"),
        /// Speed constant of the capability curve, alternator rpm.
        rise_rpm: Num = number(Unit::Rpm, 50.0, 20000.0).or(1500.0, "from memory, low confidence"),
        /// Alternator speed over engine speed.
        pulley_ratio: Num = number(Unit::One, 0.5, 10.0).or(2.6, "common practice, 2.0 to 3.3; boats 2 to 2.5"),
        /// Change of the set-point with the temperature of what compensates it, from 25 °C, mV/K; its default goes with the
        /// starter's cells. Where both set-points are typed it follows from them.
        compensation_mv_per_k: Num = number(Unit::MilliVPerK, -100.0, 0.0)
            .or(-10.0, "engine service data, -0.1 V in 10 K at the regulator; a measured hatchback, -0.65 V warm")
            .spreads(Spread::Triangular { from: -13.0, likeliest: -10.0, to: -8.0 },
                "service data of a small car: 13.7 to 14.6 V at 20 °C, 12.9 to 14.1 V at 80 °C"),
        /// Whose temperature compensates the set-point: that of the regulator on a warm engine, or of the air (a boat, a
        /// regulator mounted apart, a sensor at the battery).
        compensated_by: Text = choice(&["regulator", "air"]).or_word("regulator", "the kind built into the alternator"),
        /// Rise of the regulator over the engine bay with the engine running, K.
        regulator_rise_k: Num = number(Unit::K, 0.0, 100.0)
            .or(30.0, "not measured: so that -10 mV/K gives the hatchback's -0.65 V; 80 to 100 °C in all, from memory"),
        /// Time constant of the regulator with the engine running, min.
        regulator_warms_min: Num = number(Unit::Min, 0.1, 120.0)
            .or(8.0, "a measured hatchback, 39 cold starts: 480 s")
            .spreads(Spread::Triangular { from: 4.0, likeliest: 8.0, to: 16.0 },
                "the hatchback: 4 min fitted on one cold drive alone, 16 min on another"),
        /// The same with the engine stopped, min.
        regulator_cools_min: Num = number(Unit::Min, 0.1, 600.0).or(60.0, "not measured; from memory, a bay cools in 2 to 4 h"),
        /// Temperature of the regulator at the start, °C; without it that of the air: a cold engine.
        regulator_start_c: Option<Num> = number(Unit::C, -40.0, 130.0),
        /// Capability lost per kelvin of winding above 25 °C, %; 0: heat takes nothing away.
        derate_pct_per_k: Num = number(Unit::PctPerK, 0.0, 2.0).or(0.25, "common practice, -10 to -35 % hot; engine data of one: -33 % at 1300, -18 % at 2500 alternator rpm, so at idle too little here"),
        /// Rise of the winding over the engine bay at the curve's asymptote, K.
        winding_rise_k: Num = number(Unit::K, 0.0, 300.0).or(80.0, "from memory, low confidence"),
        /// Time constant of the winding, min.
        winding_min: Num = number(Unit::Min, 0.1, 120.0).or(10.0, "from memory, 5 to 15 min"),
        /// How long the alternator gives nothing once the engine runs by itself: its field builds up and it begins softly, s.
        build_up_s: Num = number(Unit::S, 0.0, 60.0)
            .or(4.0, "a measured hatchback, 129 starts: 13 V passed after 4.4 s (2.5 to 8.4 s)")
            .spreads(Spread::LogUniform { from: 2.0, to: 8.0 }, "the same starts: 5 to 95 % of them, less the rise from 12 V"),
        /// Fastest increase of the alternator's current, A/s; 0: it follows its regulator at once.
        pick_up_a_per_s: Num = number(Unit::APerS, 0.0, 10000.0).or(100.0, "from memory; a load step takes 0.3 to 10 s"),
        /// Lag of the alternator behind its regulator, s.
        pick_up_lag_s: Num = number(Unit::S, 0.02, 10.0).or(0.2, "from memory, 0.1 to 0.3 s"),
        /// Electrical output over shaft power, %.
        efficiency_pct: Num = number(Unit::Pct, 10.0, 100.0).or(67.0, "baseline of Commission Decision (EU) 2017/785, weighted; at full load 50 to 55 %, and a fifth more fuel"),
        /// Fuel for a kilowatt-hour at the alternator's shaft, L.
        fuel_l_per_kwh: Num = number(Unit::LPerKwh, 0.0, 2.0).or(0.3, "from memory, a diesel engine at part load"),
        /// Who commands the set-point: fixed, or a rule that follows what the engine does. `variable` is `variable-deep`, the
        /// worse for switching: levels of the trade; `variable-shallow` has those of a measured car.
        regulation: Text = choice(&["fixed", "variable", "variable-deep", "variable-shallow"]).or_word("fixed", "the simpler kind; ask the vehicle"),
        /// Set-point after an engine start under the rule, V; without it 14.5 V deep, 13.95 V at the posts shallow.
        start_up_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// How long it holds that, s; without it not at all deep, 100 s shallow.
        start_up_s: Option<Num> = number(Unit::S, 0.0, 3600.0),
        /// Set-point on overrun, the fuel cut, V; without it 14.9 V deep, 13.85 V at the posts shallow.
        overrun_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Set-point when cruising, V; without it 12.9 V deep, 13.57 V at the posts shallow.
        cruise_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Set-point when accelerating, V; without it 12.5 V deep, 13.48 V at the posts shallow.
        accelerating_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Set-point at idle, V; without it 13.4 V deep, 13.32 V at the posts shallow.
        idle_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Least set-point with the starter battery low or cold, or heavy loads on, V; without it 14.5 V deep, 13.95 V at the
        /// posts shallow.
        refresh_v: Option<Num> = number(Unit::V, 10.0, 62.0),
        /// Starter SOC under which its battery counts as low, %.
        low_pct: Num = number(Unit::Pct, 0.0, 100.0).or(80.0, "patent summaries, about 80 %"),
        /// Air temperature under which the battery counts as cold, °C.
        cold_c: Num = number(Unit::C, -60.0, 60.0).or(0.0, "from memory"),
        /// Vehicle load above which loads count as heavy, A.
        heavy_a: Num = number(Unit::A, 0.0, 500.0).or(60.0, "from memory"),
        /// Rate at which the set-point rises, V/s; without it 0.05 deep, 0.125 shallow.
        slew_up_v_per_s: Option<Num> = number(Unit::VPerS, 0.001, 10.0),
        /// Rate at which it falls, V/s; without it 0.05 deep, 0.025 shallow.
        slew_down_v_per_s: Option<Num> = number(Unit::VPerS, 0.001, 10.0),
    }
    nothing { compensation_mv_per_k: 0.0, derate_pct_per_k: 0.0, build_up_s: 0.0, pick_up_a_per_s: 0.0 }
    read {
        [low_pct, cold_c, heavy_a] if |s| !s.alternator.fixed(),
        [compensation_mv_per_k] if |s| s.alternator.fixed(),
        [regulator_rise_k, regulator_warms_min, regulator_cools_min]
            if |s| s.alternator.regulator_warms() || s.alternator.warm_set_point_v.is_some(),
        [winding_rise_k, winding_min] if |s| s.alternator.derate_pct_per_k.value != 0.0,
        [pick_up_lag_s] if |s| s.alternator.pick_up_a_per_s.value != 0.0,
    }
}

section! {
    /// `[vehicle]`: the vehicle's own loads.
    VehicleSpec {
        /// Current of the vehicle's own loads with the engine running, A.
        running_load_a: Num = number(Unit::A, 0.0, 500.0).or(25.0, "common practice, 12 to 70 A"),
        /// Current of the vehicle at rest, A.
        parked_load_a: Num = number(Unit::A, 0.0, 100.0).or(0.05, "common practice, 30 to 60 mA asleep"),
        /// Extra current while cranking, A.
        crank_a: Num = number(Unit::A, 0.0, 2000.0).or(180.0, "common practice, warm engine"),
        /// How long an engine start cranks, s.
        crank_s: Num = number(Unit::S, 0.0, 30.0).or(0.8, "common practice, warm engine"),
        /// Extra current after key-off until the vehicle falls asleep, A.
        awake_load_a: Num = number(Unit::A, 0.0, 100.0).or(0.0, "not known; a meter shows it after key-off"),
        /// How long after key-off it falls asleep, min.
        sleep_after_min: Num = number(Unit::Min, 0.0, 600.0).or(30.0, "common practice, 20 to 60 min"),
        /// Volts at the starter posts under which nothing on them runs any more: loads, unit, and at half of it the starter motor; 0: only where the battery can give no more.
        loads_stop_v: Num = number(Unit::V, 0.0, 40.0).or(6.0, "from memory, 5 to 7 V in a 12 V vehicle"),
        /// Volts at which they run again, once alternator or maintainer can carry them.
        loads_return_v: Num = number(Unit::V, 0.0, 60.0).or(11.0, "from memory, in a 12 V vehicle"),
    }
    nothing { loads_stop_v: 0.0 }
    read { [sleep_after_min] if |s| s.vehicle.awake_load_a.value != 0.0 }
}

section! {
    /// `[starter_battery]`: the battery that cranks the engine.
    StarterBatterySpec {
        /// How its rested voltage follows its state of charge.
        chemistry: Text = choice(&["flooded", "agm", "linear", "table"]).or_word("flooded", "the commonest starter battery"),
        /// Capacity, Ah.
        capacity_ah: Num = number(Unit::Ah, 1.0, 5000.0).or(80.0, "common practice, 45 to 110 Ah"),
        /// State of charge at the start, %.
        start_pct: Num = number(Unit::Pct, 0.0, 100.0).or(90.0, "common practice"),
        /// Rested voltage when empty, V, for a linear battery.
        empty_v: Num = number(Unit::V, 1.0, 62.0).or(11.85, "rested-voltage tables, 11.8 to 11.9 V"),
        /// Rested voltage when full, V, for a linear battery.
        full_v: Num = number(Unit::V, 1.0, 62.0).or(12.7, "rested-voltage tables, 12.65 to 12.75 V"),
        /// States of charge of a table, %, rising.
        table_pct: Option<Nums> = numbers(Unit::Pct, -10.0, 110.0),
        /// Rested volts of a table, one for each state of charge.
        table_v: Option<Nums> = numbers(Unit::V, 0.0, 70.0),
        /// By how much its rested voltage lies over that of its kind, at every state of charge, mV, for flooded and agm.
        rests_over_mv: Num = number(Unit::MilliV, -1000.0, 1000.0)
            .or(0.0, "its kind's own")
            .spreads(Spread::Uniform { from: -50.0, to: 50.0 }, "what published tables of rested volts differ by"),
        /// Series resistance, mΩ.
        r0_mohm: Num = number(Unit::MilliOhm, 0.01, 2000.0).or(5.0, "common practice, 3 to 8 mΩ"),
        /// Resistance of the fast polarisation branch, mΩ.
        r1_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(6.0, "invented to suit"),
        /// Time constant of the fast branch, s.
        tau1_s: Num = number(Unit::S, 0.01, 100000.0).or(60.0, "from memory, within a factor of 3"),
        /// Resistance of the slow polarisation branch, mΩ.
        r2_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(12.0, "invented to suit"),
        /// Time constant of the slow branch, s.
        tau2_s: Num = number(Unit::S, 0.01, 1000000.0).or(1200.0, "from memory, within a factor of 3"),
        /// Share of charge current that raises the state of charge, %, for a linear or table battery.
        charge_efficiency_pct: Num = number(Unit::Pct, 10.0, 100.0).or(95.0, "common practice, 85 to 95 %"),
        /// Cells in series, for flooded and agm.
        cells: Num = number(Unit::One, 3.0, 24.0).or(6.0, "12 V battery"),
        /// Cold-cranking current of its label (EN, -18 °C), A, for flooded and agm.
        cranking_label_a: Option<Num> = number(Unit::A, 50.0, 3000.0),
        /// Whether its temperature follows its own heat and the air, or stays.
        temperature: Text = choice(&["follows", "stays"]).or_word("follows", "one thermal node"),
        /// Where it lies: in the air of the engine bay, or in that outside (under a seat, in a box at the frame).
        place: Text = choice(&["elsewhere", "bay"]).or_word("elsewhere", "not known; look under the bonnet and the seats"),
        /// Temperature at the start, °C; without it that of the air.
        start_c: Option<Num> = number(Unit::C, -40.0, 80.0),
        /// Highest volts that it bears for hours at 25 °C, V; without it 2.47 V for each lead-acid cell.
        most_v: Option<Num> = number(Unit::V, 3.0, 70.0),
    }
    nothing { chemistry: "linear", temperature: "stays" }
    read {
        [r1_mohm, tau1_s, r2_mohm, tau2_s, charge_efficiency_pct] if |s| !lead_acid(&s.starter_battery.chemistry),
        [empty_v, full_v] if |s| s.starter_battery.chemistry.value == "linear",
        [cells, rests_over_mv] if |s| lead_acid(&s.starter_battery.chemistry),
    }
}

section! {
    /// `[gears]`: how road speed becomes engine speed, and what else the engine does on the road.
    GearsSpec {
        /// Idle speed, rpm.
        idle_rpm: Num = number(Unit::Rpm, 300.0, 3000.0).or(800.0, "common practice"),
        /// Road speed at 1000 engine rpm in each gear, km/h, rising.
        kmh_per_1000rpm: Nums = numbers(Unit::Kmh, 1.0, 200.0)
            .or_numbers(&[7.5, 13.5, 21.0, 30.0, 39.0, 47.0], "invented six-speed van"),
        /// Engine speed above which the next higher gear is taken, rpm.
        shift_up_rpm: Num = number(Unit::Rpm, 500.0, 10000.0).or(2400.0, "common practice, diesel van"),
        /// Whether the engine stops by itself when the vehicle stands.
        stop_start: Text = choice(&["no", "yes"]).or_word("no", "switched off, or not fitted"),
        /// How long it stands before the engine stops, s.
        stop_after_s: Num = number(Unit::S, 0.0, 60.0).or(2.0, "from memory"),
        /// Air temperature from which stop-start stops the engine, °C.
        stop_from_c: Num = number(Unit::C, -60.0, 60.0).or(3.0, "from memory; most refuse near freezing"),
        /// State of charge of the starter battery under which stop-start leaves the engine running, %.
        stop_from_soc_pct: Num = number(Unit::Pct, 0.0, 100.0).or(70.0, "from memory, 65 to 80 %"),
        /// Volts at the starter posts under which stop-start starts the engine again, V; 0: it does not.
        restart_under_v: Num = number(Unit::V, 0.0, 40.0).or(12.0, "from memory, 11.9 to 12.2 V in a 12 V vehicle"),
        /// How long a cold engine runs until it is warm, min: until then it idles fast, and stop-start leaves it running.
        warm_up_min: Num = number(Unit::Min, 0.0, 60.0).or(0.0, "not known; 3 to 10 min from memory"),
        /// Idle speed of an engine that is not warm, rpm.
        fast_idle_rpm: Num = number(Unit::Rpm, 300.0, 3000.0).or(1100.0, "from memory, 1000 to 1300 rpm"),
        /// Engine speed above which an engine in gear with the throttle closed gets no fuel, rpm.
        fuel_cut_above_rpm: Num = number(Unit::Rpm, 500.0, 5000.0).or(1200.0, "from memory, 1000 to 1500 rpm"),
        /// Engine load of a log under which the fuel counts as cut, %; without it halfway between what the log shows
        /// at idle and as it slows down in gear.
        fuel_cut_load_pct: Option<Num> = number(Unit::Pct, 0.0, 100.0),
        /// How long it stands until it counts as cold, h.
        cools_h: Num = number(Unit::H, 0.0, 48.0).or(3.0, "from memory, 2 to 4 h"),
        /// Engine speed below which the next lower gear is taken, rpm.
        shift_down_rpm: Num = number(Unit::Rpm, 300.0, 9000.0).or(1250.0, "common practice, diesel van"),
    }
    nothing { stop_from_soc_pct: 0.0, restart_under_v: 0.0 }
    read {
        [shift_up_rpm, shift_down_rpm, warm_up_min] if |s| s.has_files(),
        [fuel_cut_above_rpm] if |s| s.has_files() && !s.alternator.fixed(),
        [fast_idle_rpm, cools_h] if |s| s.has_files() && s.gears.warm_up_min.value != 0.0,
        [stop_after_s, stop_from_c] if |s| s.has_files() && s.gears.stop_start.value == "yes",
        [stop_from_soc_pct, restart_under_v] if |s| s.stops_by_itself(),
        [idle_rpm] if |s| s.has_files() || s.stops_by_itself(),
    }
}

/// Whether a battery is of a lead-acid kind.
pub(super) fn lead_acid(chemistry: &Text) -> bool {
    matches!(chemistry.value.as_str(), "flooded" | "agm" | "gel")
}

impl AlternatorSpec {
    /// Whether no rule commands its set-point.
    fn fixed(&self) -> bool {
        self.regulation.value == "fixed"
    }

    /// Whether its set-point goes with the temperature of its regulator.
    pub(super) fn regulator_warms(&self) -> bool {
        self.fixed() && self.compensated_by.value == "regulator" && self.compensation_mv_per_k.value != 0.0
    }
}

impl Scenario {
    /// Whether a drive file says how it is driven.
    pub(super) fn has_files(&self) -> bool {
        !self.drive_files().is_empty()
    }

    /// Whether stop-start stops the engine anywhere.
    fn stops_by_itself(&self) -> bool {
        let mut drives = self.calendar.iter().flat_map(|c| c.drives());
        drives.any(|(_, d)| d.between.value == "stop-start")
            || self.has_files() && self.gears.stop_start.value == "yes"
    }
}
