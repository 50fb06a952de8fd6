//! The sentence of every kind of finding, from a made-up one each: with its numbers, plain, and no two alike.

use super::{Told, sentence};
use crate::load::load;
use crate::report::Judged;
use sim_core::judge::{CableOf, Finding, Kind, Measure, Section, Source, Taper, Want, Weight, When};
use sim_core::logic::Refusal;
use sim_core::plant::fuse::FusePlace;
use sim_core::record::Side;
use sim_core::{Options, simulate};
use std::path::Path;
use std::sync::OnceLock;

/// Each kind with what it is told apart by, and the kind after it. A new kind that has no place here does not compile.
fn next(kind: Kind) -> Option<Kind> {
    use Kind as K;
    let hot = |cable, section, typed| Some(K::ConductorHot { cable, section, typed });
    Some(match kind {
        K::ConductorHot { cable: CableOf::Input, section: Section::Bay, typed: true } => {
            return hot(CableOf::Input, Section::Cabin, true);
        }
        K::ConductorHot { cable: CableOf::Input, section: Section::Cabin, typed: true } => {
            return hot(CableOf::Output, Section::Cabin, true);
        }
        K::ConductorHot { typed: true, .. } => return hot(CableOf::Output, Section::Cabin, false),
        K::ConductorHot { .. } => K::JointHot { cable: CableOf::Input, typed: true },
        K::JointHot { typed: true, .. } => K::JointHot { cable: CableOf::Output, typed: false },
        K::JointHot { .. } => K::FuseOpened { at: FusePlace::InputBatteryEnd },
        K::FuseOpened { at: FusePlace::InputBatteryEnd } => K::FuseOpened { at: FusePlace::InputUnitEnd },
        K::FuseOpened { at: FusePlace::InputUnitEnd } => K::FuseOpened { at: FusePlace::OutputUnitEnd },
        K::FuseOpened { at: FusePlace::OutputUnitEnd } => K::FuseOpened { at: FusePlace::OutputBatteryEnd },
        K::FuseOpened { .. } => K::FuseMayOpen { at: FusePlace::InputBatteryEnd },
        K::FuseMayOpen { .. } => K::FuseOver { at: FusePlace::OutputBatteryEnd },
        K::FuseOver { .. } => K::SystemVoltage { side: Side::Starter },
        K::SystemVoltage { side: Side::Starter } => K::SystemVoltage { side: Side::House },
        K::SystemVoltage { .. } => K::BusTooHigh { side: Side::Starter, typed: true },
        K::BusTooHigh { typed: true, .. } => K::BusTooHigh { side: Side::House, typed: false },
        K::BusTooHigh { .. } => K::WindingHot,
        K::WindingHot => K::StartNotExpected { dead: true },
        K::StartNotExpected { dead: true } => K::StartNotExpected { dead: false },
        K::StartNotExpected { .. } => K::StarterDrained,
        K::StarterDrained => K::StarterUnderReserve { typed: true },
        K::StarterUnderReserve { typed: true } => K::StarterUnderReserve { typed: false },
        K::StarterUnderReserve { .. } => K::StarterPays,
        K::StarterPays => K::StarterEmptierEachDay,
        K::StarterEmptierEachDay => K::NeverComesOn { want: Want::Signal },
        K::NeverComesOn { want: Want::Signal } => K::NeverComesOn { want: Want::Volts },
        K::NeverComesOn { want: Want::Volts } => K::NeverComesOn { want: Want::Held },
        K::NeverComesOn { want: Want::Held } => K::NeverComesOn { want: Want::LongerDrives },
        K::NeverComesOn { want: Want::LongerDrives } => K::KeepsDroppingOut,
        K::KeepsDroppingOut => K::StaysOff,
        K::StaysOff => K::StopsKeepItOff,
        K::StopsKeepItOff => K::DropsOutAtFirst,
        K::DropsOutAtFirst => K::RunsOn,
        K::RunsOn => K::ComesOnParked,
        K::ComesOnParked => K::LimitBroken { key: "most_input_a" },
        K::LimitBroken { .. } => K::LimitedByHeat { locks: true },
        K::LimitedByHeat { locks: true } => K::LimitedByHeat { locks: false },
        K::LimitedByHeat { .. } => K::Refused { why: Refusal::Cold },
        K::Refused { why: Refusal::Cold } => K::Refused { why: Refusal::HighVoltage },
        K::Refused { why: Refusal::HighVoltage } => K::Refused { why: Refusal::OverCurrent },
        K::Refused { why: Refusal::OverCurrent } => K::StagesCycle,
        K::StagesCycle => K::LoadsShed,
        K::LoadsShed => K::HouseFlat,
        K::HouseFlat => K::OnTooLate,
        K::OnTooLate => K::FuseLoaded { at: FusePlace::InputUnitEnd },
        K::FuseLoaded { .. } => K::TapersEarly { by: Taper::Target },
        K::TapersEarly { by: Taper::Target } => K::TapersEarly { by: Taper::Cable },
        K::TapersEarly { by: Taper::Cable } => K::TapersEarly { by: Taper::Battery },
        K::TapersEarly { by: Taper::Battery } => K::LoadHidesTail,
        K::LoadHidesTail => K::FloatHigh,
        K::FloatHigh => K::StarterLosesDriving,
        K::StarterLosesDriving => K::NoGain,
        K::NoGain => K::Loses,
        K::Loses => K::GainsOnlyDriving,
        K::GainsOnlyDriving => K::StartUpCycles,
        K::StartUpCycles => K::DropsOutOnLess,
        K::DropsOutOnLess => K::StarterEmptier,
        K::StarterEmptier => K::FedBy { source: Source::Sun },
        K::FedBy { source: Source::Sun } => K::FedBy { source: Source::Mains },
        K::FedBy { source: Source::Mains } => K::FullAlready,
        K::FullAlready => K::TopsUp,
        K::TopsUp => return None,
    })
}

