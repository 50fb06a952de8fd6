//! Every kind of finding: a small vehicle that has it, and one that has not.

use super::*;
use crate::engine::{Options, Record, simulate};
use crate::logic::Refusal;
use crate::record::Side;
use crate::resolve::resolve;
use crate::scenario::drive::PieceSpec;
use crate::scenario::{Num, Scenario};

/// A piece of the drive: minutes, engine speed.
fn piece(minutes: f64, rpm: f64) -> PieceSpec {
    PieceSpec {
        duration_min: Some(Num::typed(minutes)),
        engine_rpm: Some(Num::typed(rpm)),
        ..PieceSpec::default()
    }
}

/// The default van: parked, an hour of driving, parked.
fn van() -> Scenario {
    Scenario { pieces: vec![piece(1.0, 0.0), piece(60.0, 2000.0), piece(60.0, 0.0)], ..Scenario::default() }
}

fn judged(s: &Scenario) -> Verdict {
    let ready = resolve(s, &|_| None).unwrap_or_else(|p| panic!("{p:?}"));
    let options = Options { record: Record::Summary, tolerance: 1e-6, ..Options::default() };
    let (model, profile) = (&ready.model, &ready.profile);
    let run = simulate(model, profile, &options).expect("a run");
    Verdict::of(&Read::of(&run, model, profile).facts(&run, model, profile, &s.limits))
}

/// The default van with something changed.
fn with(change: impl FnOnce(&mut Scenario)) -> Verdict {
    let mut s = van();
    change(&mut s);
    judged(&s)
}

/// An alternator that holds the same volts cold and warm.
fn holds(s: &mut Scenario, volts: f64) {
    s.alternator.set_point_v.set(volts);
    s.alternator.warm_set_point_v = Some(Num::typed(volts));
}

fn has(v: &Verdict, is: impl Fn(&Kind) -> bool) -> Option<Weight> {
    v.find(is).map(|f| f.weight)
}

#[test]
fn a_van_of_defaults_is_good_and_tops_up() {
    let v = judged(&van());
    assert!(v.is_good() && v.word() == "good", "{v:?}");
    assert_eq!(has(&v, |k| *k == Kind::TopsUp), Some(Weight::Good));
}

#[test]
fn a_conductor_over_what_was_typed_is_a_danger_and_over_what_was_assumed_a_trouble() {
    let hot = |k: &Kind| matches!(k, Kind::ConductorHot { .. });
    let thin = |s: &mut Scenario| {
        s.input_cable.area_mm2.set(10.0);
        s.drive.bay_c.set(75.0);
        s.start_stop.signal.set("either".into());
    };
    let assumed = with(thin);
    assert_eq!(has(&assumed, hot), Some(Weight::Trouble), "{assumed:?}");
    let typed = with(|s| {
        thin(s);
        s.input_cable.insulation_c.set(70.0);
    });
    assert_eq!(has(&typed, hot), Some(Weight::Danger));
    assert_eq!(typed.word(), "cable hot");
    let best = with(|s| {
        s.input_cable.area_mm2.set(6.0);
        s.start_stop.signal.set("either".into());
    });
    assert_eq!(has(&best, hot), Some(Weight::Danger), "no common insulation bears it: {best:?}");
    let output = with(|s| {
        s.output_cable.area_mm2.set(4.0);
        s.house_battery.start_pct.set(20.0);
        s.drive.air_c.set(40.0);
    });
    assert!(output.find(|k| matches!(k, Kind::ConductorHot { cable: CableOf::Output, .. })).is_some());
    assert_eq!(has(&judged(&van()), hot), None);
}

#[test]
fn joints_are_hot_by_their_own_limit() {
    let hot = |k: &Kind| matches!(k, Kind::JointHot { cable: CableOf::Input, .. });
    assert_eq!(has(&with(|s| s.input_cable.joints_mohm.set(10.0)), hot), Some(Weight::Danger));
    assert_eq!(has(&with(|s| s.input_cable.joints_mohm.set(5.5)), hot), Some(Weight::Trouble));
    let borne = with(|s| {
        s.input_cable.joints_mohm.set(10.0);
        s.input_cable.joints_most_c.set(200.0);
    });
    assert_eq!(has(&borne, hot), None);
}

