//! Where events may fall: on a step's start, on its end, several in one instant, with no delay at all; and their order.

use sim_core::logic::{Mode, Sight, Stage, Timer, fire_timer};
use sim_core::model::{Model, Piece};
use sim_core::network::{Limit, Net, Regime};
use sim_core::plant::battery::Emf;
use sim_core::record::{EventKind, Side};
use sim_core::{Instant, Run};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::dice::Dice;
use sim_tests::look::{run, times_s};
use sim_tests::plain;
use sim_tests::rig::steady_van;
use sim_tests::van::{absorption_day, model};

const ON: EventKind = EventKind::UnitOn;
const OFF: EventKind = EventKind::UnitOff;

/// On flat batteries, without cranking: the input jumps with the engine and stands still.
fn van() -> Model {
    let mut m = steady_van();
    m.vehicle.crank_s = 0.0;
    m
}

fn at_ns(r: &Run, t: Instant) -> Vec<EventKind> {
    let skipped = |k: &EventKind| matches!(k, EventKind::Limit { .. } | EventKind::AlternatorFull { .. });
    r.events.iter().filter(|e| e.t == t).map(|e| e.kind).filter(|k| !skipped(k)).collect()
}

#[test]
fn a_condition_true_from_the_first_instant() {
    let r = run(&van(), &day(&[(100.0, DRIVING)]));
    assert_eq!(at_ns(&r, Instant::ZERO), [EventKind::KeyOn]);
    assert_eq!(at_ns(&r, Instant::from_s(30.0)), [ON]);
    assert_eq!(at_ns(&r, Instant::from_s(32.0)), [EventKind::RampEnd]);
}

/// A timer that runs out as the piece ends held to the end: it fires, and before the piece changes.
#[test]
fn a_timer_that_ends_with_the_piece() {
    let r = run(&van(), &day(&[(30.0, DRIVING), (60.0, PARKED)]));
    assert_eq!(at_ns(&r, Instant::from_s(30.0)), [ON, EventKind::KeyOff]);
    // A nanosecond less and it never came on.
    let r = run(&van(), &day(&[(30.0 - 1e-9, DRIVING), (60.0, PARKED)]));
    assert_eq!(times_s(&r, ON), [0.0; 0]);
}

#[test]
fn a_turn_off_as_the_engine_starts_again() {
    let r = run(&van(), &day(&[(100.0, DRIVING), (2.0, PARKED), (100.0, DRIVING)]));
    assert_eq!(at_ns(&r, Instant::from_s(100.0)), [EventKind::KeyOff]);
    assert_eq!(at_ns(&r, Instant::from_s(102.0)), [OFF, EventKind::KeyOn]);
    assert_eq!(times_s(&r, ON), [30.0, 132.0]);
    // A nanosecond earlier the engine saves it: the condition is no longer true when the timer would have run out.
    let r = run(&van(), &day(&[(100.0, DRIVING), (2.0 - 1e-9, PARKED), (100.0, DRIVING)]));
    assert_eq!((times_s(&r, ON), times_s(&r, OFF)), (vec![30.0], vec![]));
}

/// Any dip resets a delay, however short.
#[test]
fn a_dip_starts_the_delay_anew() {
    let dip = Piece { set_point_v: 12.4, ..DRIVING };
    let r = run(&van(), &day(&[(29.0, DRIVING), (1e-9, dip), (100.0, DRIVING)]));
    assert_eq!(r.events.iter().find(|e| e.kind == ON).map(|e| e.t.ns()), Some(59_000_000_001));
}

#[test]
fn no_delays_at_all() {
    let mut m = van();
    m.links[0].start_stop.turn_on_delay_s = 0.0;
    m.links[0].start_stop.turn_off_delay_s = 0.0;
    m.links[0].converter.ramp_s = 0.0;
    let r = run(&m, &day(&[(10.0, PARKED), (50.0, DRIVING), (50.0, PARKED), (50.0, DRIVING)]));
    assert_eq!(at_ns(&r, Instant::from_s(10.0)), [EventKind::KeyOn, ON]);
    assert_eq!(at_ns(&r, Instant::from_s(60.0)), [EventKind::KeyOff, OFF]);
    assert_eq!(at_ns(&r, Instant::from_s(110.0)), [EventKind::KeyOn, ON]);
}

