//! Distances to trouble on the reference van, plain and full: each border is run again on both sides, and held against the
//! closed forms and against what an independent program found.

use sim_cli::load::load;
use sim_core::record::EventKind;
use sim_core::study::closed_forms::Form;
use sim_core::study::distance::{Distances, Row, Search, one_by_one};
use sim_core::study::knobs::Part;
use sim_core::study::{Case, Edge, Outcome, Reason, Trial};
use sim_tests::look::near;
use std::path::Path;

fn van(name: &str) -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    load(&file, &[]).expect("a scenario of ours").case
}

fn distances(case: &Case, parts: &[Part]) -> Distances {
    let search = Search::new(case).expect("it runs").only(|knob| parts.contains(&knob.part));
    search.solve(&one_by_one)
}

fn row(distances: &Distances, part: Part) -> &Row {
    distances.rows.iter().find(|r| r.knob.part == part).expect("the knob is there")
}

fn said(edge: &Edge, form: Form) -> f64 {
    edge.forms.iter().find(|s| s.form == form).and_then(|s| s.at).expect("the form says something")
}

const ASKED: [Part; 5] =
    [Part::InputLength, Part::InputJoints, Part::OutputLimit, Part::SetPoint, Part::EngineSpeed];

/// Near its border a van drops out once or twice a drive: whether in its last five minutes turns on little.
fn kind(outcome: Outcome) -> Outcome {
    if outcome == Outcome::DropsOutAtFirst { Outcome::KeepsDroppingOut } else { outcome }
}

/// Every border, run again 0.1 % of the value to either side, is where it says.
fn stands(case: &Case, found: &Distances) {
    for row in &found.rows {
        assert!(!row.edges.is_empty(), "{}: trouble is somewhere", row.knob.name);
        for edge in &row.edges {
            // Where outcomes take turns within a fringe, or over a band, its own ends count, to the search's resolution.
            let to = row.knob.resolution(edge.at());
            let sides = [
                ((edge.low - to).min(edge.at() * 0.999), edge.below),
                ((edge.high + to).max(edge.at() * 1.001), edge.above),
            ];
            let narrow = edge.high - edge.low <= 6e-3 * edge.at();
            assert!(narrow || edge.takes_turns, "{}: {edge:?}", row.knob.name);
            for (value, outcome) in sides {
                let turned = row.knob.turned(case, value).expect("a value");
                let again = Outcome::of(&Trial::run(&turned).expect("it runs"));
                assert_eq!(kind(again), kind(outcome), "{} at {value}", row.knob.name);
            }
        }
    }
}

fn print(found: &Distances) {
    println!("{:?}, {} runs", found.now, found.runs);
    for row in &found.rows {
        println!("{} now {} {}", row.knob.name, row.knob.now, row.knob.unit);
        for e in &row.edges {
            println!("    {:?} | {:.5} | {:?}", e.below, e.at(), e.above);
            println!("      {:?}\n      {:?}", e.forms, e.reasons);
        }
    }
}

#[test]
fn every_border_stands_on_the_plain_van() {
    let case = van("reference-van.toml");
    let found = distances(&case, &ASKED);
    print(&found);
    assert_eq!(found.now, Outcome::Good);
    stands(&case, &found);
}

#[test]
fn every_border_stands_on_the_full_van() {
    // Behind an input limit of 60 A no output limit brings this van into trouble.
    let case = van("reference-van-full.toml");
    let limit = distances(&case, &[Part::OutputLimit]);
    assert!(row(&limit, Part::OutputLimit).edges.is_empty());
    let case = case.with("converter.input_limit_a", 150.0).expect("a key");
    let found = distances(&case, &ASKED);
    print(&found);
    assert_eq!(found.now, Outcome::Good);
    stands(&case, &found);
}

/// Start-up cycles come one by one, so that the last drop-out passes the fifth minute several times: the border is a band.
/// Both outcomes are met inside it, one alone on either side however closely one looks, and from another starting point,
/// with other scanned values, it is the same band.
#[test]
fn a_band_has_both_outcomes_inside_and_one_on_either_side() {
    let case = van("reference-van.toml");
    for (part, from) in [(Part::InputLength, 12.0), (Part::EngineSpeed, 1700.0)] {
        let found = distances(&case, &[part]);
        let row_of = row(&found, part);
        let from_there = row_of.knob.turned(&case, from).expect("a value");
        let again = distances(&from_there, &[part]);
        let good = |e: &&Edge| e.takes_turns && (e.below == Outcome::Good || e.above == Outcome::Good);
        let band = |d: &Distances| row(d, part).edges.iter().find(good).expect("a band").clone();
        let (edge, other) = (band(&found), band(&again));
        println!("{part:?}: {} to {}, and {} to {}", edge.low, edge.high, other.low, other.high);
        let close = 2.0 * row_of.knob.resolution(edge.low).max(row(&again, part).knob.resolution(edge.low));
        assert!((edge.low - other.low).abs() <= close && (edge.high - other.high).abs() <= close);
        let outcome = |value: f64| {
            Outcome::of(&Trial::run(&row_of.knob.turned(&case, value).expect("a value")).expect("it runs"))
        };
        let between = |a: f64, b: f64| (0..=60).map(move |n| a + (b - a) * f64::from(n) / 60.0);
        let inside: Vec<Outcome> = between(edge.low, edge.high).map(outcome).collect();
        let turns = inside.windows(2).filter(|w| w[0] != w[1]).count();
        assert!(turns >= 3, "{part:?}: {turns} passages");
        let width = edge.high - edge.low;
        for value in between(edge.low - 3.0 * width, edge.low * 0.999) {
            assert_eq!(outcome(value), edge.below, "{part:?} at {value}");
        }
        for value in between(edge.high * 1.001, edge.high + 0.9 * width) {
            assert_eq!(outcome(value), edge.above, "{part:?} at {value}");
        }
    }
}

