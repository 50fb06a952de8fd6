//! What counts as trouble on the reference van, by the drop-outs that an independent program found.

use sim_core::study::{Case, Trial, Trouble, Verdict};
use std::path::Path;

fn reference_van() -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van.toml");
    sim_cli::load::load(&file, &[]).expect("the reference van").case
}

fn judged(changes: &[(&str, f64)]) -> Verdict {
    let case = changes.iter().fold(reference_van(), |case, (path, value)| {
        case.with(path, *value).expect("a key of the reference van")
    });
    Verdict::of(&Trial::run(&case).expect("a run"))
}

#[test]
fn as_it_is_there_is_no_trouble() {
    assert_eq!(judged(&[]), Verdict::default());
}

#[test]
fn a_run_too_thin_drops_out() {
    let verdict = judged(&[("input_cable.length_m", 12.0)]);
    assert_eq!(verdict.word(), "drops out");
    // Of 79 drop-outs those of the first five minutes of the engine do not count.
    assert!(matches!(verdict.troubles[..], [Trouble::DropsOut { times: 60..=78, .. }]), "{verdict:?}");
}

#[test]
fn a_turn_on_above_the_set_point_never_starts() {
    assert_eq!(judged(&[("start_stop.turn_on_v", 14.4)]).troubles, [Trouble::NeverStarts]);
}

#[test]
fn a_delay_longer_than_the_drive_is_no_fault_of_the_voltage() {
    assert_eq!(judged(&[("start_stop.turn_on_delay_s", 2700.0)]).troubles, [Trouble::DrivesTooShort]);
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
