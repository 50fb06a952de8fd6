//! Every sentence about a cause, from every variant there is: none is empty, none shows a name of the code, no two kinds,
//! knobs or changes read alike.

use super::{Depth, Words, change, ended, evidence, kind, reason, remedy, story, switch};
use crate::load::{Loaded, load};
use sim_core::explain::remedy as search;
use sim_core::explain::{
    Alike, Change, Cost, Drops, Ended, Engine, Evidence, Explanation, Family, Holder, Kind, Knob, Named,
    Period, Probes, Reason, Remedy, SignalMode, Story, Switch,
};
use sim_core::judge::{self, CableOf, Finding, Measure, Weight, When};
use sim_core::logic::Refusal;
use sim_core::plant::fuse::FusePlace;
use sim_core::record::{Cause, Side};
use sim_core::{Instant, Model};
use std::path::Path;

const DEPTHS: [Depth; 3] = [Depth::Customer, Depth::Apprentice, Depth::Engineer];

fn loaded() -> Loaded {
    let van = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van.toml");
    load(&van, &[]).expect("a scenario of ours")
}

fn model() -> Model {
    loaded().resolved.model
}

fn reads_well(text: &str) {
    assert!(text.len() > 10 && text.ends_with('.'), "{text}");
    for bad in ["{", "}", "::", "_", "NaN", "inf", "  ", "..", " .", "None", "Some"] {
        assert!(!text.contains(bad), "`{bad}` in: {text}");
    }
}

fn all_differ(texts: &[String]) {
    for (n, a) in texts.iter().enumerate() {
        assert!(!texts[..n].contains(a), "twice: {a}");
    }
}

fn changes() -> Vec<Change> {
    vec![
        Change::OwnRamp { input_a: 46.0 },
        Change::DropGone { by_v: 1.5 },
        Change::SetPoint { from_v: 14.4, to_v: 13.2 },
        Change::Speed { from_rpm: 2000.0, to_rpm: 750.0 },
        Change::VehicleLoad { from_a: 20.0, to_a: 60.0 },
        Change::HouseLoad { from_w: 20.0, to_w: 600.0 },
        Change::Joint { from_ohm: 0.0, to_ohm: 0.03 },
        Change::CableOpened,
        Change::CableWarmed { from_ohm: 0.014, to_ohm: 0.016 },
        Change::AlternatorWarmed { from_a: 90.0, to_a: 70.0 },
        Change::KeyOn { ago_s: 84.0 },
        Change::KeyOff { ago_s: 2.0 },
        Change::Crank,
        Change::Sun { amps: 2.0 },
        Change::Signal { live: true },
        Change::Signal { live: false },
        Change::Heat { case_c: 85.0 },
    ]
}

fn evidences() -> Vec<Evidence> {
    let refused = |why| Evidence::Refused { why, value: -10.0, threshold: 0.0 };
    vec![
        Evidence::Swing { input_v: 1.9, posts_v: 0.2 },
        Evidence::CableShare { share: 0.8 },
        Evidence::HeldOff { volts: 13.9 },
        Evidence::WithoutCable { volts: 13.8 },
        Evidence::OneThingMended { drop_outs: 70, strong_source: Some(0), no_cable: None },
        Evidence::AlternatorFull { times: 70, of: 71, amps: 42.0 },
        Evidence::SetPointBack { from_v: 14.4, to_v: 13.2, volts: 13.5 },
        Evidence::Clock { measured_s: 33.4, predicted_s: 33.5 },
        Evidence::Rose { from_v: 13.5, to_v: 13.9 },
        Evidence::EndedByItself { after_s: 200.0, prolonged: false },
        Evidence::EndedByItself { after_s: 0.0, prolonged: false },
        Evidence::EndedByItself { after_s: 200.0, prolonged: true },
        Evidence::EngineStood { times: 19, since_key_off_s: Some(33.0) },
        Evidence::EngineStood { times: 19, since_key_off_s: None },
        Evidence::Rested { volts: 12.7, turn_on_v: 12.8 },
        Evidence::InTheDark { starts: 19, dark_starts: 0 },
        Evidence::TooHot { case_c: 85.0, limit_c: 85.0 },
        refused(Refusal::Cold),
        refused(Refusal::HighVoltage),
        refused(Refusal::OverCurrent),
        Evidence::Stops { times: 22, ran_s: 90.0, stood_s: 30.0 },
        Evidence::Recharged { times: 5, output_v: 13.1, threshold_v: 13.2 },
        Evidence::SignalLost { times: 1 },
        Evidence::SignalLost { times: 3 },
        Evidence::InputDead { posts_v: 14.1 },
    ]
}

