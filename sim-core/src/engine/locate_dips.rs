//! Dips below zero and back within one step, as courses whose shape is known.

use super::*;

const NS: i64 = 10_000_000_000;

/// What a search found and how often it looked: a course over the share of the step, read at nodes and stages.
fn search(course: &dyn Fn(f64) -> f64) -> (Option<Flip>, u32) {
    let all = |u: f64| {
        let mut values = [f64::INFINITY; GUARDS];
        values[3] = course(u);
        values
    };
    let inner = [1, 2, 3, 4].map(|n| all(NODES[n]));
    let mut looks = 0;
    let found = first_flip(NS, &all(0.0), &inner, &all(1.0), |ns| {
        looks += 1;
        all(ns as f64 / NS as f64)
    });
    (found, looks)
}

/// A parabola with its lowest point at `at`, `depth` below zero.
fn parabola(at: f64, depth: f64) -> impl Fn(f64) -> f64 {
    move |u| (u - at) * (u - at) - depth
}

/// One that falls fast and rises slowly, or the other way round: a transient against a drift.
fn lopsided(at: f64, rate: f64, depth: f64) -> impl Fn(f64) -> f64 {
    // e^(−rate·x) + rate·x has its lowest point, 1, at x = 0.
    move |u| ((-rate * (u - at)).exp() + rate * (u - at) - 1.0) / (rate * rate) - depth
}

fn is_found(name: &str, course: &dyn Fn(f64) -> f64, depth: f64) {
    if course(0.0) <= 0.0 || course(1.0) <= 0.0 {
        return;
    }
    let (found, looks) = search(course);
    let flip = found.unwrap_or_else(|| panic!("{name} is missed"));
    assert!(flip.hidden && flip.guard == 3, "{name}: {flip:?}");
    let (on, before) = (flip.ns as f64 / NS as f64, (flip.ns - 1) as f64 / NS as f64);
    assert!(course(on) < 0.0 && course(before) >= -depth * 1e-6, "{name}: not its first flip, {flip:?}");
    assert!(looks < 160, "{name}: {looks} looks");
}

/// Wherever it lies and however shallow: down to a hundred-thousandth of what the guard moves over the step.
#[test]
fn dips_are_found_wherever_they_lie() {
    for n in 1..100 {
        let at = f64::from(n) / 100.0;
        for depth in [1e-5, 1e-4, 1e-3, 1e-2] {
            is_found(&format!("parabola at {at}, {depth} deep"), &parabola(at, depth), depth);
            for rate in [-6.0, -3.0, -1.5, 1.5, 3.0, 6.0] {
                let name = format!("lopsided at {at}, rate {rate}, {depth} deep");
                is_found(&name, &lopsided(at, rate, depth), depth);
            }
        }
    }
}

/// None where there is none, and few looks: a search costs as much as a step.
#[test]
fn none_is_found_where_there_is_none() {
    let (mut searched, mut courses) = (0, 0);
    for n in -100..200 {
        let at = f64::from(n) / 100.0;
        for above in [1e-5, 1e-3, 0.05, 3.0] {
            for rate in [0.0, -6.0, -1.5, 1.5, 6.0] {
                let course: Box<dyn Fn(f64) -> f64> = if rate == 0.0 {
                    Box::new(parabola(at, -above))
                } else {
                    Box::new(lopsided(at, rate, -above))
                };
                let (found, looks) = search(&course);
                assert_eq!(found, None, "at {at}, {above} above, rate {rate}");
                courses += 1;
                searched += u32::from(looks > 4);
                // High above zero next to what it moves, or going one way at an even rate: not looked at at all.
                if above == 3.0 && (0.1..0.9).contains(&at) && rate == 0.0 {
                    assert_eq!(looks, 0, "at {at}, {above} above");
                }
            }
        }
    }
    assert!(searched * 10 < courses * 4, "{searched} of {courses} courses were searched");
}

/// Courses that go one way at an even rate end the search before it looks.
#[test]
fn an_even_course_costs_nothing() {
    for (from, to) in [(1.0, 0.001), (0.001, 1.0), (0.2, 0.1)] {
        let (found, looks) = search(&|u: f64| from + (to - from) * u);
        assert_eq!((found, looks), (None, 0), "{from} to {to}");
    }
}
