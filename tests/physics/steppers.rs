//! The fast stepper at its default against the reference at 1e-11: the same events in the same order, each within 10 ms or
//! what a microvolt is worth in time, states of charge within 1e-6, ledgers that close.

use sim_core::engine::Stepper;
use sim_core::model::{Piece, Protection, Regulator};
use sim_core::network::Limit;
use sim_core::plant::battery::{Battery, Chemistry, Emf, LeadAcid, PlainBattery};
use sim_core::record::{EventKind, Line};
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Model, Options, Profile, Record, Run, simulate};
use sim_tests::balance::Span;
use sim_tests::compare::allowed_s;
use sim_tests::day::{DRIVING, PARKED, chopped, day};
use sim_tests::full::{full_model, variants};
use sim_tests::look::run_at;
use sim_tests::van::{absorption_day, model, reference_van, thin_run};
use sim_tests::wild::wild;
use std::path::Path;

fn fast_at(tolerance: f64, m: &Model, p: &Profile) -> Run {
    simulate(m, p, &Options { tolerance, stepper: Stepper::Fast, ..Options::default() })
        .unwrap_or_else(|e| panic!("{e}: {m:?} {p:?}"))
}

fn fast(m: &Model, p: &Profile) -> Run {
    fast_at(Options::default().tolerance, m, p)
}

fn reference(tolerance: f64, m: &Model, p: &Profile) -> Run {
    simulate(m, p, &Options { tolerance, stepper: Stepper::Reference, ..Options::default() })
        .unwrap_or_else(|e| panic!("{e}: {m:?} {p:?}"))
}

fn kinds(r: &Run) -> Vec<EventKind> {
    r.events.iter().map(|e| e.kind).collect()
}

/// Worst shift of an event, s, and of a state of charge; or what is wrong.
fn compared(m: &Model, p: &Profile) -> Result<(f64, f64), String> {
    let (a, b) = (reference(1e-11, m, p), fast(m, p));
    if kinds(&a) != kinds(&b) {
        return Err(format!("other events: {} and {}", a.events.len(), b.events.len()));
    }
    let mut worst: f64 = 0.0;
    for (x, y) in a.events.iter().zip(&b.events) {
        let moved = (x.t.as_s() - y.t.as_s()).abs();
        let allowed = allowed_s(&a, m, p, x);
        worst = worst.max(moved);
        if moved > allowed {
            return Err(format!("{:?} at {} s is off by {moved} s of {allowed}", x.kind, x.t.as_s()));
        }
    }
    let soc = [STARTER, HOUSE].map(|n| (a.end[n] - b.end[n]).abs()).into_iter().fold(0.0, f64::max);
    if soc > 1e-6 {
        return Err(format!("SOC is off by {soc:e}"));
    }
    let balances = Span::of(&b).charge(m);
    if let Some(open) = balances.iter().find_map(|balance| balance.open(1e-10)) {
        return Err(open);
    }
    Ok((worst, soc))
}

