//! Up to seven days under each other, midnight to midnight: engine, net house current, what came in and went out; below,
//! both states of charge over the same days with the line that the starter battery must not fall under.

use super::super::decimate::Joining;
use super::super::font::{Face, text_width};
use super::super::key::{self, KeyItem, KeyMark};
use super::super::panel::{Panel, Series, Threshold};
use super::super::scale::{Range, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Ink, Stroke, Theme};
use super::super::time_axis::{Clock, TimeScale};
use super::sheet::{self, AXIS_PX, BELOW_PX, Heading, LEFT_PX, TITLE_PX};

/// One day.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DayStrip {
    /// Its name.
    pub name: String,
    /// Stretches with the engine running, hours after midnight.
    pub engine_h: Vec<(f64, f64)>,
    /// Mean net current into the house battery in equal parts of the day, A; not a number where there is no run.
    pub house_a: Vec<f64>,
    /// Charge that came into the house bus, Ah.
    pub in_ah: f64,
    /// Charge that the house loads took, Ah.
    pub out_ah: f64,
    /// House battery at the end of the day, %.
    pub end_pct: f64,
    /// When the house battery is first flat on this day, hours after midnight.
    pub flat_h: Option<f64>,
}

/// The worst moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Worst {
    /// Which row.
    pub row: usize,
    /// Hours after midnight.
    pub at_h: f64,
    /// The words.
    pub text: String,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Week {
    /// Title, answer and footer.
    pub heading: Heading,
    /// The days, at most seven.
    pub days: Vec<DayStrip>,
    /// Which of the days shown is worst, and when.
    pub worst: Option<Worst>,
    /// Wall clock of time zero.
    pub clock: Clock,
    /// First and last moment of the lower strip, s.
    pub span_s: (f64, f64),
    /// Sample times of the lower strip, s.
    pub time_s: Vec<f64>,
    /// House battery, %.
    pub house_pct: Vec<f64>,
    /// Starter battery, %.
    pub starter_pct: Vec<f64>,
    /// State of charge that the starter battery needs to crank, %.
    pub reserve_pct: Option<f64>,
}

/// Room for the figures of a day, right of its strip.
const FIGURES_PX: f64 = 168.0;
/// A current that is drawn, A; under it the baseline says enough.
const LEAST_A: f64 = 0.02;
const COLUMN_PX: f64 = 54.0;
/// Share of the height that the lower strip takes.
const LOWER: f64 = 0.30;

/// Builds the picture.
#[must_use]
pub fn week(data: &Week, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Each day from midnight to midnight: engine, mean current into and out of the house battery; below, both states of charge.",
    );
    if data.days.is_empty() {
        sheet::nothing(
            &mut scene,
            theme,
            body,
            "This run is all one day: there are no days to set side by side.",
        );
        return scene;
    }
    // A small sheet shows the days alone, each with its end.
    let columns = if theme.small { 1 } else { 3 };
    let (x0, x1) = (body.x0 + LEFT_PX, body.x1 - COLUMN_PX * columns as f64 - 6.0);
    let items = key_items(theme, data);
    let key_y = body.y1 - key::line_count(&items, theme, body.width()) as f64 * key::LINE_PX;
    key::draw(&mut scene, theme, &items, (body.x0, key_y), body.width());
    let lower_h = (LOWER * body.height()).max(84.0);
    let lower = Rect::new(x0, key_y - AXIS_PX - lower_h, x1, key_y - AXIS_PX);
    let bottom = if theme.small { key_y - 14.0 } else { lower.y0 - AXIS_PX - 2.0 };
    let rows = Rows::new(data, Rect::new(x0, body.y0 + TITLE_PX, x1, bottom), columns);
    rows.draw(&mut scene, theme, data);
    if !theme.small {
        lower_strip(&mut scene, theme, data, lower);
    }
    scene
}

/// An amount with its sign; nothing has none.
fn signed(sign: char, ah: f64) -> String {
    if ah < 0.05 { "0".to_owned() } else { format!("{sign}{ah:.1}") }
}

/// Current in, current out, engine: dark, light and grey, so that grey print keeps them apart.
fn inks(theme: &Theme) -> (Ink, Ink, Ink) {
    let engine = theme.ribbons.running.fill.at(0.3);
    (theme.roles.house.ink, theme.roles.starter.ink.at(0.55), engine)
}

fn key_items(theme: &Theme, data: &Week) -> Vec<KeyItem> {
    let (plus, minus, engine) = inks(theme);
    let flat = (KeyMark::Dot(theme.roles.turn_off.ink), "flat, first time that day");
    let flat = data.days.iter().any(|d| d.flat_h.is_some()).then_some(flat);
    [
        (KeyMark::Swatch(engine), "engine running"),
        (KeyMark::Swatch(plus), "current into the house battery"),
        (KeyMark::Swatch(minus), "out of it"),
    ]
    .into_iter()
    .chain(flat)
    .map(|(mark, text)| KeyItem { mark, text: text.to_owned() })
    .collect()
}

