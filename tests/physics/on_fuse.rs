//! Fuses that open: against closed forms under steady, stepped and pulsed currents, and what the vehicle does then.

use sim_core::logic::Stage;
use sim_core::model::{Piece, SignalUse};
use sim_core::network::Limit;
use sim_core::plant::fuse::{Curve, Edge, Fuse, FusePlace, KINDS, Opening};
use sim_core::record::fuse::{FuseWork, at as work_at};
use sim_core::record::{Cause, EventKind};
use sim_core::{Model, Options, Profile, Record, Run, Stepper, simulate, simulate_from};
use sim_tests::day::{DRIVING, PARKED, day, drive_then_park};
use sim_tests::full::{full_model, variants};
use sim_tests::look::{at, first, run, times_s};
use sim_tests::rig::{BARE, DRIVING_BARE, bare};
use sim_tests::van;

const STEPPERS: [Stepper; 2] = [Stepper::Reference, Stepper::Fast];

fn by(stepper: Stepper, m: &Model, p: &Profile) -> Run {
    simulate(m, p, &Options { stepper, ..Options::default() }).unwrap_or_else(|e| panic!("{e}"))
}

fn curve() -> Curve {
    Curve::new([(1.1, 90_000.0), (1.35, 1500.0), (2.0, 60.0), (6.0, 1.0)])
}

fn typed(rating_a: f64) -> Fuse {
    Fuse { rating_a, kind: None, breaks_a: None, opening: Some(Opening::typed(curve())) }
}

fn of_kind(n: usize, rating_a: f64) -> Fuse {
    let kind = &KINDS[n];
    let opening = Some(Opening::of_kind(kind));
    Fuse { rating_a, kind: Some(kind.name), breaks_a: Some(kind.breaks_a), opening }
}

fn fit(m: &mut Model, place: FusePlace, fuse: Fuse) {
    let link = &mut m.links[0];
    let slot = match place {
        FusePlace::InputBatteryEnd => &mut link.input_cable.battery_end_fuse,
        FusePlace::InputUnitEnd => &mut link.input_cable.unit_end_fuse,
        FusePlace::OutputBatteryEnd => &mut link.output_cable.battery_end_fuse,
        FusePlace::OutputUnitEnd => &mut link.output_cable.unit_end_fuse,
    };
    *slot = Some(fuse);
}

fn fitted(m: &Model, place: FusePlace, fuse: Fuse) -> Model {
    let mut m = m.clone();
    fit(&mut m, place, fuse);
    m
}

fn work(r: &Run, place: FusePlace) -> &FuseWork {
    work_at(&r.fuses, place).expect("a fuse there")
}

fn opened_s(r: &Run, place: FusePlace) -> Option<f64> {
    let events = times_s(r, EventKind::FuseOpened { at: place });
    assert!(events.len() <= 1, "it opens once: {events:?}");
    assert_eq!(events.first().copied(), work(r, place).opened.map(|o| o.at_s));
    events.first().copied()
}

