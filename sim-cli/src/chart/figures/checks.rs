//! Whole-figure checks over awkward runs: no label meets another, all stay on the sheet, pictures are real.

use super::super::dash::clip;
use super::super::events::{Event, EventKind};
use super::super::font::Face;
use super::super::scene::{Align, Scene, Shape, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::Theme;
use super::super::time_axis::Clock;
use super::super::write;
use super::Heading;
use super::ladder::{LadderData, SmallestGap, Trigger, Zoom, ladder};
use super::overview::{OverviewData, overview};
use super::temperatures::{HeatLine, Temperature};
use super::timeline::{Closeup, EngineState, Span, StageState, Timeline, UnitState};

/// An invented run: an engine window and a square wave of switching inside it.
struct Invented {
    length_s: f64,
    samples: usize,
    cycles: u32,
    on_s: f64,
    off_s: f64,
    clock: Clock,
}

impl Invented {
    fn timeline(&self) -> Timeline {
        let mut t = Timeline {
            clock: self.clock,
            end_s: self.length_s,
            engine: vec![
                Span { start_s: 0.0, end_s: 0.01 * self.length_s, state: EngineState::Parked },
                Span { start_s: 0.01 * self.length_s, end_s: self.length_s, state: EngineState::Running },
            ],
            ..Timeline::default()
        };
        let mut at = 0.02 * self.length_s;
        for _ in 0..self.cycles {
            let (on, off) = (at + self.off_s, at + self.off_s + self.on_s);
            t.unit.push(Span { start_s: at, end_s: on, state: UnitState::Off });
            t.unit.push(Span { start_s: on, end_s: off, state: UnitState::On });
            t.stage.push(Span { start_s: at, end_s: on, state: StageState::Waiting });
            t.stage.push(Span { start_s: on, end_s: off, state: StageState::Bulk });
            t.events.push(event(on, EventKind::On, None));
            t.events.push(event(off, EventKind::Off, Some('V')));
            at = off;
        }
        t
    }

    fn data(&self) -> (OverviewData, LadderData) {
        let timeline = self.timeline();
        let step_s = self.length_s / self.samples.max(1) as f64;
        let time_s: Vec<f64> = (0..self.samples).map(|i| i as f64 * step_s).collect();
        let windows_s = timeline.on_windows_s();
        let wave = |low: f64, high: f64| -> Vec<f64> {
            let at = |&t: &f64| {
                let i = windows_s.partition_point(|w| w.1 <= t);
                let on = windows_s.get(i).is_some_and(|w| w.0 <= t);
                let level = if on { low } else { high };
                level + 0.01 * (t / 60.0).sin()
            };
            time_s.iter().map(at).collect()
        };
        let heading = Heading {
            title: "Invented run".to_owned(),
            answer: "An answer of one sentence that says what happened and what to do. ".repeat(3),
            footer: "Inputs that matter, all invented. ".repeat(12),
        };
        let o = OverviewData {
            heading: heading.clone(),
            timeline: timeline.clone(),
            time_s: time_s.clone(),
            house_soc_pct: wave(45.0, 45.2),
            starter_soc_pct: wave(46.0, 46.0),
            unit_loss_w: wave(32.0, 0.0),
            input_cable_loss_w: wave(30.0, 0.0),
            output_cable_loss_w: wave(7.0, 0.0),
            hot: vec![Temperature { name: "unit case".to_owned(), temp_c: wave(40.0, 20.0), hottest: None }],
            limits: [(45.0, "unit gives less"), (180.0, "winding")]
                .map(|(temp_c, name)| HeatLine {
                    names: vec![name.to_owned()],
                    temp_c,
                    assumed: true,
                    shown: true,
                })
                .to_vec(),
            nearest: Some((
                0,
                HeatLine {
                    names: vec!["unit gives less".to_owned()],
                    temp_c: 45.0,
                    assumed: true,
                    shown: true,
                },
            )),
            marks: vec![(0.3 * self.length_s, "house loads shed\nat some time".to_owned())],
        };
        let l = LadderData {
            heading,
            timeline: timeline.clone(),
            set_point_v: vec![14.2; time_s.len()],
            starter_posts_v: wave(13.4, 13.9),
            input_v: wave(12.9, 13.9),
            output_v: wave(13.5, 13.1),
            house_posts_v: wave(13.45, 13.1),
            alternator_a: wave(110.0, 80.0),
            input_a: wave(46.0, 0.0),
            output_a: wave(40.0, 0.0),
            starter_a: wave(20.0, 50.0),
            house_a: wave(35.0, -5.0),
            time_s,
            turn_on: Some(Trigger { volts_v: 13.6, hold_s: 30.0 }),
            turn_off: Some(Trigger { volts_v: 12.8, hold_s: 2.0 }),
            smallest_gap: None,
            zoom: Zoom::Auto,
        };
        (o, l)
    }
}

fn event(time_s: f64, kind: EventKind, letter: Option<char>) -> Event {
    Event { time_s, kind, letter, meaning: "input voltage low".to_owned() }
}

fn monday(start_s_of_day: f64) -> Clock {
    Clock { start_s_of_day: Some(start_s_of_day), weekday: Some(0), ..Clock::default() }
}

fn awkward() -> Vec<(&'static str, OverviewData, LadderData)> {
    let run = |length_s: f64, samples, cycles, on_s, off_s, clock| Invented {
        length_s,
        samples,
        cycles,
        on_s,
        off_s,
        clock,
    };
    let day = monday(29_580.0);
    let mut cases: Vec<(&str, OverviewData, LadderData)> = [
        ("steady", run(6360.0, 3000, 1, 5000.0, 60.0, day)),
        ("never on", run(6360.0, 3000, 0, 0.0, 0.0, day)),
        ("hunting", run(6360.0, 3000, 79, 3.0, 33.0, day)),
        ("few cycles", run(3600.0, 3000, 9, 200.0, 40.0, Clock::default())),
        ("five hundred events", run(18_000.0, 6000, 250, 9.0, 33.0, day)),
        ("one week", run(604_800.0, 3000, 14, 9000.0, 30_000.0, monday(0.0))),
        ("week of hunting", run(604_800.0, 9000, 1200, 100.0, 390.0, monday(70_000.0))),
        ("one minute", run(60.0, 60, 1, 20.0, 10.0, day)),
        ("one sample", run(60.0, 1, 0, 0.0, 0.0, day)),
    ]
    .into_iter()
    .map(|(name, run)| {
        let (o, l) = run.data();
        (name, o, l)
    })
    .collect();
    cases.push(("nothing", OverviewData::default(), LadderData::default()));

    let (mut o, mut l) = run(6360.0, 3000, 1, 5000.0, 60.0, day).data();
    o.timeline.events.truncate(1);
    l.timeline.events.truncate(1);
    l.smallest_gap = Some(SmallestGap { time_s: 3000.0, gap_v: 0.012 });
    l.zoom = Zoom::Of(Closeup { window_s: (2900.0, 3100.0), title: "Smallest gap".to_owned() });
    cases.push(("one event", o, l));

    let (mut o, mut l) = run(6360.0, 3000, 1, 5000.0, 60.0, day).data();
    o.house_soc_pct.fill(f64::NAN);
    l.input_v[500..900].fill(f64::NAN);
    l.house_posts_v.truncate(10);
    l.turn_on = None;
    l.turn_off = Some(Trigger { volts_v: f64::NAN, hold_s: f64::NAN });
    cases.push(("broken series", o, l));
    cases
}

/// Fails where two texts of a scene meet, or one leaves the sheet.
pub(crate) fn assert_legible(name: &str, scene: &Scene) {
    let faults = illegible(scene);
    assert!(faults.is_empty(), "{name}: {faults:?}");
}

/// Texts of a scene that meet, or leave the sheet.
pub(crate) fn illegible(scene: &Scene) -> Vec<String> {
    let sheet = Rect::new(0.0, 0.0, scene.width_px, scene.height_px);
    let boxes: Vec<(Rect, &str)> =
        scene.texts().map(|t| (t.bounds().grown(-0.25), t.text.as_str())).collect();
    let mut faults = Vec::new();
    for (i, (a, words)) in boxes.iter().enumerate() {
        if !sheet.contains(a) {
            faults.push(format!("\"{words}\" leaves the sheet: {a:?}"));
        }
        let others = boxes[i + 1..].iter().filter(|(b, _)| a.overlaps(b));
        faults.extend(others.map(|(_, other)| format!("\"{words}\" meets \"{other}\"")));
    }
    faults
}

/// Texts that a line which means something runs through. Rules, leaders, and what opaque paper covers before the text is
/// written do not count.
pub(crate) fn on_lines(scene: &Scene, theme: &Theme) -> Vec<String> {
    let quiet = [theme.grid, theme.day, theme.axis, theme.leader];
    let mut faults = Vec::new();
    for (n, shape) in scene.shapes.iter().enumerate() {
        let Shape::Text(text) = shape else { continue };
        let letters = text.bounds().grown(-0.75);
        let covered = scene.shapes[..n].iter().rposition(
            |s| matches!(s, Shape::Box { rect, ink } if ink.alpha > 0.999 && rect.contains(&letters)),
        );
        let crossed = scene.shapes.iter().skip(covered.map_or(0, |c| c + 1)).find(|line| {
            let Shape::Path { points, stroke } = line else { return false };
            !quiet.contains(stroke) && clip(points, letters).iter().any(|part| part.len() > 1)
        });
        if let Some(Shape::Path { points, stroke }) = crossed {
            faults.push(format!("\"{}\" lies on a line of {} points, {stroke:?}", text.text, points.len()));
        }
    }
    faults
}

#[test]
fn a_label_on_a_line_is_seen() {
    let theme = Theme::light();
    let mut scene = Scene::new(100.0, 50.0, theme.paper);
    let text = |y: f64| Text {
        at: (20.0, y),
        align: Align::Left,
        text: "turn-off".to_owned(),
        size_px: 10.0,
        face: Face::Regular,
        ink: theme.ink,
    };
    scene.line((0.0, 20.0), (100.0, 22.0), theme.roles.input);
    let mut apart = scene.clone();
    apart.text(text(40.0));
    assert!(on_lines(&apart, &theme).is_empty());
    scene.text(text(24.0));
    assert_eq!(on_lines(&scene, &theme).len(), 1);
}

#[test]
fn no_label_meets_another_or_leaves_the_sheet() {
    let theme = Theme::light();
    for (name, o, l) in awkward() {
        for size in [FigureSize::default(), FigureSize { width_px: 1280.0, height_px: 800.0, scale: 1.0 }] {
            assert_legible(name, &overview(&o, &theme, size));
            assert_legible(name, &ladder(&l, &theme, size));
        }
    }
}

#[test]
fn pictures_have_the_right_size_and_are_not_blank() {
    let (theme, size) = (Theme::light(), FigureSize::default());
    for (name, o, l) in awkward() {
        // One case at full size; the others small, since only blankness is asked of them.
        let scale = if name == "hunting" { size.scale } else { 0.5 };
        for scene in [overview(&o, &theme, size), ladder(&l, &theme, size)] {
            let bytes = write::png(&scene, scale).unwrap();
            let picture = tiny_skia::Pixmap::decode_png(&bytes).unwrap();
            let expected = ((960.0 * scale) as u32, (540.0 * scale) as u32);
            assert_eq!((picture.width(), picture.height()), expected);
            let inked = picture.pixels().iter().filter(|p| p.red() < 215).count();
            assert!(inked > 400, "{name}: only {inked} dark pixels");
        }
    }
}

#[test]
fn the_same_run_gives_the_same_bytes_and_svg_keeps_its_words() {
    let (theme, size) = (Theme::light(), FigureSize::default());
    let (_, _, l) = awkward().swap_remove(2);
    let draw = || ladder(&l, &theme, size);
    assert_eq!(write::png(&draw(), 1.0), write::png(&draw(), 1.0));
    let svg = write::svg(&draw(), 1.0).unwrap();
    assert!(svg.starts_with(
        "<svg width=\"960\" height=\"540\" role=\"img\" aria-labelledby=\"title desc\" stroke-linejoin=\"round\" viewBox=\"0 0 7680 4320\""
    ));
    for words in ["turn-off 12.80 V, held 2 s", "IN unit input", "79 on/off (V)", "clock time"] {
        assert!(svg.contains(words), "{words} is missing");
    }
}

#[test]
fn thresholds_and_the_smallest_gap_are_always_named() {
    let (theme, size) = (Theme::light(), FigureSize::default());
    for (name, _, l) in awkward() {
        let scene = ladder(&l, &theme, size);
        let has = |words: &str| scene.texts().any(|t| t.text.contains(words));
        for (what, trigger) in [("turn-on", l.turn_on), ("turn-off", l.turn_off)] {
            if trigger.is_some_and(|t| t.volts_v.is_finite()) {
                assert!(has(&format!("{what} 1")), "{name}: {what} has no name");
            }
        }
        if matches!(name, "steady" | "hunting" | "one event" | "one week") {
            assert!(has("smallest gap") || has("below turn-off"), "{name}: gap not flagged");
        }
        if name == "never on" {
            assert!(has("turn-on at") || has("nearest to turn-on"), "not told how near it was");
        }
    }
}
