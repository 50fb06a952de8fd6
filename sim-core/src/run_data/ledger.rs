//! Charge and energy per element, integrated with the same rule and the same steps as the states.
//!
//! Every term is integrated on its own, none is a remainder, so the balances say something.

use crate::model::Model;
use crate::network::Net;
use crate::plant::battery::{Battery, Chemistry};
use crate::plant_view::{Held, Warms};
use crate::state::{self, HOUSE, STARTER, Vector};

macro_rules! lines {
    ($($(#[doc = $doc:literal])+ $name:ident = $key:literal,)+) => {
        /// One line of a ledger. Charge in coulombs (`_c`), energy in joules (`_j`); positive in the sense of its text.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[repr(usize)]
        pub enum Line { $($(#[doc = $doc])+ $name,)+ }
        impl Line {
            /// All lines, in order.
            pub const ALL: &[Line] = &[$(Line::$name,)+];
            /// The line's name in files, with its unit.
            pub fn key(self) -> &'static str {
                match self { $(Line::$name => $key,)+ }
            }
        }
        /// Number of lines.
        pub const LINES: usize = [$($key,)+].len();
    };
}

lines! {
    /// Charge out of the alternator.
    AlternatorC = "alternator_c",
    /// Charge into the vehicle's own loads, cranking included.
    VehicleC = "vehicle_c",
    /// Charge into the starter battery's posts, net.
    StarterC = "starter_battery_c",
    /// Charge lost to the starter battery's coulombic efficiency.
    StarterLostC = "starter_lost_c",
    /// Charge that the full starter battery refused.
    StarterRefusedC = "starter_refused_c",
    /// Charge that the vehicle's loads asked for while the starter battery could give no more.
    StarterUnservedC = "starter_unserved_c",
    /// Charge that gassed in the starter battery.
    StarterGassedC = "starter_gassed_c",
    /// Charge that the starter battery lost by itself.
    StarterSelfC = "starter_self_discharge_c",
    /// Charge from the starter side's solar regulator or maintainer.
    StarterSourceC = "starter_source_c",
    /// Charge into the unit's input.
    InputC = "unit_input_c",
    /// Charge out of the unit's output.
    OutputC = "unit_output_c",
    /// Charge from the sun into the house bus.
    SolarC = "solar_c",
    /// Charge into the house loads.
    HouseLoadC = "house_load_c",
    /// Charge into the house battery's posts, net.
    HouseC = "house_battery_c",
    /// Charge lost to the house battery's coulombic efficiency.
    HouseLostC = "house_lost_c",
    /// Charge that the full house battery refused.
    HouseRefusedC = "house_refused_c",
    /// Charge that gassed in the house battery.
    HouseGassedC = "house_gassed_c",
    /// Charge that the house battery lost by itself.
    HouseSelfC = "house_self_discharge_c",
    /// Charge from the mains charger into the house bus.
    MainsC = "mains_c",
    /// Energy put into store in the starter battery.
    StarterStoredJ = "starter_stored_j",
    /// Energy put into store in the house battery.
    HouseStoredJ = "house_stored_j",
    /// Energy from the starter side's solar regulator or maintainer.
    StarterSourceJ = "starter_source_j",
    /// Energy from the mains charger into the house bus.
    MainsJ = "mains_j",
    /// Energy out of the alternator at the starter posts.
    AlternatorJ = "alternator_j",
    /// Energy into the vehicle's own loads.
    VehicleJ = "vehicle_j",
    /// Energy into the starter battery's posts, net.
    StarterJ = "starter_battery_j",
    /// Heat in the starter battery's resistance and branches.
    StarterHeatJ = "starter_heat_j",
    /// Energy of charge that the starter battery lost or refused.
    StarterForgoneJ = "starter_forgone_j",
    /// Heat in the input cable.
    InputCableJ = "input_cable_j",
    /// Energy into the unit's input.
    InputJ = "unit_input_j",
    /// Loss in the unit, standby included.
    UnitLossJ = "unit_loss_j",
    /// Energy out of the unit's output.
    OutputJ = "unit_output_j",
    /// Heat in the output cable.
    OutputCableJ = "output_cable_j",
    /// Energy from the sun into the house bus.
    SolarJ = "solar_j",
    /// Energy into the house loads.
    HouseLoadJ = "house_load_j",
    /// Energy that the house loads asked for while they were shed.
    HouseUnservedJ = "house_unserved_j",
    /// Energy into the house battery's posts, net.
    HouseJ = "house_battery_j",
    /// Heat in the house battery's resistance and branches.
    HouseHeatJ = "house_heat_j",
    /// Energy of charge that the house battery lost or refused.
    HouseForgoneJ = "house_forgone_j",
    /// Charge taken out of the starter battery's posts, counted positive.
    StarterOutC = "starter_battery_out_c",
    /// Charge out of the unit's output while the engine does not run.
    OutputParkedC = "unit_output_parked_c",
    /// Charge into the unit's input while the engine does not run.
    InputParkedC = "unit_input_parked_c",
}

/// Amounts since the start, one per [`Line`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ledger(pub [f64; LINES]);

impl Default for Ledger {
    fn default() -> Self {
        Ledger([0.0; LINES])
    }
}

impl Ledger {
    /// The amount in a line, C or J.
    pub fn get(&self, line: Line) -> f64 {
        self.0[line as usize]
    }

    /// Takes over the lines of energy of another.
    pub(crate) fn take_energy(&mut self, other: &Ledger) {
        for line in Line::ALL.iter().copied().filter(|l| l.key().ends_with("_j")) {
            self.0[line as usize] = other.get(line);
        }
    }

    /// A charge line in ampere-hours.
    pub fn ah(&self, line: Line) -> f64 {
        self.get(line) / 3600.0
    }

    /// An energy line in watt-hours.
    pub fn wh(&self, line: Line) -> f64 {
        self.get(line) / 3600.0
    }

    /// Adds `seconds` of constant rates.
    pub fn add(&mut self, rates: &Ledger, seconds: f64) {
        for (sum, rate) in self.0.iter_mut().zip(&rates.0) {
            *sum += rate * seconds;
        }
    }

    /// What has come since `earlier`.
    pub fn since(&self, earlier: &Ledger) -> Ledger {
        let mut out = *self;
        for (a, b) in out.0.iter_mut().zip(&earlier.0) {
            *a -= b;
        }
        out
    }
}

/// Rates of all lines at one instant, A and W; what temperatures decide given.
pub fn rates(held: &Held, warm: &Warms, y: &Vector, net: &Net) -> Ledger {
    let (m, mode) = (held.model, &held.mode);
    let starter = warm.starter.rates(&state::starter(y), net.starter_a, &mode.starter_hold);
    let house = warm.house.rates(&state::house(y), net.house_a, &mode.house_hold);
    let link = m.link();
    let vehicle_a = held.vehicle_a();
    let parked = f64::from(u8::from(!mode.engine_runs));
    let mut r = Ledger::default();
    let mut put = |line: Line, value: f64| r.0[line as usize] = value;
    put(Line::AlternatorC, net.alternator_a);
    put(Line::VehicleC, vehicle_a);
    put(Line::StarterC, net.starter_a);
    put(Line::StarterLostC, starter.lost_a);
    put(Line::StarterRefusedC, starter.refused_a);
    put(Line::StarterUnservedC, held.unserved_a());
    put(Line::StarterGassedC, starter.gassed_a);
    put(Line::StarterSelfC, starter.self_discharged_a);
    put(Line::StarterSourceC, net.starter_source_a);
    put(Line::InputC, net.input_a);
    put(Line::OutputC, net.output_a);
    put(Line::SolarC, net.solar_a);
    put(Line::HouseLoadC, net.house_load_a);
    put(Line::HouseC, net.house_a);
    put(Line::HouseLostC, house.lost_a);
    put(Line::HouseRefusedC, house.refused_a);
    put(Line::HouseGassedC, house.gassed_a);
    put(Line::HouseSelfC, house.self_discharged_a);
    put(Line::MainsC, net.charger_a);
    put(Line::StarterStoredJ, starter.stored_w);
    put(Line::HouseStoredJ, house.stored_w);
    put(Line::StarterSourceJ, net.sb_v * net.starter_source_a);
    put(Line::MainsJ, net.house_v * net.charger_a);
    put(Line::AlternatorJ, net.sb_v * net.alternator_a);
    put(Line::VehicleJ, net.sb_v * vehicle_a);
    put(Line::StarterJ, net.sb_v * net.starter_a);
    put(Line::StarterHeatJ, starter.internal_w);
    put(Line::StarterForgoneJ, starter.forgone_w);
    let input_w = net.in_v * net.input_a;
    put(Line::InputCableJ, net.input_a * net.input_a * held.input_cable_ohm(y));
    put(Line::InputJ, input_w);
    let lost_w = link.converter.loss.lost_w(net.out_v * net.output_a);
    // A unit that gives nothing loses what it is given, even where that does not cover its fixed loss.
    let loss_w = match (mode.on, net.output_a == 0.0) {
        (false, _) => input_w,
        (true, true) => lost_w.min(input_w),
        (true, false) => lost_w,
    };
    put(Line::UnitLossJ, loss_w);
    put(Line::OutputJ, net.out_v * net.output_a);
    put(
        Line::OutputCableJ,
        net.output_a * net.output_a * link.output_cable.resistance_at(&y[state::OUTPUT_CABLE_C..]),
    );
    put(Line::SolarJ, net.house_v * net.solar_a);
    put(Line::HouseLoadJ, held.house_load_w());
    put(Line::HouseUnservedJ, held.unserved_w());
    put(Line::HouseJ, net.house_v * net.house_a);
    put(Line::HouseHeatJ, house.internal_w);
    put(Line::HouseForgoneJ, house.forgone_w);
    put(Line::StarterOutC, (-net.starter_a).max(0.0));
    put(Line::OutputParkedC, parked * net.output_a);
    put(Line::InputParkedC, parked * net.input_a);
    r
}

/// How well the balances close over a stretch: residual over the greatest term of each balance, or over a
/// hundredth of its battery where that is more.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Closure {
    /// Worst of the charge balances, relative.
    pub charge: f64,
    /// Worst of the energy balances, relative.
    pub energy: f64,
}

/// Checks every balance of a ledger over a stretch that began with states `from` and ended with `to`.
pub fn closure(model: &Model, ledger: &Ledger, from: &Vector, to: &Vector) -> Closure {
    use Line::*;
    let g = |l: Line| ledger.get(l);
    let d_soc = |first: usize| to[first] - from[first];
    let [starter_bus, house_bus] = buses_c(ledger);
    let charge: [&[f64]; 4] = [
        &starter_bus,
        &house_bus,
        &[
            g(StarterC),
            -d_soc(STARTER) * model.starter.capacity_c(),
            -g(StarterLostC),
            -g(StarterRefusedC),
            -g(StarterGassedC),
            -g(StarterSelfC),
        ],
        &[
            g(HouseC),
            -d_soc(HOUSE) * model.house.capacity_c(),
            -g(HouseLostC),
            -g(HouseRefusedC),
            -g(HouseGassedC),
            -g(HouseSelfC),
        ],
    ];
    let [starter_j, house_j] = stored(model, ledger, from, to);
    let energy: [&[f64]; 6] = [
        &[g(AlternatorJ), g(StarterSourceJ), -g(VehicleJ), -g(StarterJ), -g(InputCableJ), -g(InputJ)],
        &[g(InputJ), -g(UnitLossJ), -g(OutputJ)],
        &[g(OutputJ), g(SolarJ), g(MainsJ), -g(OutputCableJ), -g(HouseLoadJ), -g(HouseJ)],
        &[g(StarterJ), -starter_j, -g(StarterHeatJ), -g(StarterForgoneJ)],
        &[g(HouseJ), -house_j, -g(HouseHeatJ), -g(HouseForgoneJ)],
        // All of it at once: what came in is stored, used or lost.
        &[
            g(AlternatorJ),
            g(StarterSourceJ),
            g(SolarJ),
            g(MainsJ),
            -g(VehicleJ),
            -g(HouseLoadJ),
            -g(InputCableJ),
            -g(UnitLossJ),
            -g(OutputCableJ),
            -g(StarterHeatJ),
            -g(HouseHeatJ),
            -g(StarterForgoneJ),
            -g(HouseForgoneJ),
            -starter_j,
            -house_j,
        ],
    ];
    let worst = |balances: &[&[f64]], least: &[f64]| {
        balances.iter().zip(least).map(|(terms, least)| open(terms, *least)).fold(0.0, greater)
    };
    // Of a balance through which next to nothing went, a hundredth of its battery is the measure.
    let [[s_c, s_j], [h_c, h_j]] = [hundredth(&model.starter), hundredth(&model.house)];
    Closure {
        charge: worst(&charge, &[s_c, h_c, s_c, h_c]),
        energy: worst(&energy, &[s_j, h_j, h_j, s_j, h_j, s_j.max(h_j)]),
    }
}

/// Charge that each bus is given and gives on, C.
fn buses_c(ledger: &Ledger) -> [[f64; 5]; 2] {
    use Line::*;
    let g = |l: Line| ledger.get(l);
    [
        [g(AlternatorC), g(StarterSourceC), -g(VehicleC), -g(StarterC), -g(InputC)],
        [g(OutputC), g(SolarC), g(MainsC), -g(HouseLoadC), -g(HouseC)],
    ]
}

/// How far one step leaves open what an error of states does not see: the energy of the batteries, a product of two quantities,
/// and the charge of the buses, which no stage of the step balances where it lies past the greatest power of a source. Measured
/// by what went through the step, or by a thousandth of what [`closure`] measures a whole run by; charge by `least_c` at least.
pub(crate) fn step_open(model: &Model, ledger: &Ledger, from: &Vector, to: &Vector, least_c: f64) -> Closure {
    use Line::*;
    let g = |l: Line| ledger.get(l);
    let [starter_j, house_j] = stored(model, ledger, from, to);
    let [starter, house] = [&model.starter, &model.house].map(|b| hundredth(b).map(|all| 1e-3 * all));
    let [starter_bus, house_bus] = buses_c(ledger);
    Closure {
        charge: greater(open(&starter_bus, starter[0].max(least_c)), open(&house_bus, house[0].max(least_c))),
        energy: greater(
            open(&[g(StarterJ), -starter_j, -g(StarterHeatJ), -g(StarterForgoneJ)], starter[1]),
            open(&[g(HouseJ), -house_j, -g(HouseHeatJ), -g(HouseForgoneJ)], house[1]),
        ),
    }
}

/// What both batteries have stored, J: where the store is a function of state its difference is taken, a check on the integral.
fn stored(model: &Model, ledger: &Ledger, from: &Vector, to: &Vector) -> [f64; 2] {
    let of = |battery: &Battery, read: fn(&Vector) -> crate::plant::battery::BatteryState, line| {
        battery.stored_j(&read(from), &read(to)).unwrap_or(ledger.get(line))
    };
    [
        of(&model.starter, state::starter, Line::StarterStoredJ),
        of(&model.house, state::house, Line::HouseStoredJ),
    ]
}

/// What a balance is open by, over its greatest term or `least`.
fn open(terms: &[f64], least: f64) -> f64 {
    let size = terms.iter().map(|t| t.abs()).fold(least, f64::max);
    terms.iter().sum::<f64>().abs() / size
}

/// The greater; a number that is none is not passed over, as `f64::max` would.
fn greater(a: f64, b: f64) -> f64 {
    if b <= a || a.is_nan() { a } else { b }
}

/// A hundredth of a battery, C and J.
pub(crate) fn hundredth(battery: &Battery) -> [f64; 2] {
    let full_v = match &battery.chemistry {
        Chemistry::Plain(b) => b.emf.value_in(b.emf.piece_of(1.0), 1.0),
        Chemistry::LeadAcid(b) => b.full_v,
        Chemistry::Lithium(b) => b.emf.value_in(b.emf.piece_of(1.0), 1.0),
    };
    let c = 0.01 * battery.capacity_c();
    [c, c * full_v]
}
