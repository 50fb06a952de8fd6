//! Margins of a run: each is the smallest there is, wherever the steps ended.

use sim_cli::load::load;
use sim_core::study::margins::{Against, Limit, Margins};
use sim_core::study::{Case, Trial};
use sim_core::{Options, Stepper};
use sim_tests::look::near;
use std::path::Path;

fn van(name: &str) -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    load(&file, &[]).expect("a scenario of ours").case
}

fn against() -> Against {
    Against {
        input_fuse_a: Some(60.0),
        input_insulation_c: 70.0,
        joints_c: [70.0; 2],
        output_insulation_c: 70.0,
        crank_reserve_soc: 0.5,
    }
}

fn margins(case: &Case, options: &Options) -> (Trial, Margins) {
    let trial = Trial::run_with(case, options).expect("it runs");
    let margins = Margins::of(&trial.run, &trial.resolved.model, &trial.resolved.profile, &against());
    (trial, margins)
}

#[test]
fn they_agree_with_what_the_run_itself_saw() {
    for name in ["reference-van.toml", "reference-van-full.toml", "thin-run.toml"] {
        let (trial, margins) = margins(&van(name), &Options::default());
        let seen = trial.summary.extremes;
        let off = margins.to(Limit::TurnOff).expect("it was on");
        near(name, off.left, seen.margin_v.expect("it was on").value, 2e-6);
        near(name, off.at.input_v, off.limit_at + off.left, 1e-12);
        let fuse = margins.to(Limit::Fuse).expect("a fuse");
        near(name, 60.0 - fuse.left, seen.input_a.expect("it was on").value, 1e-4);
        near(name, fuse.at.input_a, 60.0 - fuse.left, 1e-12);
    }
}

#[test]
fn they_do_not_hang_on_the_steps() {
    let full = van("reference-van-full.toml");
    let coarse = margins(&full, &Options { tolerance: 1e-7, ..Options::default() }).1;
    let fine = Options { tolerance: 1e-11, stepper: Stepper::Reference, ..Options::default() };
    let fine = margins(&full, &fine).1;
    assert_eq!(coarse.all.len(), fine.all.len());
    for (a, b) in coarse.all.iter().zip(&fine.all) {
        assert_eq!(a.limit, b.limit);
        // Volts, amps, kelvin and ampere-hours: what a tolerance of 1e-7 leaves.
        near(&format!("{:?}", a.limit), a.left, b.left, 2e-4);
    }
}

/// A wait that never reaches turn-on is told as short of it, at the drive's best moment.
#[test]
fn a_wait_in_vain_is_short_of_turn_on() {
    let case = van("reference-van.toml").with("start_stop.turn_on_v", 14.4).expect("a key");
    let (trial, margins) = margins(&case, &Options::default());
    let best = trial.summary.extremes.waiting_in_v.expect("it waited").value;
    let wait = margins.to(Limit::TurnOn).expect("it waited");
    near("V", wait.left, best - 14.4, 1e-9);
    assert!(margins.to(Limit::TurnOff).is_none() && margins.to(Limit::Fuse).is_none());
}

/// The alternator gives its all from the unit's coming on until 1044 s or so; starter reserve is 0.5 of 80 Ah.
#[test]
fn the_plain_van_asks_all_of_its_alternator_for_a_quarter_of_an_hour() {
    let (trial, margins) = margins(&van("reference-van.toml"), &Options::default());
    near("A", margins.to(Limit::Alternator).expect("it was on").left, 0.0, 1e-9);
    assert!((600.0..1100.0).contains(&margins.alternator_full_s), "{}", margins.alternator_full_s);
    let reserve = margins.to(Limit::CrankReserve).expect("a battery");
    let knots = trial.run.trace.knots().iter();
    let lowest = knots.map(|k| k.dense.at(0.0)[sim_core::state::STARTER]).fold(1.0, f64::min);
    near("Ah", reserve.left, (lowest - 0.5) * 80.0, 1e-3);
    near("Ah, limit", reserve.limit_at, 40.0, 1e-12);
}
