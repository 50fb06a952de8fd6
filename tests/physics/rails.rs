//! What cautions forbid is never proposed: over every shipped fault and pattern, remedies, `mend` and `tune` keep to the
//! guard-rails, which are read here off what they propose.

use sim_cli::load::load;
use sim_core::explain::remedy::{Asked, find};
use sim_core::explain::{Explanation, Knob};
use sim_core::judge::guard_rails::carries_a;
use sim_core::model::SignalUse;
use sim_core::study::knobs::Part;
use sim_core::study::mend::{Ask, Mend, Offer};
use sim_core::study::threshold_map::{TURN_OFF, TURN_ON};
use sim_core::study::tune::{Knob as Tuned, TunePlan};
use sim_core::study::{Case, OneThread, Trial};
use sim_core::{Options, Record};
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Error allowed per step of a search: what is proposed is looked at, not what it delivers.
const COARSE: f64 = 1e-4;

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

/// The shipped patterns: of a week of alike days the first, where the calendar can be cut to it.
fn patterns() -> Vec<(String, Case)> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(scenarios().join("patterns"))
        .expect("the folder")
        .map(|e| e.expect("an entry").path())
        .filter(|f| f.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    let first_day = |f: &PathBuf| {
        let cut = load(f, &["calendar.days=1".to_owned()]).or_else(|_| load(f, &[]));
        cut.unwrap_or_else(|e| panic!("{}: {e:?}", f.display())).case
    };
    files.iter().map(|f| (f.display().to_string(), first_day(f))).collect()
}

/// Every fault and every pattern, on two threads; the counts that `look` gives, added up.
fn each(look: impl Fn(&str, &Case) -> usize + Sync) -> usize {
    let all = Mutex::new(faults().into_iter().chain(patterns()).collect::<Vec<_>>());
    let work = || {
        let mut sum = 0;
        loop {
            let next = all.lock().expect("no panic while it was held").pop();
            let Some((name, case)) = next else { return sum };
            sum += look(&name, &case);
        }
    };
    std::thread::scope(|s| {
        let other = s.spawn(work);
        let own = work();
        own + other.join().expect("no panic")
    })
}

/// Rested volts of the full starter battery, and what practice gives as room: 0.1 V (no source).
fn least_turn_off_v(t: &Trial) -> f64 {
    t.resolved.model.starter.rested_v(1.0) + 0.1
}

/// What a changed vehicle is held against: volts that its starter battery bears, its turn-off, its fuses.
fn keeps_to_rails(name: &str, base: &Trial, changed: &Case) {
    let (_, then) = changed.resolve().unwrap_or_else(|e| panic!("{name}: {e}"));
    let (now, then) = (&base.resolved, &then);
    let most_v = |r: &sim_core::resolve::Resolved| {
        let pieces = r.profile.pieces();
        pieces.iter().filter(|p| p.engine_runs()).map(|p| p.set_point_v).fold(0.0, f64::max)
    };
    // 14.8 V for a lead-acid starter battery where nothing is typed: every shipped van has one.
    let typed_v = base.scenario.starter_battery.most_v.as_ref().map_or(14.81, |v| v.value);
    assert!(most_v(then) <= typed_v.max(most_v(now)) + 1e-9, "{name}: set-point {}", most_v(then));
    let rule = |r: &sim_core::resolve::Resolved| {
        let rule = &r.model.link().start_stop;
        (rule.signal != SignalUse::Required, rule.turn_off_v)
    };
    let ((_, off_now_v), (by_volts, off_v)) = (rule(now), rule(then));
    assert!(!by_volts || off_v >= least_turn_off_v(base).min(off_now_v) - 1e-9, "{name}: turn-off {off_v}");
    let carries = carries_a((&then.model, &then.profile));
    for ((was, is), carries) in
        now.model.fuses().iter().zip(then.model.fuses()).zip([0, 0, 1, 1].map(|n| carries[n]))
    {
        let (Some(was), Some(is)) = (was, is) else { continue };
        let larger = is.rating_a > was.rating_a;
        assert!(!larger || carries.is_some_and(|a| is.rating_a <= a), "{name}: a fuse of {} A", is.rating_a);
    }
}

/// What an offer of `mend` comes to, held against what cautions forbid.
fn keeps(name: &str, case: &Case, base: &Trial, o: &Offer) {
    let moved: Vec<_> = o.beside.iter().map(|(k, v)| (k, *v)).chain([(&o.knob, o.to)]).collect();
    let turned = moved.iter().try_fold(case.clone(), |case, (knob, to)| knob.turned(&case, *to));
    keeps_to_rails(name, base, &turned.unwrap_or_else(|e| panic!("{name}: {e}")));
    if moved.iter().any(|(k, _)| k.part == Part::RunSignal) {
        assert!(!base.verdict.is_danger(), "{name}: a run signal over a danger");
        let left = base.summary.starter_end_soc.min(base.summary.starter_start_soc);
        assert!(o.starter_end_soc > left - 0.021, "{name}: the starter battery pays");
    }
}

