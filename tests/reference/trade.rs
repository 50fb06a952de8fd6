//! Facts of the trade as check values, each common practice, no source: they are reproduced here or explained, never used as
//! data.

use sim_core::model::Piece;
use sim_core::plant::battery::Emf;
use sim_core::plant::cable::Conductor;
use sim_core::plant::conductor::{Build, ohm_per_m};
use sim_core::record::EventKind;
use sim_core::state::STARTER;
use sim_core::{Instant, Model};
use sim_tests::bisect::border;
use sim_tests::day::{DRIVING, PARKED, day, drive_then_park};
use sim_tests::look::{at, near, run, times_s};
use sim_tests::plain;
use sim_tests::van::{model, with_length};

fn variable_voltage_van() -> Model {
    let mut m = model();
    plain(&mut m.starter).start_soc = 1.0;
    let rule = &mut m.links[0].start_stop;
    (rule.turn_on_v, rule.turn_on_delay_s, rule.turn_off_v) = (14.0, 120.0, 13.1);
    m
}

fn at_set_point(set_point_v: f64) -> Piece {
    Piece { set_point_v, ..DRIVING }
}

/// Turn-on at 14.0 V held for 120 s and turn-off at 13.1 V with a variable-voltage alternator (common practice, no source).
/// Reproduced: overruns of 30 s at 14.9 V between cruising at 12.9 V never start the unit; a set-point that stays high does,
/// 120 s after the input has reached 14.0 V; and cruising ends it by its delay of 2 s, since 12.9 V lie under 13.1 V.
#[test]
fn thresholds_for_a_variable_voltage_alternator() {
    let m = variable_voltage_van();
    let town = [(240.0, at_set_point(12.9)), (30.0, at_set_point(14.9))].repeat(12);
    assert_eq!(times_s(&run(&m, &day(&town)), EventKind::UnitOn), [0.0; 0]);

    let p = day(&[(60.0, at_set_point(12.9)), (600.0, at_set_point(14.9)), (300.0, at_set_point(12.9))]);
    let r = run(&m, &p);
    let (on, off) = (times_s(&r, EventKind::UnitOn), times_s(&r, EventKind::UnitOff));
    let reached = (0..600).map(|s| 60.0 + f64::from(s)).find(|t| at(&r, &m, &p, *t).net.in_v >= 14.0);
    let reached_s = reached.expect("the input comes to 14.0 V");
    assert!(
        on.len() == 1 && on[0] - 120.0 > reached_s - 1.0 && on[0] - 120.0 <= reached_s,
        "{on:?}, {reached_s}"
    );
    near("off after the set-point has fallen", off[0], 662.0, 1e-9);
}

/// 16 mm² copper for up to 50 A on a run of suitable length (common practice, no source). Explained: the heat of 50 A never
/// decides (10 K over the air), 3 % of 12 V as volt-drop allow 3.0 m one way, joints left out, and on the reference van, which
/// draws 46 A, it begins to hunt for good at 8.6 m only.
#[test]
fn sixteen_square_millimetres_for_fifty_amperes() {
    let ohm = ohm_per_m(Build::Class5, 16.0).expect("a metric size");
    let by_drop_m = 0.03 * 12.0 / (50.0 * 2.0 * ohm);
    near("by volt-drop, m", by_drop_m, 2.975, 1e-3);

    let leg = Conductor { ohm_20: ohm, j_per_k: 60.0, w_per_k: 0.3, in_bay: false };
    let settled_c = border(30.0, 90.0, 1e-6, |c| leg.rate(c, 30.0, 50.0) < 0.0);
    assert!(settled_c > 39.0 && settled_c < 42.0, "{settled_c} °C in air of 30 °C, whatever the length");

    let p = drive_then_park(2700.0, 60.0);
    let hunts = |length_m: f64| {
        let offs = times_s(&run(&with_length(model(), length_m), &p), EventKind::UnitOff);
        offs.iter().filter(|t| (1500.0..2760.0).contains(*t)).count() >= 2
    };
    let by_cycling_m = border(4.0, 20.0, 0.01, hunts);
    assert!(by_cycling_m > 2.0 * by_drop_m, "{by_cycling_m} m");
    near("by cycling, m", by_cycling_m, 8.60, 0.02);
    let drawn = run(&with_length(model(), by_drop_m), &p).extremes.input_a.expect("it was on").value;
    assert!(drawn > 40.0 && drawn < 50.0, "{drawn} A");
}

/// 40 A out of the unit shown together with 511 W (common practice, no source). Explained: 511 W are 40 A at 12.775 V, the
/// volts of the unit's terminals on a low battery. On lead-acid that is one under 80 %, on LFP one that is all but empty;
/// the reference van's at 45 % shows 545 W.
#[test]
fn forty_amperes_and_511_watts() {
    let shown_w = |lead_acid: bool, soc: f64| {
        let mut m = model();
        let house = plain(&mut m.house);
        house.start_soc = soc;
        if lead_acid {
            house.emf = Emf::Linear { empty_v: 11.85, full_v: 12.7 };
        }
        let p = day(&[(60.0, PARKED), (600.0, DRIVING)]);
        let net = at(&run(&m, &p), &m, &p, 300.0).net;
        assert!((net.output_a - 40.0).abs() < 1e-9, "{net:?}");
        net.out_v * net.output_a
    };
    let lead_acid = border(0.1, 0.95, 1e-4, |soc| shown_w(true, soc) > 511.0);
    let lfp = border(0.02, 0.5, 1e-4, |soc| shown_w(false, soc) > 511.0);
    assert!(lead_acid > 0.4 && lead_acid < 0.8, "{lead_acid}");
    assert!(lfp < 0.08, "{lfp}");
    near("at 45 %", shown_w(false, 0.45), 545.3, 0.1);
}

/// 12.1 V on a parked starter battery and 13.6 V on a house bank that the sun has filled (common practice, no source).
/// Reproduced: 55 mA take an 80 Ah battery from 92 % to 12.1 V in 38 days; meanwhile a regulator set to 13.6 V holds the
/// house there every noon, and the unit, which reads the starter side, stays off.
#[test]
fn parked_for_weeks_in_the_sun() {
    let mut m = model();
    m.house_solar.set_v = 13.6;
    let days: f64 = (0.92 - (12.1 - 11.85) / 0.85) * 80.0 / (24.0 * 0.055);
    near("days", days, 37.9, 0.1);
    let sun = |house_solar_w: f64| (43_200.0, Piece { house_solar_w, house_load_w: 10.0, ..PARKED });
    let p = day(&[sun(150.0), sun(0.0)].repeat(days.round() as usize));
    let r = run(&m, &p);
    assert_eq!(times_s(&r, EventKind::UnitOn), [0.0; 0]);
    let noon = at(&r, &m, &p, p.end().as_s() - 43_300.0);
    near("house", noon.net.house_v, 13.6, 0.05);
    let last = r.trace.at(&m, &p, Instant::from_ns(p.end().ns())).expect("the end");
    near("starter", last.net.sb_v, 12.1, 0.01);
    near("starter's charge", r.end[STARTER], 0.294, 0.005);
}
