//! What mends a run is the smallest that does, and each difference of two set-ups does what it does alone.

use sim_cli::load::load;
use sim_core::study::knobs::Part;
use sim_core::study::mend::{Ask, Mend, Offer};
use sim_core::study::{Case, Outcome, Trial};
use std::path::Path;

fn van(name: &str) -> Case {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(name);
    load(&file, &[]).expect("a scenario of ours").case
}

const ASK: Ask = Ask { margin_v: 0.3, most_cable_share: 0.5, parked_s: 43_200.0 };

fn offers(mend: &Mend) -> Vec<Offer> {
    mend.candidates().iter().filter_map(|c| mend.try_out(c)).collect()
}

#[test]
fn an_offer_is_just_enough() {
    let case = van("thin-run.toml");
    let mend = Mend::new(&case, ASK).expect("it runs");
    assert!(!mend.is_well());
    let offers = offers(&mend);
    for part in [Part::RunSignal, Part::InputLength, Part::InputSize, Part::OutputLimit] {
        assert!(offers.iter().any(|o| o.knob.part == part), "{part:?} mends it");
    }
    for offer in offers {
        let at = |value: f64| {
            let trial = Trial::run(&offer.knob.turned(&case, value).expect("a value")).expect("it runs");
            // Held on by its run signal it has no turn-off to be near to.
            let margin_v = trial.summary.extremes.margin_v.map_or(f64::INFINITY, |m| m.value);
            Outcome::of(&trial) == Outcome::Good && margin_v >= ASK.margin_v
        };
        assert!(at(offer.to), "{}", offer.knob.name);
        if offer.knob.part == Part::RunSignal {
            continue;
        }
        let less = match offer.knob.sizes.iter().position(|s| s.1 == offer.to) {
            Some(n) => offer.knob.sizes[n - 1].1,
            None => offer.to + 2.0 * offer.knob.resolution(offer.to) * (offer.knob.now - offer.to).signum(),
        };
        assert!(!at(less), "{}: {less} is less than {} and not enough", offer.knob.name, offer.to);
    }
}

/// Two legs of 12 m from 16 to 70 mm², 8890 kg/m³: 11.5 kg.
#[test]
fn copper_is_weighed() {
    let mend = Mend::new(&van("thin-run.toml"), ASK).expect("it runs");
    let offer = offers(&mend).into_iter().find(|o| o.knob.part == Part::InputSize).expect("a size mends it");
    let expected = 2.0 * 12.0 * (offer.to - 16.0) * 1e-6 * 8890.0;
    assert!((offer.copper_kg - expected).abs() < 1e-9);
}

/// With the cable taking most of the drop a lower turn-off is not offered; where it may be, its drain comes with it.
#[test]
fn a_lower_turn_off_is_offered_only_with_a_good_cable_and_with_its_drain() {
    // Far over the rested volts, so that there is room to lower it.
    let case = van("reference-van-full.toml").with("start_stop.turn_off_v", 13.2).expect("a value");
    let ask = Ask { margin_v: 0.4, ..ASK };
    let refused = Mend::new(&case, ask).expect("it runs");
    assert!(refused.cable_share.is_some_and(|s| s > 0.5) && !refused.may_lower_turn_off());
    assert!(refused.candidates().iter().all(|c| c.knob.part != Part::TurnOff));
    let allowed = Mend::new(&case, Ask { most_cable_share: 0.9, ..ask }).expect("it runs");
    let offer = offers(&allowed).into_iter().find(|o| o.knob.part == Part::TurnOff).expect("it mends");
    let (before, after) = offer.drain.expect("the drain is told");
    assert!(after.ran_on_s >= before.ran_on_s && after.ah >= before.ah);
    assert!(after.starter_end_soc <= before.starter_end_soc);
}

#[test]
fn a_difference_alone_does_what_the_set_up_with_it_does() {
    let (a, b) = (van("reference-van.toml"), van("thin-run.toml"));
    let base = Trial::run(&a).expect("it runs");
    let differences = a.differences(&b).expect("both run");
    assert_eq!(differences.iter().map(|d| d.path.as_str()).collect::<Vec<_>>(), ["input_cable.length_m"]);
    let effect = a.effect(&b, &differences[0], &base).expect("it runs");
    let whole = Trial::run(&b).expect("it runs");
    assert_eq!(effect.outcome, Outcome::of(&whole));
    assert_eq!(effect.output_ah, whole.summary.unit_output_ah - base.summary.unit_output_ah);
    assert!(a.differences(&a).expect("it runs").is_empty());
}

/// Sections that appear, values that go away, other drives: all of it is taken over, and nothing else is left.
#[test]
fn taking_every_difference_makes_the_other() {
    let (a, b) = (van("reference-van.toml"), van("reference-van-full.toml"));
    let differences = a.differences(&b).expect("both run");
    assert!(differences.iter().any(|d| d.path == "physics.effects" && d.there.is_none()), "{differences:?}");
    let all = differences.iter().fold(a.clone(), |case, d| case.taking(&b, &d.path));
    assert!(all.differences(&b).expect("it runs").is_empty());
    let round = van("delivery-round.toml");
    let drives = a.differences(&round).expect("both run");
    assert!(drives.iter().any(|d| d.path == "drive.piece"));
    let all = drives.iter().fold(a, |case, d| case.taking(&round, &d.path));
    let (_, made) = all.resolve().expect("a scenario");
    let (_, wanted) = round.resolve().expect("a scenario");
    assert!(made.profile == wanted.profile, "{drives:?}");
    // A temperature that follows the air is not a number, which equals nothing: texts do.
    assert_eq!(format!("{:?}", made.model), format!("{:?}", wanted.model));
    let none: Vec<_> = round.differences(&round).expect("it runs");
    assert!(none.is_empty());
}