/// The strips of the days.
struct Rows {
    area: Rect,
    pitch: f64,
    /// Greatest current in and out over all days, A, one scale for all.
    most: (f64, f64),
    /// Columns of figures, the last of all.
    columns: usize,
}

impl Rows {
    fn new(data: &Week, area: Rect, columns: usize) -> Rows {
        let all = || data.days.iter().flat_map(|d| &d.house_a).copied().filter(|a| a.is_finite());
        let most = (all().fold(1.0, f64::max), -all().fold(-1.0, f64::min));
        Rows { area, pitch: area.height() / data.days.len().max(1) as f64, most, columns }
    }

    fn x(&self, hours: f64) -> f64 {
        self.area.x0 + hours / 24.0 * self.area.width()
    }

    /// Baseline of a row, and pixels for an ampere.
    fn scale(&self, row: usize) -> (f64, f64) {
        let height = self.pitch - 5.0;
        let per_a = height / (self.most.0 + self.most.1);
        (self.area.y0 + row as f64 * self.pitch + self.most.0 * per_a, per_a)
    }

    fn draw(&self, scene: &mut Scene, theme: &Theme, data: &Week) {
        let (plus, minus, engine) = inks(theme);
        let words = |scene: &mut Scene, at: (f64, f64), align, text: String, face, ink| {
            scene.text(Text { at, align, text, size_px: theme.sizes.axis, face, ink });
        };
        let top = self.area.y0 - 6.0;
        let all = || data.days.iter().flat_map(|d| &d.house_a).copied().filter(|a| a.is_finite());
        let (most_in, most_out) = (all().fold(0.0, f64::max), -all().fold(0.0, f64::min));
        let amps = |a: f64| match a {
            a if a < LEAST_A => "0".to_owned(),
            a if a < 9.95 => figure(a, 1),
            a => format!("{a:.0}"),
        };
        let title = match theme.small {
            true => "House battery, mean amps of each 5 min".to_owned(),
            false => format!(
                "House battery, mean amps of each 5 min, up to {} A in and {} A out",
                amps(most_in),
                amps(most_out)
            ),
        };
        let title = super::super::font::fit(&title, theme.sizes.panel, Face::Bold, self.area.width());
        let size_px = theme.sizes.panel;
        let at = (self.area.x0, top);
        scene.text(Text { at, align: Align::Left, text: title, size_px, face: Face::Bold, ink: theme.ink });
        let heads = ["in, Ah", "loads, Ah", "end, %"];
        for (n, name) in heads.into_iter().skip(3 - self.columns).enumerate() {
            let x = self.area.x1 + (n + 1) as f64 * COLUMN_PX;
            words(scene, (x, top), Align::Right, name.to_owned(), Face::Regular, theme.ink_soft);
        }
        for (row, day) in data.days.iter().enumerate() {
            let y0 = self.area.y0 + row as f64 * self.pitch;
            let (base, per_a) = self.scale(row);
            let strip = Rect::new(self.area.x0, y0, self.area.x1, y0 + self.pitch - 5.0);
            scene.rect(strip, theme.ribbons.idle.fill.at(0.55));
            for (from, to) in &day.engine_h {
                scene.rect(
                    Rect::new(self.x(*from), strip.y0, self.x(*to).max(self.x(*from) + 0.7), strip.y1),
                    engine,
                );
            }
            let width = 24.0 / day.house_a.len().max(1) as f64;
            for (n, amps) in day.house_a.iter().enumerate().filter(|(_, a)| a.abs() >= LEAST_A) {
                let (from, to) = (self.x(n as f64 * width), self.x((n + 1) as f64 * width));
                let y = base - amps * per_a;
                let bar = Rect::new(from, y.min(base), to, y.max(base));
                if *amps >= 0.0 {
                    scene.rect(bar, plus);
                } else {
                    scene.rect(bar, minus);
                    scene.line((from, y), (to, y), Stroke::solid(theme.roles.starter.ink, 1.2));
                }
            }
            for hours in [6.0, 12.0, 18.0] {
                scene.line((self.x(hours), strip.y0), (self.x(hours), strip.y1), theme.grid);
            }
            scene.line((strip.x0, base), (strip.x1, base), theme.axis);
            let middle = y0 + 0.5 * (self.pitch - 5.0) + 0.36 * theme.sizes.axis;
            words(scene, (strip.x0 - 8.0, middle), Align::Right, day.name.clone(), Face::Bold, theme.ink);
            let figures = [signed('+', day.in_ah), signed('−', day.out_ah), format!("{:.1}", day.end_pct)];
            for (n, figure) in figures.into_iter().skip(3 - self.columns).enumerate() {
                let x = strip.x1 + (n + 1) as f64 * COLUMN_PX;
                let face = if n + 1 == self.columns { Face::Bold } else { Face::Regular };
                words(scene, (x, middle), Align::Right, figure, face, theme.ink);
            }
        }
        for hours in [0.0, 6.0, 12.0, 18.0, 24.0] {
            let at = (self.x(hours), self.area.y1 + 9.0);
            words(scene, at, Align::Center, format!("{hours:02.0}:00"), Face::Regular, theme.ink_soft);
        }
        self.worst(scene, theme, data);
    }

