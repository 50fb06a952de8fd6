//! What a trace of road speed makes the engine do: fast idle until warm, stop-start with its conditions, cold again after
//! hours. The limits are the scenario's; that they act is what is checked.

mod support;

use sim_cli::load::load;
use sim_core::Piece;
use std::path::Path;
use support::Folder;

/// Ten minutes of a minute at 40 km/h and a minute standing, then parked for `parked_h`, then the same again.
fn trace(parked_h: f64) -> String {
    let mut text = String::from("time_s,speed_kmh\n");
    for begin in [0.0, 600.0 + parked_h * 3600.0] {
        for t in 0..600 {
            let speed = if t / 60 % 2 == 0 { 40 } else { 0 };
            text.push_str(&format!("{},{speed}\n", begin + f64::from(t)));
        }
        text.push_str(&format!("{},0\n", begin + 599.5));
    }
    text
}

fn pieces(parked_h: f64, gears: &str) -> Vec<Piece> {
    let folder = Folder::new();
    folder.write("trace.csv", trace(parked_h));
    let text =
        format!("format = 2\n[gears]\nidle_rpm = 800\n{gears}\n[[drive.piece]]\nfile = \"trace.csv\"\n");
    let path = folder.write("case.toml", text);
    let loaded = load(Path::new(&path), &[]).unwrap_or_else(|e| panic!("{e:?}"));
    loaded.resolved.profile.pieces().iter().collect()
}

fn at(pieces: &[Piece], s: f64) -> Piece {
    *pieces.iter().find(|p| p.start.as_s() <= s && s < p.end.as_s()).expect("within the drive")
}

#[test]
fn a_cold_engine_idles_fast_until_it_is_warm() {
    let p = pieces(5.0, "warm_up_min = 3\nfast_idle_rpm = 1150");
    assert_eq!(at(&p, 90.5).engine_rpm, 1150.0, "cold");
    assert_eq!(at(&p, 330.5).engine_rpm, 800.0, "warm after three minutes");
    let again = 600.0 + 5.0 * 3600.0;
    assert_eq!(at(&p, again + 90.5).engine_rpm, 1150.0, "five hours later it is cold");
    let p = pieces(1.0, "warm_up_min = 3\nfast_idle_rpm = 1150");
    assert_eq!(at(&p, 600.0 + 3600.0 + 90.5).engine_rpm, 800.0, "an hour later it is not");
    let p = pieces(5.0, "");
    assert_eq!(at(&p, 90.5).engine_rpm, 800.0, "where nothing is said of warming up");
}

#[test]
fn stop_start_waits_for_a_warm_engine_and_warm_air() {
    let yes = "stop_start = \"yes\"\nstop_after_s = 4\n";
    let p = pieces(1.0, yes);
    assert_eq!(
        (at(&p, 63.5).engine_rpm, at(&p, 63.5).stop_start),
        (800.0, false),
        "standing for three seconds"
    );
    assert_eq!((at(&p, 64.5).engine_rpm, at(&p, 64.5).stop_start), (0.0, true), "and for four");
    assert!(at(&p, 64.5).run_signal, "the ignition stays on");
    assert!(at(&p, 120.5).engine_rpm > 1000.0 && !at(&p, 120.5).stop_start, "it drives on");
    let parked = at(&p, 2000.0);
    assert_eq!(
        (parked.engine_rpm, parked.stop_start, parked.run_signal),
        (0.0, false, false),
        "parked is not stop-start"
    );
    let p = pieces(1.0, &format!("{yes}warm_up_min = 3"));
    assert!(!at(&p, 64.5).stop_start && at(&p, 304.5).stop_start, "not while it warms up");
    let cold = pieces(1.0, &format!("{yes}[drive]\nair_c = 2"));
    assert!(cold.iter().all(|p| !p.stop_start), "not in air under stop_from_c");
}
