//! What a scenario says of the house side: house battery, load, solar.

use super::Scenario;
use super::calendar::{DuringSpec, LayUpSpec};
use super::drive::PieceSpec;
use super::engine_side::lead_acid;
use super::field::{Num, Nums, Text};
use super::key::{Unit, choice, number, numbers};
use super::section::section;
use crate::spread::Spread;

section! {
    /// `[house_battery]`: the battery that serves the house loads.
    HouseBatterySpec {
        /// How its rested voltage follows its state of charge.
        chemistry: Text = choice(&["lfp", "flooded", "agm", "gel", "linear", "table"]).or_word("lfp", "the commonest new house battery"),
        /// Cells in series, for `lfp`, `flooded`, `agm` and `gel`; without it a 12 V battery: 4 of `lfp`, 6 of lead-acid.
        cells: Option<Num> = number(Unit::One, 1.0, 24.0),
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
        /// Half the gap between charge and discharge EMF of an LFP cell, mV; 0: no hysteresis.
        hysteresis_mv: Num = number(Unit::MilliV, 0.0, 50.0).or(15.0, "one cell measured at C/30 both ways, 12 to 29 mV")
            .spreads(Spread::Triangular { from: 5.0, likeliest: 15.0, to: 25.0 },
                "that cell, 12 to 29 mV from 30 to 90 % full, less what falls in resistances at C/30"),
        /// Resistances at 0 °C over those at 25 °C, for LFP; 1: constant.
        cold_ratio: Num = number(Unit::One, 1.0, 10.0).or(2.5, "common practice, 2 to 3"),
        /// Whether the top of an LFP battery relaxes after a charge, or the raw table holds.
        top: Text = choice(&["relaxes", "stays"]).or_word("relaxes", "rested full cells stand near 3.35 to 3.40 V"),
        /// Charge lost by itself in a month, %.
        self_discharge_pct_per_month: Num = number(Unit::PctPerMonth, 0.0, 50.0).or(2.0, "common practice for LFP"),
        /// Whether its temperature follows its own heat and the air, or stays.
        temperature: Text = choice(&["follows", "stays"]).or_word("follows", "one thermal node"),
        /// Temperature at the start, °C; without it that of the air.
        start_c: Option<Num> = number(Unit::C, -40.0, 80.0),
        /// Highest volts that it bears for hours at 25 °C, V; without it 2.47 V for each lead-acid cell, 2.4 V for gel, 3.65 V for LFP.
        most_v: Option<Num> = number(Unit::V, 3.0, 70.0),
    }
    nothing {
        hysteresis_mv: 0.0, cold_ratio: 1.0, top: "stays", self_discharge_pct_per_month: 0.0, temperature: "stays",
    }
    read {
        [r1_mohm, tau1_s, r2_mohm, tau2_s, charge_efficiency_pct] if |s| !lead_acid(&s.house_battery.chemistry),
        [empty_v, full_v] if |s| s.house_battery.chemistry.value == "linear",
        [hysteresis_mv, cold_ratio, self_discharge_pct_per_month] if |s| s.house_battery.chemistry.value == "lfp",
    }
}

section! {
    /// `[protection]`: the house battery's own protection. Volts are of the whole battery.
    ProtectionSpec {
        /// Whether it has one: yes for LFP unless this says no.
        fitted: Text = choice(&["auto", "yes", "no"]).or_word("auto", "LFP batteries have one, others do not"),
        /// Temperature below which it refuses charge, °C.
        cold_c: Num = number(Unit::C, -40.0, 40.0).or(0.0, "cell makers' common limit"),
        /// Temperature above which it lets charge in again, °C.
        cold_release_c: Num = number(Unit::C, -40.0, 45.0).or(3.0, "from memory"),
        /// Voltage above which it refuses charge, V; without it 3.65 V for each cell.
        high_v: Option<Num> = number(Unit::V, 3.0, 70.0),
        /// Voltage under which it lets charge in again, V; without it 3.45 V for each cell.
        high_release_v: Option<Num> = number(Unit::V, 3.0, 70.0),
        /// Voltage below which the house loads are shed, V; without it 2.6 V for each cell.
        low_v: Option<Num> = number(Unit::V, 1.0, 60.0),
        /// Voltage above which they come back, V; without it 3.1 V for each cell.
        low_release_v: Option<Num> = number(Unit::V, 1.0, 65.0),
        /// Charge current above which it refuses charge, A; without it the capacity in one hour.
        over_a: Option<Num> = number(Unit::A, 1.0, 5000.0),
        /// How long it then refuses, s; so it does where a current through its resistance brought volts over high_v.
        over_release_s: Num = number(Unit::S, 1.0, 36000.0).or(60.0, "from memory"),
        /// Power of a heater mat that warms a battery too cold to charge, W; fed from the house bus while a charger is there.
        heater_w: Num = number(Unit::W, 0.0, 2000.0).or(0.0, "no mat"),
    }
    nothing { fitted: "no" }
    read { [cold_c, cold_release_c, over_release_s, heater_w] if |s| s.protected() }
}

