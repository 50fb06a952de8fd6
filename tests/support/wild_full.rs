//! Wild vehicles with every effect on: valid by construction, far outside what anybody would build.

use crate::dice::Dice;
use crate::{day, van, wild};
use sim_core::model::{Model, Piece, Profile, Protection, Regulator, SignalUse, Stages, StartStop, Vehicle};
use sim_core::plant::alternator::{PickUp, RegulatorHeat, Winding};
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, ThermalNode};
use sim_core::plant::cable::{CONDUCTORS, Cable, Conductor};
use sim_core::plant::set_point_rule::{Phase, SetPointRule};

/// A vehicle and a drive from a seed.
pub fn wild_full(seed: u64) -> (Model, Profile) {
    let mut d = Dice::new(seed.wrapping_mul(0x9fb2_1c65_1e98_df25) ^ 0xf011);
    let mut m = wild::model(&mut d);
    batteries(&mut d, &mut m);
    engine_side(&mut d, &mut m);
    unit(&mut d, &mut m);
    protection(&mut d, &mut m);
    let number = d.between(3.0, 10.0) as usize;
    let stretches: Vec<_> = (0..number).map(|_| stretch(&mut d)).collect();
    (m, day::day(&stretches))
}

/// One of a list, evenly.
fn one_of<T: Copy>(d: &mut Dice, list: &[T]) -> T {
    list[(d.between(0.0, list.len() as f64) as usize).min(list.len() - 1)]
}

fn maybe(d: &mut Dice, chance: f64, low: f64, high: f64) -> f64 {
    let value = d.between(low, high);
    if d.chance(chance) { value } else { 0.0 }
}

fn batteries(d: &mut Dice, m: &mut Model) {
    let starter_ah = d.log_between(20.0, 150.0);
    let mut starter =
        if d.chance(0.5) { LeadAcid::starter_flooded(starter_ah) } else { LeadAcid::starter_agm(starter_ah) };
    starter.r0_ohm *= d.log_between(0.5, 3.0);
    starter.start_soc = d.between(0.3, 1.0);
    m.starter = node(d, starter.thermal_node(), (3.0, 30.0), Chemistry::LeadAcid(starter));
    let house_ah = d.log_between(15.0, 500.0);
    let start_soc = if d.chance(0.1) { 1.0 } else { d.between(0.02, 1.0) };
    m.house = if d.chance(0.7) {
        let mut house = Lithium::lfp(house_ah, 4).with_start_soc(start_soc);
        house.r0_ohm *= d.log_between(0.3, 2.0);
        house.start_hysteresis = d.between(-1.0, 1.0);
        node(d, house.thermal_node(), (0.2, 5.0), Chemistry::Lithium(house))
    } else {
        let make = one_of(d, &[LeadAcid::house_flooded, LeadAcid::house_agm, LeadAcid::house_gel]);
        let house = make(house_ah).with_start_soc(start_soc.max(0.2));
        node(d, house.thermal_node(), (0.2, 5.0), Chemistry::LeadAcid(house))
    };
}

/// The starter battery stands in moving air: with less, gassing heats it without end.
fn node(d: &mut Dice, node: ThermalNode, w_times: (f64, f64), chemistry: Chemistry) -> Battery {
    let thermal = ThermalNode {
        j_per_k: node.j_per_k * d.log_between(0.2, 3.0),
        w_per_k: node.w_per_k * d.log_between(w_times.0, w_times.1),
    };
    let start_c = if d.chance(0.5) { f64::NAN } else { d.between(-18.0, 45.0) };
    Battery { chemistry, thermal, start_c }
}

fn engine_side(d: &mut Dice, m: &mut Model) {
    let a = &mut m.alternator;
    a.set_point_v_per_k = maybe(d, 0.7, -0.012, 0.0);
    a.heat = Some(Winding {
        full_rise_k: d.between(30.0, 160.0),
        time_s: d.log_between(60.0, 2000.0),
        derate_per_k: d.between(0.0, 0.005),
    });
    let regulator = RegulatorHeat {
        rise_k: d.between(0.0, 50.0),
        warms_s: d.log_between(60.0, 1500.0),
        cools_s: d.log_between(300.0, 6000.0),
        start_c: if d.chance(0.7) { f64::NAN } else { d.between(0.0, 90.0) },
    };
    a.build_up_s = maybe(d, 0.5, 0.5, 8.0);
    a.regulator = d.chance(0.5).then_some(regulator);
    // Behind a stiff regulator the loop is as many times faster as the battery has more resistance than its droop: past
    // 30/s an explicit stepper spends all its time on it.
    let battery = m.starter.port(&m.starter.start(-20.0), &Default::default());
    let least_s = (1.0 + 2.0 * battery.r_ohm / a.droop_ohm) / 30.0;
    let lag_s = d.log_between(0.1, 1.0).max(least_s);
    let pick_up = PickUp { rate_a_per_s: d.log_between(15.0, 400.0), lag_s };
    a.pick_up = d.chance(0.8).then_some(pick_up);
    let rule = SetPointRule {
        overrun_v: d.between(14.0, 14.7),
        cruise_v: d.between(12.3, 14.0),
        accelerating_v: d.between(12.0, 13.5),
        idle_v: d.between(12.8, 14.4),
        refresh_v: d.between(13.8, 14.6),
        low_soc: d.between(0.4, 0.95),
        cold_c: d.between(-10.0, 10.0),
        heavy_a: d.between(30.0, 80.0),
        up_v_per_s: d.log_between(0.01, 1.0),
        down_v_per_s: d.log_between(0.01, 1.0),
        start_up_v: d.between(13.5, 14.6),
        start_up_s: maybe(d, 0.5, 10.0, 300.0),
    };
    a.rule = d.chance(0.5).then_some(rule);
    m.vehicle = Vehicle {
        awake_a: maybe(d, 0.7, 0.5, 8.0),
        sleep_after_s: d.log_between(3.0, 900.0),
        drop_out_v: 6.0,
        return_v: 11.0,
        ..m.vehicle
    };
    m.starter_solar = Regulator { set_v: d.between(13.2, 14.6), droop_ohm: d.log_between(0.005, 0.1) };
    m.house_mains = Regulator { set_v: d.between(13.4, 14.6), droop_ohm: d.log_between(0.005, 0.1) };
}

