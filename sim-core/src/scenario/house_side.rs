//! What a scenario says of the house side: house battery, load, solar.

use super::field::{Num, Nums, Text};
use super::key::{Unit, choice, number, numbers};
use super::section::section;

section! {
    /// `[house_battery]`: the battery that serves the house loads.
    HouseBatterySpec {
        /// How its rested voltage follows its state of charge.
        chemistry: Text = choice(&["lfp", "linear", "table"]).or_word("lfp", "the commonest new house battery"),
        /// Cells in series, for `lfp`.
        cells: Num = number(Unit::One, 1.0, 16.0).or(4.0, "12 V battery"),
        /// Capacity, Ah.
        capacity_ah: Num = number(Unit::Ah, 1.0, 5000.0).or(200.0, "invented; type the label"),
        /// State of charge at the start, %.
        start_pct: Num = number(Unit::Pct, 0.0, 100.0).or(50.0, "invented; type what a counter shows"),
        /// Rested voltage when empty, V, for a linear battery.
        empty_v: Num = number(Unit::V, 1.0, 62.0).or(11.85, "rested-voltage tables of lead-acid batteries"),
        /// Rested voltage when full, V, for a linear battery.
        full_v: Num = number(Unit::V, 1.0, 62.0).or(12.7, "rested-voltage tables of lead-acid batteries"),
        /// States of charge of a table, %, rising.
        table_pct: Option<Nums> = numbers(Unit::Pct, -10.0, 110.0),
        /// Rested volts of a table, one for each state of charge.
        table_v: Option<Nums> = numbers(Unit::V, 0.0, 70.0),
        /// Series resistance, protection included, mΩ.
        r0_mohm: Num = number(Unit::MilliOhm, 0.01, 2000.0).or(4.0, "common practice, 3 to 6 mΩ at 200 Ah"),
        /// Resistance of the fast polarisation branch, mΩ.
        r1_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(3.0, "common practice, 2 to 6 mΩ"),
        /// Time constant of the fast branch, s.
        tau1_s: Num = number(Unit::S, 0.01, 100000.0).or(30.0, "common practice, 20 to 60 s"),
        /// Resistance of the slow polarisation branch, mΩ.
        r2_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(5.0, "common practice, 3 to 10 mΩ"),
        /// Time constant of the slow branch, s.
        tau2_s: Num = number(Unit::S, 0.01, 1000000.0).or(1200.0, "common practice, 10 to 40 min"),
        /// Share of charge current that raises the state of charge, %.
        charge_efficiency_pct: Num = number(Unit::Pct, 10.0, 100.0).or(100.0, "near 100 % for LFP"),
    }
}

section! {
    /// `[house]`: loads on the house bus.
    HouseSpec {
        /// House load at constant power, W.
        load_w: Num = number(Unit::W, 0.0, 20000.0).or(30.0, "invented; type what a clamp meter shows"),
    }
}

section! {
    /// `[house_solar]`: a solar regulator on the house bus.
    HouseSolarSpec {
        /// Power that the sun offers, W, where a piece of the drive says nothing else.
        power_w: Num = number(Unit::W, 0.0, 20000.0).or(0.0, "no panel"),
        /// The regulator's set-point, V.
        set_point_v: Num = number(Unit::V, 10.0, 62.0).or(14.4, "common practice"),
        /// Resistance between regulator and battery posts, mΩ.
        resistance_mohm: Num = number(Unit::MilliOhm, 0.1, 2000.0).or(20.0, "common practice"),
    }
}
