//! Every number of the model turned, one at a time: the default stepper must follow the reference, which writes out the
//! general equations and nothing else.
//!
//! The equations stand in one place for the reference; the default stepper has slopes, exact decays and copies of its own. An
//! effect that is added to the former alone is seen here, since `sim_tests::fields` does not compile until its number is in.

use sim_core::model::{HouseLoads, Piece, Protection, SignalUse, Stages, Vehicle};
use sim_core::plant::battery::{Battery, Chemistry, LeadAcid, ThermalNode};
use sim_core::record::Line;
use sim_core::{Model, Options, Profile, Record, Run, Stepper, simulate_as_far};
use sim_tests::agree::compare_runs;
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::fields;
use sim_tests::full::{cold_start, full_model, hot_locker, variable, warm_driving};
use sim_tests::plain;
use sim_tests::van;
use sim_tests::vehicles::{Named, random};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A short day on which the engine starts, the unit works, and everything rests again.
fn short(driving: Piece, with: impl Fn(Piece) -> Piece) -> Profile {
    day(&[(60.0, with(PARKED)), (600.0, with(driving)), (600.0, with(PARKED))])
}

/// Branches and lags slow enough for an explicit stepper to be quick.
fn eased(mut m: Model) -> Model {
    for battery in [&mut m.starter, &mut m.house] {
        if let Chemistry::LeadAcid(b) = &mut battery.chemistry {
            b.fast.time_s = b.fast.time_s.max(8.0);
        }
    }
    if let Some(p) = &mut m.alternator.pick_up {
        p.lag_s = p.lag_s.max(2.0);
    }
    m
}

/// Vehicles that between them have every part at work.
fn vehicles() -> Vec<Named> {
    let sunny = |p: Piece| Piece { house_solar_w: 90.0, ..p };
    let mut swapped = eased(full_model());
    let agm = LeadAcid::house_agm(110.0).with_start_soc(0.7);
    let thermal = agm.thermal_node();
    swapped.house = Battery { chemistry: Chemistry::LeadAcid(agm), thermal, start_c: 15.0 };
    swapped.house_mains = sim_core::model::Regulator { set_v: 14.3, droop_ohm: 0.03 };
    swapped.starter_solar = sim_core::model::Regulator { set_v: 14.1, droop_ohm: 0.05 };
    swapped.links[0].start_stop.signal = SignalUse::SecondPair { turn_on_v: 13.0, turn_off_v: 12.4 };
    swapped.links[0].stages.v_per_k = -0.018;
    let fed = |p: Piece| Piece { mains_a: 8.0, starter_solar_a: 2.0, ..p };
    let first = |profile: Profile, seconds: f64| {
        let until = profile.start().plus_s(seconds);
        profile.between(profile.start(), until).expect("a drive longer than that")
    };
    let (mut cold, cold_day) = cold_start();
    cold.house_mains = sim_core::model::Regulator { set_v: 14.4, droop_ohm: 0.05 };
    let (hot, hot_day) = hot_locker();
    let (ruled, ruled_day) = variable();
    let mut ruled = eased(ruled);
    let rule = ruled.alternator.rule.as_mut().expect("it is ruled");
    (rule.low_soc, rule.heavy_a, rule.start_up_s) = (0.925, 26.0, 90.0);
    let pick_up = ruled.alternator.pick_up.as_mut().expect("it lags");
    pick_up.rate_a_per_s = 8.0;
    let (capped, capped_day) = staged(2.0);
    let (tailed, tailed_day) = staged(38.0);
    let (flat, flat_day) = flat();
    let (guarded, guarded_day) = guarded();
    vec![
        ("ended by the cap".into(), capped, capped_day),
        ("ended by the tail".into(), tailed, tailed_day),
        ("flat".into(), flat, flat_day),
        ("guarded".into(), guarded, guarded_day),
        ("plain".into(), van::model(), short(DRIVING, |p| p)),
        ("plain in the sun".into(), van::model(), short(DRIVING, sunny)),
        ("full".into(), eased(full_model()), short(warm_driving(), sunny)),
        ("lead-acid house".into(), swapped, short(warm_driving(), fed)),
        ("cold".into(), eased(cold), first(cold_day, 1500.0)),
        ("hot".into(), eased(hot), first(hot_day, 1500.0)),
        ("ruled".into(), ruled, first(ruled_day, 800.0)),
    ]
}

