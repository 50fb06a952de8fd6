//! Closed forms of hunting: its period, where it begins for good, and the cycles of the start.

use sim_core::record::{Event, EventKind};
use sim_core::{Model, Run};
use sim_tests::bisect::border;
use sim_tests::day::{DRIVING, PARKED, day, drive_then_park};
use sim_tests::look::{at, first, near, run, run_at, summary, times_s};
use sim_tests::plain;
use sim_tests::rig::steady_van;
use sim_tests::van::{LEG_OHM_PER_M, model, reference_van, thin_run, with_length};

const SET_V: f64 = 14.2;
const DROOP_OHM: f64 = 0.003;
const LOAD_A: f64 = 25.0;
/// The starter battery, full: 12.7 V behind R0 + R1 + R2.
const FULL_V: f64 = 12.7;
const R_DC_OHM: f64 = 0.005 + 0.006 + 0.012;

fn input_w(output_w: f64) -> f64 {
    output_w + 4.0 + 0.04 * output_w + 2e-5 * output_w * output_w
}

/// Output current for an input power with the output terminals at `out_v`.
fn output_a(input: f64, out_v: f64) -> f64 {
    let (b, over) = (1.04, input - 4.0);
    2.0 * over / (b + (b * b + 8e-5 * over).sqrt()) / out_v
}

/// (c14) period `T = t_on + t_ramp I_x/I_lim + t_off`, with I_x the output current in the ramp at which the input meets
/// turn-off: a burst is too short for the starter battery's branches, so its R0 alone stands beside the droop.
#[test]
fn period_of_hunting() {
    let (m, p) = thin_run();
    let found = summary(&m, &p).cycle_period_s.expect("it hunts");
    let r = run(&m, &p);
    let last_on = *times_s(&r, EventKind::UnitOn).last().expect("it hunts");
    let waiting = at(&r, &m, &p, last_on - 1e-6).net;
    let r_src = 1.0 / (1.0 / DROOP_OHM + 1.0 / 0.005);
    let loop_ohm = r_src + 2.0 * 12.0 * LEG_OHM_PER_M + 0.002;
    let i_in = (waiting.in_v + 0.005 * loop_ohm - 12.8) / loop_ohm;
    let mut i_x = 0.0;
    for _ in 0..20 {
        // The output's own rise: house R0 and output cable.
        i_x = output_a(12.8 * i_in, waiting.out_v + i_x * (0.004 + 0.00463));
    }
    let expected = 30.0 + 2.0 * i_x / 40.0 + 2.0;
    // 2 % is asked of the form; what the branches do within a burst leaves 0.036 %.
    near("period, s", found, expected, 4e-4 * expected);
}

const CASES: [(&str, f64, f64, f64); 4] = [
    ("as it stands", 40.0, 60.0, 12.8),
    ("30 A out", 30.0, 60.0, 12.8),
    ("turn-off at 13.0 V", 40.0, 60.0, 13.0),
    ("input limit of 35 A", 40.0, 35.0, 12.8),
];

/// Input cable, Ω, from which on there are two offs or more between two instants of the drive; and what (c17) says of it:
/// `(V_SB,on − V_off)/I_in` with `V_SB,on = (V_set/R_d − I_veh − I_in + E_s/R_dc)/(1/R_d + 1/R_dc)`.
fn onset(mut m: Model, case: (&str, f64, f64, f64), drive_s: f64, watch_from_s: f64) -> (f64, f64) {
    let (_, out_limit_a, in_limit_a, off_v) = case;
    m.links[0].converter.output_limit_a = out_limit_a;
    m.links[0].converter.input_limit_a = in_limit_a;
    m.links[0].start_stop.turn_off_v = off_v;
    let p = drive_then_park(drive_s, 1.0);
    let watched = |r: &Run| -> Vec<Event> {
        let span = watch_from_s..60.0 + drive_s;
        let offs = r.events.iter().filter(|e| e.kind == EventKind::UnitOff && span.contains(&e.t.as_s()));
        offs.copied().collect()
    };
    let hunts = |length: f64| watched(&run(&with_length(m.clone(), length), &p)).len() >= 2;
    let length = border(4.0, 20.0, 1e-4, hunts);
    let beyond = run(&with_length(m.clone(), length + 1e-4), &p);
    let out_v = watched(&beyond)[0].before.out_v;
    let i_in = (input_w(out_v * out_limit_a) / off_v).min(in_limit_a);
    let sb_on = (SET_V / DROOP_OHM - LOAD_A - i_in + FULL_V / R_DC_OHM) / (1.0 / DROOP_OHM + 1.0 / R_DC_OHM);
    (2.0 * LEG_OHM_PER_M * length + 0.002, (sb_on - off_v) / i_in)
}

