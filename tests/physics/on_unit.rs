//! What the unit's options must show: sense, floor, stages, filter, compensation.

use sim_core::logic::Stage;
use sim_core::model::{Piece, SignalUse};
use sim_core::network::{Limit, Sense};
use sim_core::record::{Cause, EventKind, Line};
use sim_core::{Model, Profile, Run};
use sim_tests::day::{DRIVING, PARKED, day, drive_then_park};
use sim_tests::look::{at, run, samples, times_s};
use sim_tests::van::{self, thin_run};

fn with(make: fn() -> (Model, Profile), change: impl Fn(&mut Model)) -> (Model, Profile, Run) {
    let (mut m, p) = make();
    change(&mut m);
    let r = run(&m, &p);
    (m, p, r)
}

/// Behind a resistive run, sense at the terminals ends the charge early; sense at the posts lets OUT rise above.
#[test]
fn remote_sense_charges_through_a_resistive_run() {
    let resistive = |sense| {
        with(van::reference_van, move |m| {
            m.links[0].output_cable.joints_ohm = 0.026;
            m.links[0].converter.sense = sense;
        })
    };
    let (m, p, near) = resistive(Sense::Terminals);
    assert!(at(&near, &m, &p, 1800.0).net.out_v <= 14.2 + 1e-9);
    let (m, p, far) = resistive(Sense::HousePosts);
    let net = at(&far, &m, &p, 1800.0).net;
    assert!(net.out_v > 14.5 && net.house_v < 14.2 && net.output_a > 39.9, "{net:?}");
    let ah = |r: &Run| r.ledger.ah(Line::OutputC);
    assert!(ah(&far) > 1.3 * ah(&near), "{} {}", ah(&far), ah(&near));
}

/// A floor turns the cliff into a slope: it gives up amps instead of dropping out.
#[test]
fn a_floor_gives_up_current_instead_of_hunting() {
    let drop_outs = |r: &Run| times_s(r, EventKind::UnitOff).iter().filter(|t| **t < 2760.0).count();
    let ah = |r: &Run| r.ledger.ah(Line::OutputC);
    let (_, _, hunts) = with(thin_run, |_| {});
    let (m, p, holds) = with(thin_run, |m| m.links[0].converter.floor_v = 13.0);
    assert!(drop_outs(&hunts) > 30 && drop_outs(&holds) == 0);
    let s = at(&holds, &m, &p, 1800.0);
    assert!(s.regime.limit == Limit::Floor && (s.net.in_v - 13.0).abs() < 1e-9, "{s:?}");
    assert!(s.net.output_a > 15.0 && s.net.output_a < 40.0 && ah(&holds) > 5.0 * ah(&hunts));
}

/// A blown fuse: the input is dead at once, the unit drops out after its delay, and draws not even its standby.
#[test]
fn an_open_cable_leaves_a_dead_input() {
    let m = van::model();
    let open = |p: Piece| Piece { input_open: true, ..p };
    let p = day(&[(60.0, PARKED), (600.0, DRIVING), (600.0, open(DRIVING)), (600.0, open(PARKED))]);
    let r = run(&m, &p);
    assert_eq!(times_s(&r, EventKind::UnitOff), [660.0 + 2.0]);
    for t in [660.5, 700.0, 1800.0] {
        let net = at(&r, &m, &p, t).net;
        assert_eq!((net.in_v, net.input_a, net.output_a), (0.0, 0.0, 0.0), "at {t} s");
        assert!(net.sb_v > 12.0, "{net:?}");
    }
    assert!(r.closure.charge < 1e-12 && r.closure.energy < 1e-9, "{:?}", r.closure);
    // Put back, it starts again.
    let p = day(&[(300.0, DRIVING), (60.0, open(DRIVING)), (600.0, DRIVING)]);
    assert_eq!(times_s(&run(&m, &p), EventKind::UnitOn).len(), 2);
}

