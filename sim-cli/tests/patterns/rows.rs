//! The rows of the table, and running one.

use sim_cli::load::load;
use sim_core::record::days::{DayRow, Headlines, rows};
use sim_core::record::{Event, EventKind, Summary};
use sim_core::study::week::{Outlook, outlook};
use sim_core::{Options, Profile, Run, simulate};
use std::path::{Path, PathBuf};

/// One row: a pattern, and what is changed in it.
pub struct Row {
    pub file: &'static str,
    pub change: &'static str,
    pub set: &'static [&'static str],
}

const fn row(file: &'static str, change: &'static str, set: &'static [&'static str]) -> Row {
    Row { file, change, set }
}

/// Every row, in the order of the table.
pub const ROWS: &[Row] = &[
    row("farrier", "", &[]),
    row("library", "", &[]),
    row("canal-boat", "", &[]),
    row("canal-boat", "40 A unit", &["converter.output_limit_a=40"]),
    row(
        "canal-boat",
        "40 A unit, an alternator that stays cold",
        &["converter.output_limit_a=40", "alternator.derate_pct_per_k=0"],
    ),
    row("canal-boat", "30 A unit", &["converter.output_limit_a=30"]),
    row("mountain-rescue", "", &[]),
    row("school-run", "", &[]),
    row("school-run", "turn-on delay 90 s", &["start_stop.turn_on_delay_s=90"]),
    row("dog-groomer", "", &[]),
    row("touring-van", "", &[]),
    row(
        "touring-van",
        "run signal",
        &[
            "start_stop.signal=second-pair",
            "start_stop.signal_turn_on_v=12.0",
            "start_stop.signal_turn_off_v=11.5",
        ],
    ),
    row(
        "touring-van",
        "fixed 14.2 V",
        &[
            "calendar.day.1.drive.1.set_point_v=14.2",
            "calendar.day.1.drive.1.file=../drives/steady-motorway.csv",
        ],
    ),
    row("road-works", "", &[]),
    row("road-works", "20 A unit", &["converter.output_limit_a=20"]),
    row(
        "road-works",
        "20 A unit at 1000 rpm",
        &["converter.output_limit_a=20", "calendar.day.1.drive.1.engine_rpm=1000"],
    ),
    row(
        "road-works",
        "20 A unit at 1200 rpm",
        &["converter.output_limit_a=20", "calendar.day.1.drive.1.engine_rpm=1200"],
    ),
    row("road-works", "40 A unit at 1200 rpm", &["calendar.day.1.drive.1.engine_rpm=1200"]),
    row("coffee-trailer", "", &[]),
    row("coffee-trailer", "coupling of 10 mΩ", &["input_cable.joints_mohm=12"]),
    row("coffee-trailer", "40 A unit", &["converter.output_limit_a=40", "converter.input_limit_a=60"]),
    row("donor-bus", "", &[]),
    row("donor-bus", "no heater mat", &["protection.heater_w=0"]),
    row(
        "donor-bus",
        "charged however cold, to compare",
        &["protection.cold_c=-40", "protection.cold_release_c=-39"],
    ),
    row("lay-up", "", &[]),
];

/// A row that has been run.
pub struct Ran {
    pub name: String,
    pub asks: String,
    pub profile: Profile,
    pub summary: Summary,
    /// Its last drop-out with the engine running.
    pub last_off: Option<Event>,
    pub days: Vec<DayRow>,
    pub headlines: Headlines,
    pub outlook: Outlook,
}

fn last_off(run: &Run) -> Option<Event> {
    let key_off = run.events.iter().rposition(|e| e.kind == EventKind::KeyOff)?;
    run.events[..key_off].iter().rev().find(|e| e.kind == EventKind::UnitOff).copied()
}

/// The folder of the shipped scenarios.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

/// How long a pattern is lived to see how it ends, days.
const DAYS: f64 = 84.0;

/// Runs a row.
pub fn run(row: &Row) -> Ran {
    let path = folder().join("patterns").join(format!("{}.toml", row.file));
    let set: Vec<String> = row.set.iter().map(|s| (*s).to_owned()).collect();
    let loaded = load(&path, &set).unwrap_or_else(|e| panic!("{}, {}: {e:?}", row.file, row.change));
    let (model, profile) = (loaded.resolved.model, loaded.resolved.profile);
    let fails = |e: sim_core::RunError| -> ! { panic!("{}, {}: {e}", row.file, row.change) };
    let run = simulate(&model, &profile, &Options::default()).unwrap_or_else(|e| fails(e));
    let repeats = (DAYS * 86_400.0 / profile.end().since(profile.start())).max(1.0) as u32;
    let reserve = loaded.scenario.limits.crank_reserve_pct.as_ref().map(|n| n.value / 100.0);
    let outlook =
        outlook(&model, &profile, reserve, repeats, &Options::default()).unwrap_or_else(|e| fails(e));
    let days = rows(&run, &model, &profile);
    Ran {
        name: loaded.scenario.name,
        asks: loaded.scenario.about,
        summary: Summary::new(&run, &model, &profile),
        last_off: last_off(&run),
        headlines: Headlines::of(&days).expect("a run has a day"),
        profile,
        days,
        outlook,
    }
}