/// (c17) where it holds: starter battery full and settled after twelve of its slow time constants, alternator regulating,
/// a house battery whose volts stand still. What is left of it and the bracket: reached 1.3e-4 of the run.
#[test]
fn onset_of_sustained_hunting() {
    for case in CASES {
        let mut m = model();
        m.house = steady_van().house;
        let (found, expected) = onset(m, case, 14_400.0, 12_600.0);
        near(case.0, found, expected, 1.5e-4 * expected);
    }
}

/// (c17) on the reference van's day: between 25 and 45 min its starter battery is not settled yet, some
/// millivolts of a volt; the form then promises up to 0.71 % more run than there is (at 30 A).
#[test]
fn onset_on_the_reference_day() {
    for case in CASES {
        let (found, expected) = onset(model(), case, 2700.0, 1500.0);
        near(case.0, found, expected, 7.5e-3 * expected);
    }
}

/// (c17) its upper border: the unit never starts where the same expression with no current stays under turn-on.
#[test]
fn never_starts() {
    let full = |amps: f64| {
        (SET_V / DROOP_OHM - LOAD_A - amps + FULL_V / R_DC_OHM) / (1.0 / DROOP_OHM + 1.0 / R_DC_OHM)
    };
    // 8 h, seven of the slow branch's time constants beyond saturation; the standby current's drop belongs to it.
    let p = day(&[(60.0, PARKED), (28_800.0, DRIVING)]);
    let starts = |turn_on_v: f64| {
        let mut m = model();
        m.links[0].start_stop.turn_on_v = turn_on_v;
        times_s(&run_at(1e-11, &m, &p), EventKind::UnitOn).is_empty()
    };
    near("V", border(13.5, 14.2, 1e-8, starts), full(0.005) - 0.005 * 0.0141, 1e-6);
}

/// (c18) the drop appears at once: it cycles at the start unless `V_on − V_off > I_in (R_run + R_d ∥ R0)`.
///
/// Sharp where the unit comes on exactly at turn-on, without delay or ramp; the alternator must regulate by then.
#[test]
fn start_up_cycles() {
    let sharp = |length: f64| {
        let mut m = with_length(model(), length);
        // Half charged, the battery takes long to rise to turn-on; a strong alternator then regulates.
        m.alternator.asymptote_a = 400.0;
        plain(&mut m.starter).start_soc = 0.6;
        let link = &mut m.links[0];
        link.converter.ramp_s = 0.0;
        link.converter.standby_a = 0.0;
        link.start_stop.turn_on_delay_s = 0.0;
        link.start_stop.turn_on_v = TURN_ON_V;
        link.start_stop.turn_off_delay_s = 0.001;
        m
    };
    const TURN_ON_V: f64 = 13.85;
    let mut deaf = sharp(4.0);
    deaf.links[0].start_stop.turn_off_v = 1.0;
    let on_s = times_s(&run(&deaf, &drive_then_park(2700.0, 60.0)), EventKind::UnitOn)[0];
    // Without a standby current the length does not move it.
    let p = drive_then_park(on_s - 60.0 + 0.5, 60.0);
    let came_on = |m: &Model| {
        let r = run(m, &p);
        let on = *first(&r, EventKind::UnitOn);
        let off = times_s(&r, EventKind::UnitOff)[0];
        (on, off - on.t.as_s())
    };
    let cycles = |length: f64| came_on(&sharp(length)).1 < 0.0011;
    let found = border(4.0, 30.0, 1e-7, cycles);
    let on = came_on(&sharp(found - 1e-6)).0;
    assert!(on.after.alternator_a < on.before.alternator_a + 60.0 && on.before.alternator_a < 350.0);
    near("it came on at turn-on", on.before.in_v, TURN_ON_V, 1e-6);
    let i_in = input_w(on.after.out_v * 40.0) / 12.8;
    let r_src = 1.0 / (1.0 / DROOP_OHM + 1.0 / 0.005);
    let cable_ohm = (TURN_ON_V - 12.8) / i_in - r_src;
    near("m", found, (cable_ohm - 0.002) / (2.0 * LEG_OHM_PER_M), 1e-5);
}

/// (c18) on the reference van: 5 m keep the promise and it never cycles, 7 m break it and it does.
#[test]
fn start_up_cycles_of_the_reference_van() {
    let (m, p) = reference_van();
    for (length, cycles) in [(5.0, false), (7.0, true)] {
        let m = with_length(m.clone(), length);
        let cable_ohm = 2.0 * length * LEG_OHM_PER_M + 0.002;
        let on = *first(&run(&m, &p), EventKind::RampEnd);
        let i_in = input_w(on.after.out_v * 40.0) / 12.8;
        let drop_v = i_in * (cable_ohm + 1.0 / (1.0 / DROOP_OHM + 1.0 / 0.005));
        assert_eq!(drop_v > 13.6 - 12.8, cycles, "{length} m: {drop_v} V");
        assert_eq!(summary(&m, &p).dropped_out_driving > 0, cycles, "{length} m");
    }
}
