//! Volts of both buses on every vehicle: the unit's input never above its bus, no bus above what raises it.

use sim_core::plant::battery::Battery;
use sim_core::record::Sample;
use sim_core::state::{self, HOUSE_C, PICKED_UP_A, REGULATOR_C, SET_POINT_V};
use sim_core::{Model, Profile};
use sim_tests::look::{run, samples};
use sim_tests::vehicles::{Named, known, random};

/// Rounding, V.
const ROUNDING_V: f64 = 1e-9;
/// What a unit that holds its target lets the bus rise before it counts as idle, V.
const IDLE_V: f64 = 1e-5;

fn all() -> Vec<Named> {
    known().into_iter().chain(random(150, 12)).collect()
}

fn emf_v(battery: &Battery, s: &Sample, starter: bool) -> f64 {
    if starter {
        battery.port(&state::starter(&s.state), &s.mode.starter_hold).emf_v
    } else {
        battery.port(&state::house(&s.state), &s.mode.house_hold).emf_v
    }
}

/// The highest that the starter bus's sources and its battery alone explain.
fn starter_top_v(m: &Model, p: &Profile, s: &Sample) -> f64 {
    let piece = p.pieces().at(s.piece);
    let mut top = emf_v(&m.starter, s, true);
    if s.mode.alternator_turns() {
        let a = &m.alternator;
        let own_v = if a.rule.is_some() { s.state[SET_POINT_V] } else { piece.set_point_v };
        let temp_c = if a.regulator.is_some() { s.state[REGULATOR_C] } else { piece.air_c };
        let as_is = a.rule.is_some() || piece.set_point_as_read;
        top = top.max(own_v + if as_is { 0.0 } else { a.set_point_v_per_k * (temp_c - 25.0) });
    }
    if piece.starter_solar_a > 0.0 { top.max(m.starter_solar.set_v) } else { top }
}

/// The same on the house bus, the unit's target among its sources.
fn house_top_v(m: &Model, p: &Profile, s: &Sample) -> f64 {
    let piece = p.pieces().at(s.piece);
    let stages = &m.link().stages;
    let mut top = emf_v(&m.house, s, false);
    if s.mode.on {
        top = top.max(s.mode.target_v(stages) + stages.v_per_k * (s.state[HOUSE_C] - 25.0) + IDLE_V);
    }
    for (present, set_v) in
        [(piece.house_solar_w > 0.0, m.house_solar.set_v), (piece.mains_a > 0.0, m.house_mains.set_v)]
    {
        if present {
            top = top.max(set_v);
        }
    }
    top
}

#[test]
fn input_never_above_its_bus_and_house_never_above_what_raises_it() {
    for (name, m, p) in all() {
        for s in samples(&run(&m, &p), &m, &p) {
            let (t, net) = (s.t.as_s(), &s.net);
            assert!(net.in_v <= net.sb_v + 1e-12, "{name} at {t} s: {net:?}");
            let top = house_top_v(&m, &p, &s);
            assert!(net.house_v <= top + ROUNDING_V, "{name} at {t} s: {} V over {top} V", net.house_v - top);
        }
    }
}

/// Behind a pick-up the alternator is a current that its regulator can only take back at its lag: after a load has gone
/// the bus stands above the set-point for a moment. That overshoot must decay with that lag, and there is none without.
#[test]
fn starter_bus_never_above_what_raises_it_but_for_a_load_dump() {
    let mut longest: f64 = 0.0;
    for (name, m, p) in all() {
        let lag_s = m.alternator.pick_up.map_or(0.0, |pick_up| pick_up.lag_s);
        let mut since: Option<f64> = None;
        for s in samples(&run(&m, &p), &m, &p) {
            let t = s.t.as_s();
            let over_v = s.net.sb_v - starter_top_v(&m, &p, &s);
            if over_v <= ROUNDING_V {
                since = None;
                continue;
            }
            assert!(lag_s > 0.0, "{name} at {t} s: {over_v} V too high");
            assert!(s.state[PICKED_UP_A] > 0.0, "{name} at {t} s: nothing gives that current");
            let from = *since.get_or_insert(t);
            // Above the set-point the wish is nothing and the current falls as exp(−t/lag): in 40 lags by 4e-18.
            longest = longest.max((t - from) / lag_s);
            assert!(
                t - from <= 40.0 * lag_s + 5.0,
                "{name} at {t} s: {over_v} V since {from} s, lag {lag_s} s"
            );
        }
    }
    println!("longest overshoot: {longest} lags (samples are 5 s apart)");
}
