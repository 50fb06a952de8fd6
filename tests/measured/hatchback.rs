//! A small petrol hatchback of 2014 with a fixed set-point that its own regulator compensates.

use crate::log::{Beside, HATCHBACK, Log, hatchback, median, rms, running_median};

/// Half of the running median's window, s: the control unit's volts carry aliased loads, which are not the model's.
const HALF_S: f64 = 15.0;
/// From here on after the start the logs are scored, s.
const SCORED_S: f64 = 60.0;
/// Cranking takes no time here: these logs begin at 400 rpm, and what cranks before is theirs.
const VEHICLE: &str = "[vehicle]\ncrank_s = 0\n[start_stop]\nturn_on_v = 20\n[drive]\nair_c = 26\n";

/// What a fit turns: cold and warm set-point, V, time constant, min.
type Fit = [f64; 3];
/// The defaults: nothing fitted to these logs, though they are among the 129 whose medians the defaults come from.
const DEFAULTS: Fit = [14.4, 13.75, 8.0];

fn predicted(log: &Log, [cold_v, warm_v, min]: Fit) -> Beside {
    let start = if log.is_hot() { "regulator_start_c = 90\n" } else { "" };
    let head = format!(
        "{VEHICLE}[alternator]\nset_point_v = {cold_v}\nwarm_set_point_v = {warm_v}\nregulator_warms_min = {min}\n{start}"
    );
    log.run(&head, &["engine_rpm"])
}

/// Times and errors, predicted less measured, both through the running median.
fn errors(log: &Log, fit: Fit) -> Vec<(f64, f64)> {
    let measured: Vec<(f64, f64)> = log.running(SCORED_S).collect();
    let run = predicted(log, fit);
    let posts: Vec<(f64, f64)> = measured.iter().map(|&(t, _)| (t, run.posts_v(log, t))).collect();
    let (measured, posts) = (running_median(&measured, HALF_S), running_median(&posts, HALF_S));
    measured.iter().zip(&posts).map(|(m, p)| (m.0, p.1 - m.1)).collect()
}

fn score(log: &Log, fit: Fit) -> f64 {
    rms(errors(log, fit).into_iter().map(|e| e.1))
}

/// Least squares by Gauss and Newton, from the defaults.
fn fitted(logs: &[Log]) -> Fit {
    let all = |fit: Fit| -> Vec<f64> { logs.iter().flat_map(|l| errors(l, fit)).map(|e| e.1).collect() };
    let mut fit = DEFAULTS;
    for _ in 0..3 {
        let here = all(fit);
        let steps = [0.01, 0.01, 0.2];
        let slopes: [Vec<f64>; 3] = std::array::from_fn(|n| {
            let mut moved = fit;
            moved[n] += steps[n];
            all(moved).iter().zip(&here).map(|(m, h)| (m - h) / steps[n]).collect()
        });
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        let mut a: [[f64; 4]; 3] = std::array::from_fn(|m| {
            std::array::from_fn(|n| if n < 3 { dot(&slopes[m], &slopes[n]) } else { -dot(&slopes[m], &here) })
        });
        for p in 0..3 {
            for m in p + 1..3 {
                let share = a[m][p] / a[p][p];
                for n in p..4 {
                    a[m][n] -= share * a[p][n];
                }
            }
        }
        for p in (0..3).rev() {
            let known: f64 = (p + 1..3).map(|n| a[p][n] * a[n][3]).sum();
            a[p][3] = (a[p][3] - known) / a[p][p];
            fit[p] += a[p][3];
        }
    }
    fit
}

/// Fitted on the two drives with a cold engine, checked on those with a warm one, and by the defaults on all four: 0.15 V RMS
/// after the first minute. This car does not warm alike on both: fitted on one of them, the other comes to 0.15 V or more.
/// `cold_idle` is no check: see below.
#[test]
fn warm_up_and_warm_level() {
    let Some(fit_on) = ["cold_commute", "cold_long"].map(hatchback).into_iter().collect::<Option<Vec<Log>>>()
    else {
        return;
    };
    let fit = fitted(&fit_on);
    println!("fitted: {:.2} V cold, {:.2} V warm, {:.1} min", fit[0], fit[1], fit[2]);
    assert!((14.1..14.6).contains(&fit[0]) && (13.5..13.9).contains(&fit[1]), "{fit:?}");
    assert!((4.0..14.0).contains(&fit[2]), "{fit:?}");
    // Fitted on one of the two, the other is missed by what this car's two warm-ups differ by.
    for (n, other) in [(0, 1), (1, 0)] {
        let one = fitted(&fit_on[n..=n]);
        let [here, there] = [n, other].map(|k| score(&fit_on[k], one));
        println!(
            "fitted on {} alone: {:.2} V cold, {:.2} V warm, {:.1} min; {here:.3} V RMS there, {there:.3} V on {}",
            fit_on[n].name, one[0], one[1], one[2], fit_on[other].name
        );
        assert!(there < 0.16, "{there}");
    }
    for name in HATCHBACK {
        let log = hatchback(name).expect("it was there");
        let (by_fit, by_default) = (score(&log, fit), score(&log, DEFAULTS));
        println!("{name}: {by_fit:.3} V RMS fitted, {by_default:.3} V by the defaults");
        if name != "cold_idle" {
            assert!(by_fit <= 0.15 && by_default <= 0.15, "{name}: {by_fit:.3} and {by_default:.3} V");
        }
    }
}

/// `cold_idle` lies half a volt low from 4 to 8 min and then comes back by itself, at idle: an electrical load beyond what the
/// alternator gives there, or a command to unload the engine. No input tells it, so it is explained and not scored. Before and
/// after that it is as the others.
#[test]
fn cold_idle_is_low_for_minutes_and_back() {
    let Some(log) = hatchback("cold_idle") else { return };
    let errors = errors(&log, DEFAULTS);
    let within =
        |from_s: f64, to_s: f64| median(errors.iter().filter(|e| (from_s..to_s).contains(&e.0)).map(|e| e.1));
    let (before, low, after) = (within(60.0, 180.0), within(300.0, 480.0), within(600.0, 900.0));
    println!("cold_idle, predicted less measured: {before:.2} V, then {low:.2} V, then {after:.2} V");
    assert!(before.abs() < 0.15 && low > 0.2 && after.abs() < 0.15);
}

/// Volts pass 13 V some seconds after the engine passes 400 rpm: measured 4.4 s (2.5 to 8.4 s) over 129 starts.
#[test]
fn volts_build_up_after_the_start() {
    let mut passed = [Vec::new(), Vec::new()];
    for name in HATCHBACK {
        let Some(log) = hatchback(name) else { return };
        let first = log.running(0.0).find(|p| p.1 > 13.0).expect("it charges").0;
        let run = predicted(&log, DEFAULTS);
        let steps = (0..200).map(|k| 0.1 * f64::from(k));
        let here = steps.into_iter().find(|&t| run.posts_v(&log, t) > 13.0).expect("it charges");
        println!("{name}: 13 V after {first:.1} s measured, {here:.1} s predicted");
        passed[0].push(first);
        passed[1].push(here);
    }
    let [measured, predicted] = passed.map(|p| median(p.into_iter()));
    assert!((2.5..=5.5).contains(&predicted), "{predicted} s, measured here {measured} s");
}
