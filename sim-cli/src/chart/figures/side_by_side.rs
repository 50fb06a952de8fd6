//! Set-ups side by side: a row each, the same few quantities as bars in columns.

use super::super::font::{Face, text_width, wrap};
use super::super::pattern::{self, Pattern};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Point, Rect};
use super::super::theme::{Ink, Stroke, Theme};
use super::distance_bars::short;
use super::sheet::{self, Heading};

/// One quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name, with its unit.
    pub name: String,
    /// A value for each set-up, `None` where it has none.
    pub values: Vec<Option<f64>>,
    /// From where a value is bad, and whether below it; bars of such values are crossed.
    pub bad: Option<(f64, bool)>,
    /// A word behind a figure, for each set-up.
    pub notes: Vec<&'static str>,
}

/// What a set-up comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grade {
    /// No trouble.
    Good,
    /// Trouble.
    Trouble,
    /// Somebody or something can be hurt.
    Danger,
}

/// A set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its letter.
    pub letter: char,
    /// Its name.
    pub name: String,
    /// What it comes to, in a few words.
    pub outcome: String,
    /// The same as a grade.
    pub grade: Grade,
}

/// What takes volts on the way to the input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taker {
    /// Name.
    pub name: &'static str,
    /// Volts.
    pub volts_v: f64,
    /// Its resistance, Ω, and heat, W, where it is all heat.
    pub ohm_w: Option<(f64, f64)>,
}

/// Where the volts go from set-point to input at one moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Drops {
    /// Set-point, V.
    pub top_v: f64,
    /// What takes them, in order.
    pub takers: Vec<Taker>,
    /// Turn-off, V.
    pub goal_v: f64,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SideBySide {
    /// Title, answer and footer.
    pub heading: Heading,
    /// The set-ups.
    pub rows: Vec<Row>,
    /// Quantities.
    pub columns: Vec<Column>,
    /// The drop at the smallest margin of each set-up, or why it has none.
    pub drops: Vec<Result<Drops, &'static str>>,
}

/// Most set-ups beside which there is room for their drops.
const MOST_WITH_DROPS: usize = 4;
/// Line pitch as a share of the em.
const LEADING: f64 = 1.2;

fn put(scene: &mut Scene, at: Point, align: Align, words: &str, size_px: f64, face: Face, ink: Ink) {
    scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
}

/// Builds the picture. A small sheet has room for the first columns and for no drops.
#[must_use]
pub fn side_by_side(data: &SideBySide, theme: &Theme, size: FigureSize) -> Scene {
    let shows = "Set-ups side by side: a row each, the same quantities in columns.";
    let (mut scene, body) = sheet::begin(size, theme, &data.heading, shows);
    let columns = &data.columns[..data.columns.len().min(if theme.small { 3 } else { usize::MAX })];
    let names_px = if theme.small { 0.36 } else { 0.27 } * body.width();
    let column_px = (body.width() - names_px) / columns.len().max(1) as f64;
    let label = theme.sizes.label;
    let heads: Vec<Vec<String>> =
        columns.iter().map(|c| wrap(&c.name, label, Face::Bold, column_px - 8.0, 2)).collect();
    let head_px = 8.0 + LEADING * label * heads.iter().map(Vec::len).max().unwrap_or(1) as f64;
    let drops = data.drops.iter().any(Result::is_ok) && data.rows.len() <= MOST_WITH_DROPS && !theme.small;
    let upper_px = if drops { 0.54 } else { 1.0 } * body.height();
    let row_px = ((upper_px - head_px) / data.rows.len().max(1) as f64).min(84.0);
    let top = |n: usize| body.y0 + head_px + n as f64 * row_px;
    for (n, row) in data.rows.iter().enumerate() {
        scene.line((body.x0, top(n)), (body.x1, top(n)), theme.grid);
        name(&mut scene, theme, row, Rect::new(body.x0, top(n), body.x0 + names_px - 10.0, top(n) + row_px));
    }
    for (k, (column, lines)) in columns.iter().zip(heads).enumerate() {
        let left = body.x0 + names_px + k as f64 * column_px;
        for (n, line) in lines.iter().enumerate() {
            let at = (left, body.y0 + label * (0.9 + LEADING * n as f64));
            put(&mut scene, at, Align::Left, line, label, Face::Bold, theme.ink);
        }
        let area = Rect::new(left, top(0), left + column_px, top(data.rows.len()));
        bars(&mut scene, theme, column, area, row_px);
    }
    if !drops {
        return scene;
    }
    let lower = Rect::new(body.x0, top(data.rows.len()) + 16.0, body.x1, body.y1 - 4.0);
    lost(&mut scene, theme, lower, names_px, data);
    scene
}

