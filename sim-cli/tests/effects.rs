//! Effects as scenarios turn them on and off, from the text of the file to the run.

use sim_cli::load::load;
use sim_core::record::{EventKind, Line};
use sim_core::resolve::{From, Resolved};
use sim_core::scenario::key::Fallback;
use sim_core::scenario::{SECTIONS, keys_of};
use sim_core::{Options, Run, simulate};
use std::path::{Path, PathBuf};

fn scenario(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name)
}

fn resolved(name: &str, set: &[&str]) -> Resolved {
    let set: Vec<String> = set.iter().map(|s| (*s).to_owned()).collect();
    load(&scenario(name), &set).unwrap_or_else(|e| panic!("{e:?}")).resolved
}

fn run(r: &Resolved) -> Run {
    simulate(&r.model, &r.profile, &Options::default()).unwrap_or_else(|e| panic!("{e}"))
}

/// Every effect of the full van as a key that says nothing of it.
const NOTHING: [&str; 18] = [
    "alternator.compensation_mv_per_k=0",
    "alternator.build_up_s=0",
    "alternator.derate_pct_per_k=0",
    "alternator.pick_up_a_per_s=0",
    "starter_battery.chemistry=linear",
    "starter_battery.temperature=stays",
    "input_cable.laying=constant",
    "output_cable.laying=constant",
    "converter.derate_from_c=0",
    "converter.lock_c=0",
    "converter.locker_w_per_k=0",
    "house_battery.hysteresis_mv=0",
    "house_battery.cold_ratio=1",
    "house_battery.top=stays",
    "house_battery.self_discharge_pct_per_month=0",
    "house_battery.temperature=stays",
    "protection.fitted=no",
    "start_stop.filter_s=0",
];

fn same_bits(a: &Run, b: &Run) -> bool {
    let bits = |x: &[f64]| x.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    let events = |r: &Run| r.events.iter().map(|e| (e.t, e.kind)).collect::<Vec<_>>();
    let plain = ..sim_core::state::PLAIN;
    events(a) == events(b)
        && bits(&a.end[plain]) == bits(&b.end[plain])
        && bits(&a.ledger.0) == bits(&b.ledger.0)
}

/// The full van with every effect written as nothing is the plain van to the bit: events, states, ledgers.
#[test]
fn the_full_van_without_its_effects_is_the_plain_van() {
    let plain = run(&resolved("reference-van.toml", &[]));
    assert!(same_bits(&run(&resolved("reference-van-full.toml", &NOTHING)), &plain));
}

/// Each of those keys alone does something to the plain van, and the plain van is not the full one.
#[test]
fn each_effect_alone_is_felt() {
    let plain = run(&resolved("reference-van.toml", &[]));
    let alone: [&[&str]; 13] = [
        &["alternator.compensation_mv_per_k=-10"],
        &["alternator.derate_pct_per_k=0.25"],
        &["alternator.pick_up_a_per_s=100"],
        &["starter_battery.chemistry=flooded"],
        &["input_cable.laying=free-air"],
        &["output_cable.laying=free-air"],
        &["converter.derate_from_c=30", "converter.derate_to_c=60"],
        &["converter.lock_c=35", "converter.reclose_c=30"],
        &["house_battery.hysteresis_mv=7.5"],
        &["house_battery.cold_ratio=2.5"],
        &["house_battery.self_discharge_pct_per_month=2"],
        &["protection.fitted=yes", "protection.over_a=20"],
        &["start_stop.filter_s=0.5"],
    ];
    for set in alone {
        assert!(!same_bits(&run(&resolved("reference-van.toml", set)), &plain), "{set:?} is not felt");
    }
}

/// Every default has a source in words: of each key, and of each number in a resolved model.
#[test]
fn every_default_has_its_source() {
    let said = |source: &str| source.trim().len() >= 4;
    let mut defaults = 0;
    for section in SECTIONS.iter().copied().chain(["drive", "drive.piece"]) {
        for key in keys_of(section).expect("a section") {
            assert!(said(key.doc), "{section}.{} is not described", key.name);
            match key.spec.fallback {
                Fallback::Number(_, source) | Fallback::Word(_, source) | Fallback::Numbers(_, source) => {
                    assert!(said(source), "{section}.{} has a default without a source", key.name);
                    defaults += 1;
                }
                Fallback::Nothing => {}
            }
        }
    }
    assert!(defaults > 100, "{defaults}");
    for file in ["reference-van-full.toml", "delivery-round.toml", "reference-van.toml"] {
        for e in resolved(file, &[]).entries {
            match &e.from {
                From::Default(how) | From::Derived(how) | From::BuiltIn(how) => {
                    assert!(said(how), "{file}: {}", e.name)
                }
                From::Typed | From::Measured { .. } => {}
            }
        }
    }
}

