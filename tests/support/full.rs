//! The reference van with every effect on, and variants that bring each rule into play.

use crate::day::{DRIVING, PARKED, day};
use crate::van;
use sim_core::logic::Refusal;
use sim_core::model::{Model, Piece, Profile, Protection};
use sim_core::plant::alternator::{PickUp, Winding};
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, Lithium, ThermalNode};
use sim_core::plant::cable::{Cable, Conductor};
use sim_core::plant::set_point_rule::{DEEP, Phase, SetPointRule};

/// One leg of 16 mm² class 5 copper in still air: 0.3 W/(K·m), 60 J/(K·m).
fn leg(length_m: f64, in_bay: bool) -> Conductor {
    Conductor {
        ohm_20: van::LEG_OHM_PER_M * length_m,
        j_per_k: 60.0 * length_m,
        w_per_k: 0.3 * length_m,
        in_bay,
    }
}

fn run(bay_m: f64, cabin_m: f64, joints_ohm: f64) -> Cable {
    let conductors = if bay_m > 0.0 {
        [leg(bay_m, true), leg(bay_m, true), leg(cabin_m, false), leg(cabin_m, false)]
    } else {
        [leg(cabin_m, false), leg(cabin_m, false), Conductor::default(), Conductor::default()]
    };
    Cable {
        conductors,
        joints_ohm,
        joints_j_per_k: 20.0,
        joints_w_per_k: 0.3,
        joints_in_bay: bay_m > 0.0,
        ..Cable::default()
    }
}

/// The vehicle with every effect on.
pub fn full_model() -> Model {
    let mut m = van::model();
    (m.vehicle.drop_out_v, m.vehicle.return_v) = (6.0, 11.0);
    let starter = LeadAcid::starter_flooded(80.0).with_start_soc(0.92);
    let thermal = starter.thermal_node();
    m.starter = Battery { chemistry: Chemistry::LeadAcid(starter), thermal, start_c: 20.0 };
    let house = Lithium::lfp(200.0, 4).with_start_soc(0.45);
    let thermal = house.thermal_node();
    m.house = Battery { chemistry: Chemistry::Lithium(house), thermal, start_c: 20.0 };
    m.alternator.heat = Some(Winding { full_rise_k: 110.0, time_s: 600.0, derate_per_k: 0.0025 });
    m.alternator.pick_up = Some(PickUp { rate_a_per_s: 80.0, lag_s: 0.2 });
    m.alternator.set_point_v_per_k = -0.010;
    m.protection = Protection {
        cold_c: 0.0,
        cold_release_c: 5.0,
        high_v: 14.6,
        high_release_v: 13.9,
        low_v: 10.8,
        low_release_v: 12.8,
        over_a: 150.0,
        over_release_s: 60.0,
        heater_w: 0.0,
    };
    let link = &mut m.links[0];
    link.input_cable = run(1.5, 3.5, 0.002);
    link.output_cable = run(0.0, 1.5, 0.001);
    link.converter.derate_from_c = 60.0;
    link.converter.derate_to_c = 80.0;
    link.converter.lock_c = 85.0;
    link.converter.reclose_c = 60.0;
    link.converter.locker = ThermalNode { j_per_k: 400.0, w_per_k: 4.0 };
    link.start_stop.filter_s = 0.2;
    m
}

/// Engine bay at 60 °C while driving.
pub fn warm_driving() -> Piece {
    Piece { bay_c: 60.0, run_signal: true, ..DRIVING }
}

/// The vehicle with every effect on, and its day.
pub fn full_van() -> (Model, Profile) {
    (full_model(), day(&[(60.0, PARKED), (2700.0, warm_driving()), (3600.0, PARKED)]))
}

/// The van in a hot closed locker: it derates.
pub fn hot_locker() -> (Model, Profile) {
    let mut m = full_model();
    m.links[0].converter.locker = ThermalNode { j_per_k: 300.0, w_per_k: 0.7 };
    let hot = |p: Piece| Piece { air_c: 50.0, ..p };
    (m, day(&[(60.0, hot(PARKED)), (5400.0, hot(warm_driving())), (3600.0, hot(PARKED))]))
}

