//! What the batteries' effects must show in a vehicle.

use sim_core::Model;
use sim_core::model::{Piece, SignalUse};
use sim_core::plant::battery::{Chemistry, LeadAcid, Lithium, ThermalNode};
use sim_core::record::{EventKind, Line};
use sim_core::state::{HOUSE, HOUSE_C, STARTER, STARTER_C};
use sim_tests::day::{DRIVING, PARKED, day};
use sim_tests::full::{full_model, warm_driving};
use sim_tests::look::{at, first, run};
use sim_tests::van;

fn lithium(m: &mut Model) -> &mut Lithium {
    match &mut m.house.chemistry {
        Chemistry::Lithium(b) => b,
        _ => panic!("the full van has a lithium house battery"),
    }
}

/// The full van with its unit kept off.
fn unit_off() -> Model {
    let mut m = full_model();
    m.links[0].start_stop.turn_on_v = 99.0;
    m
}

/// A full battery at 14.2 V at its posts takes the gassing current alone, under 2 A; a linear one takes ten times that
/// for ever. What gassed is booked, and the charge balance with it closes.
#[test]
fn a_full_starter_battery_takes_under_two_amperes() {
    let current = |linear: bool| {
        let mut m = unit_off();
        if linear {
            m.starter = van::model().starter;
            sim_tests::plain(&mut m.starter).start_soc = 1.0;
        } else {
            m.starter.chemistry = Chemistry::LeadAcid(LeadAcid::starter_flooded(80.0).with_start_soc(1.0));
        }
        m.alternator.set_point_v_per_k = 0.0;
        // The droop of the vehicle's 25 A and of what the battery takes on top: 14.2 V at the posts.
        let set_point_v = if linear { 14.47 } else { 14.275 };
        let piece = Piece { set_point_v, ..DRIVING };
        let p = day(&[(7200.0, piece)]);
        let r = run(&m, &p);
        let s = at(&r, &m, &p, 7199.0);
        assert!((s.net.sb_v - 14.2).abs() < 0.02, "{}", s.net.sb_v);
        (s.net.starter_a, r)
    };
    let (amps, r) = current(false);
    println!("a full starter battery takes {amps:.2} A; {:.2} Ah gassed", r.ledger.ah(Line::StarterGassedC));
    assert!(amps > 0.3 && amps < 2.0, "{amps} A");
    let gassed = r.ledger.ah(Line::StarterGassedC);
    assert!(gassed > 0.5, "{gassed} Ah");
    assert!(r.closure.charge < 1e-12, "{:e}", r.closure.charge);
    // Without the gassed charge the balance would be open by it.
    assert!(r.ledger.get(Line::StarterC) > 0.9 * r.ledger.get(Line::StarterGassedC));
    let (amps, _) = current(true);
    assert!(amps > 15.0, "{amps} A");
}

/// Surface charge: after an hour of driving the posts stand high, and fall fast at first, then for hours.
#[test]
fn surface_charge_leaves_at_several_rates() {
    let m = unit_off();
    let p = day(&[(3600.0, DRIVING), (6.0 * 3600.0, Piece { vehicle_load_a: 0.0, ..PARKED })]);
    let r = run(&m, &p);
    let after = |s: f64| at(&r, &m, &p, 3600.0 + s).net.sb_v;
    let [t10, t60, t1800, h1, h5] = [10.0, 60.0, 1800.0, 3600.0, 18_000.0].map(after);
    println!(
        "SB after key-off: 10 s {t10:.2}, 1 min {t60:.2}, 30 min {t1800:.2}, 1 h {h1:.2}, 5 h {h5:.2} V"
    );
    assert!(t10 > 13.4 && t10 - t60 > 0.3 && t60 - t1800 > 0.05 && t1800 > h1 && h1 > h5 && h5 > 12.5);
}

#[test]
fn hysteresis_holds_the_rested_volts_apart() {
    let rested = |v: f64| {
        let mut m = full_model();
        lithium(&mut m).hysteresis_v = v;
        let p =
            day(&[(60.0, PARKED), (5400.0, DRIVING), (4.0 * 3600.0, Piece { house_load_w: 0.0, ..PARKED })]);
        let r = run(&m, &p);
        at(&r, &m, &p, 5460.0 + 4.0 * 3600.0 - 1.0).net.house_v
    };
    let gap = rested(0.03) - rested(0.0);
    assert!(gap > 0.015 && gap <= 0.0301, "{gap} V after a charge of a quarter of the capacity");
}

#[test]
fn the_top_relaxes_over_tens_of_minutes() {
    let fall = |relaxes: bool| {
        let mut m = full_model();
        lithium(&mut m).start_soc = 0.97;
        lithium(&mut m).hysteresis_v = 0.0;
        if !relaxes {
            lithium(&mut m).top = None;
        }
        // In absorption to the end, and off with the key.
        m.links[0].stages.tail_a = 0.0;
        m.links[0].stages.absorption_cap_s = 1e6;
        m.links[0].start_stop.signal = SignalUse::Required;
        let bare = |p: Piece| Piece { house_load_w: 0.0, ..p };
        let p = day(&[(60.0, PARKED), (7200.0, bare(warm_driving())), (7200.0, bare(PARKED))]);
        let r = run(&m, &p);
        let v = |s: f64| at(&r, &m, &p, 7260.0 + s).net.house_v;
        (v(120.0) - v(1800.0), v(120.0) - v(7100.0))
    };
    let ((half, whole), (_, stays)) = (fall(true), fall(false));
    println!(
        "a full battery's volts fall by {half:.3} V in 30 min, {whole:.3} V in 2 h; the raw table's by {stays:.3} V"
    );
    assert!(half > 0.05 && whole > half + 0.02 && whole > stays + 0.1);
}