fn every_kind() -> Vec<Kind> {
    let first = Kind::ConductorHot { cable: CableOf::Input, section: Section::Bay, typed: true };
    std::iter::successors(Some(first), |k| next(*k)).collect()
}

/// Kinds whose measure is no part of their sentence: theirs is how often, for how long, or a figure of the summary.
fn without_measure(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::NeverComesOn { want: Want::Signal | Want::Held }
            | Kind::KeepsDroppingOut
            | Kind::DropsOutAtFirst
            | Kind::ComesOnParked
            | Kind::StagesCycle
            | Kind::StartUpCycles
            | Kind::DropsOutOnLess
            | Kind::StarterEmptier
            | Kind::StopsKeepItOff
            | Kind::Refused { .. }
            | Kind::OnTooLate
            | Kind::LimitedByHeat { locks: true }
            | Kind::StartNotExpected { dead: true }
    )
}

/// Lets a test have the sentences of these findings, as the reference van's page would word them.
fn worded(findings: &[Finding]) -> Vec<String> {
    let van = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/reference-van.toml");
    let loaded = load(&van, &[]).expect("a scenario of ours");
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let run = simulate(model, profile, &Options::default()).expect("a run");
    let (judged, why) = (Judged::of(&loaded, &run), OnceLock::new());
    let told = Told::of(&loaded, &[], &run, &judged, &why);
    findings.iter().map(|f| sentence(&told, f)).collect()
}

fn made_up(kind: Kind, weight: Weight, measure: Measure) -> Finding {
    let when = When { first_s: 600.0, last_s: 1200.0, for_s: 480.0, times: 3 };
    Finding { kind, weight, when, measure: Some(measure) }
}

#[test]
fn every_kind_has_its_own_sentence_with_its_numbers() {
    let kinds = every_kind();
    assert!(kinds.len() > 50);
    // Seven and a half hours as seconds, and a number that no other part of a sentence has by chance.
    let measure = Measure::at_most(27_432.0, 613.0, "A");
    let of: Vec<Finding> = kinds.iter().map(|k| made_up(*k, Weight::Danger, measure)).collect();
    let told = worded(&of);
    for (n, (kind, text)) in kinds.iter().zip(&told).enumerate() {
        assert!(text.starts_with("DANGER: ") && text.ends_with('.'), "{text}");
        assert!(!told[..n].contains(text), "twice: {text}");
        let number = ["27432", "7 h 37 min"].iter().any(|v| text.contains(v));
        assert!(number || without_measure(*kind), "{kind:?} does not say how much: {text}");
        for bad in ["{", "}", "::", "NaN", "inf", "  ", "..", " .", "None", "Some"] {
            assert!(!text.contains(bad), "`{bad}` in: {text}");
        }
        // The stable word of a table is no sentence.
        let body = text.trim_start_matches("DANGER: ").trim_end_matches('.');
        assert_ne!(body, kind.word());
        assert!(text.chars().any(|c| c.is_ascii_digit()) || text.contains("signal"), "no number: {text}");
    }
}

/// Whatever their numbers, a value and the limit that it breaks are told apart, and nothing is told as "-0".
#[test]
fn no_limit_reads_like_the_value_that_broke_it() {
    let beyond = [Measure::at_most(13.800_4, 13.8, "V"), Measure::at_least(13.799_6, 13.8, "V")];
    let of: Vec<Finding> =
        every_kind().into_iter().flat_map(|k| beyond.map(|m| made_up(k, Weight::Note, m))).collect();
    for (finding, text) in of.iter().zip(worded(&of)) {
        assert!(!text.contains("-0 ") && !text.contains("-0.0"), "{text}");
        let both = matches!(
            finding.kind,
            Kind::BusTooHigh { .. }
                | Kind::ConductorHot { .. }
                | Kind::FuseOver { .. }
                | Kind::LimitBroken { .. }
                | Kind::WindingHot
                | Kind::StarterUnderReserve { .. }
                | Kind::NeverComesOn { want: Want::Volts }
                | Kind::LimitedByHeat { locks: false }
        );
        let value = if finding.measure.is_some_and(|m| m.value > 13.8) { "13.8004" } else { "13.7996" };
        assert!(!both || text.contains(value), "{:?}: {text}", finding.kind);
    }
}