/// On, absorption and float in one instant: the target stands under what the house battery has already.
#[test]
fn all_stages_in_one_instant() {
    let mut m = van();
    let link = &mut m.links[0];
    link.converter.ramp_s = 0.0;
    link.stages.absorption_v = 13.0;
    (link.stages.float_v, link.stages.recharge_v) = (12.9, 12.0);
    link.stages.tail_hold_s = 0.0;
    let r = run(&m, &day(&[(60.0, DRIVING)]));
    let stage = |to| EventKind::Stage { to };
    assert_eq!(at_ns(&r, Instant::from_s(30.0)), [ON, stage(Stage::Absorption), stage(Stage::Float)]);
    // A cap of nothing ends it as well, with its own cause.
    m.links[0].stages.tail_hold_s = 60.0;
    m.links[0].stages.absorption_cap_s = 0.0;
    let r = run(&m, &day(&[(60.0, DRIVING)]));
    let last = r.events.iter().rfind(|e| e.kind == stage(Stage::Float)).expect("it floats");
    assert_eq!(last.t, Instant::from_s(30.0));
    assert_eq!(last.cause, sim_core::record::Cause::AbsorptionCap { cap_s: 0.0 });
}

/// Every event but the network's own is known in advance here, to the nanosecond.
#[test]
fn jumps_happen_on_the_nanosecond() {
    let weak = Piece { engine_rpm: 500.0, ..DRIVING };
    let r = run(&van(), &day(&[(60.0, DRIVING), (1.999_999_999, weak), (10.0, DRIVING), (5.0, weak)]));
    assert_eq!(times_s(&r, ON), [30.0]);
    // The first weak spell is a nanosecond too short.
    assert_eq!(times_s(&r, OFF), [73.999_999_999]);
    let limits: Vec<_> = r
        .events
        .iter()
        .filter(|e| matches!(e.kind, EventKind::Limit { from: Limit::Off, .. }))
        .map(|e| e.t.as_s())
        .collect();
    assert_eq!(limits, [30.0]);
}

/// Only the target voltage ends bulk: a weak source, an input limit or the soft start must not.
#[test]
fn only_the_target_ends_bulk() {
    let (m, p) = absorption_day();
    let entered = |m: &Model| {
        run(m, &p).events.into_iter().find(|e| e.kind == EventKind::Stage { to: Stage::Absorption })
    };
    let mut limited = m.clone();
    limited.links[0].converter.input_limit_a = 30.0;
    let mut floored = m.clone();
    floored.links[0].converter.floor_v = 13.4;
    for m in [&m, &limited, &floored] {
        let event = entered(m).expect("it comes to absorption");
        assert!((event.after.out_v - 14.2).abs() < 1e-9 && event.t.as_s() > 1000.0, "{event:?}");
    }
    let (plain, late) = (entered(&m).expect("it does").t, entered(&limited).expect("it does").t);
    assert!(late.since(plain) > 300.0, "less current takes longer");
}

/// Float ends when the unit's own output terminals, not the house posts, stand under recharge for its delay.
#[test]
fn recharge_is_read_at_the_output_terminals() {
    let mut m = van();
    let stages = &mut m.links[0].stages;
    (stages.absorption_v, stages.tail_a, stages.float_v) = (13.5, 36.0, 13.4);
    let loaded = |house_load_w: f64| Piece { house_load_w, ..DRIVING };
    let p = day(&[(300.0, loaded(0.0)), (300.0, loaded(1000.0)), (300.0, loaded(1500.0))]);
    let r = run(&m, &p);
    let stage = |to| times_s(&r, EventKind::Stage { to });
    let net = |t_s: f64| r.trace.at(&m, &p, Instant::from_s(t_s)).expect("within the run").net;
    assert!(net(599.0).house_v < 13.2 && net(599.0).out_v > 13.2, "the two must differ: {:?}", net(599.0));
    assert!(net(601.0).out_v < 13.2, "{:?}", net(601.0));
    assert_eq!((stage(Stage::Float).len(), stage(Stage::Bulk)), (1, vec![660.0]));
}

/// A full house battery at rest carries rounding and no current: it must not seem to leave its bound and come back.
#[test]
fn a_full_battery_at_rest_stays_full() {
    let mut d = Dice::new(7);
    for n in 0..200 {
        let mut m = model();
        plain(&mut m.house).start_soc = 1.0;
        plain(&mut m.house).r0_ohm = d.log_between(1e-3, 2e-2);
        plain(&mut m.house).emf = Emf::Linear { empty_v: 12.0, full_v: d.between(12.5, 14.5) };
        m.links[0].start_stop.turn_on_v = 20.0;
        let rest = |piece: Piece| Piece { house_load_w: 0.0, ..piece };
        let p = day(&[(10.0, rest(PARKED)), (10.0, rest(DRIVING)), (10.0, rest(PARKED))]);
        let r = run(&m, &p);
        let moved = |k: EventKind| matches!(k, EventKind::Bound { side: Side::House, .. });
        assert!(!r.events.iter().any(|e| moved(e.kind)), "vehicle {n}: {:?}", r.events);
        assert!(r.trace.knots().iter().all(|k| k.mode.house_hold.plain.saturated), "vehicle {n}");
    }
}

