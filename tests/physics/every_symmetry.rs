//! What must change nothing, on every vehicle: a shift in time, a cut through a piece of the drive, half of everything.

use sim_core::model::Piece;
use sim_core::{Instant, Model, Profile, Run};
use sim_tests::agree::{compare_runs, kinds};
use sim_tests::day::chopped;
use sim_tests::halved::halved;
use sim_tests::look::run;
use sim_tests::vehicles::{known, random};

const MONTH_NS: i64 = 30 * 86_400 * 1_000_000_000;

fn later(p: &Profile) -> Profile {
    let moved = |t: Instant| t.plus_ns(MONTH_NS);
    let pieces = p.pieces().iter().map(|q| Piece { start: moved(q.start), end: moved(q.end), ..q });
    Profile::new(pieces, p.start_clock_s).expect("still a profile")
}

#[test]
fn a_month_later_every_bit_is_the_same() {
    let bits = |xs: &[f64]| xs.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
    for (name, m, p) in known().into_iter().chain(random(40, 12)) {
        let (a, b) = (run(&m, &p), run(&m, &later(&p)));
        assert_eq!(bits(&a.end), bits(&b.end), "{name}");
        assert_eq!(bits(&a.ledger.0), bits(&b.ledger.0), "{name}");
        assert_eq!(a.statistics, b.statistics, "{name}");
        let times = |r: &Run, by: i64| r.events.iter().map(|e| (e.t.plus_ns(by), e.kind)).collect::<Vec<_>>();
        assert_eq!(times(&a, MONTH_NS), times(&b, 0), "{name}");
    }
}

/// Cut in bits of 37 s: the steps end there and the rules are read anew.
#[test]
fn splitting_pieces_changes_nothing() {
    for (name, m, p) in known().into_iter().chain(random(60, 8)) {
        let (whole, bits) = (run(&m, &p), run(&m, &chopped(&p, 37.0)));
        compare_runs(&m, &p, &bits, &whole).unwrap_or_else(|d| panic!("{name}: {d:?}"));
    }
}

/// Volts and instants of every event, and the states at the end, of half of the vehicle.
///
/// A model has one unit. Two exact halves of it, side by side on one vehicle, carry half of the current each, and each sees of
/// the vehicle what a half unit on half of the vehicle sees: that is what is run.
fn half_is_alike(name: &str, m: &Model, p: &Profile) -> (f64, f64) {
    let (half_m, half_p) = halved(m, p);
    let (a, b) = (run(m, p), run(&half_m, &half_p));
    assert_eq!(kinds(&a), kinds(&b), "{name}");
    let mut worst = (0.0f64, 0.0f64);
    for (x, y) in a.events.iter().zip(&b.events) {
        worst.0 = worst.0.max((x.t.as_s() - y.t.as_s()).abs());
        for (v, w) in
            [(x.after.sb_v, y.after.sb_v), (x.after.in_v, y.after.in_v), (x.after.house_v, y.after.house_v)]
        {
            worst.1 = worst.1.max((v - w).abs());
        }
        let whole_a = [x.after.alternator_a, x.after.input_a, x.after.output_a, x.after.house_a];
        let half_a = [y.after.alternator_a, y.after.input_a, y.after.output_a, y.after.house_a];
        for (i, j) in whole_a.into_iter().zip(half_a) {
            assert!(
                (0.5 * i - j).abs() <= 1e-3,
                "{name}: {i} A against half of it, {j} A, at {} s",
                x.t.as_s()
            );
        }
    }
    for (x, y) in a.end.iter().zip(&b.end).take(6) {
        worst.1 = worst.1.max((x - y).abs());
    }
    worst
}

#[test]
fn half_of_everything_does_the_same() {
    let mut worst = (0.0f64, 0.0f64);
    for (name, m, p) in known().into_iter().chain(random(150, 12)) {
        let found = half_is_alike(&name, &m, &p);
        assert!(found.0 <= 1e-2 && found.1 <= 1e-5, "{name}: {:e} s, {:e} V", found.0, found.1);
        worst = (worst.0.max(found.0), worst.1.max(found.1));
    }
    println!(
        "half of everything: no event moves by more than {:e} s, no volt by more than {:e} V",
        worst.0, worst.1
    );
}