fn endings() -> Vec<Ended> {
    vec![
        Ended::KeyOff,
        Ended::KeyOn,
        Ended::EndOfRun,
        Ended::StarterRisen,
        Ended::HouseAsksLess,
        Ended::Derated,
        Ended::Conditions { change: Change::Speed { from_rpm: 750.0, to_rpm: 2000.0 } },
        Ended::StayedOn,
        Ended::NeverCameBack { input_v: 13.1, turn_on_v: 13.6 },
        Ended::NeverCameBack { input_v: 13.9, turn_on_v: 13.6 },
    ]
}

#[test]
fn changes_evidence_and_endings_read_well() {
    let told: Vec<String> = changes().iter().map(|c| change::sentence(&[*c]).expect("a sentence")).collect();
    told.iter().for_each(|t| reads_well(t));
    all_differ(&told);
    assert_eq!(change::sentence(&[]), None);
    let told: Vec<String> = evidences().iter().map(evidence::sentence).collect();
    told.iter().for_each(|t| reads_well(t));
    all_differ(&told);
    let told: Vec<String> = endings().iter().map(|e| ended::sentence(e, Family::Driving)).collect();
    told.iter().for_each(|t| reads_well(t));
    all_differ(&told);
}

#[test]
fn kinds_read_well_at_every_depth() {
    for depth in DEPTHS {
        let told: Vec<String> = Kind::ALL.iter().map(|k| kind::plain(*k, depth).to_owned()).collect();
        told.iter().for_each(|t| reads_well(t));
        all_differ(&told);
    }
    let looks: Vec<String> = Kind::ALL.iter().map(|k| kind::look(*k).to_owned()).collect();
    looks.iter().for_each(|t| reads_well(t));
    all_differ(&looks);
    all_differ(&Kind::ALL.map(|k| kind::name(k).to_owned()));
    reads_well(kind::CANNOT_TELL);
    for k in Kind::ALL {
        let name = kind::name(k);
        let defined = |t: &crate::Term| t.term == name || t.also.contains(&name);
        assert!(crate::GLOSSARY.iter().any(defined), "{name} is not in the glossary");
    }
}

const KNOBS: [Knob; 27] = [
    Knob::Joints(CableOf::Input),
    Knob::Joints(CableOf::Output),
    Knob::CableClosed,
    Knob::SignalHeld,
    Knob::Signal(SignalMode::Required),
    Knob::Signal(SignalMode::Either),
    Knob::Signal(SignalMode::SecondPair),
    Knob::LessCable,
    Knob::LessDroop,
    Knob::Copper(CableOf::Input),
    Knob::Copper(CableOf::Output),
    Knob::Fuse(CableOf::Input),
    Knob::Fuse(CableOf::Output),
    Knob::OutputLimit,
    Knob::TurnOnDelay,
    Knob::TurnOffDelay,
    Knob::TurnOn,
    Knob::TurnOff,
    Knob::SetPointFloor,
    Knob::SetPointCap,
    Knob::Recharge,
    Knob::Absorption,
    Knob::HouseTemp,
    Knob::Dark,
    Knob::KeepRunning,
    Knob::Idle,
    Knob::TurnOffLower,
];

const FAMILIES: [Family; 7] = [
    Family::Driving,
    Family::Stop,
    Family::Parked,
    Family::Heat,
    Family::Signal,
    Family::Protection,
    Family::Stages,
];

