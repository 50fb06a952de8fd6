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
            // Where outcomes take turns within a fringe its own ends count.
            let sides = [
                (edge.low.min(edge.at() * 0.999), edge.below),
                (edge.high.max(edge.at() * 1.001), edge.above),
            ];
            assert!(edge.high - edge.low <= 6e-3 * edge.at(), "{}: {edge:?}", row.knob.name);
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