/// A steady current opens it after the curve's time, at every place and by either stepper.
#[test]
fn a_steady_current_opens_it_at_the_curve_s_time() {
    let m = bare(13.0, 0.01, 400.0);
    let p = day(&[(7200.0, BARE)]);
    let r = run(&m, &p);
    let net = at(&r, &m, &p, 1800.0).net;
    let on_s = first(&r, EventKind::UnitOn).t.as_s();
    for place in FusePlace::ALL {
        let amps = if place.on_input() { net.input_a } else { net.output_a };
        for ratio in [1.2, 1.35, 1.7, 2.0, 3.0, 6.0, 9.0] {
            let wanted_s = curve().opens_after_s(ratio);
            for stepper in STEPPERS {
                let r = by(stepper, &fitted(&m, place, typed(amps / ratio)), &p);
                let Some(opened_s) = opened_s(&r, place) else {
                    assert!(wanted_s > 7200.0 - on_s, "{place:?} at {ratio}");
                    let worn = work(&r, place).worn_at(Edge::Between).expect("a curve").most;
                    let share = (7200.0 - on_s) / wanted_s;
                    assert!((worn / share - 1.0).abs() < 1e-9, "{place:?} at {ratio}: {worn} of {share}");
                    continue;
                };
                let off = (opened_s - on_s) / wanted_s - 1.0;
                assert!(off.abs() < 1e-9 + 2e-9 / wanted_s, "{place:?} at {ratio}: {off:e}, {stepper:?}");
                let w = work(&r, place);
                assert!((w.most_a / amps - 1.0).abs() < 1e-9 && (w.hard_s - wanted_s).abs() < 1e-6, "{w:?}");
                let Cause::OverRating { amps: told, .. } =
                    first(&r, EventKind::FuseOpened { at: place }).cause
                else {
                    panic!("another cause")
                };
                assert!((told / amps - 1.0).abs() < 1e-9);
            }
        }
        // Under its first point it stands for ever, and keeps its warmth.
        let r = run(&fitted(&m, place, typed(amps / 1.05)), &p);
        assert_eq!(
            (opened_s(&r, place), work(&r, place).worn_at(Edge::Early).map(|w| w.most)),
            (None, Some(0.0))
        );
        // Nothing but a rating: nothing is claimed.
        let r = run(&fitted(&m, place, Fuse { opening: None, ..typed(amps / 9.0) }), &p);
        assert_eq!((opened_s(&r, place), work(&r, place).worn), (None, None));
        assert!((work(&r, place).hard_s - (7200.0 - on_s)).abs() < 1e-6);
    }
}

/// Each type opens between its edges, at their logarithmic mean; the quickest would have long before.
#[test]
fn a_type_opens_between_its_edges() {
    let m = bare(13.0, 0.01, 400.0);
    let p = day(&[(7200.0, BARE)]);
    let r = run(&m, &p);
    let amps = at(&r, &m, &p, 1800.0).net.input_a;
    let on_s = first(&r, EventKind::UnitOn).t.as_s();
    let place = FusePlace::InputBatteryEnd;
    for n in 0..KINDS.len() {
        for ratio in [1.35, 2.0, 3.5] {
            let fuse = of_kind(n, amps / ratio);
            let curves = fuse.opening.clone().expect("a type").curves;
            let [early_s, _, late_s] = [0, 1, 2].map(|e| curves[e].opens_after_s(ratio));
            let vehicle = fitted(&m, place, fuse);
            let mean_s = (early_s * late_s).sqrt();
            for (edge, wanted_s) in [(Edge::Early, early_s), (Edge::Between, mean_s), (Edge::Late, late_s)] {
                let r = run(&vehicle.opening_at(edge), &p);
                let after_s = opened_s(&r, place).expect("it opens") - on_s;
                assert!((after_s / wanted_s - 1.0).abs() < 1e-6, "{:?} {edge:?}: {after_s}", KINDS[n]);
                let through = |e| work(&r, place).worn_at(e).expect("a type").through_at_s.map(|t| t - on_s);
                if edge != Edge::Early {
                    let early = through(Edge::Early).expect("the quickest is through");
                    assert!((early / early_s - 1.0).abs() < 1e-6, "{:?}: {early} of {early_s}", KINDS[n]);
                }
                assert_eq!(through(Edge::Late).is_some(), edge == Edge::Late);
                let late = work(&r, place).opened.expect("it opens").late_after_s;
                assert!((late - (late_s - wanted_s)).abs() < 1e-6 * late_s, "{late}");
            }
        }
    }
}