/// The step of the posts when the unit drops out is the series resistance: 2.5 times as much at 0 °C.
#[test]
fn cold_raises_the_series_resistance() {
    let r0 = |air_c: f64| {
        let mut m = full_model();
        m.house.thermal = ThermalNode::FIXED;
        m.house.start_c = air_c;
        m.protection = sim_core::model::Protection::NONE;
        let p = day(&[(60.0, PARKED), (600.0, DRIVING), (60.0, PARKED)]);
        let r = run(&m, &p);
        let off = first(&r, EventKind::UnitOff);
        (off.before.house_v - off.after.house_v) / (off.before.house_a - off.after.house_a)
    };
    let ratio = r0(0.0) / r0(25.0);
    assert!((ratio - 2.5).abs() < 0.01, "{ratio}");
}

#[test]
fn a_lay_up_costs_the_house_battery_its_self_discharge() {
    let lost = |per_month: f64| {
        let mut m = full_model();
        // Lags of tenths of a second have no say in a month.
        m.alternator.pick_up = None;
        m.links[0].start_stop.filter_s = 0.0;
        lithium(&mut m).self_discharge_per_s = per_month / (30.0 * 86_400.0);
        let p = day(&[(30.0 * 86_400.0, Piece { house_load_w: 0.0, ..PARKED })]);
        let r = run(&m, &p);
        (1.0 - r.end[HOUSE] / r.start[HOUSE], r.ledger.ah(Line::HouseSelfC))
    };
    let (share, ah) = lost(0.02);
    // A share of what is there: it falls as exp(−0.02).
    assert!((share - 0.0198).abs() < 1e-4 && ah > 1.0, "{share} {ah}");
    assert_eq!(lost(0.0), (0.0, 0.0));
}

#[test]
fn batteries_warm_themselves_and_cool_to_the_air() {
    let m = full_model();
    let cold = |p: Piece| Piece { air_c: 5.0, ..p };
    let mut fixed = m.clone();
    (fixed.starter.thermal, fixed.house.thermal) = (ThermalNode::FIXED, ThermalNode::FIXED);
    let p = day(&[(60.0, cold(PARKED)), (3600.0, cold(DRIVING)), (6.0 * 3600.0, cold(PARKED))]);
    let (r, still) = (run(&m, &p), run(&fixed, &p));
    let driven = at(&r, &m, &p, 3660.0).state;
    // Both start at 20 °C in air of 5 °C.
    for (place, name) in [(STARTER_C, "starter"), (HOUSE_C, "house")] {
        assert!(r.start[place] == 20.0 && r.end[place] < driven[place] && r.end[place] > 5.0, "{name}");
        assert_eq!(still.end[place], 20.0, "{name}");
    }
    // A cold starter battery accepts less.
    let mut arctic = m.clone();
    arctic.starter.start_c = -15.0;
    let icy = run(&arctic, &p);
    let taken = |r: &sim_core::Run| r.stretches[1].end[STARTER] - r.start[STARTER];
    assert!(taken(&icy) < 0.8 * taken(&r), "{} against {}", taken(&icy), taken(&r));
}

/// Rules that open and close the house battery's charge path show in its current, and the unit carries the load alone.
#[test]
fn while_charge_is_refused_the_unit_carries_the_load() {
    let (m, p) = sim_tests::full::cold_start();
    let r = run(&m, &p);
    let refused = first(&r, EventKind::ChargeRefused { why: Some(sim_core::logic::Refusal::Cold) }).t.as_s();
    let allowed = first(&r, EventKind::ChargeRefused { why: None }).t.as_s();
    let on = first(&r, EventKind::UnitOn).t.as_s();
    let mut t = on.max(refused) + 10.0;
    while t < allowed {
        let net = at(&r, &m, &p, t).net;
        assert!(net.house_a <= 1e-9, "{} A into a battery that refuses", net.house_a);
        assert!((net.output_a - net.house_load_a + net.house_a).abs() < 1e-9, "the unit carries the load");
        t += 60.0;
    }
    assert!(at(&r, &m, &p, allowed + 60.0).net.house_a > 20.0);
}

/// A starter battery in the engine bay warms with it, within an hour or so, takes more charge there and gasses more; once the
/// engine stands it cools again.
#[test]
fn a_starter_battery_in_the_bay_warms_with_it() {
    let driven = |in_bay: bool| {
        let mut m = unit_off();
        m.vehicle.starter_in_bay = in_bay;
        m.alternator.set_point_v_per_k = 0.0;
        let hot = Piece { bay_c: 60.0, air_c: 20.0, ..DRIVING };
        let parked = Piece { bay_c: 20.0, air_c: 20.0, ..PARKED };
        let r = run(&m, &day(&[(2.0 * 3600.0, hot)]));
        let cool = run(&m, &day(&[(2.0 * 3600.0, hot), (8.0 * 3600.0, parked)]));
        (
            r.end[STARTER_C],
            cool.end[STARTER_C],
            r.ledger.ah(Line::StarterC),
            r.ledger.ah(Line::StarterGassedC),
        )
    };
    let (outside, bay) = (driven(false), driven(true));
    println!(
        "°C after two hours and eight parked, Ah in, Ah gassed: {outside:.2?} outside, {bay:.2?} in the bay"
    );
    assert!((45.0..60.0).contains(&bay.0) && outside.0 < 25.0, "{outside:?} {bay:?}");
    assert!((bay.1 - 20.0).abs() < 1.0, "{bay:?}");
    assert!(bay.2 > 1.2 * outside.2 && bay.3 > 1.5 * outside.3, "{outside:?} {bay:?}");
}
