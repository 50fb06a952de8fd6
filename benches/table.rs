//! Prints the table of times: medians of whole runs, with how far each ends from the reference at 1e-11.
//!
//! Words behind `--` choose rows: `cargo bench -p sim-benches --bench table -- full cycles` prints those whose names hold
//! all of them.

use sim_benches::{naive, work};
use sim_core::engine::Stepper;
use sim_core::record::{Event, EventKind};
use sim_core::state::HOUSE;
use sim_core::{Model, Options, Profile, Record, Run, simulate};
use sim_tests::full::full_model;
use sim_tests::replay::{Method, Replay};
use sim_tests::van::{model, thin_run};
use std::hint::black_box;
use std::time::Instant;

/// Median time of a call, µs, over at least half a second or seven calls.
fn median_us(mut call: impl FnMut()) -> f64 {
    let mut times = Vec::new();
    let begin = Instant::now();
    while times.len() < 7 || (begin.elapsed().as_secs_f64() < 0.5 && times.len() < 2000) {
        let at = Instant::now();
        call();
        times.push(at.elapsed().as_secs_f64() * 1e6);
    }
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

/// Whether a row is asked for.
fn wanted(name: &str) -> bool {
    std::env::args().skip(1).filter(|word| !word.starts_with('-')).all(|word| name.contains(&word))
}

fn options(stepper: Stepper, tolerance: f64) -> Options {
    Options { stepper, tolerance, record: Record::Summary, ..Options::default() }
}

fn go(m: &Model, p: &Profile, o: &Options) -> Run {
    simulate(m, p, o).unwrap_or_else(|e| panic!("{e}"))
}

/// How a run stands against the exact one: SOC, worst event in ms, or that the events differ.
fn off(exact: &Run, r: &Run) -> String {
    let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
    let soc = (exact.end[HOUSE] - r.end[HOUSE]).abs();
    if kinds(exact) != kinds(r) {
        return format!("SOC {soc:.0e}, other events");
    }
    let pairs = exact.events.iter().zip(&r.events);
    let ms = pairs.map(|(a, b)| 1e3 * (a.t.as_s() - b.t.as_s()).abs()).fold(0.0, f64::max);
    format!("SOC {soc:.0e}, events {ms:.0e} ms")
}

/// Whether a run is as exact as speed is quoted for: house SOC within 1e-6, every event within 2 ms.
fn within(exact: &Run, r: &Run) -> bool {
    let same = exact.events.len() == r.events.len();
    let near = |(a, b): (&Event, &Event)| a.kind == b.kind && (a.t.as_s() - b.t.as_s()).abs() <= 2e-3;
    same && (exact.end[HOUSE] - r.end[HOUSE]).abs() <= 1e-6 && exact.events.iter().zip(&r.events).all(near)
}

/// The same equations by diffsol between the instants of switching, which it is given: it looks for none, books no ledger.
fn by_diffsol(name: &str, m: &Model, p: &Profile, exact: &Run, ours_us: f64) {
    let replay = Replay::new(m, p);
    for (method, tolerance) in [(Method::Tsit45, 1e-6), (Method::Bdf, 1e-6)] {
        let soc = (replay.by(method, tolerance, m).end[HOUSE] - exact.end[HOUSE]).abs();
        let us = median_us(|| {
            black_box(replay.by(method, tolerance, m));
        });
        println!(
            "| {name} | diffsol {method:?} {tolerance:.0e} | {us:.1} µs | {:.1} times ours | {} stretches, switchings given | \
             SOC {soc:.0e} |",
            us / ours_us,
            replay.stretches()
        );
    }
}

/// The rows of one piece of work; ratios are to the fastest run of ours that is exact enough.
fn rows(name: &str, m: &Model, p: &Profile, unit: (f64, &str)) {
    if !wanted(name) {
        return;
    }
    let exact = go(m, p, &options(Stepper::Reference, 1e-11));
    let mut good_enough = f64::INFINITY;
    for (stepper, tolerance) in [
        (Stepper::Reference, 1e-8),
        (Stepper::Fast, 1e-8),
        (Stepper::Fast, 1e-7),
        (Stepper::Fast, 1e-6),
        (Stepper::Fast, 1e-5),
        (Stepper::Fast, 1e-4),
    ] {
        let o = options(stepper, tolerance);
        let r = go(m, p, &o);
        let us = median_us(|| {
            black_box(go(m, p, &o));
        });
        println!(
            "| {name} | {stepper:?} {tolerance:.0e} | {us:.1} µs | {:.3} {} | {} steps, {:.0} ns each | {} |",
            us / unit.0,
            unit.1,
            r.statistics.steps,
            1e3 * us / r.statistics.steps as f64,
            off(&exact, &r)
        );
        if stepper == Stepper::Fast && within(&exact, &r) {
            good_enough = us.min(good_enough);
        }
    }
    by_diffsol(name, m, p, &exact, good_enough);
    if m.starter.plain().is_some() {
        let outcome = naive::run(m, p, 1.0);
        let us = median_us(|| {
            black_box(naive::run(m, p, 1.0));
        });
        let on = exact.events.iter().filter(|e| e.kind == EventKind::UnitOn).count();
        println!(
            "| {name} | naive 1 s | {us:.1} µs | {:.3} {} | {} steps | SOC {:.0e}, came on {} times of {on} |",
            us / unit.0,
            unit.1,
            outcome.steps,
            (outcome.house_soc - exact.end[HOUSE]).abs(),
            outcome.came_on
        );
        println!("| {name} | | naive / fast = {:.1} | | | |", us / good_enough);
    }
}

/// Summary-only clean days per second on one and on two threads.
fn throughput(name: &str, m: &Model) {
    if !wanted(&format!("{name}, clean days")) {
        return;
    }
    let p = work::clean_day();
    for tolerance in [1e-8, 1e-7, 1e-6, 1e-5, 1e-4] {
        let o = options(Stepper::Fast, tolerance);
        let many = |threads: usize| {
            let begin = Instant::now();
            let runs = 2000usize;
            std::thread::scope(|scope| {
                for _ in 0..threads {
                    scope.spawn(|| (0..runs).for_each(|_| drop(black_box(go(m, &p, &o)))));
                }
            });
            (threads * runs) as f64 / begin.elapsed().as_secs_f64()
        };
        let (one, two) = (many(1), many(2));
        println!(
            "| {name}, clean days | Fast {tolerance:.0e} | {one:.0} /s | {two:.0} /s on two | {:.2} × | |",
            two / one
        );
    }
}

fn main() {
    println!(
        "| work | method | median | per unit | steps | against the reference at 1e-11 |\n|---|---|---|---|---|---|"
    );
    let (plain, full) = (model(), full_model());
    let (thin, hunting) = thin_run();
    let cycles = |m: &Model, p: &Profile| {
        let r = go(m, p, &options(Stepper::Fast, 1e-8));
        r.events.iter().filter(|e| e.kind == EventKind::UnitOn).count() as f64
    };
    let whole = (1.0, "µs");
    let mut thin_full = full.clone();
    thin_full.links[0].input_cable = thin.links[0].input_cable.clone();
    for (name, m) in [("plain", &plain), ("full", &full)] {
        rows(&format!("{name}, clean day of 8 h"), m, &work::clean_day(), whole);
        let week = work::week();
        rows(&format!("{name}, week in {} pieces", week.pieces().len()), m, &week, whole);
        let m_thin = if name == "plain" { &thin } else { &thin_full };
        let n = cycles(m_thin, &hunting).max(1.0);
        rows(&format!("{name}, {n} cycles"), m_thin, &hunting, (n, "µs per cycle"));
        rows(&format!("{name}, 1 Hz for 1800 s"), m, &work::one_hertz(), (1800.0, "µs per input second"));
        throughput(name, m);
        for days in [1.0, 30.0].into_iter().filter(|days| wanted(&format!("{name}, {days} days parked"))) {
            let p = work::parked(days);
            let exact = go(m, &p, &options(Stepper::Reference, 1e-11));
            for tolerance in [1e-8, 1e-5] {
                let o = options(Stepper::Fast, tolerance);
                let us = median_us(|| {
                    black_box(go(m, &p, &o));
                });
                let r = go(m, &p, &o);
                let (steps, off) = (r.statistics.steps, off(&exact, &r));
                println!(
                    "| {name}, {days} days parked | Fast {tolerance:.0e} | {us:.1} µs | | {steps} steps | {off} |"
                );
            }
        }
    }
}