/// Steps of current add up: a joint that gets worse step by step makes the constant-power unit draw more.
#[test]
fn steps_of_current_add_up() {
    let m = bare(13.0, 0.01, 400.0);
    let worse = |milliohm: f64| Piece { input_joint_extra_ohm: milliohm * 1e-3, ..BARE };
    let p = day(&[(300.0, worse(0.0)), (200.0, worse(30.0)), (100.0, worse(60.0)), (3600.0, worse(80.0))]);
    let r = run(&m, &p);
    let amps = [100.0, 400.0, 550.0, 1000.0].map(|t| at(&r, &m, &p, t).net.input_a);
    assert!(amps.windows(2).all(|w| w[1] > w[0] + 2.0), "{amps:?}");
    let on_s = first(&r, EventKind::UnitOn).t.as_s();
    let rating_a = amps[0] / 1.36;
    let takes_s = amps.map(|a| curve().opens_after_s(a / rating_a));
    let worn = (300.0 - on_s) / takes_s[0] + 200.0 / takes_s[1] + 100.0 / takes_s[2];
    assert!((0.3..1.0).contains(&worn), "{worn}");
    let wanted_s = 600.0 + (1.0 - worn) * takes_s[3];
    for stepper in STEPPERS {
        let r = by(stepper, &fitted(&m, FusePlace::InputUnitEnd, typed(rating_a)), &p);
        let opened_s = opened_s(&r, FusePlace::InputUnitEnd).expect("it opens");
        assert!((opened_s - wanted_s).abs() < 1e-6, "{stepper:?}: {opened_s} of {wanted_s}");
    }
}

/// Pulses: what is worn fades between them over the fuse's own time, so that long pauses save it and short ones do not.
#[test]
fn it_cools_between_pulses() {
    let mut m = bare(13.0, 0.01, 400.0);
    m.links[0].start_stop.signal = SignalUse::Required;
    let on = Piece { run_signal: true, ..BARE };
    let place = FusePlace::InputBatteryEnd;
    let steady = day(&[(600.0, on)]);
    let amps = at(&run(&m, &steady), &m, &steady, 300.0).net.input_a;
    let fuse = typed(amps / 1.7);
    let o = fuse.opening.clone().expect("a curve");
    let takes_s = curve().opens_after_s(1.7);
    fit(&mut m, place, fuse);
    // The turn-on delay is a second, so each pulse lasts one less than its piece.
    let pulse_s = 0.4 * takes_s;
    for (pause_s, opens_in) in
        [(0.1 * o.cools_s, Some(3)), (0.4 * o.cools_s, Some(5)), (3.0 * o.cools_s, None)]
    {
        let p = day(&[(pulse_s + 1.0, on), (pause_s, BARE)].repeat(12));
        let left = (-(pause_s + 1.0) / o.cools_s).exp();
        let (mut worn, mut wanted_s, mut most) = (0.0, None, 0.0f64);
        for n in 0..12 {
            let begins_s = f64::from(n) * (pulse_s + 1.0 + pause_s) + 1.0;
            if worn + 0.4 >= 1.0 {
                wanted_s = Some((n + 1, begins_s + (1.0 - worn) * takes_s));
                break;
            }
            most = most.max(worn + 0.4);
            worn = (worn + 0.4) * left;
        }
        assert_eq!(wanted_s.map(|w| w.0), opens_in);
        for stepper in STEPPERS {
            let r = by(stepper, &m, &p);
            match (wanted_s, opened_s(&r, place)) {
                (Some((_, wanted_s)), Some(found_s)) => {
                    assert!((found_s - wanted_s).abs() < 1e-5, "{stepper:?}: {found_s} of {wanted_s}");
                }
                (None, None) => {
                    let worn = work(&r, place).worn_at(Edge::Between).expect("a curve").most;
                    assert!((worn / most - 1.0).abs() < 1e-6, "{worn} of {most}");
                }
                other => panic!("{other:?}"),
            }
        }
    }
}

