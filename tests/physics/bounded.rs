//! A run in bounded memory reads as one that keeps everything, to the bit.

use sim_core::explain::Explanation;
use sim_core::record::Sample;
use sim_core::record::missed::Missed;
use sim_core::study::margins::{Against, Margins};
use sim_core::{Instant, Model, Options, Piece, Profile, Record, Run, simulate};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::dice::Dice;
use sim_tests::full::full_model;
use sim_tests::van;

/// A log at 1 Hz: a drive in town, the engine never at the same speed for two seconds, a stop, the same again.
fn log(hours: usize) -> Profile {
    let mut d = Dice::new(11);
    let rows = (0..hours * 3600).map(|s| {
        let base = if s / 900 % 8 == 5 { PARKED } else { DRIVING };
        let swing = if base.engine_rpm > 0.0 { d.between(-1150.0, 900.0) } else { 0.0 };
        let piece = Piece { engine_rpm: base.engine_rpm + swing, ..base };
        (1.0, Piece { house_load_w: d.between(40.0, 90.0), ..piece })
    });
    day(&rows.collect::<Vec<_>>())
}

fn run(record: Record, m: &Model, p: &Profile) -> Run {
    simulate(m, p, &Options { record, most_kept: 16_384, ..Options::default() }).expect("a run")
}

fn bits(s: &Sample) -> Vec<u64> {
    let n = &s.net;
    let net =
        [n.sb_v, n.in_v, n.out_v, n.house_v, n.alternator_a, n.starter_a, n.input_a, n.output_a, n.house_a];
    s.state.iter().copied().chain(net).chain([s.set_point_v]).map(f64::to_bits).collect()
}

fn same(m: &Model, p: &Profile) {
    let (all, bounded) = (run(Record::Everything, m, p), run(Record::Bounded, m, p));
    assert_eq!(all.events, bounded.events);
    assert_eq!(all.trace.len(), bounded.trace.len());
    let kept = bounded.trace.knots().len();
    assert!(kept + 5000 < all.trace.len(), "several blocks are taken again: {kept} of {}", all.trace.len());
    let mut steps = bounded.trace.steps(m, p);
    for (n, knot) in all.trace.knots().iter().enumerate() {
        let again = steps.next().expect("as many steps");
        assert_eq!((knot.start, knot.ns, knot.piece), (again.start, again.ns, again.piece), "step {n}");
        assert_eq!((knot.mode, knot.regime), (again.mode, again.regime), "step {n}");
        assert_eq!(knot.dense, again.dense, "step {n}");
    }
    assert!(steps.next().is_none());
    // Backwards, so that no block is held when it is asked for.
    let span_s = p.end().as_s();
    for k in (0..=40).rev() {
        let t = Instant::from_s(span_s * f64::from(k) / 40.0);
        let of = |r: &Run| r.trace.at(m, p, t).map(|s| bits(&s));
        assert_eq!(of(&all), of(&bounded), "{} s", t.as_s());
    }
    let samples = |r: &Run| r.trace.samples(m, p, 37.0).map(|s| bits(&s)).collect::<Vec<_>>();
    assert_eq!(samples(&all), samples(&bounded));
    let from = Instant::from_s(0.93 * span_s);
    let first = |r: &Run| r.trace.steps_from(m, p, from).next().map(|k| (k.start, k.ns));
    assert_eq!(first(&all), first(&bounded));
    for place in 0..all.end.len() {
        assert_eq!(all.trace.highest(place), bounded.trace.highest(place), "state {place}");
    }
    assert_eq!(Missed::of(&all, m, p), Missed::of(&bounded, m, p));
    assert_eq!(Explanation::new(&all, m, p), Explanation::new(&bounded, m, p));
    let against = Against { crank_reserve_soc: 0.5, ..Against::nothing() };
    assert_eq!(Margins::of(&all, m, p, &against), Margins::of(&bounded, m, p, &against));
}

#[test]
fn a_plain_vehicle() {
    same(&van::model(), &log(12));
}

#[test]
fn a_vehicle_with_every_effect() {
    same(&full_model(), &log(10));
}

#[test]
fn a_short_run_keeps_all_its_steps() {
    let (m, p) = (van::model(), log(1));
    let (all, bounded) = (run(Record::Everything, &m, &p), run(Record::Bounded, &m, &p));
    assert_eq!(all.trace.knots().len(), bounded.trace.knots().len());
}