section! {
    /// `[house_mains]`: a mains charger on the house bus.
    HouseMainsSpec {
        /// Greatest current, A, where a piece of the drive says nothing else.
        current_a: Num = number(Unit::A, 0.0, 1000.0).or(0.0, "not plugged in"),
        /// Its set-point, V.
        set_point_v: Num = number(Unit::V, 10.0, 62.0).or(14.4, "common practice"),
        /// Resistance between charger and battery posts, mΩ.
        resistance_mohm: Num = number(Unit::MilliOhm, 0.1, 2000.0).or(10.0, "common practice"),
    }
    read {
        [set_point_v, resistance_mohm] if |s| s.offers(&s.house_mains.current_a, |by| match by {
            By::Piece(p) => &p.house_mains_a,
            By::During(d) => &d.house_mains_a,
            By::LayUp(l) => &l.house_mains_a,
        }),
    }
}

section! {
    /// `[starter_solar]`: a solar regulator or maintainer on the starter battery.
    StarterSolarSpec {
        /// Power it offers, W, where a piece of the drive says nothing else.
        power_w: Num = number(Unit::W, 0.0, 2000.0).or(0.0, "no panel"),
        /// Its set-point, V.
        set_point_v: Num = number(Unit::V, 10.0, 62.0).or(13.9, "common practice"),
        /// Resistance between regulator and battery posts, mΩ.
        resistance_mohm: Num = number(Unit::MilliOhm, 0.1, 2000.0).or(50.0, "common practice"),
    }
    read {
        [set_point_v, resistance_mohm] if |s| s.offers(&s.starter_solar.power_w, |by| match by {
            By::Piece(p) => &p.starter_solar_w,
            By::During(d) => &d.starter_solar_w,
            By::LayUp(l) => &l.starter_solar_w,
        }),
    }
}

section! {
    /// `[house]`: loads on the house bus.
    HouseSpec {
        /// House load at constant power, W.
        load_w: Num = number(Unit::W, 0.0, 20000.0).or(30.0, "invented; type what a clamp meter shows"),
        /// Volts at the house posts under which the loads are shed; 0: only where the battery can give no more.
        loads_stop_v: Num = number(Unit::V, 0.0, 60.0).or(10.0, "common practice, 10 to 11 V in a 12 V house"),
        /// Volts over which they come back.
        loads_return_v: Num = number(Unit::V, 0.0, 65.0).or(12.4, "common practice, 11.7 to 13 V in a 12 V house"),
        /// How long they stay shed at least, s.
        loads_hold_s: Num = number(Unit::S, 1.0, 3600.0).or(60.0, "common practice, 10 s to minutes"),
    }
    nothing { loads_stop_v: 0.0 }
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
    read {
        [set_point_v, resistance_mohm] if |s| {
            s.has_files() && s.calendar.is_none()
                || s.calendar.iter().flat_map(|c| &c.seasons).any(|x| above_zero(&x.noon_w))
                || s.offers(&s.house_solar.power_w, |by| match by {
                    By::Piece(p) => &p.house_solar_w,
                    By::During(d) => &d.house_solar_w,
                    By::LayUp(l) => &l.house_solar_w,
                })
        },
    }
}

/// What may say how much a source offers.
enum By<'a> {
    Piece(&'a PieceSpec),
    During(&'a DuringSpec),
    LayUp(&'a LayUpSpec),
}

fn above_zero(num: &Option<Num>) -> bool {
    num.as_ref().is_some_and(|n| n.value > 0.0)
}

impl Scenario {
    /// Whether the house battery has a protection.
    pub(crate) fn protected(&self) -> bool {
        match self.protection.fitted.value.as_str() {
            "yes" => true,
            "no" => false,
            _ => self.house_battery.chemistry.value == "lfp",
        }
    }

    /// Whether a source offers anything at any time.
    fn offers(&self, always: &Num, of: fn(By<'_>) -> &Option<Num>) -> bool {
        let days = || self.calendar.iter().flat_map(|c| c.days.iter().flat_map(|d| &d.during));
        let lay_ups = || self.calendar.iter().flat_map(|c| &c.lay_ups);
        always.value > 0.0
            || self.pieces.iter().any(|p| above_zero(of(By::Piece(p))))
            || days().any(|d| above_zero(of(By::During(d))))
            || lay_ups().any(|l| above_zero(of(By::LayUp(l))))
    }
}