/// A fuse that does not open changes no bit of a run, whatever the model and the stepper.
#[test]
fn one_that_holds_changes_no_bit() {
    let vehicles = [van::reference_van(), van::thin_run(), van::absorption_day()];
    let full = variants().into_iter().map(|(_, m, p)| (m, p));
    for (m, p) in vehicles.into_iter().chain(full) {
        let mut with = m.clone();
        // Worn, and so looked at closely, but never through.
        let slow = Opening::typed(Curve::new([(1.05, 1e9), (6.0, 1e6)]));
        for place in FusePlace::ALL {
            fit(&mut with, place, Fuse { opening: Some(slow.clone()), ..typed(20.0) });
        }
        for stepper in STEPPERS {
            let (a, b) = (by(stepper, &m, &p), by(stepper, &with, &p));
            assert_eq!(a.events, b.events);
            assert_eq!(a.end.map(f64::to_bits), b.end.map(f64::to_bits));
            assert_eq!(a.ledger.0.map(f64::to_bits), b.ledger.0.map(f64::to_bits));
            assert_eq!(a.statistics, b.statistics);
            let worn = |f: &FuseWork| f.worn_at(Edge::Between).expect("a curve").most;
            assert!(a.fuses.is_empty() && b.fuses.len() == 4);
            assert!(b.fuses.iter().all(|f| worn(f) > 1e-7 && worn(f) < 1.0), "{:?}", b.fuses);
        }
    }
}

/// Both steppers open the same fuses at the same instants, in plain and full vehicles, and all books close.
#[test]
fn both_steppers_agree() {
    let plain = [("plain", van::reference_van()), ("thin run", van::thin_run())].map(|(n, (m, p))| (n, m, p));
    let mut opened = 0;
    for (name, m, p) in plain.into_iter().chain(variants()) {
        let most = run(&m, &p);
        let Some(most_in) = most.extremes.input_a.map(|m| m.value) else { continue };
        for (place, kind, times) in [
            (FusePlace::InputBatteryEnd, 2, 1.5),
            (FusePlace::InputBatteryEnd, 0, 1.38),
            (FusePlace::InputUnitEnd, 4, 1.7),
            (FusePlace::OutputBatteryEnd, 4, 1.5),
            (FusePlace::OutputUnitEnd, 2, 1.9),
        ] {
            let rating_a = if place.on_input() { most_in / times } else { 40.0 / times };
            let with = fitted(&m, place, of_kind(kind, rating_a));
            let tight = Options { tolerance: 1e-11, stepper: Stepper::Reference, ..Options::default() };
            let a = simulate(&with, &p, &tight).expect("a run");
            let b = by(Stepper::Fast, &with, &p);
            let kinds = |r: &Run| r.events.iter().map(|e| e.kind).collect::<Vec<_>>();
            assert_eq!(kinds(&a), kinds(&b), "{name}, {place:?}");
            let (x, y) = (opened_s(&a, place), opened_s(&b, place));
            if let (Some(x), Some(y)) = (x, y) {
                opened += 1;
                assert!((x - y).abs() < 2e-3, "{name}, {place:?}: {x} and {y}");
            }
            assert!(b.closure.charge < 1e-9 && b.closure.energy < 1e-6, "{name}: {:?}", b.closure);
            let worn = |r: &Run| work(r, place).worn_at(Edge::Early).expect("a type").most;
            assert!((worn(&a) / worn(&b) - 1.0).abs() < 1e-3, "{name}: {} and {}", worn(&a), worn(&b));
        }
    }
    assert!(opened > 20, "{opened}");
}