fn remedy(knob: Knob, to: Option<f64>) -> Remedy {
    let before =
        Cost { output_ah: 2.2, starter_end_soc: 0.99, run_on_s: 3.0, parked_s: 3.0, first_on_s: Some(60.0) };
    let cost = Cost {
        output_ah: 29.1,
        starter_end_soc: 0.9,
        run_on_s: 900.0,
        parked_s: 7200.0,
        first_on_s: Some(200.0),
    };
    let least = to.map(|v| 0.9 * v);
    let changes = vec![search::Change { knob, now: to.map(|v| 2.0 * v), least, to }];
    Remedy { changes, spare_v: Some(0.3), cost, before }
}

#[test]
fn remedies_read_well() {
    for depth in DEPTHS {
        let mut told: Vec<String> = Vec::new();
        for knob in KNOBS {
            let there = matches!(
                knob,
                Knob::CableClosed | Knob::SignalHeld | Knob::Signal(_) | Knob::Dark | Knob::KeepRunning
            );
            let text = remedy::sentence("What helps: ", &remedy(knob, (!there).then_some(12.4)), depth);
            reads_well(&text);
            assert!(text.contains("29.1 Ah (now 2.2 Ah)") && text.contains("90.0 %"), "{text}");
            assert!(text.contains("run-on is 15 min") && text.contains("2 h"), "{text}");
            // A customer hears of a run signal, whichever way it is used; thresholds up and down read by their numbers.
            let same =
                |k: Knob| matches!(k, Knob::Signal(_)) && depth == Depth::Customer || k == Knob::TurnOffLower;
            if !same(knob) || !told.contains(&text) {
                assert!(!told.contains(&text), "two knobs read alike: {text}");
            }
            told.push(text);
        }
    }
    reads_well(remedy::NONE);
    reads_well(remedy::NOTHING);
    let pair = Remedy {
        changes: [
            remedy(Knob::Copper(CableOf::Input), Some(2.0)),
            remedy(Knob::Fuse(CableOf::Input), Some(60.0)),
        ]
        .into_iter()
        .flat_map(|r| r.changes)
        .collect(),
        ..remedy(Knob::Dark, None)
    };
    let text = remedy::sentence("Or: ", &pair, Depth::Apprentice);
    assert!(text.contains("Together with it"), "{text}");
    reads_well(&text);
}

