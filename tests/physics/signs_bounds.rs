//! Nothing is lost below zero, nothing holds more than it can, volts fall in the direction of current.

use sim_core::network::source::SourceState;
use sim_core::network::{Limit, Sense};
use sim_core::record::Line;
use sim_core::state::{HOUSE, STARTER};
use sim_core::{Model, Profile, Run};
use sim_tests::look::{run, samples};
use sim_tests::van::{absorption_day, reference_van, thin_run};
use sim_tests::wild::wild;

/// Rounding of a sum over a run: what a line of nothing may fall below zero, C or J.
const NOTHING: f64 = 1e-6;

fn every_vehicle(mut check: impl FnMut(&str, &Model, &Profile, &Run)) {
    let vans = [reference_van(), thin_run(), absorption_day()];
    let wilds = (0..120).map(wild);
    for (n, (m, p)) in vans.into_iter().chain(wilds).enumerate() {
        check(&format!("vehicle {n}"), &m, &p, &run(&m, &p));
    }
}

#[test]
fn no_loss_is_negative() {
    use Line::*;
    let lines = [
        VehicleC,
        StarterLostC,
        StarterRefusedC,
        StarterUnservedC,
        InputC,
        OutputC,
        SolarC,
        HouseLoadC,
        HouseLostC,
        HouseRefusedC,
        HouseUnservedJ,
        VehicleJ,
        StarterHeatJ,
        InputCableJ,
        InputJ,
        UnitLossJ,
        OutputJ,
        OutputCableJ,
        SolarJ,
        HouseLoadJ,
        HouseHeatJ,
        AlternatorC,
        AlternatorJ,
        StarterOutC,
    ];
    every_vehicle(|name, _, _, r| {
        for line in lines {
            let value = r.ledger.get(line);
            assert!(value >= -NOTHING, "{name}: {} is {value}", line.key());
            for s in &r.stretches {
                assert!(s.ledger.get(line) >= -NOTHING, "{name}: {} in a stretch", line.key());
            }
        }
        assert!(r.ledger.get(OutputJ) <= r.ledger.get(InputJ) + NOTHING, "{name}: the unit makes energy");
    });
}

#[test]
fn state_of_charge_stays_in_its_range() {
    every_vehicle(|name, m, p, r| {
        for s in samples(r, m, p) {
            for (what, soc) in [("starter", s.state[STARTER]), ("house", s.state[HOUSE])] {
                assert!((-1e-9..=1.0 + 1e-9).contains(&soc), "{name}: {what} {soc} at {} s", s.t.as_s());
            }
        }
    });
}

#[test]
fn input_never_stands_above_the_posts() {
    every_vehicle(|name, m, p, r| {
        for s in samples(r, m, p) {
            let t = s.t.as_s();
            assert!(s.net.in_v <= s.net.sb_v + 1e-12, "{name} at {t} s: {:?}", s.net);
            assert!(s.net.out_v >= s.net.house_v - 1e-9, "{name} at {t} s: {:?}", s.net);
            assert!(s.net.input_a >= 0.0 && s.net.output_a >= -1e-9, "{name} at {t} s: {:?}", s.net);
        }
    });
}

/// Only sources raise the posts: above the set-point the alternator gives nothing, so the starter posts then stand at
/// or under the battery's own EMF. The house posts likewise, with the unit's target and the sun's set-point.
#[test]
fn posts_stand_no_higher_than_what_raises_them() {
    every_vehicle(|name, m, p, r| {
        for s in samples(r, m, p) {
            let t = s.t.as_s();
            let set_v = p.pieces().at(s.piece).set_point_v;
            let emf = |battery: &sim_core::plant::battery::Battery, first: usize, piece: u16| {
                battery.plain().expect("a plain battery").emf.value_in(piece, s.state[first])
                    + s.state[first + 1]
                    + s.state[first + 2]
            };
            let starter_v = emf(&m.starter, STARTER, s.mode.starter_hold.plain.piece);
            let top = if s.mode.alternator_turns() { set_v.max(starter_v) } else { starter_v };
            assert!(s.net.sb_v <= top + 1e-9, "{name} at {t} s: {} over {top}", s.net.sb_v);
            let house_v = emf(&m.house, HOUSE, s.mode.house_hold.plain.piece);
            let mut top = house_v;
            if p.pieces().at(s.piece).house_solar_w > 0.0 {
                top = top.max(m.house_solar.set_v);
            }
            if s.mode.on {
                top = top.max(s.mode.target_v(&m.link().stages));
            }
            assert!(s.net.house_v <= top + 1e-9, "{name} at {t} s: {} over {top}", s.net.house_v);
        }
    });
}

