//! A constant piece cut in bits changes nothing beyond the tolerance: steps end at the cuts and the rules are read anew.

use sim_core::model::Piece;
use sim_core::{Model, Profile, Run};
use sim_tests::day::{DRIVING, PARKED, chopped, day};
use sim_tests::look::{run, run_at};
use sim_tests::van::{absorption_day, reference_van, thin_run};

/// Asserts the same events at the same times and the same end.
fn same(name: &str, a: &Run, b: &Run, ms: f64, soc: f64) {
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    assert_eq!(kinds(a), kinds(b), "{name}");
    for (x, y) in a.events.iter().zip(&b.events) {
        let off = (x.t.as_s() - y.t.as_s()).abs();
        assert!(off <= 1e-3 * ms, "{name}: {:?} at {} s moves by {off:e} s", x.kind, x.t.as_s());
    }
    for (x, y) in a.end.iter().zip(&b.end).take(6) {
        assert!((x - y).abs() <= soc, "{name}: {x} against {y}");
    }
}

/// At the default tolerance of 1e-8 events move by what it is worth in time: reached 42 µs, and 2 ns at 1e-12.
#[test]
fn in_bits_of_seven_and_a_half_seconds() {
    for (name, (m, p)) in
        [("reference", reference_van()), ("thin", thin_run()), ("absorption", absorption_day())]
    {
        same(name, &run(&m, &p), &run(&m, &chopped(&p, 7.5)), 0.1, 1e-8);
        same(name, &run_at(1e-12, &m, &p), &run_at(1e-12, &m, &chopped(&p, 7.5)), 1e-5, 1e-12);
    }
}

/// Cut exactly where things happen: at the crossing, at the timer's end, in the soft start.
#[test]
fn at_the_instants_of_events() {
    let (m, whole) = reference_van();
    let before = run(&m, &whole);
    for event in before.events.iter().filter(|e| e.t.as_s() > 61.0 && e.t.as_s() < 2759.0) {
        for shift_ns in [-1, 0, 1, 1_000_000_000] {
            let at = event.t.plus_ns(shift_ns);
            let p = cut_at(&whole, at);
            same(&format!("{:?} {shift_ns} ns", event.kind), &before, &run(&m, &p), 0.1, 1e-8);
        }
    }
}

fn cut_at(p: &Profile, at: sim_core::Instant) -> Profile {
    let mut pieces = Vec::new();
    for piece in p.pieces().iter() {
        if piece.start < at && at < piece.end {
            pieces.push(Piece { end: at, ..piece });
            pieces.push(Piece { start: at, air_c: piece.air_c + 1e-9, ..piece });
        } else {
            pieces.push(piece);
        }
    }
    Profile::new(pieces, 0.0).expect("still a profile")
}

/// Equal neighbours become one: a drive written in bits is the drive.
#[test]
fn equal_neighbours_are_one() {
    let m: Model = reference_van().0;
    let whole = day(&[(60.0, PARKED), (900.0, DRIVING), (300.0, PARKED)]);
    let bits = day(&[(30.0, PARKED), (30.0, PARKED), (450.0, DRIVING), (450.0, DRIVING), (300.0, PARKED)]);
    assert_eq!(whole, bits);
    assert_eq!(run(&m, &whole).end, run(&m, &bits).end);
}