    fn worst(&self, scene: &mut Scene, theme: &Theme, data: &Week) {
        let dot = |scene: &mut Scene, row: usize, hours: f64| {
            let at = (self.x(hours.clamp(0.0, 24.0)), self.scale(row).0);
            scene.disc(at, 4.2, theme.paper);
            scene.disc(at, 3.2, theme.roles.turn_off.ink);
        };
        for (row, day) in data.days.iter().enumerate() {
            if let Some(hours) = day.flat_h {
                dot(scene, row, hours);
            }
        }
        let Some(worst) = &data.worst else { return };
        dot(scene, worst.row, worst.at_h);
        let x = self.x(worst.at_h.clamp(0.0, 24.0));
        let Some(at) = self.free(&data.days[worst.row], worst.row, x, &worst.text, theme.sizes.label) else {
            return;
        };
        let text = Text {
            at,
            align: Align::Left,
            text: worst.text.clone(),
            size_px: theme.sizes.label,
            face: Face::Bold,
            ink: theme.ink,
        };
        scene.rect(text.bounds().grown(1.0), theme.paper);
        scene.text(text);
    }

    /// Where words about a moment at `x` cover no bar of their row, as near as can be; the answer above the picture says
    /// the same where there is no such place.
    fn free(&self, day: &DayStrip, row: usize, x: f64, words: &str, size_px: f64) -> Option<(f64, f64)> {
        let (base, per_a) = self.scale(row);
        let (top, bottom) =
            (self.area.y0 + row as f64 * self.pitch, self.area.y0 + (row + 1) as f64 * self.pitch);
        let width = text_width(words, size_px, Face::Bold);
        let part_h = 24.0 / day.house_a.len().max(1) as f64;
        let parts = day.house_a.iter().enumerate().filter(|(_, a)| a.abs() >= LEAST_A);
        let bars: Vec<Rect> = parts
            .map(|(n, a)| {
                let y = base - a * per_a;
                let (from, to) = (self.x(n as f64 * part_h), self.x((n + 1) as f64 * part_h));
                Rect::new(from, y.min(base), to, y.max(base))
            })
            .collect();
        let dot = Rect::new(x - 5.0, base - 5.0, x + 5.0, base + 5.0);
        let mut best: Option<(f64, (f64, f64))> = None;
        for middle in [base, base - 0.5 * size_px - 3.0, base + 0.5 * size_px + 3.0] {
            let mut left = self.area.x0 + 2.0;
            while left + width <= self.area.x1 - 2.0 {
                let paper = Rect::new(left, middle - 0.5 * size_px, left + width, middle + 0.5 * size_px);
                let away = (paper.center().0 - x).abs() + 2.0 * (middle - base).abs();
                let free = paper.y0 >= top - 2.0
                    && paper.y1 <= bottom
                    && !paper.overlaps(&dot)
                    && bars.iter().all(|b| !b.overlaps(&paper));
                if free && best.is_none_or(|(b, _)| away < b) {
                    best = Some((away, (left, middle + 0.36 * size_px)));
                }
                left += 3.0;
            }
        }
        best.map(|(_, at)| at)
    }
}

/// Both states of charge over the days.
fn lower_strip(scene: &mut Scene, theme: &Theme, data: &Week, area: Rect) {
    let time = TimeScale::new(data.span_s.0, data.span_s.1, area.x0, area.x1);
    let ticks = time.ticks(&data.clock, theme.sizes.axis);
    let mut panel = Panel::new("State of charge, %", "%", Range::FromZero);
    panel.least_span = 100.0;
    for (name, value, stroke) in [
        ("house battery", &data.house_pct, theme.roles.house),
        ("starter battery", &data.starter_pct, Stroke { width_px: 1.9, ..theme.roles.starter }),
    ] {
        let last = value.last().copied().unwrap_or(0.0);
        let name = format!("{name} {last:.1} %");
        panel.series.push(Series { name, time_s: &data.time_s, value, joining: Joining::Straight, stroke });
    }
    if let Some(reserve) = data.reserve_pct {
        panel.thresholds.push(Threshold {
            value: reserve,
            name: format!("must start: {reserve:.0} %"),
            stroke: theme.roles.turn_off,
        });
    }
    let inside = Rect::new(area.x0, area.y0, area.x1, area.y1 + BELOW_PX);
    sheet::stack(scene, theme, &[(panel, 1.0)], inside, (&time, &ticks, &data.clock), FIGURES_PX);
    for tick in &ticks {
        scene.text(Text {
            at: (time.x(tick.time_s), area.y1 + 14.0),
            align: Align::Center,
            text: tick.label.clone(),
            size_px: theme.sizes.axis,
            face: Face::Regular,
            ink: theme.ink_soft,
        });
    }
}