/// A house battery near full, so that all stages come and go, over two drives with a stop between; sun on it.
fn staged(tail_a: f64) -> (Model, Profile) {
    let mut m = van::model();
    plain(&mut m.house).start_soc = 0.99;
    m.links[0].stages = Stages {
        absorption_v: 13.9,
        tail_a,
        tail_hold_s: 40.0,
        absorption_cap_s: 250.0,
        float_v: 13.5,
        recharge_v: 13.3,
        recharge_hold_s: 20.0,
        resume: true,
        cap_cumulative: true,
        ..Stages::default()
    };
    m.links[0].start_stop.turn_off_v = 12.9;
    m.links[0].start_stop.turn_on_delay_s = 10.0;
    m.house_solar.set_v = 13.6;
    m.vehicle = Vehicle { awake_a: 3.0, sleep_after_s: 120.0, ..m.vehicle };
    m.links[0].converter.input_limit_a = 41.0;
    let sun = |p: Piece| Piece { house_solar_w: 100.0, ..p };
    let heavy = Piece { house_load_w: 1400.0, ..DRIVING };
    let stop = Piece { stop_start: true, ..PARKED };
    let rest =
        [(400.0, DRIVING), (180.0, heavy), (300.0, DRIVING), (300.0, sun(DRIVING)), (400.0, sun(PARKED))];
    (m, day(&[&[(30.0, PARKED), (250.0, DRIVING), (40.0, stop)], &rest[..]].concat()))
}

/// Both batteries are run flat: loads are shed on either side, and come back with the engine.
fn flat() -> (Model, Profile) {
    let mut m = eased(full_model());
    let agm = LeadAcid::house_agm(60.0).with_start_soc(0.12);
    let thermal = agm.thermal_node();
    m.house = Battery { chemistry: Chemistry::LeadAcid(agm), thermal, start_c: 12.0 };
    m.house_loads = HouseLoads { stop_v: 11.6, return_v: 12.4, hold_s: 50.0 };
    if let Chemistry::LeadAcid(b) = &mut m.starter.chemistry {
        b.start_soc = 0.03;
    }
    (m.vehicle.drop_out_v, m.vehicle.return_v) = (11.3, 12.2);
    m.protection = Protection { low_v: 11.2, low_release_v: 12.3, ..Protection::NONE };
    m.links[0].start_stop.signal = SignalUse::SecondPair { turn_on_v: 13.0, turn_off_v: 12.9 };
    let drain = Piece { house_load_w: 400.0, vehicle_load_a: 40.0, ..PARKED };
    let dark = Piece { house_load_w: 300.0, run_signal: true, engine_rpm: 900.0, ..DRIVING };
    (m, day(&[(300.0, drain), (400.0, dark), (200.0, drain), (300.0, Piece { house_load_w: 0.0, ..dark })]))
}

/// A house battery whose protection refuses for every reason, and a unit that locks itself out in a hot locker.
fn guarded() -> (Model, Profile) {
    let mut m = eased(full_model());
    if let Chemistry::Lithium(b) = &mut m.house.chemistry {
        (b.start_soc, b.capacity_c) = (0.97, 40.0 * 3600.0);
    }
    m.protection = Protection {
        cold_c: 3.0,
        cold_release_c: 3.4,
        high_v: 13.75,
        high_release_v: 13.74,
        low_v: 13.0,
        low_release_v: 13.47,
        over_a: 33.0,
        over_release_s: 25.0,
        heater_w: 30.0,
    };
    m.house.thermal = ThermalNode { j_per_k: 4000.0, w_per_k: 1.0 };
    m.house.start_c = 2.9;
    m.links[0].stages.tail_a = 0.0;
    let c = &mut m.links[0].converter;
    (c.derate_from_c, c.derate_to_c, c.lock_c, c.reclose_c) = (f64::INFINITY, f64::INFINITY, 15.0, 14.5);
    c.case_j_per_k = 100.0;
    c.case_w_per_k = 2.0;
    let cold = |p: Piece| Piece { air_c: 8.0, ..p };
    let heavy = Piece { house_load_w: 1200.0, ..PARKED };
    (
        m,
        day(&[
            (60.0, cold(PARKED)),
            (900.0, cold(warm_driving())),
            (200.0, cold(heavy)),
            (300.0, cold(PARKED)),
        ]),
    )
}

