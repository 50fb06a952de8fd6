//! The shallow rule of a variable set-point, against figures of the car that it was read off: 44 minutes at 1 Hz at its control
//! unit. The log has no licence and is not here; its figures are.

use sim_cli::load::load_from;
use sim_core::{Instant, Options, simulate};
use std::fmt::Write as _;
use std::path::Path;

/// Mean volts around the end of a fuel cut, second by second from 5 s before it.
const AROUND_CUT_V: [f64; 17] = [
    13.81, 13.84, 13.86, 13.86, 13.85, 13.84, 13.72, 13.69, 13.76, 13.78, 13.77, 13.74, 13.68, 13.67, 13.65,
    13.63, 13.61,
];

/// A row of a drive: road speed, km/h, engine speed, rpm, fuel cut.
type Second = (f64, f64, f64);

/// Volts at the posts each second of a drive in 1 s rows.
fn posts_v(rows: &[Second]) -> Vec<f64> {
    let mut csv = String::from("time_s,speed_kmh,engine_rpm,fuel_cut\n");
    for (t, (speed, rpm, cut)) in rows.iter().enumerate() {
        let _ = writeln!(csv, "{t},{speed},{rpm},{cut}");
    }
    let path = std::env::temp_dir().join(format!(
        "tickover-rule-{}-{}.csv",
        std::process::id(),
        format!("{:?}", std::thread::current().id()).replace(['(', ')'], "-")
    ));
    std::fs::write(&path, csv).expect("a drive file");
    let text = format!(
        "format = 2\n[alternator]\nregulation = \"variable-shallow\"\n[start_stop]\nturn_on_v = 20\n[[drive.piece]]\nfile = \
         {:?}\n",
        path.display().to_string()
    );
    let mut input = text.as_bytes();
    let loaded = load_from(Path::new("-"), &[], &mut input).unwrap_or_else(|e| panic!("{}", e.told(false).0));
    let _ = std::fs::remove_file(&path);
    let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
    let run = simulate(model, profile, &Options::default()).expect("a run");
    let at =
        |t: usize| run.trace.at(model, profile, Instant::from_s(t as f64 - 1e-3)).expect("within").net.sb_v;
    (1..rows.len()).map(at).collect()
}

const CRUISE: Second = (60.0, 1900.0, 0.0);
const CUT: Second = (60.0, 1900.0, 1.0);

#[test]
fn volts_around_a_fuel_cut() {
    let mut rows = vec![CRUISE; 400];
    rows.extend(vec![CUT; 20]);
    rows.extend(vec![CRUISE; 40]);
    let volts = posts_v(&rows);
    // The cut ends at 420 s.
    let errors = AROUND_CUT_V.iter().enumerate().map(|(n, measured)| volts[414 + n] - measured);
    let errors: Vec<f64> = errors.collect();
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    println!("around a fuel cut: {rms:.3} V RMS of 17 seconds; {errors:.3?}");
    assert!(rms <= 0.05, "{rms} V: {errors:?}");
    // It rises by about 0.25 V within 2 s of the cut.
    let rise_v = volts[401] - volts[399];
    assert!((0.2..0.3).contains(&rise_v), "{rise_v} V");
}

#[test]
fn levels_of_the_phases() {
    let accelerating: Vec<Second> = (0..40).map(|k| (20.0 + 1.5 * f64::from(k), 2200.0, 0.0)).collect();
    let parts: [(&str, f64, Vec<Second>); 5] = [
        ("start-up", 13.95, vec![CRUISE; 90]),
        ("cruise", 13.57, vec![CRUISE; 300]),
        ("overrun", 13.85, vec![CUT; 20]),
        ("accelerating", 13.48, accelerating),
        ("idle", 13.32, vec![(0.0, 800.0, 0.0); 60]),
    ];
    let rows: Vec<Second> = parts.iter().flat_map(|p| p.2.iter().copied()).chain([CRUISE; 2]).collect();
    let volts = posts_v(&rows);
    let mut end = 0;
    for (name, wanted, rows) in &parts {
        end += rows.len();
        println!("{name}: {:.2} V predicted, {wanted} V measured", volts[end - 2]);
        assert!((volts[end - 2] - wanted).abs() <= 0.1, "{name}: {} V, measured {wanted} V", volts[end - 2]);
    }
}
