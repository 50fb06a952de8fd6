//! Studies against an independent program's bisections and against closed forms.

use sim_core::scenario::node::{Node, Place, Value};
use sim_core::study::cliff::CliffPlan;
use sim_core::study::map_lines::MapLines;
use sim_core::study::sweep::{Over, Points, Span, Variant, Vary};
use sim_core::study::threshold_map::{MapPlan, TURN_OFF};
use sim_core::study::tune::{Knob, Limit, Limited, TunePlan};
use sim_core::study::{Case, OneThread, Region, Sweep, Trial};
use std::collections::BTreeMap;
use std::path::Path;

fn reference_van() -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van.toml");
    sim_cli::load::load(&file, &[]).expect("the shipped scenario").case
}

/// An independent program (SciPy LSODA at 1e-10, located events) bisected where hunting goes on to the end of the drive:
/// 8.60 m at 40 A, 12.28 m at 30 A, 6.92 m with turn-off at 13.0 V. It counts drops after minute 25, the chart those of
/// the second half of 45 minutes.
#[test]
fn the_cliff_lies_where_an_independent_program_puts_it() {
    let at_13 = reference_van().with(TURN_OFF, 13.0).expect("a key");
    for (case, output_a, length_m) in
        [(reference_van(), 40.0, 8.60), (reference_van(), 30.0, 12.28), (at_13, 40.0, 6.92)]
    {
        let lengths = Span { from: length_m - 1.5, to: length_m + 1.5, count: 7, log: false };
        let plan = CliffPlan {
            case,
            length_m: lengths.iter().collect(),
            output_limit_a: vec![output_a],
            edge_share: 5e-4,
            tolerance: 1e-8,
        };
        let curve = plan.run(&OneThread).expect("a chart").remove(0);
        let edge_m = curve.edge_m.expect("an edge");
        assert!((edge_m - length_m).abs() < 0.02, "{output_a} A: {edge_m}, not {length_m}");
        // (c17) to 1.5 %: the battery has not quite settled when the drive ends.
        let form = curve.closed_form_ohm.expect("it came on") / curve.edge_ohm.expect("an edge");
        assert!((form - 1.0).abs() < 0.015, "{output_a} A: {form}");
    }
}

/// Borders of the threshold map, bisected to 1 mV, against (c17) at no current, (c17), (c18) and (c6).
#[test]
fn borders_of_the_map_lie_on_their_closed_forms() {
    let case = reference_van();
    let lines = MapLines::of(&Trial::run(&case).expect("a run")).expect("it comes on");
    let plan = MapPlan { cases: vec![case], off_v: vec![], on_v: vec![], border_v: 1e-3, tolerance: 1e-8 };
    assert_eq!(plan.point(13.0, 12.0), None, "turn-on below turn-off is no run");
    let bisect = |low: (f64, f64), high: (f64, f64)| {
        let from = plan.point(low.0, low.1).expect("a run").region;
        let to = plan.point(high.0, high.1).map(|p| p.region);
        let (crossing, _) = plan.bisect(low, high, (from, to));
        crossing.expect("a border")
    };
    // Never starts: the starter battery is full within the drive, so the form holds to a few millivolts.
    // From above: below it lies a strip where it comes on too late to matter.
    let never = bisect((12.4, 14.2), (12.4, 13.8));
    assert_eq!(never.from, Region::NeverStarts);
    assert!((never.on_v - lines.never_starts_v()).abs() < 0.005, "{never:?} {}", lines.never_starts_v());
    // Hunts: just under the greatest turn-on, where no start-up cycles come before.
    let hunts = bisect((13.0, 13.94), (13.4, 13.94));
    assert!((hunts.off_v - lines.hunts_v()).abs() < 0.03, "{hunts:?} {}", lines.hunts_v());
    // Start-up cycles: sharp where turn-on is passed while the delay runs, as at 13.6 V here.
    let cycles = bisect((12.7, 13.6), (12.95, 13.6));
    assert_eq!((cycles.from, cycles.to), (Region::Good, Region::StartUpCycles));
    assert!((lines.start_up_v(cycles.off_v) - 13.6).abs() < 0.01, "{cycles:?}");
    // Runs on for ten minutes: the form holds the power of the moment of key-off, which rises as volts fall.
    let runs_on = bisect((11.3, 13.2), (11.7, 13.2));
    assert_eq!(runs_on.from, Region::RunsOn);
    let form = lines.runs_on_v(600.0).expect("a linear battery");
    assert!((runs_on.off_v - form).abs() < 0.04, "{runs_on:?} {form}");
}