/// Lead-acid charge volts follow the battery's temperature: higher when cold, by so much a kelvin.
#[test]
fn stages_follow_the_battery_s_temperature() {
    let held_v = |air_c: f64, v_per_k: f64| {
        let mut m = van::absorption_day().0;
        m.links[0].stages.v_per_k = v_per_k;
        // Its temperature is that of the air, and stays.
        m.house.start_c = air_c;
        (m.links[0].stages.tail_a, m.links[0].stages.absorption_cap_s) = (0.0, 1e6);
        let cool = |p: Piece| Piece { air_c, ..p };
        let p = day(&[(60.0, cool(PARKED)), (7000.0, cool(DRIVING))]);
        let r = run(&m, &p);
        at(&r, &m, &p, 7000.0).net.out_v
    };
    for air_c in [5.0, 40.0] {
        let moved = held_v(air_c, -0.024) - held_v(air_c, 0.0);
        assert!((moved + 0.024 * (air_c - 25.0)).abs() < 1e-9, "{moved} V at {air_c} °C");
    }
}

/// A fixed supply holds its volts and knows no stage.
#[test]
fn a_fixed_supply_holds_one_voltage() {
    let (m, p, r) = with(van::absorption_day, |m| m.links[0].stages.fixed_supply = true);
    assert!(!r.events.iter().any(|e| matches!(e.kind, EventKind::Stage { .. })));
    for t in [4000.0, 5500.0, 7000.0] {
        assert!((at(&r, &m, &p, t).net.out_v - 14.2).abs() < 1e-9);
    }
    let (m, p, staged) = with(van::absorption_day, |_| {});
    assert!(at(&staged, &m, &p, 7000.0).net.out_v < 13.6, "a charger would be in float by now");
}

/// Short drives on a full battery whose load hides the tail, the unit off with the key: what a turn-on begins with, and
/// what the cap counts.
fn short_drives(change: impl Fn(&mut Model)) -> Run {
    let mut m = van::model();
    sim_tests::plain(&mut m.house).start_soc = 0.995;
    m.links[0].stages.absorption_cap_s = 1500.0;
    change(&mut m);
    m.links[0].start_stop.signal = SignalUse::Required;
    let loaded = |p: Piece| Piece { house_load_w: 150.0, run_signal: p.engine_runs(), ..p };
    let stretches: Vec<_> =
        (0..6).flat_map(|_| [(900.0, loaded(DRIVING)), (120.0, loaded(PARKED))]).collect();
    run(&m, &day(&stretches))
}

fn floats(r: &Run) -> Vec<(f64, bool)> {
    let to_float = r.events.iter().filter(|e| e.kind == EventKind::Stage { to: Stage::Float });
    to_float.map(|e| (e.t.as_s(), matches!(e.cause, Cause::AbsorptionCap { .. }))).collect()
}

/// Counted each time, a cap longer than the drives never ends an absorption; counted over all, it does.
#[test]
fn a_cumulative_cap_ends_absorption_on_short_drives() {
    assert_eq!(floats(&short_drives(|_| {})), []);
    let ended = floats(&short_drives(|m| m.links[0].stages.cap_cumulative = true));
    assert!(!ended.is_empty() && ended.iter().all(|(_, by_cap)| *by_cap), "{ended:?}");
    // Some 25 minutes of absorption are over on the second drive.
    assert!(ended[0].0 > 1020.0 && ended[0].0 < 2400.0, "{ended:?}");
}

/// A unit that resumes comes back in the stage it left; one that does not begins again with bulk.
#[test]
fn resume_goes_on_where_it_left() {
    let back_in_bulk = |resume| {
        let r = short_drives(|m| {
            m.links[0].stages.resume = resume;
            m.links[0].stages.absorption_cap_s = 300.0;
        });
        let entered = r.events.iter().filter(|e| e.kind == EventKind::Stage { to: Stage::Absorption });
        entered.count()
    };
    assert_eq!((back_in_bulk(false), back_in_bulk(true)), (6, 1));
}