/// (c6) stands beside every border of run-on. Where the draw is steady it is the border; where it is not, that is told.
#[test]
fn run_on_begins_where_the_closed_form_puts_it() {
    let case = van("reference-van.toml");
    let parts = [Part::OutputLimit, Part::TurnOff, Part::OutputJoints, Part::HouseSoc];
    let found = distances(&case, &parts);
    print(&found);
    for part in parts {
        let edges = &row(&found, part).edges;
        let on = |e: &&Edge| e.below == Outcome::RunsOn || e.above == Outcome::RunsOn;
        let edge = edges.iter().find(on).expect("it runs on somewhere");
        let off = (said(edge, Form::RunsOn) / edge.at() - 1.0).abs();
        // A full house battery takes less and less: the one draw that is not steady. The others are steady in watts, and the
        // form has their amps at turn-off from the start.
        assert!(off < if part == Part::HouseSoc { 0.02 } else { 0.01 }, "{part:?}: {off}");
        let Some(Reason::DrawChanges { from_a, to_a, .. }) = edge.reasons.first() else { panic!("{edge:?}") };
        assert!(part != Part::HouseSoc || *to_a < 0.95 * from_a, "{from_a} A, {to_a} A");
    }
}

/// (c8) with the house battery full, and its three reasons, add up to the load at which absorption stops ending on its tail
/// current, whether its cap leaves the battery time to fill or not. The sun would be a fourth; there is none.
#[test]
fn absorption_stops_ending_on_its_tail_where_the_closed_form_says() {
    let base = van("reference-van.toml");
    let base =
        base.with("house_battery.start_pct", 90.0).and_then(|c| c.with("drive.piece.2.duration_min", 150.0));
    for cap_min in [4.0, 10.0, 60.0] {
        let case = base.as_ref().expect("keys").with("stages.absorption_cap_min", cap_min).expect("a key");
        let found = Search::of_absorption(&case).expect("it runs").solve(&one_by_one);
        print(&found);
        let edges = &row(&found, Part::HouseLoad).edges;
        let on =
            |e: &&Edge| e.below == Outcome::AbsorptionEndsOnTail && e.above == Outcome::AbsorptionEndsOnCap;
        let edge = edges.iter().find(on).expect("a load at which it changes");
        let taken_w = |r: &Reason| match r {
            Reason::BatteryStillTakes { load_w, .. } => *load_w,
            Reason::TailHeld { load_w, .. } | Reason::OutputCableDrop { load_w, .. } => *load_w,
            other => panic!("{other:?}"),
        };
        let told_w: f64 = edge.reasons.iter().map(taken_w).sum();
        // 14.2 V and 8 A; with a cap of four minutes the battery is far from full.
        near("W", said(edge, Form::TailReached), 113.6, 0.2);
        assert!(told_w > if cap_min < 10.0 { 40.0 } else { 0.3 }, "{told_w} W");
        near("W", said(edge, Form::TailReached) - told_w, edge.at(), 0.1);
    }
}

/// The independent program's criterion: two or more drop-outs between 25 and 45 min.
fn sustained(trial: &Trial) -> Outcome {
    let late = |t: f64| (1500.0..2760.0).contains(&t);
    let offs = trial.run.events.iter().filter(|e| e.kind == EventKind::UnitOff && late(e.t.as_s()));
    if offs.count() >= 2 { Outcome::KeepsDroppingOut } else { Outcome::Good }
}

/// It gives the onsets to a centimetre; 2 cm allow for its rounding and the bracket. (c17) promises up to 0.71 % more,
/// since the starter battery is not settled by then: the reason must be told.
#[test]
fn sustained_hunting_begins_where_an_independent_program_found_it() {
    for (key, value, metres) in [
        ("converter.output_limit_a", 40.0, 8.60),
        ("converter.output_limit_a", 30.0, 12.28),
        ("start_stop.turn_off_v", 13.0, 6.92),
    ] {
        let case = van("reference-van.toml").with(key, value).expect("a key");
        let search = Search::new(&case).expect("it runs").judged_by(sustained);
        let found = search.only(|knob| knob.part == Part::InputLength).solve(&one_by_one);
        print(&found);
        let [edge] = &row(&found, Part::InputLength).edges[..] else { panic!("one border") };
        near("m", edge.at(), metres, 0.02);
        let form_m = said(edge, Form::DropsOut);
        assert!(form_m > edge.at() && form_m < edge.at() * 1.009, "{form_m} m by the form");
        assert!(
            matches!(edge.reasons[..], [Reason::StarterStillRising { more_a, volts_v }] if more_a > 0.0 && volts_v < 0.03),
            "{:?}",
            edge.reasons
        );
    }
}