#[test]
fn a_fuse_under_the_current_is_a_danger_and_a_loaded_one_a_note() {
    let fuse = |a: f64| with(move |s| s.input_cable.fuse_a = Some(Num::typed(a)));
    let over = fuse(40.0);
    assert_eq!(has(&over, |k| matches!(k, Kind::FuseOver { .. })), Some(Weight::Danger));
    let measure = over.findings[0].measure.expect("amps");
    assert!(
        measure.value > 45.0 && measure.limit == 40.0 && (measure.over - measure.value + 40.0).abs() < 1e-9
    );
    let mut long = van();
    long.pieces[1] = piece(180.0, 2000.0);
    long.input_cable.fuse_a = Some(Num::typed(55.0));
    assert_eq!(has(&judged(&long), |k| matches!(k, Kind::FuseLoaded { .. })), Some(Weight::Note));
    assert!(fuse(100.0).find(|k| matches!(k, Kind::FuseOver { .. } | Kind::FuseLoaded { .. })).is_none());
}

#[test]
fn volts_beyond_a_battery_are_told_by_chemistry_or_as_typed() {
    let high = |k: &Kind| matches!(k, Kind::BusTooHigh { side: Side::Starter, .. });
    assert_eq!(has(&with(|s| holds(s, 15.2)), high), Some(Weight::Trouble));
    assert_eq!(has(&with(|s| holds(s, 16.4)), high), Some(Weight::Danger));
    assert_eq!(has(&with(|s| holds(s, 14.7)), high), None);
    let typed = with(|s| s.starter_battery.most_v = Some(Num::typed(14.0)));
    assert_eq!(has(&typed, high), Some(Weight::Danger));
    let house = |k: &Kind| matches!(k, Kind::BusTooHigh { side: Side::House, .. });
    let gel = with(|s| {
        s.house_battery.chemistry.set("gel".into());
        s.house_battery.start_pct.set(96.0);
        s.stages.absorption_v.set(14.9);
        s.stages.tail_a.set(0.0);
    });
    assert_eq!(has(&gel, house), Some(Weight::Trouble), "{gel:?}");
}

#[test]
fn a_system_voltage_that_does_not_fit_is_a_danger() {
    let wrong = |k: &Kind| matches!(k, Kind::SystemVoltage { side: Side::Starter });
    let forgotten = with(|s| s.alternator.set_point_v.set(28.4));
    assert_eq!(has(&forgotten, wrong), Some(Weight::Danger));
    assert!(forgotten.is_danger() && forgotten.word() == "wrong system voltage");
    let right = with(|s| {
        s.alternator.set_point_v.set(28.4);
        s.starter_battery.cells.set(12.0);
    });
    assert_eq!(has(&right, wrong), None);
}

#[test]
fn a_winding_beyond_its_class_is_told() {
    let hot = with(|s| {
        s.alternator.winding_rise_k.set(300.0);
        s.alternator.derate_pct_per_k.set(0.02);
        s.vehicle.running_load_a.set(50.0);
    });
    assert!(hot.find(|k| *k == Kind::WindingHot).is_some(), "{hot:?}");
    assert!(judged(&van()).find(|k| *k == Kind::WindingHot).is_none());
}

#[test]
fn a_starter_battery_that_cannot_crank_is_told_before_charge() {
    let flat = with(|s| {
        s.starter_battery.start_pct.set(3.0);
        s.vehicle.crank_a.set(500.0);
    });
    assert!(matches!(flat.worst().map(|f| f.kind), Some(Kind::StartNotExpected { .. })), "{flat:?}");
    assert!(judged(&van()).find(|k| matches!(k, Kind::StartNotExpected { .. })).is_none());
}

#[test]
fn a_starter_battery_pays_for_a_unit_that_runs_on() {
    let on = with(|s| {
        s.start_stop.turn_off_v.set(9.5);
        s.pieces[2] = piece(600.0, 0.0);
    });
    for kind in [Kind::RunsOn, Kind::StarterPays, Kind::StarterUnderReserve { typed: false }] {
        assert_eq!(has(&on, |k| *k == kind), Some(Weight::Trouble), "{kind:?} in {on:?}");
    }
    let small = with(|s| {
        s.start_stop.turn_off_v.set(8.0);
        s.converter.output_limit_a.set(10.0);
        s.starter_battery.capacity_ah.set(45.0);
        s.starter_battery.start_pct.set(50.0);
        s.pieces[2] = piece(600.0, 0.0);
    });
    assert_eq!(has(&small, |k| *k == Kind::StarterDrained), Some(Weight::Trouble), "{small:?}");
    assert!(judged(&van()).find(|k| matches!(k, Kind::RunsOn | Kind::StarterPays)).is_none());
    let reserve = with(|s| s.limits.crank_reserve_pct = Some(Num::typed(99.0)));
    assert_eq!(has(&reserve, |k| *k == Kind::StarterUnderReserve { typed: true }), Some(Weight::Trouble));
}

