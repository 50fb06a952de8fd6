//! The same inputs give the same bits, whatever is recorded.

use sim_core::{Options, Record, Run, simulate};
use sim_tests::look::run;
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

fn bits(r: &Run) -> Vec<u64> {
    let nets = r.events.iter().flat_map(|e| {
        [e.before, e.after].into_iter().flat_map(|n| {
            [
                n.sb_v,
                n.in_v,
                n.out_v,
                n.house_v,
                n.alternator_a,
                n.starter_a,
                n.input_a,
                n.output_a,
                n.house_a,
            ]
        })
    });
    r.end.iter().chain(&r.ledger.0).copied().chain(nets).map(f64::to_bits).collect()
}

#[test]
fn two_runs_and_a_run_without_a_trace() {
    let wilds = (400..430).map(wild);
    for (n, (m, p)) in [reference_van(), thin_run(), absorption_day()].into_iter().chain(wilds).enumerate() {
        let full = run(&m, &p);
        let again = run(&m, &p);
        let options = Options { record: Record::Summary, ..Options::default() };
        let bare = simulate(&m, &p, &options).expect("it ran before");
        assert!(bare.trace.knots().is_empty() && !full.trace.knots().is_empty());
        for other in [&again, &bare] {
            assert_eq!(bits(&full), bits(other), "vehicle {n}");
            assert_eq!(full.events, other.events, "vehicle {n}");
            assert_eq!(full.stretches, other.stretches, "vehicle {n}");
            assert_eq!(full.extremes, other.extremes, "vehicle {n}");
            assert_eq!(full.statistics, other.statistics, "vehicle {n}");
            assert_eq!(full.closure, other.closure, "vehicle {n}");
        }
    }
}
