//! What a scenario says of the engine side: alternator, vehicle loads, starter battery, gears.

use super::field::{Num, Nums, Text};
use super::key::{Unit, choice, number, numbers};
use super::section::section;

section! {
    /// `[alternator]`: the alternator and its cable to the starter battery.
    AlternatorSpec {
        /// Set-point of a fixed-voltage alternator, V.
        set_point_v: Num = number(Unit::V, 10.0, 62.0).or(14.2, "common practice, 13.8 to 14.6 V at 25 °C"),
        /// Fall of the regulated voltage at the starter posts per ampere, cable included, mΩ.
        droop_mohm: Num = number(Unit::MilliOhm, 0.1, 200.0).or(3.0, "common practice, 1.5 to 6 mΩ"),
        /// Label current at 1500 alternator rpm, A; with `rated_a` it fixes the capability curve.
        idle_a: Option<Num> = number(Unit::A, 1.0, 1000.0),
        /// Label current at 6000 alternator rpm, A.
        rated_a: Option<Num> = number(Unit::A, 1.0, 1000.0),
        /// Greatest current at endless speed, A, where the curve is given by its own numbers.
        asymptote_a: Num = number(Unit::A, 1.0, 1000.0).or(140.0, "invented mid-size van; type the label's currents"),
        /// Alternator speed at which it begins to give current, alternator rpm.
        cut_in_rpm: Num = number(Unit::Rpm, 100.0, 4000.0).or(1000.0, "common practice, 900 to 1300 rpm"),
        /// Speed constant of the capability curve, alternator rpm.
        rise_rpm: Num = number(Unit::Rpm, 50.0, 20000.0).or(1500.0, "from memory, low confidence"),
        /// Alternator speed over engine speed.
        pulley_ratio: Num = number(Unit::One, 0.5, 10.0).or(2.6, "common practice, 2.0 to 3.3; boats 2 to 2.5"),
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
    }
}

section! {
    /// `[starter_battery]`: the battery that cranks the engine.
    StarterBatterySpec {
        /// How its rested voltage follows its state of charge.
        chemistry: Text = choice(&["linear", "table"]).or_word("linear", "plain model of a lead-acid battery"),
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
        /// Share of charge current that raises the state of charge, %.
        charge_efficiency_pct: Num = number(Unit::Pct, 10.0, 100.0).or(95.0, "common practice, 85 to 95 %"),
    }
}

section! {
    /// `[gears]`: how road speed becomes engine speed.
    GearsSpec {
        /// Idle speed, rpm.
        idle_rpm: Num = number(Unit::Rpm, 300.0, 3000.0).or(800.0, "common practice"),
        /// Road speed at 1000 engine rpm in each gear, km/h, rising.
        kmh_per_1000rpm: Nums = numbers(Unit::Kmh, 1.0, 200.0)
            .or_numbers(&[7.5, 13.5, 21.0, 30.0, 39.0, 47.0], "invented six-speed van"),
        /// Engine speed above which the next higher gear is taken, rpm.
        shift_up_rpm: Num = number(Unit::Rpm, 500.0, 10000.0).or(2400.0, "common practice, diesel van"),
        /// Engine speed below which the next lower gear is taken, rpm.
        shift_down_rpm: Num = number(Unit::Rpm, 300.0, 9000.0).or(1250.0, "common practice, diesel van"),
    }
}