#[test]
fn a_unit_that_keeps_dropping_out_is_told_so() {
    let v = with(|s| s.input_cable.joints_mohm.set(27.0));
    let f = v.find(|k| *k == Kind::KeepsDroppingOut).expect("it hunts");
    assert!(f.when.times > 50 && f.is_bad(), "{f:?}");
}

#[test]
fn a_unit_that_drops_out_on_less_and_stays_off_is_trouble_and_one_that_is_back_soon_is_not() {
    let idles_for = |minutes: f64| {
        with(move |s| {
            let load = |p: PieceSpec| PieceSpec { vehicle_load_a: Some(Num::typed(60.0)), ..p };
            s.pieces =
                vec![piece(30.0, 2000.0), load(piece(minutes, 700.0)), piece(30.0, 2000.0), piece(30.0, 0.0)];
        })
    };
    assert_eq!(has(&idles_for(20.0), |k| *k == Kind::StaysOff), Some(Weight::Trouble));
    let short = idles_for(3.0);
    assert_eq!(has(&short, |k| *k == Kind::DropsOutOnLess), Some(Weight::Note), "{short:?}");
    assert!(short.is_good());
}

#[test]
fn what_a_unit_that_never_comes_on_is_short_of() {
    let never = |v: &Verdict| match v.find(|k| matches!(k, Kind::NeverComesOn { .. })).map(|f| f.kind) {
        Some(Kind::NeverComesOn { want }) => Some(want),
        _ => None,
    };
    assert_eq!(never(&with(|s| s.start_stop.turn_on_v.set(14.4))), Some(Want::Volts));
    let signal = with(|s| {
        s.start_stop.signal.set("required".into());
        s.start_stop.signal_live.set("never".into());
    });
    assert_eq!(never(&signal), Some(Want::Signal));
    assert_eq!(never(&with(|s| s.start_stop.turn_on_delay_s.set(3599.0))), Some(Want::LongerDrives));
    // Speeds that take turns, so that turn-on is reached and never held.
    let held = with(|s| {
        s.start_stop.turn_on_delay_s.set(120.0);
        let load = PieceSpec { vehicle_load_a: Some(Num::typed(140.0)), ..piece(1.0, 700.0) };
        s.pieces = (0..20).flat_map(|_| [piece(1.0, 2500.0), load.clone()]).collect();
    });
    assert_eq!(never(&held), Some(Want::Held), "{held:?}");
    assert_eq!(never(&judged(&van())), None);
}

#[test]
fn on_too_late_is_a_share_of_the_driving() {
    let late = with(|s| s.start_stop.turn_on_delay_s.set(2000.0));
    assert_eq!(has(&late, |k| *k == Kind::OnTooLate), Some(Weight::Trouble));
    assert_eq!(has(&with(|s| s.start_stop.turn_on_delay_s.set(600.0)), |k| *k == Kind::OnTooLate), None);
}

#[test]
fn a_unit_that_comes_on_parked_is_told() {
    let sun = with(|s| {
        s.pieces[2] = PieceSpec { starter_solar_w: Some(Num::typed(100.0)), ..piece(240.0, 0.0) };
    });
    assert_eq!(has(&sun, |k| *k == Kind::ComesOnParked), Some(Weight::Trouble), "{sun:?}");
}

#[test]
fn charge_that_is_refused_weighs_by_how_much_of_the_driving_it_takes() {
    let cold = with(|s| {
        s.drive.air_c.set(-10.0);
        s.house_battery.start_c = Some(Num::typed(-10.0));
    });
    assert_eq!(has(&cold, |k| *k == Kind::Refused { why: Refusal::Cold }), Some(Weight::Trouble), "{cold:?}");
    let volts = with(|s| {
        s.house_battery.start_pct.set(97.0);
        s.stages.absorption_v.set(14.9);
    });
    assert_eq!(has(&volts, |k| *k == Kind::Refused { why: Refusal::HighVoltage }), Some(Weight::Trouble));
    assert!(judged(&van()).find(|k| matches!(k, Kind::Refused { .. })).is_none());
}