/// A unit whose derating comes too late: it locks itself out, cools, and starts again.
pub fn locks_out() -> (Model, Profile) {
    let (mut m, p) = hot_locker();
    let c = &mut m.links[0].converter;
    (c.derate_from_c, c.derate_to_c) = (f64::INFINITY, f64::INFINITY);
    (m, p)
}

/// Cells at −5 °C with a heater mat: charge is refused until they are warm.
pub fn cold_start() -> (Model, Profile) {
    let mut m = full_model();
    m.house.start_c = -5.0;
    m.house.thermal = ThermalNode { j_per_k: 20_000.0, w_per_k: 1.0 };
    m.protection.heater_w = 100.0;
    let cold = |p: Piece| Piece { air_c: -5.0, ..p };
    (m, day(&[(60.0, cold(PARKED)), (5400.0, cold(warm_driving())), (600.0, cold(PARKED))]))
}

/// A house battery nearly full under a protection that is set too low: it opens for high voltage.
pub fn opens_when_full() -> (Model, Profile) {
    let mut m = full_model();
    if let Chemistry::Lithium(house) = &mut m.house.chemistry {
        house.start_soc = 0.96;
    }
    m.protection.high_v = 13.9;
    m.protection.high_release_v = 13.4;
    (m, day(&[(60.0, PARKED), (7200.0, warm_driving()), (3600.0, PARKED)]))
}

/// A house battery that is run flat: its loads are shed.
pub fn runs_flat() -> (Model, Profile) {
    let mut m = full_model();
    if let Chemistry::Lithium(house) = &mut m.house.chemistry {
        house.start_soc = 0.05;
    }
    m.protection.low_v = 12.0;
    let drain = Piece { house_load_w: 300.0, ..PARKED };
    (m, day(&[(7200.0, drain), (1800.0, warm_driving()), (3600.0, drain)]))
}

/// A variable set-point by a declared rule, driven through its phases.
pub fn variable() -> (Model, Profile) {
    let mut m = full_model();
    m.alternator.rule = Some(SetPointRule { start_up_v: 14.4, ..DEEP });
    // An overrun of 30 s lifts the input over turn-on for just longer than its delay.
    let rule = &mut m.links[0].start_stop;
    (rule.turn_on_v, rule.turn_off_v) = (rule.turn_on_v - 0.05, rule.turn_off_v - 0.05);
    let phase = |phase| Piece { phase, ..warm_driving() };
    let mut stretches = vec![(60.0, PARKED)];
    for _ in 0..6 {
        stretches.push((40.0, phase(Phase::Accelerating)));
        stretches.push((240.0, phase(Phase::Cruise)));
        stretches.push((30.0, phase(Phase::Overrun)));
        stretches.push((30.0, phase(Phase::Idle)));
    }
    stretches.push((3600.0, PARKED));
    (m, day(&stretches))
}

type Make = fn() -> (Model, Profile);

/// Every variant, named.
pub fn variants() -> Vec<(&'static str, Model, Profile)> {
    let named: [(&'static str, Make); 7] = [
        ("full van", full_van),
        ("hot locker", hot_locker),
        ("locks out", locks_out),
        ("cold start", cold_start),
        ("opens when full", opens_when_full),
        ("runs flat", runs_flat),
        ("variable set-point", variable),
    ];
    named
        .into_iter()
        .map(|(name, make)| {
            let (m, p) = make();
            (name, m, p)
        })
        .collect()
}

/// Why charge was refused during a run, in order.
pub fn refusals(run: &sim_core::Run) -> Vec<Refusal> {
    run.events
        .iter()
        .filter_map(|e| match e.kind {
            sim_core::record::EventKind::ChargeRefused { why } => why,
            _ => None,
        })
        .collect()
}
