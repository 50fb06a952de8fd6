//! Wild vehicles: valid by construction, far outside what anybody would build.

use crate::dice::Dice;
use crate::{day, van};
use sim_core::model::{
    Converter, HouseLoads, Link, Model, Piece, Profile, Protection, Regulator, Stages, StartStop, Vehicle,
};
use sim_core::network::Sense;
use sim_core::plant::alternator::Alternator;
use sim_core::plant::battery::{Battery, Emf, PlainBattery};
use sim_core::plant::cable::Cable;
use sim_core::plant::converter::Loss;

/// A vehicle and a drive from a seed.
pub fn wild(seed: u64) -> (Model, Profile) {
    let mut d = Dice::new(seed.wrapping_mul(0x5851_f42d_4c95_7f2d));
    let m = model(&mut d);
    let mut stretches: Vec<_> = (0..d.between(3.0, 9.0) as usize).map(|_| stretch(&mut d)).collect();
    // One in ten goes on in town: many short pieces, so that timers and pieces race each other.
    if d.chance(0.1) {
        for _ in 0..d.between(20.0, 60.0) as usize {
            let short_s = d.log_between(0.5, 60.0);
            stretches.push((short_s, stretch(&mut d).1));
        }
    }
    (m, day::day(&stretches))
}

/// The same vehicle, as far as the plain model of other programs goes: no floor of input volts, no remote sense.
pub fn wild_expressible(seed: u64) -> (Model, Profile) {
    let (mut m, p) = wild(seed);
    let c = &mut m.links[0].converter;
    (c.floor_v, c.sense) = (0.0, Sense::Terminals);
    (m, p)
}

/// A vehicle from the dice.
pub(crate) fn model(d: &mut Dice) -> Model {
    let turn_off_v = d.between(11.8, 13.2);
    let absorption_v = d.between(13.6, 14.8);
    let float_v = d.between(13.0, absorption_v);
    let starter_emf = Emf::Linear { empty_v: d.between(11.3, 12.0), full_v: d.between(12.5, 13.0) };
    let house_emf = if d.chance(0.7) {
        van::lfp_emf()
    } else {
        Emf::Linear { empty_v: d.between(11.5, 12.2), full_v: d.between(12.6, 13.6) }
    };
    Model {
        alternator: Alternator::plain(
            14.2,
            d.log_between(0.0005, 0.02),
            d.between(30.0, 220.0),
            d.between(800.0, 1300.0),
            d.between(600.0, 3000.0),
            d.between(1.6, 3.2),
        ),
        vehicle: Vehicle {
            crank_a: d.between(60.0, 400.0),
            crank_s: if d.chance(0.2) { 0.0 } else { d.between(0.3, 3.0) },
            ..Vehicle::default()
        },
        starter: battery(d, starter_emf),
        house: battery(d, house_emf),
        house_mains: Regulator::NONE,
        starter_solar: Regulator::NONE,
        protection: Protection::NONE,
        house_loads: HouseLoads::BARE,
        house_solar: Regulator { set_v: d.between(13.4, 14.6), droop_ohm: d.log_between(0.005, 0.1) },
        links: vec![Link {
            input_cable: Cable::constant(d.log_between(0.001, 0.1), d.between(0.0, 0.01)),
            converter: converter(d),
            start_stop: StartStop {
                turn_on_v: turn_off_v + d.between(0.05, 1.2),
                turn_on_delay_s: d.between(0.5, 90.0),
                turn_off_v,
                turn_off_delay_s: if d.chance(0.2) { 0.0 } else { d.between(0.0, 20.0) },
                ..StartStop::default()
            },
            stages: Stages {
                absorption_v,
                tail_a: d.between(1.0, 15.0),
                tail_hold_s: d.between(0.0, 120.0),
                absorption_cap_s: d.between(60.0, 7200.0),
                float_v,
                recharge_v: float_v - d.between(0.1, 0.6),
                recharge_hold_s: d.between(0.0, 120.0),
                ..Stages::default()
            },
            output_cable: Cable::constant(d.log_between(0.0005, 0.03), d.between(0.0, 0.004)),
        }],
        bears: sim_core::plant::bears::Bears::default(),
    }
}

fn battery(d: &mut Dice, emf: Emf) -> Battery {
    let any_soc = d.between(0.0, 1.0);
    Battery::from(PlainBattery {
        // The smallest fill and empty within a drive, so that both ends of the range are met.
        capacity_c: 3600.0 * d.log_between(3.0, 400.0),
        emf,
        r0_ohm: d.log_between(0.001, 0.02),
        branch_ohm: [
            d.log_between(0.0005, 0.02),
            if d.chance(0.15) { 0.0 } else { d.log_between(0.001, 0.02) },
        ],
        branch_s: [d.log_between(5.0, 120.0), d.log_between(200.0, 5000.0)],
        charge_efficiency: if d.chance(0.3) { 1.0 } else { d.between(0.75, 1.0) },
        start_soc: if d.chance(0.1) { 1.0 } else { any_soc },
    })
}

fn converter(d: &mut Dice) -> Converter {
    Converter {
        output_limit_a: d.log_between(5.0, 120.0),
        input_limit_a: d.log_between(8.0, 150.0),
        floor_v: if d.chance(0.3) { d.between(11.0, 13.0) } else { 0.0 },
        sense: if d.chance(0.5) { Sense::Terminals } else { Sense::HousePosts },
        loss: Loss {
            fixed_w: d.between(0.0, 15.0),
            proportional: d.between(0.0, 0.12),
            square_per_w: d.between(0.0, 1e-4),
        },
        ramp_s: if d.chance(0.2) { 0.0 } else { d.between(0.1, 30.0) },
        standby_a: d.between(0.0, 0.05),
        case_j_per_k: d.between(200.0, 3000.0),
        case_w_per_k: d.between(0.3, 5.0),
        ..Converter::default()
    }
}

/// A duration, s, and its conditions.
pub(crate) fn stretch(d: &mut Dice) -> (f64, Piece) {
    let runs = d.chance(0.6);
    let piece = Piece {
        engine_rpm: if runs { d.between(600.0, 4000.0) } else { 0.0 },
        set_point_v: d.between(12.5, 15.0),
        vehicle_load_a: if runs { d.between(5.0, 70.0) } else { d.log_between(0.005, 2.0) },
        house_load_w: if d.chance(0.2) { 0.0 } else { d.log_between(2.0, 400.0) },
        house_solar_w: if d.chance(0.6) { 0.0 } else { d.between(1.0, 300.0) },
        air_c: d.between(-15.0, 45.0),
        ..day::PARKED
    };
    (d.log_between(2.0, 5000.0), piece)
}