#[test]
fn heat_weighs_by_how_deep_and_how_long() {
    let locks = with(|s| {
        s.drive.air_c.set(45.0);
        s.converter.derate_from_c.set(0.0);
        s.converter.case_release_w_per_k.set(0.4);
    });
    assert!(locks.find(|k| matches!(k, Kind::LimitedByHeat { .. })).is_none() || !locks.is_good());
    let derates = with(|s| s.converter.case_release_w_per_k.set(0.5));
    assert!(derates.find(|k| *k == Kind::LimitedByHeat { locks: false }).is_some(), "{derates:?}");
    assert!(judged(&van()).find(|k| matches!(k, Kind::LimitedByHeat { .. })).is_none());
}

#[test]
fn a_flat_house_battery_sheds_its_loads() {
    let flat = with(|s| {
        s.house_battery.start_pct.set(10.0);
        s.house.load_w.set(200.0);
        s.pieces = vec![piece(5.0, 2000.0), piece(600.0, 0.0)];
    });
    assert_eq!(has(&flat, |k| *k == Kind::HouseFlat), Some(Weight::Trouble), "{flat:?}");
    let heavy = with(|s| {
        s.house_battery.capacity_ah.set(30.0);
        s.house_battery.r0_mohm.set(40.0);
        s.house.load_w.set(1200.0);
        s.pieces = vec![piece(2.0, 2000.0), piece(2.0, 0.0)];
    });
    assert_eq!(has(&heavy, |k| *k == Kind::LoadsShed), Some(Weight::Trouble), "{heavy:?}");
    assert!(judged(&van()).find(|k| *k == Kind::HouseFlat).is_none());
}

/// A battery that is shed once by a heavy load and empties days later is told as both, each when it was so.
#[test]
fn a_heavy_load_on_a_battery_that_is_not_flat_is_no_flat_battery() {
    let heavy = with(|s| {
        s.house_battery.capacity_ah.set(30.0);
        s.house_battery.r0_mohm.set(40.0);
        s.house.load_w.set(1200.0);
        s.pieces = vec![piece(2.0, 2000.0), piece(2.0, 0.0)];
    });
    assert!(
        heavy.find(|k| *k == Kind::LoadsShed).is_some() && heavy.find(|k| *k == Kind::HouseFlat).is_none()
    );
    let both = with(|s| {
        s.house_battery.r0_mohm.set(40.0);
        s.house_battery.start_pct.set(60.0);
        let asks = |watts: f64, minutes: f64| PieceSpec {
            house_load_w: Some(Num::typed(watts)),
            ..piece(minutes, 0.0)
        };
        s.pieces = vec![asks(1500.0, 2.0), asks(20.0, 1500.0), asks(200.0, 1500.0)];
    });
    let first_s = |kind: Kind| both.find(|k| *k == kind).map(|f| f.when.first_s);
    let (shed_s, flat_s) = (first_s(Kind::LoadsShed), first_s(Kind::HouseFlat));
    assert!(shed_s.is_some_and(|s| s < 120.0) && flat_s.is_some_and(|s| s > 86_400.0), "{both:?}");
}

#[test]
fn what_holds_the_unit_back_without_a_switching_is_told() {
    let taper = |v: &Verdict| match v.find(|k| matches!(k, Kind::TapersEarly { .. })).map(|f| f.kind) {
        Some(Kind::TapersEarly { by }) => Some(by),
        _ => None,
    };
    let low = with(|s| {
        s.stages.mode.set("fixed-supply".into());
        s.stages.absorption_v.set(13.3);
    });
    assert_eq!((taper(&low), low.weight()), (Some(Taper::Target), Weight::Note), "{low:?}");
    assert_eq!(taper(&with(|s| s.output_cable.joints_mohm.set(26.0))), Some(Taper::Cable));
    let worn = with(|s| {
        s.house_battery.r0_mohm.set(20.0);
        s.house_battery.r1_mohm.set(15.0);
        s.house_battery.r2_mohm.set(25.0);
    });
    assert_eq!(taper(&worn), Some(Taper::Battery));
    assert_eq!(taper(&judged(&van())), None);
    let cold = with(|s| {
        s.drive.air_c.set(-10.0);
        s.house_battery.start_c = Some(Num::typed(-10.0));
    });
    assert_eq!(taper(&cold), None, "charge refused is told by itself: {cold:?}");
}