/// Timers due at one instant fire in a fixed order, whatever was started first.
#[test]
fn the_fixed_order() {
    let m = van();
    let net = Net::default();
    let piece = sim_tests::day::DRIVING;
    let y = sim_core::state::at_start(&m, 20.0, 20.0);
    let sight = Sight {
        model: &m,
        piece: &piece,
        t: Instant::from_s(10.0),
        y: &y,
        net: &net,
        regime: Regime::default(),
        house_room: f64::INFINITY,
        mode_house_hold: Default::default(),
        worn: Default::default(),
    };
    let fired = |on: bool, timers: &[Timer]| -> Vec<EventKind> {
        let mut mode = Mode { on, engine_runs: true, ..Mode::default() };
        for &timer in timers {
            mode.timers.start(timer, Instant::from_s(9.0), 1.0);
        }
        std::iter::from_fn(|| fire_timer(&mut mode, &sight)).map(|made| made.kind).collect()
    };
    let float = EventKind::Stage { to: Stage::Float };
    let bulk = EventKind::Stage { to: Stage::Bulk };
    // A turn-off forgets what else was due, but for the engine.
    let all = [Timer::Crank, Timer::Ramp, Timer::Recharge, Timer::Tail, Timer::TurnOn, Timer::TurnOff];
    assert_eq!(fired(true, &all), [OFF, EventKind::EngineRuns]);
    // Turn-on before the stage's timers before the end of cranking.
    assert_eq!(fired(false, &[Timer::Crank, Timer::Tail, Timer::TurnOn]), [ON, float, EventKind::EngineRuns]);
    // The soft start's end before the stages; the tail before the cap, which it makes moot.
    assert_eq!(fired(true, &[Timer::AbsorptionCap, Timer::Tail, Timer::Ramp]), [EventKind::RampEnd, float]);
    assert_eq!(fired(true, &[Timer::Crank, Timer::Recharge]), [bulk, EventKind::EngineRuns]);
    // What is not due does not fire.
    let mut mode = Mode { on: true, ..Mode::default() };
    mode.timers.start(Timer::TurnOff, sight.t, 1e-9);
    assert_eq!(fire_timer(&mut mode, &sight), None);
}

/// A drawing shows both sides of everything that switches: two samples at that instant, one in each mode.
#[test]
fn both_sides_of_every_switching_are_sampled() {
    for (name, m, p) in sim_tests::full::variants() {
        let r = run(&m, &p);
        let samples: Vec<_> = r.trace.samples_at_switchings(&m, &p, 1e9).collect();
        let mut shown = 0;
        // What stands at the very beginning has no side before it.
        for e in r.events.iter().filter(|e| e.t > r.span.0) {
            let of = |s: &&sim_core::record::Sample| s.t == e.t;
            let here: Vec<_> = samples.iter().filter(of).collect();
            let both =
                |is: fn(&Mode) -> bool| here.iter().any(|s| is(&s.mode)) && here.iter().any(|s| !is(&s.mode));
            let seen = match e.kind {
                EventKind::UnitOn | EventKind::UnitOff => both(|m| m.on),
                EventKind::RampEnd => both(Mode::ramping),
                EventKind::KeyOn | EventKind::KeyOff => both(|m| m.engine_runs),
                EventKind::EngineRuns => both(Mode::cranking),
                EventKind::AlternatorBegins => both(Mode::alternator_turns),
                EventKind::ChargeRefused { .. } => both(|m| m.refusal.is_some()),
                EventKind::LoadsShed { .. } => both(|m| m.shed),
                EventKind::Stage { .. } => here.len() >= 2,
                _ => continue,
            };
            assert!(seen, "{name}: {:?} at {} s", e.kind, e.t.as_s());
            shown += 1;
        }
        assert!(shown > 3, "{name}");
    }
}

/// A drive over midnight in which the unit never comes on: each day misses its own hours of the output limit.
#[test]
fn what_a_drive_over_midnight_misses_is_parted_between_its_days() {
    let mut m = van();
    m.links[0].start_stop.turn_on_v = 15.9;
    let on = |day, house_load_w| Piece { day, house_load_w, ..DRIVING };
    let p = day(&[(300.0, on(0, 60.0)), (300.0, on(0, 80.0)), (500.0, on(1, 60.0)), (700.0, on(1, 80.0))]);
    let r = run(&m, &p);
    let days = sim_core::record::missed::Missed::by_day(&r, &m, &p);
    let limit_a = m.links[0].converter.output_limit_a;
    let missed: Vec<f64> = days.iter().map(|d| d.never_on_ah).collect();
    assert_eq!(missed.len(), 2);
    for (missed_ah, seconds) in missed.iter().zip([600.0, 1200.0]) {
        assert!((missed_ah - limit_a * seconds / 3600.0).abs() < 1e-9, "{missed:?}");
    }
}