/// A number turned: down by a tenth, since shares end at 1, or from nothing to where it acts.
fn turned(value: f64, acting: f64) -> f64 {
    if value.is_finite() && value != 0.0 && value.abs() < 1e300 { value * 0.9 } else { acting }
}

/// The paths of all numbers of a vehicle, those of a driven piece behind those of the model.
fn paths(m: &Model) -> Vec<String> {
    let mut found = Vec::new();
    let mut see = |path: &str, _: &mut f64, _: f64| found.push(path.to_owned());
    fields::of_model(&mut m.clone(), &mut see);
    fields::of_piece(&mut Piece::NOTHING.clone(), &mut see);
    found
}

/// The vehicle with its so-manieth number turned.
fn with_turned(m: &Model, p: &Profile, number: usize) -> (Model, Profile) {
    let (mut m, mut at) = (m.clone(), 0);
    let mut see = |_: &str, value: &mut f64, acting: f64| {
        if at == number {
            *value = turned(*value, acting);
        }
        at += 1;
    };
    fields::of_model(&mut m, &mut see);
    let before = at;
    let pieces = p.pieces().iter().map(|mut piece| {
        let mut at = before;
        fields::of_piece(&mut piece, &mut |_, value, acting| {
            if at == number {
                *value = turned(*value, acting);
            }
            at += 1;
        });
        piece
    });
    let pieces: Vec<Piece> = pieces.collect();
    (m, Profile::new(pieces, p.start_clock_s).expect("the same times"))
}

fn run(m: &Model, p: &Profile, stepper: Stepper) -> Result<Run, String> {
    // Tighter than a user's run: what a house battery gains on balance is small beside what flows in and out, and an event that
    // moves by half a millisecond, as at 1e-8, is worth two ten-thousandths of it.
    let options = Options { stepper, tolerance: 1e-9, record: Record::Everything, ..Options::default() };
    simulate_as_far(m, p, &options).map_err(|e| e.to_string())
}

/// States and sums at the end: all within what the default tolerance is worth, moved events apart.
fn same_end(fast: &Run, reference: &Run) -> Result<(), String> {
    for (n, (a, b)) in fast.end.iter().zip(&reference.end).enumerate() {
        // States of charge are held closer by `compare_runs`; volts and kelvin differ by what an event of 10 ms moves.
        if (a - b).abs() > 2e-3 * (1.0 + 0.01 * b.abs()) {
            return Err(format!("state {n} ends at {a} for {b}"));
        }
    }
    let most = reference.ledger.0.iter().fold(1.0, |most: f64, x| most.max(x.abs()));
    for (n, (a, b)) in fast.ledger.0.iter().zip(&reference.ledger.0).enumerate() {
        // What left the starter battery alone has a kink where its current turns, which no guard watches: long steps tell it
        // to a coulomb, 0.3 mAh.
        let kink = if n == Line::StarterOutC as usize { 1.0 } else { 0.0 };
        if (a - b).abs() > 1e-4 * b.abs() + 1e-7 * most + kink {
            return Err(format!("ledger line {n} comes to {a} for {b}"));
        }
    }
    Ok(())
}

/// An error without its numbers.
fn words(error: &str) -> String {
    error.replace(|c: char| c.is_ascii_digit() || c == '.', "")
}

/// Whether the steppers agree on a vehicle, and the reference run.
fn both(m: &Model, p: &Profile) -> Result<Option<Run>, String> {
    match (run(m, p, Stepper::Fast), run(m, p, Stepper::Reference)) {
        (Ok(fast), Ok(reference)) => {
            if fast.ended_early != reference.ended_early {
                return Err(format!("ended {:?} for {:?}", fast.ended_early, reference.ended_early));
            }
            compare_runs(m, p, &fast, &reference).map_err(|d| format!("{d:?}"))?;
            same_end(&fast, &reference).map(|()| Some(reference))
        }
        (Err(fast), Err(reference)) if words(&fast) == words(&reference) => Ok(None),
        (fast, reference) => {
            let tell = |r: Result<Run, String>| r.err().unwrap_or_else(|| "a whole run".into());
            Err(format!("{} for {}", tell(fast), tell(reference)))
        }
    }
}