/// Stop-start from a trace of road speed: a stop of 30 s is an engine stop 2 s into it, each start cranks, and the
/// vehicle does not fall asleep in between.
#[test]
fn stop_start_comes_from_the_trace() {
    let piece = r#"drive.piece=[{ file = "drives/stop-and-go.csv" }, { duration_min = 60, engine_rpm = 0 }]"#;
    let with = |set: &[&str]| {
        let mut all = vec![piece, "vehicle.awake_load_a=3", "vehicle.sleep_after_min=0.1"];
        all.extend(set);
        run(&resolved("reference-van-full.toml", &all))
    };
    let times = |r: &Run, kind| -> Vec<f64> {
        r.events.iter().filter(|e| e.kind == kind).map(|e| e.t.as_s()).collect()
    };
    let (r, steady) = (with(&["gears.stop_start=yes"]), with(&[]));
    let offs = times(&r, EventKind::KeyOff);
    // Samples are 10 s apart: the first that stands long enough is 10 s into the stop.
    assert_eq!(offs[..3], [100.0, 220.0, 340.0]);
    assert_eq!((times(&r, EventKind::KeyOn).len(), offs.len()), (23, 23));
    assert_eq!(times(&steady, EventKind::KeyOff), [2700.0]);
    assert_eq!(times(&r, EventKind::FallsAsleep), [2706.0]);
    // The vehicle's loads go on through the stops: ignition on.
    let stop = &r.stretches[1];
    let hours = stop.to.since(stop.from) / 3600.0;
    assert!((stop.ledger.ah(Line::VehicleC) / hours - 25.0).abs() < 1e-6);
    let out_of_starter = |r: &Run| r.ledger.ah(Line::StarterOutC);
    assert!(out_of_starter(&r) > out_of_starter(&steady) + 1.0);
}

/// The starter battery has a say: by keys, by default, in volts of the vehicle, and not at all where it is told so.
#[test]
fn stop_start_looks_at_the_starter_battery() {
    let piece = r#"drive.piece=[{ file = "drives/stop-and-go.csv" }]"#;
    let stops = |set: &[&str]| {
        let mut all = vec![piece, "gears.stop_start=yes"];
        all.extend(set);
        resolved("reference-van-full.toml", &all).stops
    };
    let by_default = stops(&[]).expect("a rule");
    assert_eq!((by_default.rule.least_soc, by_default.rule.restart_v), (0.7, 12.0));
    assert_eq!((by_default.offered, by_default.kept.len()), (22, 0), "{by_default:?}");
    let low = stops(&["starter_battery.start_pct=55"]).expect("a rule");
    assert!((1..22).contains(&low.kept.len()), "until it is charged: {low:?}");
    assert!(low.kept.iter().all(|t| t.as_s() < 120.0 * low.kept.len() as f64), "the first ones: {low:?}");
    let looser = stops(&["starter_battery.start_pct=55", "gears.stop_from_soc_pct=50"]).expect("a rule");
    assert!(looser.kept.is_empty());
    let weak = stops(&["vehicle.running_load_a=75", "gears.restart_under_v=12.4"]).expect("a rule");
    assert!(weak.kept.len() + weak.restarted.len() == 22, "{weak:?}");
    assert_eq!(stops(&["gears.stop_from_soc_pct=0", "gears.restart_under_v=0"]), None);
    let twice = stops(&["starter_battery.cells=12", "alternator.set_point_v=28.4"]).expect("a rule");
    assert_eq!(twice.rule.restart_v, 24.0);
}

/// 12 V vehicles to 24 and 48 V houses, and a 24 V vehicle to 12 V, written as scenarios with every effect on.
#[test]
fn other_voltages_are_a_matter_of_keys() {
    // The same cells in series instead of parallel: volts up, amps down, ohms up twice.
    let house = |n: u32| {
        let f = f64::from(n);
        vec![
            format!("house_battery.cells={}", 4 * n),
            format!("house_battery.capacity_ah={}", 200 / n),
            format!("house_battery.r0_mohm={}", 4.0 * f * f),
            format!("house_battery.r1_mohm={}", 3.0 * f * f),
            format!("house_battery.r2_mohm={}", 5.0 * f * f),
            format!("stages.absorption_v={}", 14.2 * f),
            format!("stages.float_v={}", 13.5 * f),
            format!("stages.recharge_v={}", 13.2 * f),
            format!("stages.tail_a={}", 8.0 / f),
            format!("converter.output_limit_a={}", 40.0 / f),
            format!("output_cable.area_mm2={}", if n == 1 { 16 } else { 4 }),
        ]
    };
    let vehicle: Vec<String> = [
        "starter_battery.cells=12",
        "alternator.set_point_v=28.4",
        "alternator.compensation_mv_per_k=-2",
        "start_stop.turn_on_v=27.2",
        "start_stop.turn_off_v=25.6",
    ]
    .map(str::to_owned)
    .into();
    let healthy = run(&resolved("reference-van-full.toml", &[]));
    let wh = |r: &Run| r.ledger.wh(Line::OutputJ);
    let mut to_12 = house(1);
    to_12.extend(vehicle.clone());
    let mut to_48 = house(4);
    to_48.extend(vehicle);
    for (name, set) in
        [("12 to 24", house(2)), ("12 to 48", house(4)), ("24 to 12", to_12), ("24 to 48", to_48)]
    {
        let set: Vec<&str> = set.iter().map(String::as_str).collect();
        let r = run(&resolved("reference-van-full.toml", &set));
        let ons = r.events.iter().filter(|e| e.kind == EventKind::UnitOn).count();
        println!("{name} V: {:.0} Wh, the 12 V van {:.0} Wh", wh(&r), wh(&healthy));
        assert!(
            ons == 1 && (wh(&r) / wh(&healthy) - 1.0).abs() < 0.03,
            "{name}: {ons} starts, {} Wh",
            wh(&r)
        );
        assert!(r.closure.charge < 1e-10 && r.closure.energy < 1e-7, "{name}: {:?}", r.closure);
    }
}
