//! A drive that begins thirty days later gives the same bits.

use sim_core::model::Piece;
use sim_core::{Instant, Model, Profile};
use sim_tests::look::run;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

const MONTH_NS: i64 = 30 * 86_400 * 1_000_000_000;

fn later(p: &Profile) -> Profile {
    let moved = |t: Instant| t.plus_ns(MONTH_NS);
    let pieces = p.pieces().iter().map(|q| Piece { start: moved(q.start), end: moved(q.end), ..q });
    Profile::new(pieces, p.start_clock_s).expect("still a profile")
}

fn same_bits(name: &str, m: &Model, p: &Profile) {
    let (a, b) = (run(m, p), run(m, &later(p)));
    let bits = |xs: &[f64]| xs.iter().map(|x| x.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&a.end), bits(&b.end), "{name}");
    assert_eq!(bits(&a.ledger.0), bits(&b.ledger.0), "{name}");
    assert_eq!(a.statistics, b.statistics, "{name}");
    assert_eq!(a.events.len(), b.events.len(), "{name}");
    for (x, y) in a.events.iter().zip(&b.events) {
        let moved = sim_core::record::Event { t: x.t.plus_ns(MONTH_NS), ..*x };
        assert_eq!(moved, *y, "{name}");
    }
    for (x, y) in a.trace.knots().iter().zip(b.trace.knots()) {
        assert_eq!((x.start.plus_ns(MONTH_NS), x.ns, x.dense), (y.start, y.ns, y.dense), "{name}");
    }
}

#[test]
fn a_month_later() {
    for (name, (m, p)) in
        [("reference van", reference_van()), ("thin run", thin_run()), ("absorption", absorption_day())]
    {
        same_bits(name, &m, &p);
    }
    for seed in 300..330 {
        let (m, p) = wild(seed);
        same_bits(&format!("seed {seed}"), &m, &p);
    }
}