#[test]
fn mend_proposes_nothing_that_cautions_forbid() {
    // Half a volt more is asked than most have: so nearly every vehicle is looked at, and bold changes pay.
    let ask = Ask { margin_v: 0.5, most_cable_share: 1.0, parked_s: 3600.0 };
    let offered = each(|name, case| {
        let mend = Mend::new(case, ask).unwrap_or_else(|e| panic!("{name}: {e}"));
        if mend.is_well() {
            return 0;
        }
        // What no rail speaks of (lengths, joints, delays, engine speeds) is left out: it costs most of the runs.
        let bold = [
            Part::SetPoint,
            Part::TurnOff,
            Part::TurnOn,
            Part::RunSignal,
            Part::OutputLimit,
            Part::InputSize,
        ];
        let candidates: Vec<_> =
            mend.candidates().into_iter().filter(|c| bold.contains(&c.knob.part)).collect();
        let mut offers: Vec<Offer> = candidates.iter().filter_map(|c| mend.try_out(c)).collect();
        if offers.is_empty() {
            offers.extend(mend.pairs(&candidates).iter().step_by(7).filter_map(|p| mend.try_pair(p)));
        }
        offers.iter().for_each(|o| keeps(name, case, &mend.base, o));
        offers.len()
    });
    assert!(offered > 40, "{offered} offers");
}

#[test]
fn remedies_of_faults_and_patterns_keep_to_the_rails() {
    let offered = each(|name, case| {
        let options = Options { tolerance: 1e-6, record: Record::Bounded, ..Options::default() };
        let t = Trial::run_with(case, &options).unwrap_or_else(|e| panic!("{name}: {e}"));
        let (m, p) = (&t.resolved.model, &t.resolved.profile);
        let found = find(&Asked {
            facts: t.facts(),
            verdict: &t.verdict,
            kinds: &Explanation::new(&t.run, m, p).kinds(),
            tolerance: 1e-6,
        });
        let all = found.whole.iter().chain(found.partly.iter().map(|(r, _)| r));
        let carries = carries_a((m, p));
        let changes: Vec<_> = all.flat_map(|r| &r.changes).collect();
        for c in &changes {
            let (now, to) = (c.now.unwrap_or(0.0), c.to.unwrap_or(0.0));
            match c.knob {
                Knob::SetPointFloor => assert!(to <= now.max(14.81), "{name}: {c:?}"),
                Knob::TurnOffLower => assert!(to >= least_turn_off_v(&t).min(now) - 1e-9, "{name}: {c:?}"),
                Knob::Signal(_) => assert!(!t.verdict.is_danger(), "{name}: {c:?}"),
                // Beside a thicker conductor a larger fuse may be right: that pair is tried in the judge's own tests.
                Knob::Fuse(of) if changes.len() == 1 => {
                    let carries = carries[usize::from(of == sim_core::judge::CableOf::Output)];
                    assert!(carries.is_some_and(|a| to <= a), "{name}: {c:?}");
                }
                _ => {}
            }
        }
        changes.len()
    });
    assert!(offered > 20, "{offered} changes");
}

#[test]
fn tune_proposes_nothing_that_cautions_forbid() {
    const SET_POINT: &str = "alternator.set_point_v";
    let tried = each(|name, case| {
        let base = Trial::run_of_many(case).unwrap_or_else(|e| panic!("{name}: {e}"));
        let rule = &base.scenario.start_stop;
        let (off_v, on_v) = (rule.turn_off_v.value, rule.turn_on_v.value);
        // Wide and coarse: most of the box lies beyond a rail.
        let knob = |path: &str, from: f64, to: f64| Tuned { path: path.to_owned(), from, to, step: 0.5 };
        let plan = TunePlan {
            cases: vec![case.clone()],
            knobs: vec![
                knob(TURN_OFF, 11.5, off_v.max(13.0)),
                knob(TURN_ON, 13.0, on_v.max(14.0)),
                knob(SET_POINT, 13.6, 15.8),
            ],
            limits: Vec::new(),
            candidates: 8,
            seed: 1,
            tolerance: COARSE,
        };
        let with = |values: &[f64]| {
            let moves = plan.knobs.iter().zip(values);
            moves
                .fold(case.clone(), |c, (k, v)| c.with(&k.path, *v).unwrap_or_else(|e| panic!("{name}: {e}")))
        };
        // Settings beyond a rail have no score, so nothing that is found can have one.
        let set_v = base.scenario.alternator.set_point_v.value;
        for low_v in [11.5, 12.0, 12.4, least_turn_off_v(&base) - 0.01] {
            let allowed =
                low_v >= off_v || base.resolved.model.link().start_stop.signal == SignalUse::Required;
            assert!(allowed || plan.score(&[low_v, on_v, set_v]).is_none(), "{name}: turn-off {low_v}");
        }
        let tuned = plan.run(&OneThread);
        let scored = tuned.tried.iter().filter(|c| c.score.is_some()).chain(&tuned.best);
        scored.map(|c| keeps_to_rails(name, &base, &with(&c.values))).count()
    });
    assert!(tried > 500, "{tried} settings");
}
