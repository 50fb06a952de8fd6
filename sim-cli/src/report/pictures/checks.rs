//! Pictures of whole runs: labels apart at every size, sums exact, every awkward case drawn.

use super::super::why::Why;
use super::super::{Judged, Told};
use super::charge::{house, offer, starter};
use super::moment::{Moment, bias_on};
use super::starter_balance::account;
use super::view::View;
use super::{Picture, draw, drop_ladder, load_line};
use crate::chart::figures::checks::{illegible, on_lines};
use crate::chart::scene::Text;
use crate::chart::size::FigureSize;
use crate::chart::theme::Theme;
use crate::load::{Loaded, load};
use sim_core::record::Line;
use sim_core::record::missed::Missed;
use sim_core::{Options, Run, simulate};
use std::path::Path;
use std::sync::OnceLock;

const REFERENCE: &str = "reference-van.toml";
const THIN: &str = "thin-run.toml";

/// Name, scenario, and what is changed in it.
const AWKWARD: [(&str, &str, &[&str]); 16] = [
    ("steady", REFERENCE, &[]),
    ("hunting", THIN, &[]),
    ("town round", "delivery-round.toml", &[]),
    ("never came on", REFERENCE, &["start_stop.turn_on_v=14.5"]),
    (
        "one event: the engine is on throughout and nothing else happens",
        REFERENCE,
        &["start_stop.turn_on_v=14.5", "drive.piece.1.engine_rpm=2000", "drive.piece.3.engine_rpm=2000"],
    ),
    ("hundreds of events", THIN, &["drive.piece.2.duration_min=360"]),
    ("house nearly full", REFERENCE, &["house_battery.start_pct=90", "drive.piece.2.duration_min=120"]),
    ("engine never runs", REFERENCE, &["drive.piece.2.engine_rpm=0"]),
    (
        "no crossing",
        THIN,
        &["input_cable.length_m=60", "start_stop.turn_off_v=6", "converter.output_limit_a=60"],
    ),
    ("weak alternator", REFERENCE, &["alternator.asymptote_a=50", "drive.piece.2.engine_rpm=800"]),
    ("runs on all night", REFERENCE, &["start_stop.turn_off_v=11", "drive.piece.3.duration_min=900"]),
    ("forty drives", THIN, &["drive.repeat=40"]),
    ("a week of calls", "patterns/farrier.toml", &[]),
    ("six weeks", "patterns/farrier.toml", &["calendar.weeks=6"]),
    ("laid up", "patterns/lay-up.toml", &["calendar.days=21", "calendar.lay_up.1.days=21"]),
    ("two seconds parked", REFERENCE, &["drive.piece.3.duration_min=0.03"]),
];

pub struct Case {
    loaded: Loaded,
    sets: Vec<String>,
    run: Run,
    judged: Judged,
    why: OnceLock<Why>,
}

impl Case {
    pub fn new(file: &str, sets: &[&str]) -> Case {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios").join(file);
        let sets: Vec<String> = sets.iter().map(|s| (*s).to_owned()).collect();
        let loaded = load(&path, &sets).expect("a scenario of ours");
        let (model, profile) = (&loaded.resolved.model, &loaded.resolved.profile);
        let run = simulate(model, profile, &Options::default()).expect("a run");
        let judged = Judged::of(&loaded, &run);
        Case { loaded, sets, run, judged, why: OnceLock::new() }
    }

    pub fn told(&self) -> Told<'_> {
        Told {
            crank_reserve_soc: Some(0.6),
            ..Told::of(&self.loaded, &self.sets, &self.run, &self.judged, &self.why)
        }
    }
}

fn size(width: f64, height: f64) -> FigureSize {
    FigureSize::of_points(width, height)
}

