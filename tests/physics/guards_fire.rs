//! Each guard is shown to end a step: a guard that never fires might as well not be there.

use sim_core::engine::Guard;
use sim_core::{Instant, Model, Profile, Run};
use sim_tests::full::variants;
use sim_tests::look::run;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;
use std::collections::HashMap;

/// For every step that neither a timer nor the drive ended, and after which something is held differently: what changed.
fn fired(r: &Run, p: &Profile) -> Vec<(Instant, Vec<Guard>)> {
    let mut out = Vec::new();
    for pair in r.trace.knots().windows(2) {
        let (a, b) = (&pair[0], &pair[1]);
        let t = a.start.plus_ns(a.ns);
        if t == a.mode.timers.next() || t == p.pieces().at(a.piece).end {
            continue;
        }
        let (ra, rb) = (&a.regime, &b.regime);
        let changes = [
            (Guard::UnitLimit, ra.limit != rb.limit),
            (Guard::SourceState, ra.starter != rb.starter || ra.house.sources != rb.house.sources),
            (Guard::StartStop, a.mode.voltage_calls != b.mode.voltage_calls || a.mode.on != b.mode.on),
            (Guard::Stage, a.mode.stage_calls != b.mode.stage_calls),
            (Guard::Heat, (a.mode.derate, a.mode.locked) != (b.mode.derate, b.mode.locked)),
            (Guard::Protection, (a.mode.refusal, a.mode.shed) != (b.mode.refusal, b.mode.shed)),
            (Guard::Alternator, (a.mode.set_point, a.mode.slewing) != (b.mode.set_point, b.mode.slewing)),
            (Guard::Starter, a.mode.starter_hold != b.mode.starter_hold),
            (Guard::House, a.mode.house_hold != b.mode.house_hold),
        ];
        let changed: Vec<Guard> = changes.into_iter().filter(|c| c.1).map(|c| c.0).collect();
        if !changed.is_empty() {
            out.push((t, changed));
        }
    }
    out
}

fn vehicles() -> impl Iterator<Item = (Model, Profile)> {
    [reference_van(), thin_run(), absorption_day()].into_iter().chain((0..80).map(wild))
}

#[test]
fn each_guard_ends_steps_alone() {
    let mut seen: HashMap<String, u32> = HashMap::new();
    let rich = variants().into_iter().map(|(_, m, p)| (m, p));
    for (m, p) in vehicles().chain(rich) {
        for (_, changed) in fired(&run(&m, &p), &p) {
            // A change that came alone can only have been found by its own guard.
            if let [guard] = changed[..] {
                *seen.entry(format!("{guard:?}")).or_default() += 1;
            }
        }
    }
    for guard in (0..13).map(Guard::of) {
        let times = seen.get(&format!("{guard:?}")).copied().unwrap_or(0);
        assert!(times >= 2, "{guard:?} ended {times} steps: {seen:?}");
    }
}

/// Every step that a guard ended changed something, and nothing changed without one.
#[test]
fn located_steps_and_changes_are_the_same() {
    for (n, (m, p)) in vehicles().enumerate() {
        let r = run(&m, &p);
        let changes = fired(&r, &p).len() as u64;
        assert_eq!(r.statistics.located, changes, "vehicle {n}: {:?}", r.statistics);
    }
}

/// The reference van's four: the crossing of turn-on, starter battery full, alternator under its ceiling, and the house
/// battery's way over the knot at SOC 0.5: 5 % of 200 Ah at 35.6 A, and what it lost before.
#[test]
fn the_reference_vans_guards() {
    let (m, p) = reference_van();
    let found = fired(&run(&m, &p), &p);
    let guards: Vec<_> = found.iter().map(|(t, g)| (t.as_s().round() as u32, g.clone())).collect();
    assert_eq!(
        guards,
        [
            (114, vec![Guard::StartStop]),
            (395, vec![Guard::Starter]),
            (990, vec![Guard::SourceState]),
            (1176, vec![Guard::House]),
        ]
    );
}