/// Behind an open input the unit is dead for good: it drops out after its delay though its run signal is live, and does not
/// come back with the next engine start.
#[test]
fn an_open_input_stays_dead() {
    let mut m = van::model();
    m.links[0].start_stop.signal = SignalUse::Either;
    let place = FusePlace::InputBatteryEnd;
    fit(&mut m, place, of_kind(2, 30.0));
    let live = |p: Piece| Piece { run_signal: p.engine_runs(), ..p };
    let p = day(&[
        (60.0, PARKED),
        (2700.0, live(DRIVING)),
        (600.0, PARKED),
        (1800.0, live(DRIVING)),
        (600.0, PARKED),
    ]);
    for stepper in STEPPERS {
        let r = by(stepper, &m, &p);
        let t_s = opened_s(&r, place).expect("it opens");
        assert!(t_s < 1000.0, "{t_s}");
        let offs = times_s(&r, EventKind::UnitOff);
        assert!(offs.len() == 1 && (offs[0] - t_s - 2.0).abs() < 1e-9, "{offs:?}");
        assert_eq!(times_s(&r, EventKind::UnitOn).len(), 1);
        for later in [t_s + 0.5, 2000.0, 4000.0] {
            let s = at(&r, &m, &p, later);
            assert_eq!((s.net.in_v, s.net.input_a, s.net.output_a), (0.0, 0.0, 0.0), "at {later} s");
            assert!(s.mode.open.input() && !s.mode.open.output());
        }
        assert!(r.closure.charge < 1e-10 && r.closure.energy < 1e-7, "{:?}", r.closure);
    }
}

/// With its output open the unit holds its target at its own terminals, gives nothing, draws its fixed loss, and its stages
/// go on as with a full battery; the house lives from its battery.
#[test]
fn an_open_output_is_held_at_the_target() {
    let place = FusePlace::OutputBatteryEnd;
    let m = fitted(&van::model(), place, of_kind(2, 25.0));
    let p = drive_then_park(2700.0, 3600.0);
    for stepper in STEPPERS {
        let r = by(stepper, &m, &p);
        let t_s = opened_s(&r, place).expect("it opens");
        let s = at(&r, &m, &p, t_s + 10.0);
        assert!(s.mode.on && s.mode.stage == Stage::Absorption && s.regime.limit == Limit::Idle, "{s:?}");
        assert_eq!((s.net.output_a, s.net.out_v), (0.0, 14.2));
        let fed_w = s.net.in_v * s.net.input_a;
        assert!((fed_w - 4.0).abs() < 1e-9, "{fed_w}");
        assert!(s.net.house_a < -1.0 && (s.net.house_a + s.net.house_load_a).abs() < 1e-9, "{:?}", s.net);
        // A current of nothing is under the tail current: float after a minute.
        let s = at(&r, &m, &p, t_s + 100.0);
        assert!(s.mode.stage == Stage::Float && s.net.out_v == 13.5, "{s:?}");
        let soc = |t: f64| at(&r, &m, &p, t).state[sim_core::state::HOUSE];
        assert!(soc(2000.0) < soc(t_s) - 1e-4 && soc(5000.0) < soc(2000.0));
        // Off, its terminals are dead.
        let off_s = times_s(&r, EventKind::UnitOff)[0];
        assert_eq!(at(&r, &m, &p, off_s + 60.0).net.out_v, 0.0);
        assert!(r.closure.charge < 1e-10 && r.closure.energy < 1e-7, "{:?}", r.closure);
    }
    // The sun goes on charging.
    let sunny = day(&[(2700.0, Piece { house_solar_w: 200.0, ..DRIVING })]);
    let r = run(&m, &sunny);
    let net = at(&r, &m, &sunny, 2600.0).net;
    assert!(opened_s(&r, place).is_some() && net.house_a > 5.0 && net.output_a == 0.0, "{net:?}");
}