/// Every vehicle of the repository as it stands.
#[test]
fn no_label_lies_on_a_line_in_any_shipped_scenario() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios");
    let mut files: Vec<String> = Vec::new();
    for (sub, at) in [("", folder.clone()), ("patterns/", folder.join("patterns"))] {
        let names = std::fs::read_dir(at).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
        files.extend(
            names.filter(|n| n.ends_with(".toml") && n != "faults.toml").map(|n| format!("{sub}{n}")),
        );
    }
    assert!(files.len() > 12, "{files:?}");
    let mut all: Vec<String> = Vec::new();
    for file in files {
        let case = Case::new(&file, &[]);
        for size in [size(960.0, 540.0), size(800.0, 450.0)] {
            let theme = Theme::light().on(size);
            for (picture, scene) in draw(&case.told(), Picture::ALL, &theme, size) {
                let what = format!("{file}, {}, {} px", picture.name(), size.width_px);
                let faults = illegible(&scene).into_iter().chain(on_lines(&scene, &theme));
                all.extend(faults.map(|f| format!("{what}: {f}")));
            }
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn no_label_of_any_picture_meets_another_at_any_size() {
    let mut all: Vec<String> = Vec::new();
    for (name, file, sets) in AWKWARD {
        let case = Case::new(file, sets);
        for (theme, size) in [
            (Theme::light(), size(960.0, 540.0)),
            (Theme::light(), size(800.0, 450.0)),
            (Theme::dark(), size(720.0, 450.0)),
            (Theme::light(), size(1600.0, 900.0)),
            (Theme::light(), size(800.0, 1000.0)),
        ] {
            let theme = theme.on(size);
            for (picture, scene) in draw(&case.told(), Picture::ALL, &theme, size) {
                let what = format!("{name}, {}, {} x {}", picture.name(), size.width_px, size.height_px);
                let faults = illegible(&scene).into_iter().chain(on_lines(&scene, &theme));
                all.extend(faults.map(|f| format!("{what}: {f}")));
                assert!(scene.texts().count() > 3, "{what}: empty");
                let numbers = scene.desc.chars().any(|c| c.is_ascii_digit());
                assert!(!scene.title.is_empty() && numbers, "{what}: {}", scene.desc);
                // From the back of a room: type is 4 % of the height.
                if size.is_small() {
                    let least = scene.texts().map(|t| t.size_px).fold(f64::INFINITY, f64::min);
                    if least < 0.04 * scene.height_px - 1e-9 {
                        all.push(format!("{what}: type of {least}"));
                    }
                }
                // A long title may be cut on a narrow sheet; nothing else is cut on one of the usual width.
                let cut = |t: &&Text| t.text.ends_with('…') && t.size_px < theme.sizes.title;
                if size.width_px >= 960.0 {
                    all.extend(scene.texts().find(cut).map(|t| format!("{what}: cut: {}", t.text)));
                }
            }
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn the_charge_bars_sum_exactly_and_close_against_the_ledger() {
    for (name, file, sets) in AWKWARD {
        let case = Case::new(file, sets);
        let told = case.told();
        for block in [offer(&told), house(&told), starter(&told)] {
            let apart = (block.sum_ah() - block.whole_ah).abs();
            assert!(apart < 2e-6 * block.whole_ah.max(1.0), "{name}: {block:?} is {apart} Ah apart");
        }
    }
}

#[test]
fn what_was_missed_is_sorted_by_its_cause() {
    let never = Case::new(REFERENCE, &["start_stop.turn_on_v=14.5"]);
    let missed = |case: &Case| {
        let told = case.told();
        Missed::of(told.run, told.model, told.profile)
    };
    let m = missed(&never);
    assert!((m.never_on_ah - 30.0).abs() < 1e-9, "{m:?}");
    assert_eq!(Missed { never_on_ah: 0.0, ..m }, Missed::default());

    // 30 s of delay once over turn-on, then the two-second soft start loses half of its 80 As.
    let steady = Case::new(REFERENCE, &[]);
    let m = missed(&steady);
    let on_s = steady.judged.read.summary.first_on_s.expect("it comes on");
    assert!((m.waiting_ah - 40.0 * (on_s - 60.0) / 3600.0).abs() < 1e-8, "{m:?}");
    assert!((m.soft_start_ah - 40.0 / 3600.0).abs() < 1e-9, "{m:?}");
    assert_eq!(m.dropped_out_ah, 0.0);

    let limited = Case::new(REFERENCE, &["converter.input_limit_a=30"]);
    let m = missed(&limited);
    assert!(m.input_limit_ah > 0.3 && m.source_ah == 0.0, "{m:?}");
}

#[test]
fn the_starter_account_closes_against_ledger_and_states() {
    for (name, file, sets) in AWKWARD {
        let case = Case::new(file, sets);
        let told = case.told();
        let points = account(&View::new(&told));
        let [alternator, crank, parked, driving, unit, lost] = points[points.len() - 1].1;
        let out = crank + parked + driving + unit;
        let l = &case.run.ledger;
        let most = l.get(Line::AlternatorC).abs().max(3600.0);
        let apart = [
            alternator - out - l.get(Line::StarterC),
            out - l.get(Line::StarterOutC),
            alternator - out - lost - case.judged.read.summary.starter_gain_ah * 3600.0,
        ];
        for a in apart {
            assert!(a.abs() < 2e-6 * most, "{name}: {apart:?} As apart of {most}");
        }
    }
}

#[test]
fn pictures_say_what_must_not_be_missed() {
    let words = |case: &Case, picture: Picture| -> String {
        let scenes = draw(&case.told(), &[picture], &Theme::light(), FigureSize::default());
        scenes[0].1.texts().map(|t| format!("{}\n", t.text)).collect()
    };
    let starved = Case::new(
        THIN,
        &["input_cable.length_m=60", "start_stop.turn_off_v=6", "converter.output_limit_a=60"],
    );
    assert!(words(&starved, Picture::LoadLine).contains("no crossing"));
    let full = Case::new(REFERENCE, &["house_battery.start_pct=90", "drive.piece.2.duration_min=120"]);
    let stages = words(&full, Picture::Stages);
    assert!(
        stages.contains("14.20 V reached") && stages.contains("absorption ends: under 8.0 A"),
        "{stages}"
    );
    assert!(words(&full, Picture::KeyOff).contains("under turn-off after 17 min"));
    let thin = Case::new(THIN, &[]);
    assert!(words(&thin, Picture::DropLadder).contains("short of turn-off"));
    assert!(words(&thin, Picture::Busiest).contains("drops out at 12."));
}

#[test]
fn drops_add_up_and_the_source_line_passes_through_the_operating_point() {
    for (name, file, sets) in AWKWARD {
        let case = Case::new(file, sets);
        let told = case.told();
        let ladder = drop_ladder::fill(&told);
        let sum: f64 = ladder.drops.iter().map(|d| d.volts_v).sum();
        let ends = ladder.rungs[0].volts_v - ladder.rungs[ladder.rungs.len() - 1].volts_v;
        assert!((sum - ends).abs() < 1e-9, "{name}: {sum} V in drops, {ends} V between the ends");

        let moment = Moment::of(&told).expect("a moment");
        let s = &moment.sample;
        let bus = bias_on(&told, s, s.mode.alternator_turns()).starter;
        let apart = load_line::volts(&bus, s.net.input_a) - s.net.in_v;
        // Behind a pick-up the alternator lags by what its current changes in 0.2 s; the line is the settled one.
        let most = if case.loaded.resolved.model.alternator.pick_up.is_some() { 1e-5 } else { 1e-9 };
        assert!(apart.abs() < most, "{name}: {apart} V off the line");
    }
}