/// Whether two runs of the reference differ at all.
fn moved(a: &Run, b: &Run) -> bool {
    a.end != b.end || a.ledger.0 != b.ledger.0 || a.events.len() != b.events.len()
}

/// Turns every number of the vehicles; what is wrong, and the paths that moved anything.
fn net(vehicles: &[Named]) -> (Vec<String>, Vec<String>) {
    let mut jobs = Vec::new();
    let mut before = Vec::new();
    for (n, (name, m, p)) in vehicles.iter().enumerate() {
        before.push(both(m, p).unwrap_or_else(|e| panic!("{name}: {e}")));
        jobs.extend(paths(m).into_iter().enumerate().map(|(number, path)| (n, number, path)));
    }
    let (next, wrong, acts) = (AtomicUsize::new(0), Mutex::new(Vec::new()), Mutex::new(Vec::new()));
    let work = || {
        while let Some((n, number, path)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
            let (name, m, p) = &vehicles[*n];
            let (m, p) = with_turned(m, p, *number);
            match both(&m, &p) {
                Err(e) => wrong.lock().expect("unpoisoned").push(format!("{name}, {path}: {e}")),
                Ok(after) => {
                    let acted = match (&before[*n], &after) {
                        (Some(before), Some(after)) => moved(before, after),
                        (before, after) => before.is_some() != after.is_some(),
                    };
                    if acted {
                        acts.lock().expect("unpoisoned").push(path.clone());
                    }
                }
            }
        }
    };
    std::thread::scope(|scope| {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        (0..threads).for_each(|_| drop(scope.spawn(work)));
    });
    (wrong.into_inner().expect("unpoisoned"), acts.into_inner().expect("unpoisoned"))
}

/// Numbers that move nothing on any of the vehicles above, each with the reason.
const IDLE: &[(&str, &str)] = &[
    ("house.lithium.ends", "no battery here comes past its table"),
    (
        "link.converter.reclose_c",
        "the unit that locks itself out is not cool again before the end; `on_heat` has one that is",
    ),
    ("link.output_cable.conductors.2.in_bay", "the output cable lies in one section"),
    ("link.output_cable.conductors.2.j_per_k", "likewise"),
    ("link.output_cable.conductors.2.w_per_k", "likewise"),
    ("link.output_cable.conductors.3.in_bay", "likewise"),
    ("link.output_cable.conductors.3.j_per_k", "likewise"),
    ("link.output_cable.conductors.3.w_per_k", "likewise"),
    ("protection.high_release_v", "refused, the posts fall past it at once; `on_batteries` waits for it"),
];

#[test]
fn every_number_moves_both_steppers_alike() {
    let vehicles = vehicles();
    let (wrong, acts) = net(&vehicles);
    assert!(wrong.is_empty(), "{} of the turned vehicles part:\n{}", wrong.len(), wrong.join("\n"));
    let mut all: Vec<String> = vehicles.iter().flat_map(|(_, m, _)| paths(m)).collect();
    all.sort();
    all.dedup();
    let idle: Vec<_> = all.iter().filter(|path| !acts.contains(path)).map(String::as_str).collect();
    let known: Vec<_> = IDLE.iter().map(|(path, _)| *path).collect();
    assert_eq!(idle, known, "numbers that move nothing");
}

/// The same on random vehicles; `NET_VEHICLES` of each kind.
#[test]
#[ignore = "minutes in a release build"]
fn every_number_of_random_vehicles() {
    let number = std::env::var("NET_VEHICLES").ok().and_then(|v| v.parse().ok()).unwrap_or(4);
    let (wrong, _) = net(&random(number, number));
    assert!(wrong.is_empty(), "{} of the turned vehicles part:\n{}", wrong.len(), wrong.join("\n"));
}