#[test]
fn stages_that_end_late_or_hold_too_much_are_worth_knowing_and_a_drive_that_drains_is_trouble() {
    let full = |change: fn(&mut Scenario)| {
        with(move |s| {
            s.house_battery.start_pct.set(96.0);
            s.pieces[1] = piece(150.0, 2000.0);
            change(s);
        })
    };
    let load = full(|s| {
        s.house.load_w.set(100.0);
        s.stages.tail_a.set(4.0);
    });
    assert_eq!(has(&load, |k| *k == Kind::LoadHidesTail), Some(Weight::Note), "{load:?}");
    let float = full(|s| s.stages.float_v.set(s.stages.absorption_v.value));
    assert_eq!(has(&float, |k| *k == Kind::FloatHigh), Some(Weight::Note), "{float:?}");
    let usual = full(|s| s.house.load_w.set(0.0));
    assert!(usual.find(|k| matches!(k, Kind::LoadHidesTail | Kind::FloatHigh)).is_none(), "{usual:?}");
    let weak = with(|s| {
        s.alternator.set_point_v.set(12.3);
        s.start_stop.signal.set("required".into());
        s.start_stop.turn_on_v.set(11.5);
        s.start_stop.turn_off_v.set(10.5);
    });
    assert_eq!(has(&weak, |k| *k == Kind::StarterLosesDriving), Some(Weight::Trouble), "{weak:?}");
    assert!(judged(&van()).find(|k| *k == Kind::StarterLosesDriving).is_none());
}

#[test]
fn what_feeds_the_house_battery_is_told() {
    let sun = with(|s| {
        s.start_stop.turn_on_delay_s.set(1500.0);
        s.house_battery.start_pct.set(95.0);
        s.pieces[0] = PieceSpec { house_solar_w: Some(Num::typed(400.0)), ..piece(240.0, 0.0) };
    });
    assert_eq!(has(&sun, |k| *k == Kind::FedBy { source: Source::Sun }), Some(Weight::Note), "{sun:?}");
    let full = with(|s| s.house_battery.start_pct.set(99.5));
    assert_eq!(has(&full, |k| *k == Kind::FullAlready), Some(Weight::Note));
    let only = with(|s| {
        s.house.load_w.set(100.0);
        s.pieces[2] = piece(600.0, 0.0);
    });
    assert_eq!(has(&only, |k| *k == Kind::GainsOnlyDriving), Some(Weight::Note), "{only:?}");
    let none = with(|s| s.house.load_w.set(900.0));
    assert_eq!(has(&none, |k| *k == Kind::NoGain), Some(Weight::Trouble), "{none:?}");
    let loses = with(|s| {
        s.house.load_w.set(20.0);
        s.pieces[2] = piece(5000.0, 0.0);
    });
    assert_eq!(has(&loses, |k| *k == Kind::Loses), Some(Weight::Trouble), "{loses:?}");
}

#[test]
fn each_limit_of_the_users_is_a_finding_with_its_numbers() {
    let v = with(|s| {
        s.limits.most_input_a = Some(Num::typed(30.0));
        s.limits.least_house_end_pct = Some(Num::typed(99.0));
    });
    let broken: Vec<_> = v.findings.iter().filter(|f| matches!(f.kind, Kind::LimitBroken { .. })).collect();
    assert_eq!(broken.len(), 2);
    assert!(
        broken.iter().all(|f| f.measure.is_some_and(|m| m.over > 0.0 && !m.unit.is_empty())),
        "{broken:?}"
    );
    assert_eq!(v.word(), "limit broken");
}

#[test]
fn a_danger_comes_before_any_trouble() {
    let v = with(|s| {
        s.input_cable.joints_mohm.set(20.0);
        s.input_cable.fuse_a = Some(Num::typed(20.0));
        s.start_stop.signal.set("either".into());
    });
    let weights: Vec<Weight> = v.findings.iter().map(|f| f.weight).collect();
    assert!(weights.is_sorted_by(|a, b| a >= b) && weights[0] == Weight::Danger, "{v:?}");
}
