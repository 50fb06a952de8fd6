//! The reference van: one complete invented vehicle that an independent program of the same equations ran too.

use crate::day::drive_then_park;
use sim_core::model::{
    Converter, HouseLoads, Link, Model, Profile, Protection, Regulator, Stages, StartStop, Vehicle,
};
use sim_core::network::Sense;
use sim_core::pchip::Pchip;
use sim_core::plant::alternator::Alternator;
use sim_core::plant::battery::{Battery, Emf, LFP, PlainBattery};
use sim_core::plant::cable::Cable;
use sim_core::plant::converter::Loss;

/// One leg of 16 mm² class 5 copper, Ω/m (IEC 60228).
pub const LEG_OHM_PER_M: f64 = 1.21e-3;
/// Joints of the input cable, Ω.
pub const INPUT_JOINTS_OHM: f64 = 0.002;

/// The cells' rested voltage that the other program's figures were made with, over the library's own states of charge.
pub const EXAMPLE_CELL_V: [f64; 11] =
    [2.010, 3.087, 3.194, 3.277, 3.299, 3.321, 3.331, 3.342, 3.351, 3.418, 3.598];

/// Rested voltage of four LFP cells in series, by the library's table.
pub fn lfp_emf() -> Emf {
    four_cells(LFP.cell_v)
}

fn four_cells(cell_v: &[f64]) -> Emf {
    let volts: Vec<f64> = cell_v.iter().map(|v| v * 4.0).collect();
    Emf::Table(Pchip::new(LFP.soc, &volts).expect("the table rises"))
}

/// The vehicle.
pub fn model() -> Model {
    Model {
        alternator: Alternator::plain(14.2, 0.003, 140.0, 1000.0, 1500.0, 2.6),
        vehicle: Vehicle { crank_a: 180.0, crank_s: 0.8, ..Vehicle::default() },
        starter: Battery::from(PlainBattery {
            capacity_c: 80.0 * 3600.0,
            emf: Emf::Linear { empty_v: 11.85, full_v: 12.7 },
            r0_ohm: 0.005,
            branch_ohm: [0.006, 0.012],
            branch_s: [60.0, 1200.0],
            charge_efficiency: 0.95,
            start_soc: 0.92,
        }),
        house: Battery::from(PlainBattery {
            capacity_c: 200.0 * 3600.0,
            emf: four_cells(&EXAMPLE_CELL_V),
            r0_ohm: 0.004,
            branch_ohm: [0.003, 0.005],
            branch_s: [30.0, 1200.0],
            charge_efficiency: 1.0,
            start_soc: 0.45,
        }),
        house_mains: Regulator::NONE,
        starter_solar: Regulator::NONE,
        protection: Protection::NONE,
        house_loads: HouseLoads::BARE,
        house_solar: Regulator { set_v: 14.4, droop_ohm: 0.02 },
        links: vec![Link {
            input_cable: input_cable(5.0),
            converter: Converter {
                output_limit_a: 40.0,
                input_limit_a: 60.0,
                floor_v: 0.0,
                sense: Sense::Terminals,
                loss: Loss { fixed_w: 4.0, proportional: 0.04, square_per_w: 2e-5 },
                ramp_s: 2.0,
                standby_a: 0.005,
                case_j_per_k: 900.0,
                case_w_per_k: 1.6,
                ..Converter::default()
            },
            start_stop: StartStop {
                turn_on_v: 13.6,
                turn_on_delay_s: 30.0,
                turn_off_v: 12.8,
                turn_off_delay_s: 2.0,
                ..StartStop::default()
            },
            stages: Stages {
                absorption_v: 14.2,
                tail_a: 8.0,
                tail_hold_s: 60.0,
                absorption_cap_s: 3600.0,
                float_v: 13.5,
                recharge_v: 13.2,
                recharge_hold_s: 60.0,
                ..Stages::default()
            },
            output_cable: Cable::constant(2.0 * 1.5 * LEG_OHM_PER_M, 0.001),
        }],
        bears: sim_core::plant::bears::Bears::default(),
    }
}

/// The vehicle and its day: 60 s parked, 45 min at 2000 rpm, an hour parked.
pub fn reference_van() -> (Model, Profile) {
    (model(), drive_then_park(2700.0, 3600.0))
}

/// The van with its house battery at 90 % on a drive of two hours: absorption and float come in reach.
pub fn absorption_day() -> (Model, Profile) {
    let mut m = model();
    crate::plain(&mut m.house).start_soc = 0.9;
    (m, drive_then_park(7200.0, 3600.0))
}

/// The van with an input cable of 12 m: it hunts all day.
pub fn thin_run() -> (Model, Profile) {
    (with_length(model(), 12.0), drive_then_park(2700.0, 3600.0))
}

/// The van with 16 mm² to the unit over this one-way length.
pub fn with_length(mut m: Model, length_m: f64) -> Model {
    m.links[0].input_cable = input_cable(length_m);
    m
}

fn input_cable(length_m: f64) -> Cable {
    Cable::constant(2.0 * length_m * LEG_OHM_PER_M, INPUT_JOINTS_OHM)
}
