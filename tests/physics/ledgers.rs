//! Charge and energy close: what came in is stored, used or lost. Every ledger line is integrated on its own.

use sim_core::model::Piece;
use sim_core::network::Limit;
use sim_core::record::ledger::{Ledger, Line, closure};
use sim_core::{Model, Profile};
use sim_tests::balance::Span;
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::look::run_at;
use sim_tests::plain;
use sim_tests::rig::{BARE, bare};
use sim_tests::van::{absorption_day, model, reference_van, thin_run};
use sim_tests::wild::wild;

/// The van parked in the sun, driven in the sun, and its regulator above and below what the unit holds.
fn solar_day() -> (Model, Profile) {
    let mut m = model();
    plain(&mut m.house).start_soc = 0.7;
    let sun = |watts: f64, piece: Piece| Piece { house_solar_w: watts, ..piece };
    let p = day(&[
        (3600.0, sun(150.0, PARKED)),
        (5400.0, sun(300.0, DRIVING)),
        (7200.0, sun(40.0, PARKED)),
        (3600.0, sun(200.0, DRIVING)),
        (7200.0, sun(250.0, PARKED)),
    ]);
    (m, p)
}

fn vans() -> [(&'static str, Model, Profile); 4] {
    let named = |name, (m, p)| (name, m, p);
    [
        named("reference van", reference_van()),
        named("thin run", thin_run()),
        named("absorption and float", absorption_day()),
        named("solar", solar_day()),
    ]
}

#[test]
fn close_on_the_vans() {
    for (name, m, p) in vans() {
        let tight = run_at(1e-11, &m, &p).closure;
        assert!(tight.charge <= 1e-12, "{name}: {tight:?}");
        assert!(tight.energy <= 1e-9, "{name}: {tight:?}");
        // At the default tolerance charge closes as well, by construction of its weights; energy reaches 4e-10.
        let loose = run_at(1e-8, &m, &p).closure;
        assert!(loose.charge <= 1e-12, "{name}: {loose:?}");
        assert!(loose.energy <= 1e-9, "{name}: {loose:?}");
    }
}

/// Asserts the four balances of charge over a stretch, from the lines alone: each closes to 1e-12 of its greatest line, but
/// for rounding.
fn charge_closes(name: &str, m: &Model, span: &Span) {
    let open = span.charge(m).into_iter().find_map(|b| b.open(1e-12));
    assert_eq!(open, None, "{name}");
}

/// Wild batteries turn steep corners: what is left there shrinks with the tolerance, so it is error and not a leak.
#[test]
fn close_on_two_hundred_wild_vehicles() {
    for seed in 0..200 {
        let (m, p) = wild(seed);
        for (tolerance, energy) in [(1e-11, 2e-9), (1e-12, 1e-9)] {
            let r = run_at(tolerance, &m, &p);
            charge_closes(&format!("seed {seed}"), &m, &Span::of(&r));
            assert!(r.closure.energy <= energy, "seed {seed} at {tolerance}: {:?}", r.closure);
        }
    }
}

/// A source that cannot even give the fixed loss: what the unit takes is lost in it, no more and no less.
#[test]
fn close_on_a_source_too_weak_for_the_fixed_loss() {
    // 12 V behind 5 Ω give 7.2 W at most.
    let mut m = bare(12.0, 5.0, 100.0);
    m.links[0].converter.loss.fixed_w = 10.0;
    let r = run_at(1e-11, &m, &day(&[(600.0, BARE)]));
    let last = r.trace.knots().last().expect("steps");
    assert_eq!(last.regime.limit, Limit::Starved);
    let (taken, lost) = (r.ledger.get(Line::InputJ), r.ledger.get(Line::UnitLossJ));
    assert!((taken - 7.2 * 599.0).abs() < 1e-6 && (taken - lost).abs() < 1e-9, "{taken} J in, {lost} J lost");
    assert_eq!(r.ledger.get(Line::OutputJ), 0.0);
}

/// Per drive and per parked stretch too, each from the states at its own ends.
#[test]
fn close_over_every_stretch() {
    for (name, m, p) in vans() {
        let r = run_at(1e-11, &m, &p);
        assert!(r.stretches.len() >= 3, "{name}");
        let mut from = r.start;
        let mut sum = Ledger::default();
        for stretch in &r.stretches {
            let c = closure(&m, &stretch.ledger, &from, &stretch.end);
            let seconds = stretch.to.since(stretch.from);
            let (ledger, to) = (&stretch.ledger, &stretch.end);
            charge_closes(name, &m, &Span { ledger, from: &from, to, seconds, steps: r.statistics.steps });
            assert!(c.energy <= 1e-9, "{name}: {c:?}");
            from = stretch.end;
            sum.add(&stretch.ledger, 1.0);
        }
        for (a, b) in sum.0.iter().zip(&r.ledger.0) {
            assert!((a - b).abs() <= 1e-12 * b.abs().max(1.0), "{name}: {a} against {b}");
        }
    }
}

/// A lead-acid battery that warms and comes back to the degree from which it began: what it stored hangs on the way, so it is
/// not that of a battery whose temperature never moved.
#[test]
fn closes_where_a_temperature_comes_round() {
    let text = "format = 2\n[[drive.piece]]\nduration_h = 0.811\nengine_rpm = 0\nvehicle_load_a = 10\n[[drive.piece]]\n\
                duration_h = 83300\nengine_rpm = 0\n";
    let (_, r) = sim_tests::shipped::case(text).resolve().expect("a scenario");
    let run = run_at(1e-8, &r.model, &r.profile);
    assert_eq!(run.start[sim_core::state::STARTER_C], run.end[sim_core::state::STARTER_C]);
    assert!(run.closure.energy < 1e-8, "{:?}", run.closure);
}