/// A dip of half a second: without a delay it trips the unit, behind a filter of two seconds it does not.
#[test]
fn a_filter_passes_over_short_dips() {
    let drop_outs = |filter_s: f64| {
        let mut m = van::model();
        m.links[0].start_stop.turn_off_delay_s = 0.0;
        m.links[0].start_stop.filter_s = filter_s;
        let dip = Piece { vehicle_load_a: 250.0, ..DRIVING };
        let p = day(&[(60.0, PARKED), (600.0, DRIVING), (0.5, dip), (600.0, DRIVING)]);
        let r = run(&m, &p);
        let lowest = samples(&r, &m, &p).map(|s| s.net.in_v).filter(|v| *v > 0.0).fold(99.0, f64::min);
        assert!(lowest < 12.8, "{lowest} V: the dip is a dip");
        times_s(&r, EventKind::UnitOff).len()
    };
    assert_eq!((drop_outs(0.0), drop_outs(2.0)), (1, 0));
}

/// A unit that adds the drop of the run it was told of sees the starter posts: the thin run does not make it hunt.
#[test]
fn compensation_sees_the_starter_posts() {
    let drop_outs = |r: &Run| times_s(r, EventKind::UnitOff).iter().filter(|t| **t < 2760.0).count();
    let (m, p, r) = with(thin_run, |m| {
        m.links[0].start_stop.compensation_ohm = m.links[0].input_cable.resistance_ohm();
    });
    assert_eq!(drop_outs(&r), 0);
    let net = at(&r, &m, &p, 1800.0).net;
    assert!(net.in_v < 12.8 && net.sb_v > 13.5, "{net:?}");
    // Told too little, it hunts as before.
    let (_, _, half) = with(thin_run, |m| m.links[0].start_stop.compensation_ohm = 0.002);
    assert!(drop_outs(&half) > 30);
}

/// A shortest time off holds a unit back whose input has long been good again.
#[test]
fn a_shortest_time_off_slows_the_hunting() {
    let starts = |least_off_s: f64| {
        let (_, _, r) = with(thin_run, |m| m.links[0].start_stop.least_off_s = least_off_s);
        times_s(&r, EventKind::UnitOn)
    };
    let (free, held) = (starts(0.0), starts(120.0));
    assert!(held.len() * 3 < free.len() && held.windows(2).all(|w| w[1] - w[0] >= 150.0));
}

/// Every voltage of the plain van doubled, every resistance doubled, amperes and ampere-hours kept: the same times.
#[test]
fn a_vehicle_of_24_v_is_the_12_v_one_scaled() {
    let twin = scaled(van::model(), 2.0, 2.0);
    for p in [drive_then_park(2700.0, 3600.0), drive_then_park(600.0, 600.0)] {
        let pieces = p.pieces().iter().map(|q| Piece {
            set_point_v: 2.0 * q.set_point_v,
            house_load_w: 2.0 * q.house_load_w,
            ..q
        });
        let doubled = Profile::new(pieces, 0.0).expect("the same pieces");
        let (small, large) = (run(&van::model(), &p), run(&twin, &doubled));
        let events = |r: &Run| r.events.iter().map(|e| (e.t, e.kind)).collect::<Vec<_>>();
        assert_eq!(events(&small).len(), events(&large).len());
        for ((t, kind), (t2, kind2)) in events(&small).into_iter().zip(events(&large)) {
            assert!(kind == kind2 && (t.as_s() - t2.as_s()).abs() < 1e-4, "{kind:?} at {t:?} and {t2:?}");
        }
        for line in [Line::OutputC, Line::InputC, Line::StarterOutC, Line::HouseLoadC] {
            let (a, b) = (small.ledger.ah(line), large.ledger.ah(line));
            assert!((a - b).abs() < 1e-6, "{}: {a} Ah against {b} Ah", line.key());
        }
        for line in [Line::UnitLossJ, Line::InputCableJ, Line::AlternatorJ] {
            let (a, b) = (small.ledger.wh(line), large.ledger.wh(line));
            assert!((2.0 * a - b).abs() < 1e-5, "{}: {a} Wh against {b} Wh", line.key());
        }
    }
}