fn compare(name: &str, m: &Model, p: &Profile) -> (f64, f64) {
    compared(m, p).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// On the vans 17 µs and 7e-10 are reached, on the full variants 10 µs and 3e-9.
#[test]
fn same_events_on_the_vans() {
    for (name, (m, p)) in
        [("reference", reference_van()), ("thin", thin_run()), ("absorption", absorption_day())]
    {
        let (worst_s, soc) = compare(name, &m, &p);
        println!("{name}: {worst_s:e} s, SOC {soc:e}");
        assert!(worst_s <= 2e-5 && soc <= 1e-9, "{name}: {worst_s:e} s, {soc:e}");
        let energy = fast(&m, &p).closure.energy;
        assert!(energy <= 2e-9, "{name}: {energy:e}");
    }
}

/// Each line of the ledger is that of the reference, whose rates are worked out line by line: within 1e-6 of the greatest
/// line of its kind.
#[test]
fn ledgers_agree_line_by_line() {
    let wilds = (0..60).map(wild);
    for (n, (m, p)) in [reference_van(), thin_run(), absorption_day()].into_iter().chain(wilds).enumerate() {
        let (a, b) = (reference(1e-11, &m, &p), fast(&m, &p));
        let size = |charge: bool| {
            let of_kind = Line::ALL.iter().filter(|l| l.key().ends_with("_c") == charge);
            of_kind.map(|l| a.ledger.get(*l).abs()).fold(1.0, f64::max)
        };
        for line in Line::ALL {
            let off = (a.ledger.get(*line) - b.ledger.get(*line)).abs() / size(line.key().ends_with("_c"));
            assert!(off <= 1e-6, "vehicle {n}, {}: {off:e}", line.key());
        }
    }
}

/// With every effect on, each rule brought into play.
#[test]
fn same_events_on_the_full_variants() {
    for (name, m, p) in variants() {
        let (worst_s, soc) = compare(name, &m, &p);
        println!("{name}: {worst_s:e} s, SOC {soc:e}");
    }
}

/// From a tolerance of 1e-5 on what dies away within a step is taken out of it: the same events then too. Where a
/// lithium battery is full a millionth of its charge is worth millivolts and 10 ms: there events move by what the tolerance is worth,
/// without it (4 ms, at 8e-6) or with it (8 ms, at 1e-5).
#[test]
fn same_events_where_decays_are_taken_out_of_a_step() {
    for (name, m, p) in variants() {
        let a = reference(1e-11, &m, &p);
        let steep = if name == "opens when full" { 10.0 } else { 1.0 };
        for (tolerance, within_s) in [(1e-5, 2e-3 * steep), (1e-4, 2e-2 * steep)] {
            let b = fast_at(tolerance, &m, &p);
            assert_eq!(kinds(&a), kinds(&b), "{name} at {tolerance:e}");
            let pairs = a.events.iter().zip(&b.events);
            let moved = pairs.map(|(x, y)| (x.t.as_s() - y.t.as_s()).abs()).fold(0.0, f64::max);
            let soc = [STARTER, HOUSE].map(|n| (a.end[n] - b.end[n]).abs()).into_iter().fold(0.0, f64::max);
            println!("{name} at {tolerance:e}: {moved:e} s, SOC {soc:e}, {:?}", b.closure);
            // Surface charge dies with the fifth power of its volts: at 1e-4 the full van's charge is off by 1.4e-6 (1e-5: under 1e-6).
            let within_soc = if tolerance > 5e-5 { 2e-6 } else { 1e-6 };
            assert!(
                moved <= within_s && soc <= within_soc,
                "{name} at {tolerance:e}: {moved:e} s, SOC {soc:e}"
            );
            let open = Span::of(&b).charge(&m).iter().find_map(|balance| balance.open(1e-10));
            assert_eq!(open, None, "{name} at {tolerance:e}");
        }
    }
}

/// What goes with the square of a house battery's decays is booked too, where a step is longer than they last: heat of
/// hundreds of amperes that come and go. Reached: 2.4e-7 and 4.7e-7; without it 1.7e-6 at 3 s.
#[test]
fn energy_closes_where_a_house_battery_polarises_fast() {
    for time_s in [3.0, 5.0] {
        let mut m = full_model();
        let plain = PlainBattery {
            emf: Emf::Linear { empty_v: 12.8, full_v: 13.4 },
            r0_ohm: 0.005,
            branch_ohm: [0.02, 0.02],
            branch_s: [time_s, 1200.0],
            ..model().house.plain().expect("the plain van's").clone()
        };
        m.house.chemistry = Chemistry::Plain(plain);
        m.house_mains = Regulator { set_v: 20.0, droop_ohm: 0.001 };
        m.protection = Protection::NONE;
        let charged = Piece { mains_a: 300.0, ..PARKED };
        let p = day(&[(600.0, PARKED), (300.0, charged), (600.0, PARKED), (300.0, charged), (600.0, PARKED)]);
        let energy = fast_at(1e-5, &m, &p).closure.energy;
        println!("{time_s} s: {energy:e}");
        assert!(energy <= 6e-7, "{time_s} s: {energy:e}");
    }
}

/// Four hundred wild vehicles without one exception.
#[test]
fn same_events_on_wild_vehicles() {
    for seed in 0..400 {
        let (m, p) = wild(seed);
        compare(&format!("seed {seed}"), &m, &p);
    }
}

/// Of ten thousand wild vehicles this one differs, not in its sequence of events: it names the limit of an output that dies
/// away 15.2 ms apart for 14.4 ms allowed, where nothing switches.
///
/// Seeds 4006, 5281 and 8417 left 1.3e-10, 1.6e-10 and 3.1e-10 of charge open with implicit steps throughout, and that is rounding. On 4006 and 5281 no more
/// than 8 and 9 C pass the house bus in an hour, and a current of 2 mA behind 2 mΩ is read off 13 V: what is open stays as it is
/// from a tolerance of 1e-8 to one of 1e-11. On 8417 the sun carries the loads but for 1 C of a battery of 408,074 C, where one
/// rounding of the state of charge is 5e-11 C, and the reference stepper leaves 2.3e-10.
const EXCEPTIONS: [u64; 1] = [7980];

/// Ten thousand, in release: `cargo test --release -p sim-tests --test physics -- --ignored ten_thousand`.
#[test]
#[ignore = "minutes in a debug build"]
fn same_events_on_ten_thousand_wild_vehicles() {
    let mut bad = Vec::new();
    for seed in 0..10_000 {
        let (m, p) = wild(seed);
        if let Err(what) = compared(&m, &p) {
            println!("seed {seed}: {what}");
            bad.push(seed);
        }
    }
    assert_eq!(bad, EXCEPTIONS);
}

/// Order five: a thousandth of the tolerance costs 1000^(1/5) = 4 times the steps, and not more. A Jacobian that left
/// something out would lose the order.
#[test]
fn keeps_its_order() {
    let (m, p) = (model(), day(&[(10_000.0, DRIVING)]));
    let steps = |m: &Model, p: &Profile, tolerance| fast_at(tolerance, m, p).statistics.steps as f64;
    let ratio = steps(&m, &p, 1e-12) / steps(&m, &p, 1e-9);
    assert!((3.0..4.6).contains(&ratio), "plain: {ratio}");
    let (m, p) = (full_model(), day(&[(3600.0, PARKED)]));
    let ratio = steps(&m, &p, 1e-11) / steps(&m, &p, 1e-8);
    assert!((3.0..5.0).contains(&ratio), "full: {ratio}");
}

/// At the greatest power of its source a unit is driven against the edge from both sides while the alternator picks up: it
/// changes hands there as often as its currents move, not as often as rounding lets it, a hundred thousand times a second.
#[test]
fn a_unit_at_the_edge_of_its_source_does_not_change_hands_by_rounding() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van-full.toml");
    let one_ah = ["starter_battery.capacity_ah={ measured = 1 }".to_owned()];
    let van = sim_cli::load::load(&file, &one_ah).expect("a shipped scenario").resolved;
    for tolerance in [1e-4, 1e-5, 1e-6, 1e-8] {
        let run = fast_at(tolerance, &van.model, &van.profile);
        let at_the_edge = |k| matches!(k, EventKind::Limit { from: Limit::Source, .. });
        let changes = run.events.iter().filter(|e| at_the_edge(e.kind)).count();
        println!("{tolerance:e}: {changes} changes, {} steps", run.statistics.steps);
        assert!((1..2000).contains(&changes), "{tolerance:e}: {changes} changes");
    }
}

