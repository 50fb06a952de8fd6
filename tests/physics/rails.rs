//! What cautions forbid is never proposed: over every shipped fault and pattern, remedies, `mend` and `tune` keep to the
//! guard-rails, which are read here off what they propose.

use sim_cli::load::load;
use sim_core::explain::remedy::{Asked, find};
use sim_core::explain::{Explanation, Knob};
use sim_core::model::SignalUse;
use sim_core::study::knobs::Part;
use sim_core::study::mend::{Ask, Mend, Offer};
use sim_core::study::threshold_map::{TURN_OFF, TURN_ON};
use sim_core::study::tune::{Knob as Tuned, TunePlan};
use sim_core::study::{Case, OneThread, TOLERANCE_OF_MANY, Trial};
use sim_core::{Options, Record};
use std::path::{Path, PathBuf};

fn scenarios() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

/// The shipped faults of the full van.
fn faults() -> Vec<(String, Case)> {
    let text = std::fs::read_to_string(scenarios().join("faults.toml")).expect("the catalogue");
    let all: toml::Table = text.parse().expect("the catalogue");
    let base = scenarios().join(all["base"].as_str().expect("a base"));
    let sets = |of: &toml::Value| -> Vec<String> {
        let list = of.get("set").and_then(|s| s.as_array()).cloned().unwrap_or_default();
        list.iter().filter_map(|s| s.as_str().map(str::to_owned)).collect()
    };
    let shared = sets(&toml::Value::Table(all.clone()));
    let list = all["fault"].as_array().expect("faults").clone();
    list.iter()
        .map(|f| {
            let set: Vec<String> = shared.iter().cloned().chain(sets(f)).collect();
            let name = f["name"].as_str().expect("a name").to_owned();
            (name, load(&base, &set).expect("a scenario of ours").case)
        })
        .collect()
}

fn patterns() -> Vec<(String, Case)> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(scenarios().join("patterns"))
        .expect("the folder")
        .map(|e| e.expect("an entry").path())
        .filter(|f| f.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    files.iter().map(|f| (f.display().to_string(), load(f, &[]).expect("a scenario of ours").case)).collect()
}

/// Rested volts of the full starter battery, and what practice gives as room: 0.1 V (no source).
fn least_turn_off_v(t: &Trial) -> f64 {
    t.resolved.model.starter.rested_v(1.0) + 0.1
}

/// What an offer of `mend` comes to, held against what cautions forbid.
fn keeps(name: &str, base: &Trial, o: &Offer) {
    let model = &base.resolved.model;
    let by_volts = model.link().start_stop.signal != SignalUse::Required;
    let moved = o.beside.iter().map(|(k, v)| (k, *v)).chain([(&o.knob, o.to)]);
    for (knob, to) in moved {
        match knob.part {
            // 14.8 V for a lead-acid starter battery where nothing is typed: every shipped van has one.
            Part::SetPoint => assert!(to <= knob.now.max(14.81), "{name}: set-point {to}"),
            Part::TurnOff => {
                let least_v = least_turn_off_v(base).min(knob.now);
                assert!(!by_volts || to >= least_v - 1e-9, "{name}: turn-off {to}");
            }
            Part::RunSignal => {
                assert!(!base.verdict.is_danger(), "{name}: a run signal over a danger");
                let left = base.summary.starter_end_soc.min(base.summary.starter_start_soc);
                assert!(o.starter_end_soc > left - 0.021, "{name}: the starter battery pays");
            }
            _ => {}
        }
    }
}

#[test]
fn mend_proposes_nothing_that_cautions_forbid() {
    let ask = Ask { margin_v: 0.3, most_cable_share: 1.0, parked_s: 3600.0 };
    let mut offered = 0;
    for (name, case) in faults() {
        let mend = Mend::new(&case, ask).unwrap_or_else(|e| panic!("{name}: {e}"));
        if mend.is_well() {
            continue;
        }
        for candidate in mend.candidates() {
            let bold = [Part::SetPoint, Part::TurnOff, Part::RunSignal, Part::OutputLimit];
            if let Some(offer) =
                Some(&candidate).filter(|c| bold.contains(&c.knob.part)).and_then(|c| mend.try_out(c))
            {
                keeps(&name, &mend.base, &offer);
                offered += 1;
            }
        }
    }
    assert!(offered > 3, "{offered} offers");
}

#[test]
fn remedies_of_faults_and_patterns_keep_to_the_rails() {
    let mut offered = 0;
    // Two patterns stand for the others here; all of them are asked of `tune` below.
    for (name, case) in faults().into_iter().chain(patterns().into_iter().take(2)) {
        let options = Options { tolerance: 1e-6, record: Record::Bounded, ..Options::default() };
        let t = Trial::run_with(&case, &options).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (m, p) = (&t.resolved.model, &t.resolved.profile);
        let found = find(&Asked {
            facts: t.facts(),
            verdict: &t.verdict,
            kinds: &Explanation::new(&t.run, m, p).kinds(),
            tolerance: 1e-6,
        });
        let all = found.whole.iter().chain(found.partly.iter().map(|(r, _)| r));
        for c in all.flat_map(|r| &r.changes) {
            offered += 1;
            let (now, to) = (c.now.unwrap_or(0.0), c.to.unwrap_or(0.0));
            match c.knob {
                Knob::SetPointFloor => assert!(to <= now.max(14.81), "{name}: {c:?}"),
                Knob::TurnOffLower => assert!(to >= least_turn_off_v(&t).min(now) - 1e-9, "{name}: {c:?}"),
                Knob::Signal(_) => assert!(!t.verdict.is_danger(), "{name}: {c:?}"),
                _ => {}
            }
        }
    }
    assert!(offered > 5, "{offered} changes");
}

#[test]
fn tune_never_takes_a_turn_off_under_rested_volts() {
    let plan = |case: &Case, now: (f64, f64)| TunePlan {
        cases: vec![case.clone()],
        knobs: vec![
            Tuned { path: TURN_OFF.to_owned(), from: 11.5, to: now.0.max(12.9), step: 0.1 },
            Tuned { path: TURN_ON.to_owned(), from: 13.0, to: 14.0, step: 0.1 },
        ],
        limits: Vec::new(),
        candidates: 8,
        seed: 1,
        tolerance: TOLERANCE_OF_MANY,
    };
    for (name, case) in faults().into_iter().chain(patterns()) {
        let (s, r) = case.resolve().unwrap_or_else(|e| panic!("{name}: {e}"));
        let now = (s.start_stop.turn_off_v.value, s.start_stop.turn_on_v.value);
        let plan = plan(&case, now);
        let least_v = r.model.starter.rested_v(1.0) + 0.1;
        // Settings under the rail have no score, so nothing that is found can have one.
        for off_v in [11.5, 12.0, 12.4, least_v - 0.01] {
            let allowed = off_v >= now.0 || r.model.link().start_stop.signal == SignalUse::Required;
            assert!(allowed || plan.score(&[off_v, now.1]).is_none(), "{name}: turn-off {off_v}");
        }
    }
    let (name, case) = faults().swap_remove(1);
    let tuned = plan(&case, (12.8, 13.6)).run(&OneThread);
    let (s, r) = case.resolve().expect("it resolves");
    let least_v = (r.model.starter.rested_v(1.0) + 0.1).min(s.start_stop.turn_off_v.value);
    for c in tuned.tried.iter().filter(|c| c.score.is_some()).chain(&tuned.best) {
        assert!(c.values[0] >= least_v - 1e-9, "{name}: {c:?}");
    }
}