/// Letter and name in full, below them what it comes to behind the mark of its grade: a ring is good, one with a dot
/// trouble, a full disc danger.
fn name(scene: &mut Scene, theme: &Theme, row: &Row, area: Rect) {
    let label = theme.sizes.label;
    let pitch = LEADING * label;
    let most = ((area.height() - 4.0) / pitch).floor().max(2.0) as usize;
    let indent = 14.0;
    let width = area.width() - indent;
    let outcome = wrap(&row.outcome, label, Face::Bold, width, most.saturating_sub(1).clamp(1, 2));
    let lines = name_lines(&row.name, label, width, most - outcome.len());
    let all = (lines.len() + outcome.len()) as f64 * pitch;
    let mut base = area.y0 + 0.5 * (area.height() - all) + 0.85 * label;
    put(scene, (area.x0, base), Align::Left, &row.letter.to_string(), label, Face::Bold, theme.ink);
    for line in &lines {
        put(scene, (area.x0 + indent, base), Align::Left, line, label, Face::Regular, theme.ink);
        base += pitch;
    }
    mark(scene, theme, row.grade, (area.x0 + 4.5, base - 0.36 * label));
    for line in &outcome {
        let ink = if row.grade == Grade::Good { theme.ink } else { theme.fault };
        put(scene, (area.x0 + indent, base), Align::Left, line, label, Face::Bold, ink);
        base += pitch;
    }
}

/// A set-up's name in whole words: without "with", and then by the last parts of its keys, where all of it has no room.
fn name_lines(name: &str, size_px: f64, width: f64, most: usize) -> Vec<String> {
    let bare = name.strip_prefix("with ").unwrap_or(name);
    let last = |word: &str| {
        let key = word.split('=').next().unwrap_or_default();
        key.rfind('.').filter(|_| word.contains('=')).map_or(0, |dot| dot + 1)
    };
    let short: Vec<&str> = bare.split(' ').map(|word| &word[last(word)..]).collect();
    let options = [name.to_owned(), bare.to_owned(), short.join(" ")];
    let mut lines = options.iter().map(|text| wrap(text, size_px, Face::Regular, width, most));
    let whole = lines.find(|l| !l.iter().any(|line| line.contains('…')));
    whole.unwrap_or_else(|| wrap(&options[2], size_px, Face::Regular, width, most))
}

fn mark(scene: &mut Scene, theme: &Theme, grade: Grade, (x, y): Point) {
    const R: f64 = 4.4;
    scene.disc((x, y), R, if grade == Grade::Good { theme.ink } else { theme.fault });
    match grade {
        Grade::Danger => {}
        Grade::Good => scene.disc((x, y), R - 1.4, theme.paper),
        Grade::Trouble => {
            scene.disc((x, y), R - 1.2, theme.paper);
            scene.disc((x, y), 1.8, theme.fault);
        }
    }
}

/// One quantity: a bar for each set-up with its figure behind it.
fn bars(scene: &mut Scene, theme: &Theme, column: &Column, area: Rect, row_px: f64) {
    let label = theme.sizes.label;
    let values = || column.values.iter().flatten().copied().filter(|v| v.is_finite());
    let (low, high) = (values().fold(0.0, f64::min), values().fold(0.0, f64::max));
    let span = (high - low).max(1e-9);
    let words = |n: usize, v: f64| match column.notes.get(n) {
        Some(note) if !note.is_empty() => format!("{} {note}", short(v)),
        _ => short(v),
    };
    // Figures stand right of their bars, so the bars leave them room.
    let widths = column.values.iter().enumerate().filter_map(|(n, v)| Some(words(n, (*v)?)));
    let widest = widths.map(|w| text_width(&w, label, Face::Regular)).fold(0.0, f64::max);
    let x = |v: f64| area.x0 + (v - low) / span * (area.width() - widest - 16.0).max(12.0);
    scene.line((x(0.0), area.y0), (x(0.0), area.y1), theme.axis);
    for (n, value) in column.values.iter().enumerate() {
        let y = area.y0 + (n as f64 + 0.5) * row_px;
        let base = y + 0.36 * label;
        let Some(v) = value.filter(|v| v.is_finite()) else {
            put(scene, (x(0.0) + 6.0, base), Align::Left, "–", label, Face::Regular, theme.ink_soft);
            continue;
        };
        let half = (0.26 * row_px).min(13.0);
        let bar = Rect::new(x(v.min(0.0)), y - half, x(v.max(0.0)).max(x(v.min(0.0)) + 1.0), y + half);
        let is_bad = column.bad.is_some_and(|(limit, below)| if below { v < limit } else { v > limit });
        if is_bad {
            let line = Stroke::solid(theme.fault, 1.3);
            pattern::fill(scene, bar, theme.paper, Pattern::Crossed(5.0), line);
        } else {
            scene.rect(bar, theme.ribbons.running.fill);
        }
        scene.line((bar.x1, bar.y0), (bar.x1, bar.y1), Stroke::solid(theme.ink, 1.0));
        scene.line((bar.x0, bar.y0), (bar.x0, bar.y1), Stroke::solid(theme.ink, 1.0));
        let face = if is_bad { Face::Bold } else { Face::Regular };
        put(scene, (bar.x1 + 5.0, base), Align::Left, &words(n, v), label, face, theme.ink);
    }
}

