//! Threshold pairs asked against a measured car: how long a unit would be on over its logs, and over what is predicted of them.

use crate::log::{HATCHBACK, Log, hatchback, running_median};
use sim_core::study::measured_cars::Pair;

const HIGH: Pair = Pair { on_v: 14.0, on_s: 120.0, off_v: 13.1, off_s: 2.0 };
const LOW: Pair = Pair { on_v: 13.6, on_s: 30.0, off_v: 12.8, off_s: 2.0 };

/// Share of the time with a running engine that a unit is on, and how often it drops out.
fn on_share(points: &[(f64, f64)], pair: &Pair, drop_v: f64) -> (f64, u32) {
    let on = pair.on(points, drop_v);
    (on.on_s / on.span_s, on.dropped_out)
}

/// Both sides through the running median: of single readings many are aliased loads.
fn both(log: &Log) -> [Vec<(f64, f64)>; 2] {
    let measured: Vec<(f64, f64)> = log.running(0.0).collect();
    let start = if log.is_hot() { "regulator_start_c = 90\n" } else { "" };
    let head = format!(
        "[vehicle]\ncrank_s = 0\n[start_stop]\nturn_on_v = 20\n[drive]\nair_c = 26\n[alternator]\nset_point_v = 14.4\n{start}"
    );
    let run = log.run(&head, &["engine_rpm"]);
    let posts: Vec<(f64, f64)> = measured.iter().map(|&(t, _)| (t, run.posts_v(log, t))).collect();
    [measured, posts].map(|points| running_median(&points, 15.0))
}

/// A warm engine never brings a fixed set-point of this kind to 14.0 V for two minutes; a cold one is predicted to at first, and
/// does on two of three drives: on `cold_long` it is warm before. With 13.6 V for 30 s it comes on on every drive.
#[test]
fn two_pairs_on_five_drives() {
    let mut agreed = 0;
    for name in HATCHBACK {
        let Some(log) = hatchback(name) else { return };
        let [measured, predicted] = both(&log);
        for (what, pair) in [("14.0 V for 120 s", HIGH), ("13.6 V for 30 s", LOW)] {
            for drop_v in [0.0, 0.6] {
                let (m, p) = (on_share(&measured, &pair, drop_v), on_share(&predicted, &pair, drop_v));
                println!(
                    "{name}, {what}, falling by {drop_v} V: on for {:.0} % measured, {:.0} % predicted; drop-outs {} and {}",
                    100.0 * m.0,
                    100.0 * p.0,
                    m.1,
                    p.1
                );
            }
        }
        let comes_on = |points: &[(f64, f64)], pair| on_share(points, pair, 0.0).0 > 0.0;
        agreed += u32::from(comes_on(&measured, &HIGH) == comes_on(&predicted, &HIGH));
        assert_eq!(comes_on(&predicted, &HIGH), !log.is_hot(), "{name}: predicted, 14.0 V");
        assert!(comes_on(&measured, &LOW) && comes_on(&predicted, &LOW), "{name}: 13.6 V");
    }
    assert_eq!(agreed, 4, "of five drives, at 14.0 V");
}

/// A log replayed shows its own volts at the posts, so that a unit can be tried on it.
#[test]
fn a_log_replays_its_volts() {
    let Some(log) = hatchback("cold_commute") else { return };
    let head = "[vehicle]\ncrank_s = 0\n[start_stop]\nturn_on_v = 20\n[drive]\nair_c = 26\n[alternator]\nbuild_up_s = 0\n";
    let run = log.run(head, &["engine_rpm", "volts"]);
    let measured: Vec<(f64, f64)> = log.running(60.0).collect();
    let posts: Vec<(f64, f64)> = measured.iter().map(|&(t, _)| (t, run.posts_v(&log, t))).collect();
    let (measured, posts) = (running_median(&measured, 15.0), running_median(&posts, 15.0));
    let off = crate::log::rms(measured.iter().zip(&posts).map(|(m, p)| p.1 - m.1));
    println!("replayed: {off:.3} V RMS from the log");
    assert!(off < 0.05, "{off} V");
    assert!(!run.events().is_empty());
}
