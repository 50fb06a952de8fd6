//! A rig: one stiff source, one run, one load. Where a closed form holds exactly, this is the vehicle it holds for.
//!
//! Both batteries are so large that their EMF stands still, and have no polarisation unless a test adds some.

use crate::day::{DRIVING, PARKED};
use crate::van;
use sim_core::model::{Model, Piece};
use sim_core::plant::battery::{Battery, Emf, PlainBattery};
use sim_core::plant::cable::Cable;
use sim_core::plant::converter::Loss;

/// Charge in each battery: moving a hundred amperes for an hour changes its SOC by 4e-8.
pub const HUGE_C: f64 = 1e13;

/// A battery of constant EMF behind a resistance.
pub fn flat(emf_v: f64, r_ohm: f64) -> Battery {
    Battery::from(PlainBattery {
        capacity_c: HUGE_C,
        emf: Emf::Linear { empty_v: emf_v, full_v: emf_v },
        r0_ohm: r_ohm,
        branch_ohm: [0.0; 2],
        branch_s: [60.0, 1200.0],
        charge_efficiency: 1.0,
        start_soc: 0.5,
    })
}

/// EMF of the steady van's starter battery, V.
pub const STEADY_EMF_V: f64 = 12.3;
/// Its resistance, Ω.
pub const STEADY_R_OHM: f64 = 0.03;

/// The reference van on flat batteries: an alternator's droop beside a battery's resistance, nothing that drifts.
pub fn steady_van() -> Model {
    let mut m = van::model();
    m.starter = flat(STEADY_EMF_V, STEADY_R_OHM);
    m.house = flat(13.2, 0.004);
    m
}

/// A bare source `emf_v` behind `loop_ohm`, and a lossless unit whose output limit draws `power_w` from it.
///
/// It stands parked, so that the battery is the only source; half of the resistance is the battery's.
pub fn bare(emf_v: f64, loop_ohm: f64, power_w: f64) -> Model {
    let mut m = van::model();
    m.vehicle.crank_s = 0.0;
    m.starter = flat(emf_v, 0.5 * loop_ohm);
    let link = &mut m.links[0];
    link.input_cable = Cable::constant(0.5 * loop_ohm, 0.0);
    link.output_cable = Cable::constant(0.0, 0.0);
    let c = &mut link.converter;
    c.loss = Loss { fixed_w: 0.0, proportional: 0.0, square_per_w: 0.0 };
    c.standby_a = 0.0;
    c.ramp_s = 0.0;
    let c_limit = power_w / HOUSE_V;
    c.output_limit_a = c_limit;
    c.input_limit_a = 1e4;
    link.start_stop.turn_on_v = 1.0;
    link.start_stop.turn_on_delay_s = 1.0;
    link.start_stop.turn_off_v = 0.5;
    link.stages.absorption_v = HOUSE_V + 5.0;
    // The output terminals then stand at HOUSE_V exactly at the output limit.
    m.house = flat(HOUSE_V - HOUSE_R_OHM * c_limit, HOUSE_R_OHM);
    m
}

/// Resistance of the bare rig's house battery, Ω: next to none, so that a ramp in amperes is one in watts.
const HOUSE_R_OHM: f64 = 1e-6;

/// House volts of the bare rig.
pub const HOUSE_V: f64 = 12.5;

/// The bare rig's conditions: nothing but the battery and the unit.
pub const BARE: Piece = Piece { vehicle_load_a: 0.0, house_load_w: 0.0, ..PARKED };

/// Driving without a house load.
pub const DRIVING_BARE: Piece = Piece { house_load_w: 0.0, ..DRIVING };