/// Volts and ohms of the starter side times `starter`, of the house side times `house`; watts with the house side.
fn scaled(mut m: Model, starter: f64, house: f64) -> Model {
    m.alternator.set_point_v *= starter;
    m.alternator.droop_ohm *= starter;
    scale_battery(&mut m.starter, starter);
    scale_battery(&mut m.house, house);
    let link = &mut m.links[0];
    for (run, by) in [(&mut link.input_cable, starter), (&mut link.output_cable, house)] {
        run.joints_ohm *= by;
        run.conductors.iter_mut().for_each(|c| c.ohm_20 *= by);
    }
    link.start_stop.turn_on_v *= starter;
    link.start_stop.turn_off_v *= starter;
    let loss = &mut link.converter.loss;
    (loss.fixed_w, loss.square_per_w) = (loss.fixed_w * house, loss.square_per_w / house);
    let stages = &mut link.stages;
    for v in [&mut stages.absorption_v, &mut stages.float_v, &mut stages.recharge_v] {
        *v *= house;
    }
    m
}

fn scale_battery(battery: &mut sim_core::plant::battery::Battery, by: f64) {
    use sim_core::pchip::Pchip;
    use sim_core::plant::battery::Emf;
    use sim_core::plant::battery::LFP;
    let b = sim_tests::plain(battery);
    b.r0_ohm *= by;
    b.branch_ohm = b.branch_ohm.map(|r| r * by);
    b.emf = match &b.emf {
        Emf::Linear { empty_v, full_v } => Emf::Linear { empty_v: empty_v * by, full_v: full_v * by },
        Emf::Table(_) => {
            let volts = van::EXAMPLE_CELL_V.map(|v| 4.0 * v * by);
            Emf::Table(Pchip::new(LFP.soc, &volts).expect("it still rises"))
        }
    };
}

/// 24 V vehicle to 12 V house, 12 V vehicle to 24 V and 48 V house: the same watts cross, at other amps.
#[test]
fn any_pair_of_voltages() {
    for (starter, house) in [(2.0, 1.0), (1.0, 2.0), (1.0, 4.0), (2.0, 4.0), (4.0, 1.0)] {
        let mut m = scaled(van::model(), starter, house);
        // The same power whatever the house side's volts.
        m.links[0].converter.output_limit_a = 40.0 / house;
        m.links[0].converter.loss = van::model().links[0].converter.loss;
        sim_tests::plain(&mut m.house).capacity_c /= house;
        let drive = Piece { set_point_v: 14.2 * starter, ..DRIVING };
        let p = day(&[(60.0, PARKED), (2700.0, drive), (600.0, PARKED)]);
        let r = run(&m, &p);
        let net = at(&r, &m, &p, 1800.0).net;
        let (in_w, out_w) = (net.in_v * net.input_a, net.out_v * net.output_a);
        println!(
            "{} V to {} V: {:.1} A in, {:.1} A out",
            12.0 * starter,
            12.0 * house,
            net.input_a,
            net.output_a
        );
        assert!((net.output_a - 40.0 / house).abs() < 1e-9 && (500.0..580.0).contains(&out_w), "{net:?}");
        let lost = m.links[0].converter.loss.lost_w(out_w);
        assert!((in_w - out_w - lost).abs() < 1e-6 && net.in_v > 12.8 * starter, "{net:?}");
        assert!(r.closure.charge < 1e-11 && r.closure.energy < 1e-7, "{:?}", r.closure);
        assert!(r.end[sim_core::state::HOUSE] > r.start[sim_core::state::HOUSE] + 0.05);
    }
}
