//! Signs and bounds at both sides of every step and in its middle, on every vehicle, plain and full: `signs_bounds.rs` goes
//! further, on plain ones only.

use sim_core::effects::Effects;
use sim_core::plant::battery::{Battery, Chemistry};
use sim_core::state::{
    CASE_C, HOUSE, HOUSE_C, INPUT_CABLE_C, INPUT_JOINTS_C, LOCKER_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C,
    STARTER, STARTER_C, WINDING_C,
};
use sim_core::{Model, Profile};
use sim_tests::look::{run, samples};
use sim_tests::vehicles::{known, random};
use std::ops::RangeInclusive;

/// Rounding, A, V and W.
const ROUNDING: f64 = 1e-6;

/// How far a lithium battery goes past full: a cell's table rises by 36 V per unit of charge there, four in series by 144, so
/// 15 V on the bus, which is 0.6 V over the EMF at full, push it no further than this.
const WALL: f64 = 5e-3;

/// The range of a state of charge. At empty nothing is drawn any more; a lead-acid battery's branches are charged a little past
/// full.
fn range(battery: &Battery) -> RangeInclusive<f64> {
    match &battery.chemistry {
        Chemistry::Plain(_) => -1e-9..=1.0 + 1e-9,
        Chemistry::Lithium(_) => -1e-9..=1.0 + WALL,
        Chemistry::LeadAcid(_) => -1e-9..=1.0 + 1e-3,
    }
}

/// Everything that has a temperature.
const WARM: [usize; 9] = [
    STARTER_C,
    HOUSE_C,
    CASE_C,
    LOCKER_C,
    INPUT_CABLE_C,
    OUTPUT_CABLE_C,
    INPUT_JOINTS_C,
    OUTPUT_JOINTS_C,
    WINDING_C,
];

/// The coldest that anything begins at, and the coldest air: losses warm and nothing cools below both.
fn coldest_c(m: &Model, p: &Profile, start: &[f64]) -> f64 {
    let air = p.pieces().iter().map(|q| q.air_c.min(q.bay_c));
    WARM.iter()
        .filter(|n| **n < Effects::of(m).used())
        .map(|n| start[*n])
        .chain(air)
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn charge_volts_amps_and_warmth_keep_their_bounds() {
    let (mut vehicles, mut full, mut looks) = (0, 0, 0_u64);
    let (mut fullest, mut emptiest) = (0.0_f64, 1.0_f64);
    for (name, m, p) in known().into_iter().chain(random(100, 40)) {
        let r = run(&m, &p);
        let coldest = coldest_c(&m, &p, &r.start);
        vehicles += 1;
        full += u32::from(Effects::of(&m).used() > sim_core::state::PLAIN);
        for s in samples(&r, &m, &p) {
            looks += 1;
            let (net, piece, c) = (&s.net, p.pieces().at(s.piece), &m.link().converter);
            let context = || format!("{name} at {} s: {net:?} {:?}", s.t.as_s(), s.state);
            assert!(s.state.iter().all(|x| x.is_finite()), "{}", context());
            for (soc, battery) in [(s.state[STARTER], &m.starter), (s.state[HOUSE], &m.house)] {
                assert!(range(battery).contains(&soc), "{}", context());
                (fullest, emptiest) = (fullest.max(soc), emptiest.min(soc));
            }
            for n in WARM.into_iter().filter(|n| *n < Effects::of(&m).used()) {
                assert!(s.state[n] >= coldest - ROUNDING, "under {coldest} °C: {}", context());
            }
            // Volts fall in the direction of the current, and the unit makes no energy.
            assert!(net.out_v >= net.house_v - ROUNDING, "{}", context());
            assert!(net.output_a >= -ROUNDING && net.input_a >= 0.0, "{}", context());
            assert!(net.out_v * net.output_a <= net.in_v * net.input_a + ROUNDING, "{}", context());
            assert!(net.output_a <= c.output_limit_a * (1.0 + 1e-6), "{}", context());
            // On, no more than its limit; off, no more than its standby.
            let most_a = if s.mode.on { c.input_limit_a.max(c.standby_a) } else { c.standby_a };
            assert!(net.input_a <= most_a + ROUNDING, "{}", context());
            // No source takes, none gives more than it has.
            for a in [net.alternator_a, net.starter_source_a, net.solar_a, net.charger_a, net.house_load_a] {
                assert!(a >= -ROUNDING, "{}", context());
            }
            let sun_w = net.solar_a * net.house_v;
            assert!(sun_w <= piece.house_solar_w + ROUNDING, "{sun_w} W of sun: {}", context());
            assert!(net.charger_a <= piece.mains_a + ROUNDING, "{}", context());
            assert!(net.starter_source_a <= piece.starter_solar_a + ROUNDING, "{}", context());
            if m.alternator.pick_up.is_none() {
                // By the declared law a winding colder than the label's 25 °C gives a little more.
                let share = m.alternator.heat_share(s.state[WINDING_C]);
                let turns = if s.mode.alternator_turns() { 1.0 } else { 0.0 };
                let most_a = turns * share * m.alternator.capability_a(piece.engine_rpm);
                assert!(net.alternator_a <= most_a + ROUNDING, "{most_a} A at most: {}", context());
            }
        }
    }
    println!(
        "{vehicles} vehicles, {full} of them full, {looks} looks; fullest {fullest}, emptiest {emptiest}"
    );
    assert!(full > 45 && vehicles - full > 100, "{full} full of {vehicles}");
}