fn run(d: &mut Dice, sections: usize) -> Cable {
    let mut conductors = [Conductor::default(); CONDUCTORS];
    let area_mm2 = d.log_between(6.0, 70.0);
    for pair in conductors.chunks_mut(2).take(sections) {
        let (length_m, in_bay) = (d.log_between(0.3, 8.0), sections == 2 && d.chance(0.7));
        for leg in pair {
            *leg = Conductor {
                ohm_20: van::LEG_OHM_PER_M * 16.0 / area_mm2 * length_m,
                j_per_k: 3.7 * area_mm2 * length_m * d.log_between(0.5, 2.0),
                w_per_k: length_m * d.log_between(0.1, 1.0),
                in_bay,
            };
        }
    }
    Cable {
        conductors,
        joints_ohm: d.log_between(0.0002, 0.01),
        joints_j_per_k: d.log_between(5.0, 100.0),
        joints_w_per_k: d.log_between(0.1, 1.0),
        joints_in_bay: d.chance(0.5),
        ..Cable::default()
    }
}

fn unit(d: &mut Dice, m: &mut Model) {
    let link = &mut m.links[0];
    link.input_cable = run(d, 2);
    link.output_cable = run(d, 1);
    let c = &mut link.converter;
    c.locker = ThermalNode { j_per_k: d.log_between(100.0, 5000.0), w_per_k: d.log_between(0.3, 8.0) };
    c.derate_from_c = d.between(40.0, 75.0);
    c.derate_to_c = c.derate_from_c + d.between(5.0, 40.0);
    c.lock_c = c.derate_from_c + d.between(-5.0, 30.0);
    c.reclose_c = c.lock_c - d.between(3.0, 25.0);
    let input_ohm = link.input_cable.resistance_ohm();
    let s = &mut link.start_stop;
    let width_v = d.between(0.05, 1.2);
    let pair_off_v = d.between(11.8, 13.2);
    *s = StartStop {
        least_off_s: maybe(d, 0.4, 1.0, 300.0),
        signal: one_of(
            d,
            &[
                SignalUse::Ignored,
                SignalUse::Required,
                SignalUse::Either,
                SignalUse::SecondPair { turn_on_v: pair_off_v + width_v, turn_off_v: pair_off_v },
            ],
        ),
        filter_s: if d.chance(0.6) { d.log_between(0.1, 3.0) } else { 0.0 },
        compensation_ohm: maybe(d, 0.4, 0.0, input_ohm),
        ..*s
    };
    let s = &mut link.stages;
    *s = Stages {
        fixed_supply: d.chance(0.1),
        resume: d.chance(0.3),
        cap_cumulative: d.chance(0.3),
        v_per_k: maybe(d, 0.4, -0.03, 0.0),
        ..*s
    };
}

/// A release lies further off than what the battery's own resistance makes of a switched current: else the protection
/// contradicts itself at one instant.
fn protection(d: &mut Dice, m: &mut Model) {
    let c = &m.link().converter;
    // Series resistance at −18 °C, the branches' quick part with it.
    let r = 5.3
        * match &m.house.chemistry {
            Chemistry::Lithium(b) => b.r0_ohm,
            Chemistry::LeadAcid(b) => b.r0_ohm + b.fast.discharge_ohm,
            Chemistry::Plain(b) => b.r0_ohm,
        };
    let charge_v = r * (c.output_limit_a + 60.0);
    let load_v = r * 60.0;
    let cold_c = d.between(-8.0, 6.0);
    let (high_v, low_v) = (d.between(13.8, 15.2), d.between(9.5, 12.6));
    m.protection = Protection {
        cold_c,
        cold_release_c: cold_c + d.between(0.5, 8.0),
        high_v,
        high_release_v: high_v - charge_v - d.between(0.05, 1.0),
        low_v,
        low_release_v: low_v + load_v + d.between(0.1, 2.0),
        over_a: d.log_between(15.0, 300.0),
        over_release_s: d.log_between(3.0, 600.0),
        heater_w: maybe(d, 0.5, 20.0, 150.0),
    };
}

fn stretch(d: &mut Dice) -> (f64, Piece) {
    let (_, plain) = wild::stretch(d);
    let runs = plain.engine_runs();
    let piece = Piece {
        // More boils a small starter battery away.
        set_point_v: plain.set_point_v.min(14.5),
        bay_c: plain.air_c + if runs { d.between(0.0, 60.0) } else { d.between(0.0, 20.0) },
        run_signal: d.chance(if runs { 0.9 } else { 0.2 }),
        phase: one_of(d, &[Phase::Idle, Phase::Cruise, Phase::Accelerating, Phase::Overrun]),
        starter_solar_a: maybe(d, 0.4, 0.1, 8.0),
        mains_a: maybe(d, if runs { 0.0 } else { 0.3 }, 1.0, 40.0),
        stop_start: !runs && d.chance(0.3),
        ..plain
    };
    (d.log_between(2.0, 3000.0), piece)
}