/// A run that is handed on half way to the opening goes on with the wear it has.
#[test]
fn wear_is_handed_on() {
    let place = FusePlace::InputBatteryEnd;
    let m = fitted(&van::model(), place, of_kind(2, 30.0));
    let p = drive_then_park(2700.0, 3600.0);
    let options = Options::default();
    let whole = run(&m, &p);
    let t_s = opened_s(&whole, place).expect("it opens");
    let on_s = first(&whole, EventKind::UnitOn).t.as_s();
    let middle = sim_core::Instant::from_s(0.5 * (on_s + t_s));
    let first_half = simulate(&m, &p.between(p.start(), middle).expect("a part"), &options).expect("a run");
    assert_eq!(opened_s(&first_half, place), None);
    let rest = p.between(middle, p.end()).expect("a part");
    let second = simulate_from(&m, &rest, &options, &first_half.standing).expect("a run");
    let found_s = opened_s(&second, place).expect("it opens");
    assert!((found_s - t_s).abs() < 1e-5, "{found_s} of {t_s}");
    // And open it stays.
    let again = p.between(sim_core::Instant::from_s(2000.0), p.end()).expect("a part");
    let until = simulate(&m, &p.between(p.start(), again.start()).expect("a part"), &options).expect("a run");
    let third = simulate_from(&m, &again, &options, &until.standing).expect("a run");
    assert!(third.standing.mode.open.input() && times_s(&third, EventKind::UnitOn).is_empty());
}

/// In bounded memory the steps that are taken again open the fuse again, at the same instant and with the same bits.
#[test]
fn bounded_memory_opens_it_again() {
    let place = FusePlace::InputBatteryEnd;
    let m = fitted(&full_model(), place, of_kind(2, 30.0));
    let rows: Vec<(f64, Piece)> = (0..4000)
        .map(|n| (1.0, Piece { engine_rpm: 2000.0 + 200.0 * f64::from(n % 7), ..DRIVING }))
        .collect();
    let p = day(&rows);
    let by =
        |record| simulate(&m, &p, &Options { record, most_kept: 64, ..Options::default() }).expect("a run");
    let (all, bounded) = (by(Record::Everything), by(Record::Bounded));
    let t_s = opened_s(&all, place).expect("it opens");
    assert_eq!((all.events, all.fuses), (bounded.events.clone(), bounded.fuses.clone()));
    for t in [t_s - 1.0, t_s + 1.0, t_s + 500.0, 3900.0] {
        let t = sim_core::Instant::from_s(t);
        let of = |r: &Run| r.trace.at(&m, &p, t).map(|s| (s.net, s.state.map(f64::to_bits), s.mode));
        assert_eq!(all.trace.at(&m, &p, t).map(|s| (s.net, s.state.map(f64::to_bits), s.mode)), of(&bounded));
    }
}

/// What the conductor comes to at the late edge: the closed form told at the opening against a run that opens there. The unit
/// stands at its input limit, so its current is steady.
#[test]
fn the_late_edge_heats_as_the_closed_form_says() {
    let place = FusePlace::InputBatteryEnd;
    let mut m = full_model();
    let link = &mut m.links[0];
    link.converter.input_limit_a = 42.0;
    (link.converter.derate_from_c, link.converter.derate_to_c) = (400.0, 500.0);
    (link.converter.lock_c, link.converter.output_limit_a) = (f64::INFINITY, 60.0);
    fit(&mut m, place, of_kind(4, 30.0));
    // A bad joint warms with the others, by its own resistance.
    let driving = Piece { input_joint_extra_ohm: 0.004, ..DRIVING_BARE };
    let p = day(&[(60.0, PARKED), (3600.0, driving)]);
    let told = work(&run(&m, &p), place).opened.expect("it opens");
    let late_run = run(&m.opening_at(Edge::Late), &p);
    let late = work(&late_run, place).opened.expect("it opens late");
    assert!(
        (late.at_s - told.at_s - told.late_after_s).abs() < 0.02 * told.late_after_s,
        "{told:?} {late:?}"
    );
    let s = at(&late_run, &m, &p, late.at_s);
    let hottest = s.state[12..16].iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let found = told.late_conductor_c.expect("conductors that warm");
    println!("conductor at the late edge: {found:.2} °C told, {hottest:.2} °C in the run");
    assert!((found - hottest).abs() < 0.1, "{found} and {hottest}");
    let joints = told.late_joints_c.expect("joints that warm");
    assert!((joints - s.state[sim_core::state::INPUT_JOINTS_C]).abs() < 0.1, "{joints}");
}