/// A boat that cruises at a speed at which its alternator cannot carry its unit's full current. Invented.
fn canal_boat() -> Case {
    const NOWHERE: Place = Place { source: 0, start: 0, end: 0 };
    let node = |value| Node { place: NOWHERE, value };
    let pieces = vec![node(Value::Table(vec![])), node(Value::Table(vec![]))];
    let words = [("physics.effects", "none")].map(|(k, w)| (k, Value::Text(w.into())));
    let numbers = [
        ("format", 1.0),
        ("alternator.idle_a", 40.0),
        ("alternator.rated_a", 90.0),
        ("alternator.cut_in_rpm", 1000.0),
        ("alternator.pulley_ratio", 2.0),
        ("vehicle.running_load_a", 8.0),
        ("starter_battery.capacity_ah", 80.0),
        ("input_cable.length_m", 4.0),
        ("input_cable.area_mm2", 35.0),
        ("converter.output_limit_a", 60.0),
        ("converter.input_limit_a", 90.0),
        ("house_battery.capacity_ah", 300.0),
        ("house_battery.start_pct", 40.0),
        ("house.load_w", 80.0),
        ("drive.piece.1.duration_h", 4.0),
        ("drive.piece.1.engine_rpm", 1200.0),
        ("drive.piece.2.duration_h", 1.0),
        ("drive.piece.2.engine_rpm", 0.0),
    ];
    Case::new(node(Value::Table(vec![])), BTreeMap::new())
        .with_all(std::iter::once(("drive.piece", Value::List(pieces))).chain(words))
        .and_then(|c| c.with_all(numbers.map(|(k, v)| (k, Value::Number(v)))))
        .expect("keys")
}

#[test]
fn a_boat_charges_fastest_just_under_the_cliff_and_a_robust_setting_is_below_it() {
    let boat = canal_boat();
    let current = "converter.output_limit_a";
    let sweep = Sweep {
        variants: vec![Variant { name: String::new(), case: boat.clone() }],
        vary: vec![Vary { path: current.into(), over: Over::span(30.0, 60.0, 31, false) }],
        points: Points::Grid,
        tolerance: 1e-8,
    };
    let outcomes: Vec<_> = (0..31).map(|n| sweep.run(&sweep.job(n))).collect();
    let rate = |n: usize| outcomes[n].headline("ah_per_drive_hour").expect("a drive");
    let good = |n: usize| outcomes[n].word() == "good";
    // Rising as long as it holds, then falling all the way: asking for more delivers less.
    let edge = (0..31).find(|n| !good(*n)).expect("an edge");
    assert!((0..edge).all(good) && (edge..31).all(|n| !good(n)));
    let best = (0..31).max_by(|a, b| rate(*a).total_cmp(&rate(*b))).expect("runs");
    assert!(best == edge || best + 1 == edge, "best {best}, edge {edge}");
    assert!(rate(30) < 0.65 * rate(best), "{} of {}", rate(30), rate(best));

    // For a boat whose run is worse than thought and that cruises slower at times: under the cliff of the worst.
    let slower = boat.with("drive.piece.1.engine_rpm", 1150.0).expect("a key");
    let worse = boat.with("input_cable.joints_mohm", 4.0).expect("a key");
    let plan = TunePlan {
        cases: vec![boat, slower, worse],
        knobs: vec![Knob { path: current.into(), from: 20.0, to: 60.0, step: 1.0 }],
        limits: vec![Limit { on: Limited::Switchings, value: 1.0 }],
        candidates: 16,
        seed: 1,
        tolerance: 1e-8,
    };
    let tuned = plan.run(&OneThread);
    let best = tuned.best.expect("a setting");
    let edge_a = 30.0 + edge as f64;
    assert!(best.values[0] < edge_a && best.values[0] > 0.75 * edge_a, "{best:?}, edge {edge_a} A");
    let score = plan.score(&best.values).expect("runs");
    assert_eq!(Some(score), best.score, "simulated once more, the same");
    for next in plan.neighbours(&best.values) {
        let s = plan.score(&next).expect("runs");
        assert!(!s.within(&plan.limits) || s.ah_per_drive_hour <= score.ah_per_drive_hour + 1e-3, "{next:?}");
    }
}