/// A reason of every kind there is; whoever adds one is told by the match below.
fn reasons() -> Vec<Reason> {
    let (cable, side, at) = (CableOf::Input, Side::Starter, FusePlace::InputBatteryEnd);
    let stays = |rested_v, source_a| Reason::StaysUp {
        after_v: 12.9,
        end_v: 12.8,
        turn_off_v: 12.8,
        rested_v,
        input_a: 0.2,
        source_a,
    };
    let under = |alternator_full, set_point_v| Reason::UnderTurnOn {
        highest_v: 13.4,
        turn_on_v: 13.6,
        set_point_v,
        alternator_full,
        vehicle_a: 60.0,
    };
    let starter = |unit_ah| Reason::Starter {
        from_soc: 0.9,
        lowest_soc: 0.3,
        driven_ah: 1.0,
        unit_ah,
        vehicle_ah: 20.0,
        source_ah: 1.0,
        crank_v: Some(7.0),
    };
    let changed = vec![Change::SetPoint { from_v: 14.4, to_v: 13.2 }];
    vec![
        Reason::Story { family: Family::Driving },
        Reason::Current { cable, amps: 50.0, carries_a: Some(41.0), air_c: 60.0 },
        Reason::Current { cable: CableOf::Output, amps: 50.0, carries_a: None, air_c: 20.0 },
        Reason::Joints { cable, amps: 45.0, ohm: 0.025, watts: 50.0, opened: Some((0.02, 900.0)) },
        Reason::Joints { cable: CableOf::Output, amps: 45.0, ohm: 0.025, watts: 50.0, opened: None },
        Reason::Fuse { at, amps: 50.0, rating_a: 30.0, input_v: 12.6, output_a: 40.0, carries_a: Some(41.0) },
        Reason::OtherSystem { side, set_v: 28.0, rested_v: 12.7 },
        Reason::Held { side, by: Holder::Alternator, set_v: 15.4, bears_v: 14.8, temp_c: 25.0 },
        Reason::Held { side: Side::House, by: Holder::Unit, set_v: 15.4, bears_v: 14.6, temp_c: 25.0 },
        Reason::Held { side, by: Holder::Sun, set_v: 15.4, bears_v: 14.8, temp_c: 25.0 },
        Reason::Held { side: Side::House, by: Holder::Mains, set_v: 15.4, bears_v: 14.6, temp_c: 25.0 },
        Reason::Winding { amps: 90.0, most_a: 95.0, unit_a: 46.0, bay_c: 80.0 },
        starter(30.0),
        starter(2.0),
        Reason::NoSignal,
        under(true, 14.2),
        under(false, 13.2),
        under(false, 14.2),
        Reason::NotHeld { longest_s: 20.0, delay_s: 30.0, changed },
        Reason::NotHeld { longest_s: 20.0, delay_s: 30.0, changed: Vec::new() },
        Reason::ShortDrives { longest_s: 100.0, delay_s: 60.0 },
        stays(12.7, 0.0),
        stays(12.85, 2.0),
        Reason::DroppedOut { input_v: 12.5, turn_off_v: 12.8, posts_v: 13.9, input_a: 46.0 },
        Reason::CameOnParked {
            input_v: 13.0,
            turn_on_v: 12.8,
            rested_v: 12.7,
            stood_s: Some(60.0),
            source_a: 0.0,
        },
        Reason::CameOnParked { input_v: 13.0, turn_on_v: 12.8, rested_v: 12.7, stood_s: None, source_a: 2.0 },
        Reason::HotUnit { case_c: 80.0, from_c: 60.0, locker_c: 50.0, air_c: 30.0, loss_w: 40.0 },
        Reason::Refused { cells_c: -5.0, house_v: 13.2, house_a: 0.0 },
        Reason::House {
            driven_ah: 2.0,
            others_ah: 1.0,
            loads_ah: 30.0,
            driving_loads_ah: 3.0,
            on_share: Some(0.5),
            lowest_soc: 0.05,
        },
        Reason::Waits { waited_s: 900.0, delayed_s: 300.0, delay_s: 100.0, drives: 3 },
        Reason::Stops { times: 12, lost_s: 900.0, delay_s: 60.0 },
        Reason::Limit { key: "most_input_a", measure: Measure::at_most(50.0, 40.0, "A") },
    ]
}

#[test]
fn reasons_read_well() {
    let model = model();
    let profile = loaded().resolved.profile;
    let finding = Finding {
        kind: judge::Kind::WindingHot,
        weight: Weight::Trouble,
        when: When::once(0.0, 1.0),
        measure: None,
    };
    for depth in DEPTHS {
        let words = Words { model: &model, profile: &profile, depth };
        for r in reasons() {
            let text = reason::sentence(&words, &finding, &r);
            // Nobody adds a reason without a sentence of its own.
            let told = match r {
                Reason::Story { .. } => false,
                Reason::Current { .. }
                | Reason::Joints { .. }
                | Reason::Fuse { .. }
                | Reason::OtherSystem { .. }
                | Reason::Held { .. }
                | Reason::Winding { .. }
                | Reason::Starter { .. }
                | Reason::NoSignal
                | Reason::UnderTurnOn { .. }
                | Reason::NotHeld { .. }
                | Reason::ShortDrives { .. }
                | Reason::StaysUp { .. }
                | Reason::DroppedOut { .. }
                | Reason::CameOnParked { .. }
                | Reason::HotUnit { .. }
                | Reason::Refused { .. }
                | Reason::House { .. }
                | Reason::Waits { .. }
                | Reason::Stops { .. }
                | Reason::Limit { .. } => true,
            };
            assert_eq!(text.is_some(), told, "{r:?}");
            if let Some(text) = text {
                // A key is named as it is written.
                reads_well(&text.replace("limits.most_input_a", "that limit"));
                assert!(text.starts_with("Alternator hot: "), "{text}");
            }
        }
    }
}

fn drops(set_point: bool, full: bool, input_v: f64) -> Drops {
    Drops {
        set_point_v: set_point.then_some(14.2),
        alternator_v: set_point.then_some(0.3),
        alternator_full: full,
        capability_a: 90.0,
        alternator_a: 90.0,
        posts_v: 13.9,
        starter_a: if full { -12.0 } else { 5.0 },
        positive_v: 0.5,
        negative_v: 0.5,
        joints_v: 0.1,
        cable_ohm: 0.03,
        input_a: 45.0,
        input_v,
    }
}

