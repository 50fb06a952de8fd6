//! A fuse with a typed curve under a steady current: the sum over the run's steps against time over opening time.

use sim_core::record::fuse::Fuse;
use sim_tests::day::day;
use sim_tests::look::{at, first, run};
use sim_tests::rig::{BARE, bare};

#[test]
fn wear_at_a_steady_current_is_time_over_opening_time() {
    let m = bare(13.0, 0.01, 400.0);
    let p = day(&[(3600.0, BARE)]);
    let r = run(&m, &p);
    let i = at(&r, &m, &p, 1800.0).net.input_a;
    let on_s = 3600.0 - first(&r, sim_core::record::EventKind::UnitOn).t.as_s();
    // Half way, in logarithms, between two points of the curve: 40,000 s.
    let fuse = Fuse { rating_a: i / 1.5, curve: vec![(1.0, 160_000.0), (2.25, 10_000.0), (6.0, 1.0)] };
    let work = fuse.work(&r, &m, &p);
    let wear = work.wear.expect("a curve");
    assert!((wear - on_s / 40_000.0).abs() < 1e-6 * wear, "{wear} against {}", on_s / 40_000.0);
    assert!((work.hard_s - on_s).abs() < 1e-6 && (work.most_a - i).abs() < 1e-6 * i, "{work:?}");
    // Without a curve nothing is claimed about it; a bigger fuse under its first point does not wear.
    let bare_rating = Fuse { curve: Vec::new(), ..fuse.clone() };
    assert_eq!(bare_rating.work(&r, &m, &p).wear, None);
    let bigger = Fuse { rating_a: 2.0 * i, ..fuse };
    let work = bigger.work(&r, &m, &p);
    assert_eq!((work.wear, work.hard_s), (Some(0.0), 0.0));
}