/// How what takes the volts is drawn: lines tell it in grey print.
fn taken_by(theme: &Theme, n: usize) -> (Ink, Pattern, Stroke) {
    let (ink, pattern) = [
        (theme.roles.alternator.ink, Pattern::Plain),
        (theme.roles.output.ink, Pattern::Rising(7.0)),
        (theme.roles.starter.ink, Pattern::Crossed(6.0)),
    ][n % 3];
    (ink.at(0.22), pattern, Stroke::solid(ink, 1.0))
}

/// The drops, one bar above the other on one scale of volts that falls to the right.
fn lost(scene: &mut Scene, theme: &Theme, area: Rect, names_px: f64, data: &SideBySide) {
    let there = || data.drops.iter().flatten();
    let all_v = |d: &Drops| d.takers.iter().map(|t| t.volts_v).sum::<f64>();
    let high = there().map(|d| d.top_v).fold(f64::NEG_INFINITY, f64::max);
    let low = there().map(|d| (d.top_v - all_v(d)).min(d.goal_v)).fold(f64::INFINITY, f64::min) - 0.04;
    if high <= low {
        return;
    }
    let (label, small) = (theme.sizes.label, theme.sizes.axis);
    let (x0, x1) = (area.x0 + names_px, area.x1 - 96.0);
    let x = |v: f64| x0 + (high - v) / (high - low) * (x1 - x0);
    let head = "Where the volts went at the smallest margin, from the set-point down: mV, mΩ, W";
    put(scene, (area.x0, area.y0 + 10.0), Align::Left, head, label, Face::Bold, theme.ink);
    let row_px = ((area.height() - 40.0) / data.drops.len() as f64).min(46.0);
    for (n, drops) in data.drops.iter().enumerate() {
        let (y0, y1) = (area.y0 + 22.0 + n as f64 * row_px, area.y0 + 16.0 + (n as f64 + 1.0) * row_px);
        let base = f64::midpoint(y0, y1) + 4.0;
        let row = &data.rows[n];
        put(scene, (area.x0, base), Align::Left, &row.letter.to_string(), label, Face::Bold, theme.ink);
        let drops = match drops {
            Ok(drops) => drops,
            Err(why) => {
                put(scene, (x0, base), Align::Left, why, label, Face::Regular, theme.ink_soft);
                continue;
            }
        };
        let top = format!("{} V", short(drops.top_v));
        put(scene, (x(drops.top_v) - 6.0, base), Align::Right, &top, label, Face::Regular, theme.ink);
        let mut v = drops.top_v;
        for (k, taker) in drops.takers.iter().enumerate() {
            let next = v - taker.volts_v;
            let r = Rect::new(x(v.max(next)), y0, x(v.min(next)), y1);
            let (ground, pattern, line) = taken_by(theme, k);
            pattern::fill(scene, r, ground, pattern, line);
            scene.line((r.x1, y0), (r.x1, y1), Stroke::solid(theme.paper, 1.5));
            let mv = format!("{:.0} mV", taker.volts_v * 1e3);
            let more =
                taker.ohm_w.map_or_else(String::new, |(ohm, w)| format!(", {:.1} mΩ, {w:.0} W", ohm * 1e3));
            let options = [format!("{}: {mv}{more}", taker.name), format!("{mv}{more}"), mv];
            // Words keep clear of the turn-off line: they stand on the wider side of it.
            let line_x = x(drops.goal_v).clamp(r.x0, r.x1);
            let (a, b) = if line_x - r.x0 >= r.x1 - line_x { (r.x0, line_x) } else { (line_x, r.x1) };
            let fits = |t: &&String| text_width(t, small, Face::Regular) + 8.0 < b - a;
            if let Some(words) = options.iter().find(fits) {
                let at = (f64::midpoint(a, b), base);
                let half = text_width(words, small, Face::Regular) / 2.0 + 3.0;
                scene.rect(Rect::new(at.0 - half, base - small, at.0 + half, base + 4.0), theme.paper);
                put(scene, at, Align::Center, words, small, Face::Regular, theme.ink);
            }
            v = next;
        }
        let goal_x = x(drops.goal_v);
        scene.line((goal_x, y0 - 2.0), (goal_x, y1 + 2.0), Stroke { width_px: 2.0, ..theme.roles.turn_off });
        let left_v = v - drops.goal_v;
        let words =
            if left_v >= 0.0 { format!("{left_v:.2} V left") } else { format!("{:.2} V short", -left_v) };
        let at = (x(v.min(drops.goal_v)) + 6.0, base);
        put(scene, at, Align::Left, &words, label, Face::Bold, theme.ink);
    }
    let y = area.y0 + 22.0 + data.drops.len() as f64 * row_px + 10.0;
    let mut key_x = area.x0;
    for (k, words) in ["alternator and its cable", "conductors of the input cable", "its joints and fuses"]
        .into_iter()
        .enumerate()
    {
        let (ground, pattern, line) = taken_by(theme, k);
        pattern::fill(scene, Rect::new(key_x, y - 9.0, key_x + 22.0, y + 2.0), ground, pattern, line);
        put(scene, (key_x + 27.0, y), Align::Left, words, small, Face::Regular, theme.ink);
        key_x += 45.0 + text_width(words, small, Face::Regular);
    }
    let line = Stroke { width_px: 2.0, ..theme.roles.turn_off };
    scene.line((key_x + 4.0, y - 9.0), (key_x + 4.0, y + 2.0), line);
    put(scene, (key_x + 11.0, y), Align::Left, "turn-off", small, Face::Regular, theme.ink);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::figures::checks::assert_legible;

    #[test]
    fn labels_stay_apart_with_two_and_with_seven_set_ups() {
        for n in [2, 7] {
            let row = |k: usize| Row {
                letter: char::from(b'A' + k as u8),
                name: format!("{k} a set-up with a name of its own, not a short one"),
                outcome: "keeps dropping out".into(),
                grade: [Grade::Good, Grade::Trouble, Grade::Danger][k % 3],
            };
            let drops = |k: f64| Drops {
                top_v: 14.2,
                takers: vec![
                    Taker { name: "alternator", volts_v: 0.3 + 0.1 * k, ohm_w: None },
                    Taker { name: "conductors", volts_v: 0.5, ohm_w: Some((0.012, 25.0)) },
                    Taker { name: "joints", volts_v: 0.05 * k, ohm_w: Some((0.002, 3.0)) },
                ],
                goal_v: 12.8,
            };
            let column = |name: &str| Column {
                name: name.into(),
                values: (0..n).map(|k| (k > 0).then_some(k as f64 * 1.37 - 2.0)).collect(),
                bad: Some((0.0, true)),
                notes: vec!["opens"; n],
            };
            let data = SideBySide {
                heading: Heading::default(),
                rows: (0..n).map(row).collect(),
                columns: vec![column("margin, V"), column("delivered, Ah"), column("drop-outs")],
                drops: (0..n)
                    .map(|k| if k == 1 { Err("it never comes on") } else { Ok(drops(k as f64)) })
                    .collect(),
            };
            for (w, h) in [(960.0, 600.0), (800.0, 450.0)] {
                let size = FigureSize::of_points(w, h);
                let scene = side_by_side(&data, &Theme::light().on(size), size);
                assert_legible("side by side", &scene);
                let least = scene.texts().map(|t| t.size_px).fold(f64::INFINITY, f64::min);
                assert!(h > 450.0 || least * size.points_per_px() >= 0.04 * h, "{least}");
                let words: String = scene.texts().map(|t| format!("{} ", t.text)).collect();
                if h > 450.0 {
                    assert!(words.contains("of its own, not a") && !words.contains('…'), "{words}");
                }
            }
        }
    }
}