fn switch_of(on: bool, cause: Cause, engine: Engine, d: Option<Drops>, changed: Vec<Change>) -> Switch {
    let probes = Probes {
        as_it_was_v: 12.5,
        held_off_v: 13.9,
        without_cable_v: 13.8,
        without_ceiling_v: 12.5,
        set_point_back: None,
    };
    Switch {
        t: Instant::from_s(100.0),
        on,
        cause,
        engine,
        drops: d,
        posts_after_v: 13.9,
        input_after_v: 13.9,
        changed,
        probes: Some(probes),
        family: Family::Driving,
        kinds: if on { Vec::new() } else { vec![Kind::OwnDrop, Kind::WeakSource] },
        on_since: None,
    }
}

#[test]
fn stories_read_well() {
    let model = model();
    let held = Cause::InputHeld { input_v: 12.5, threshold_v: 12.8, held_s: 2.0 };
    let engine = Engine::Runs { for_s: 100.0 };
    let ladders = [
        drops(true, true, 12.4),
        drops(true, false, 12.9),
        drops(false, false, 12.4),
        drops(true, false, 0.0),
    ];
    let profile = loaded().resolved.profile;
    for depth in DEPTHS {
        let words = Words { model: &model, profile: &profile, depth };
        for family in FAMILIES {
            for d in ladders {
                for (times, kinds) in
                    [(1, vec![]), (2, vec![Kind::Heat]), (9, vec![Kind::OwnDrop, Kind::WeakSource])]
                {
                    let named = |kind| Named { kind, times: 5, evidence: evidences() };
                    let s = Story {
                        family,
                        from: Instant::from_s(60.0),
                        to: Instant::from_s(600.0),
                        times,
                        period: (times > 1).then_some(Period { mean_s: 33.0, least_s: 30.0, most_s: 150.0 }),
                        duty: 0.1,
                        delivered_ah: 2.2,
                        steady_ah: 29.0,
                        ended: Ended::KeyOff,
                        kinds: kinds.into_iter().map(named).collect(),
                        typical: Some(0),
                    };
                    let switches = vec![switch_of(false, held, engine, Some(d), changes())];
                    let other = Story { times: 7, ..s.clone() };
                    let e = Explanation { switches, stories: vec![s.clone(), s, other], cut_short: false };
                    for others in [vec![], vec![1], vec![1, 2]] {
                        let (many, again) = (others.len(), format!("on {} more occasions", others.len()));
                        let told = story::sentences(&words, &e, &Alike { worst: 0, others });
                        assert!(told.len() >= 2, "{told:?}");
                        assert_eq!(told.iter().any(|t| t.contains("did the same")), many > 0);
                        assert_eq!(told.iter().any(|t| t.contains(&again)), many > 1);
                        told.iter().for_each(|t| reads_well(t));
                    }
                }
            }
        }
    }
}

#[test]
fn switchings_read_well() {
    let model = model();
    let causes = [
        Cause::InputHeld { input_v: 12.5, threshold_v: 12.8, held_s: 2.0 },
        Cause::Signal { live: true },
        Cause::Signal { live: false },
        Cause::Heat { case_c: 85.0, limit_c: 85.0 },
        Cause::Drive,
    ];
    let engines = [
        Engine::Runs { for_s: 100.0 },
        Engine::Cranks,
        Engine::Stands { for_s: Some(20.0) },
        Engine::Stands { for_s: None },
    ];
    let profile = loaded().resolved.profile;
    for depth in DEPTHS {
        let words = Words { model: &model, profile: &profile, depth };
        for cause in causes {
            for engine in engines {
                for on in [true, false] {
                    for d in [None, Some(drops(true, true, 12.4))] {
                        let text = switch::sentence(&words, &switch_of(on, cause, engine, d, changes()));
                        // The clock stands apart from the words.
                        reads_well(&text.replacen("  ", " ", 1));
                    }
                }
            }
        }
    }
}