#[test]
fn the_unit_keeps_all_its_limits() {
    let mut seen = std::collections::HashSet::new();
    every_vehicle(|name, m, p, r| {
        for s in samples(r, m, p) {
            seen.insert(s.regime.limit);
            let (c, net) = (&m.link().converter, &s.net);
            let context = || format!("{name} at {} s: {:?} {net:?}", s.t.as_s(), s.regime.limit);
            if !s.mode.on {
                // On a side that has collapsed nothing runs, the unit's own few milliamperes neither.
                let standby_a = if s.mode.starter_dead { 0.0 } else { c.standby_a };
                assert!(net.output_a == 0.0 && net.input_a == standby_a, "{}", context());
                continue;
            }
            // The soft start ends on a whole nanosecond, which may be half a one late.
            let most_a = c.output_limit_a * (1.0 + if c.ramp_s > 0.0 { 1e-9 / c.ramp_s } else { 0.0 });
            assert!(net.output_a <= most_a + 1e-9, "{}", context());
            assert!(net.input_a <= c.input_limit_a + 1e-9, "{}", context());
            let sensed = if c.sense == Sense::Terminals { net.out_v } else { net.house_v };
            let target = s.mode.target_v(&m.link().stages);
            assert!(net.output_a < 1e-9 || sensed <= target + 1e-9, "{}", context());
            assert!(net.output_a < 1e-9 || net.in_v >= c.floor_v - 1e-9, "{}", context());
            let out_w = net.out_v * net.output_a;
            let used_w = out_w + c.loss.lost_w(out_w);
            let in_w = net.in_v * net.input_a;
            if s.regime.limit == Limit::Starved {
                // It gives nothing and takes its fixed loss, or what there is of it.
                assert!(out_w == 0.0 && in_w <= c.loss.fixed_w + 1e-7, "{}", context());
            } else {
                assert!((in_w - used_w).abs() < 1e-7, "{in_w} W in, {used_w} W used: {}", context());
            }
        }
    });
    for limit in [
        Limit::Off,
        Limit::OutputCurrent,
        Limit::InputCurrent,
        Limit::Voltage,
        Limit::Idle,
        Limit::Floor,
        Limit::Starved,
    ] {
        assert!(seen.contains(&limit), "{limit:?} was never met");
    }
}

/// Each source gives no more than it has, and only while the bus asks.
#[test]
fn sources_keep_their_ceilings() {
    every_vehicle(|name, m, p, r| {
        for s in samples(r, m, p) {
            let piece = p.pieces().at(s.piece);
            let (net, t) = (&s.net, s.t.as_s());
            let most =
                if s.mode.alternator_turns() { m.alternator.capability_a(piece.engine_rpm) } else { 0.0 };
            assert!((-1e-6..=most + 1e-6).contains(&net.alternator_a), "{name} at {t} s: {net:?}");
            let sun_w = net.house_v * net.solar_a;
            assert!((-1e-6..=piece.house_solar_w + 1e-6).contains(&sun_w), "{name} at {t} s: {sun_w} W");
            if s.regime.starter[0] == SourceState::Regulating {
                let held = piece.set_point_v - m.alternator.droop_ohm * net.alternator_a;
                assert!((net.sb_v - held).abs() < 1e-9, "{name} at {t} s: {net:?}");
            }
        }
    });
}