/// A starter battery of a fraction of an ohm behind an alternator that picks up its current settles in a millisecond, which
/// no time constant of the model shows: steps are not bound by that for longer than it takes to notice.
#[test]
fn stiffness_that_no_time_constant_shows_is_noticed() {
    let mut m = full_model();
    let small = LeadAcid::starter_flooded(1.0).with_start_soc(0.92);
    m.starter = Battery { chemistry: Chemistry::LeadAcid(small), ..m.starter };
    m.vehicle.crank_a = 0.0;
    let p = day(&[(25.0, DRIVING)]);
    compare("small starter battery", &m, &p);
    let (explicit, fast) = (reference(1e-8, &m, &p).statistics.steps, fast(&m, &p).statistics.steps);
    println!("{explicit} explicit steps, {fast}");
    assert!(8 * fast < explicit, "{explicit} explicit steps, {fast}");
}

/// A month under constant conditions costs little more than a day: a plain model's day is one step, the month six.
#[test]
fn a_parked_month_costs_a_parked_day() {
    let standing = sim_core::Piece { house_load_w: 0.3, ..PARKED };
    for m in [model(), full_model()] {
        let steps = |days: f64| fast(&m, &day(&[(86_400.0 * days, standing)])).statistics.steps;
        let (one, thirty) = (steps(1.0), steps(30.0));
        assert!(thirty <= one + (one / 3).max(5), "{one} steps for a day, {thirty} for a month");
    }
}

/// Cuts into bits change nothing: nothing is stepped over, whatever the length of the steps.
#[test]
fn bits_of_a_drive_are_the_drive() {
    for (m, p) in [reference_van(), thin_run(), absorption_day()] {
        let (whole, bits) = (fast(&m, &p), fast(&m, &chopped(&p, 7.5)));
        assert_eq!(kinds(&whole), kinds(&bits));
        for (x, y) in whole.events.iter().zip(&bits.events) {
            assert!((x.t.as_s() - y.t.as_s()).abs() <= 1e-3, "{:?} at {} s", x.kind, x.t.as_s());
        }
    }
}

/// What is recorded changes no number.
#[test]
fn a_summary_is_of_the_same_run() {
    let (m, p) = reference_van();
    let options = Options { stepper: Stepper::Fast, record: Record::Summary, ..Options::default() };
    let (a, b) = (fast(&m, &p), simulate(&m, &p, &options).expect("a run"));
    assert_eq!((a.end, a.ledger, a.statistics), (b.end, b.ledger, b.statistics));
    assert!(b.trace.knots().is_empty());
}

/// The default of the options is what `look::run` runs.
#[test]
fn the_reference_stays_selectable() {
    let (m, p) = reference_van();
    let a = reference(1e-8, &m, &p);
    assert_eq!(a.statistics.steps, 190);
    assert_eq!(kinds(&a), kinds(&run_at(1e-8, &m, &p)));
}
