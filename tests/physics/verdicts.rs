//! What counts as trouble on the reference van, by the drop-outs that an independent program found.

use sim_core::judge::{Kind, Verdict, Want};
use sim_core::study::{Case, Trial};
use std::path::Path;

fn reference_van() -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van.toml");
    sim_cli::load::load(&file, &[]).expect("the reference van").case
}

fn judged(changes: &[(&str, f64)]) -> Verdict {
    let case = changes.iter().fold(reference_van(), |case, (path, value)| {
        case.with(path, *value).expect("a key of the reference van")
    });
    Trial::run(&case).expect("a run").verdict
}

#[test]
fn as_it_is_there_is_no_trouble() {
    let verdict = judged(&[]);
    assert!(verdict.is_good() && verdict.word() == "good", "{verdict:?}");
}

#[test]
fn a_run_too_thin_drops_out() {
    let verdict = judged(&[("input_cable.length_m", 12.0)]);
    assert_eq!(verdict.word(), "keeps dropping out");
    // Of 79 drop-outs those of the first five minutes of the engine do not count.
    assert!((60..=78).contains(&verdict.findings[0].when.times), "{verdict:?}");
}

#[test]
fn a_turn_on_above_the_set_point_never_starts() {
    let worst = judged(&[("start_stop.turn_on_v", 14.4)]).findings[0];
    assert_eq!(worst.kind, Kind::NeverComesOn { want: Want::Volts });
    assert!(worst.measure.is_some_and(|m| m.limit == 14.4 && m.over > 0.0), "{worst:?}");
}

#[test]
fn a_delay_longer_than_the_drive_is_no_fault_of_the_voltage() {
    let worst = judged(&[("start_stop.turn_on_delay_s", 2700.0)]).findings[0];
    assert_eq!(worst.kind, Kind::NeverComesOn { want: Want::LongerDrives });
}

#[test]
fn a_number_out_of_range_is_told_with_its_path() {
    let case = reference_van().with("input_cable.length_m", -1.0).expect("the path is there");
    let told = Trial::run(&case).expect_err("a length below nothing").to_string();
    assert!(told.contains("input_cable.length_m") && told.contains("out of range"), "{told}");
    for nowhere in
        ["drive.piece.0.engine_rpm", "drive.piece.100.engine_rpm", "drive.piece.no such.engine_rpm"]
    {
        assert!(reference_van().with(nowhere, 1.0).is_err(), "{nowhere}");
    }
}
