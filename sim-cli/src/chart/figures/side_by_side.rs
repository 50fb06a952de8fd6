//! Set-ups side by side: a row each, the same few quantities as bars in columns.

use super::super::font::{Face, fit, text_width};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Stroke, Theme};
use super::distance_bars::short;
use super::sheet::{self, Heading};

/// One quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Name, with its unit.
    pub name: String,
    /// A value for each set-up, `None` where it has none.
    pub values: Vec<Option<f64>>,
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
    /// Names of the set-ups, each with what it comes to and whether that is trouble.
    pub rows: Vec<(String, String, bool)>,
    /// Quantities.
    pub columns: Vec<Column>,
    /// The drop at the smallest margin of each set-up, `None` where the unit was never on.
    pub drops: Vec<Option<Drops>>,
}

/// Builds the picture.
#[must_use]
pub fn side_by_side(data: &SideBySide, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Set-ups side by side: a row each, the same quantities in columns.",
    );
    let text = |scene: &mut Scene, at, align, words: &str, size_px, face, ink| {
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    };
    let names_px = 0.27 * body.width();
    let column_px = (body.width() - names_px) / data.columns.len().max(1) as f64;
    let upper_px = if data.drops.iter().any(Option::is_some) { 0.50 } else { 1.0 } * body.height();
    let row_px = ((upper_px - 24.0) / data.rows.len().max(1) as f64).min(76.0);
    let label = theme.sizes.label;
    let top = |n: usize| body.y0 + 24.0 + n as f64 * row_px;
    for (n, (name, outcome, trouble)) in data.rows.iter().enumerate() {
        let y = top(n) + 0.5 * row_px;
        scene.line((body.x0, top(n)), (body.x1, top(n)), theme.grid);
        let name = fit(name, label, Face::Bold, names_px - 10.0);
        text(&mut scene, (body.x0, y - 3.0), Align::Left, &name, label, Face::Bold, theme.ink);
        let ink =
            if *trouble { theme.roles.turn_off.ink } else { theme.roles.output.ink.mixed(theme.ink, 0.3) };
        let words = fit(outcome, label, Face::Regular, names_px - 10.0);
        text(&mut scene, (body.x0, y + 11.0), Align::Left, &words, label, Face::Regular, ink);
    }
    for (k, column) in data.columns.iter().enumerate() {
        let left = body.x0 + names_px + k as f64 * column_px;
        let name = fit(&column.name, label, Face::Bold, column_px - 10.0);
        text(&mut scene, (left, body.y0 + 10.0), Align::Left, &name, label, Face::Bold, theme.ink);
        let values = || column.values.iter().flatten().copied().filter(|v| v.is_finite());
        let (low, high) = (values().fold(0.0, f64::min), values().fold(0.0, f64::max));
        let span = (high - low).max(1e-9);
        // Figures stand right of their bars, so the bars leave them room.
        let x = |v: f64| left + (v - low) / span * (column_px - 70.0);
        let (y0, y1) = (top(0), top(data.rows.len()));
        scene.line((x(0.0), y0), (x(0.0), y1), theme.axis);
        for (n, value) in column.values.iter().enumerate() {
            let y = top(n) + 0.5 * row_px;
            let Some(v) = value.filter(|v| v.is_finite()) else {
                text(
                    &mut scene,
                    (x(0.0) + 6.0, y + 4.0),
                    Align::Left,
                    "–",
                    label,
                    Face::Regular,
                    theme.ink_soft,
                );
                continue;
            };
            let half = (0.26 * row_px).min(13.0);
            let bar = Rect::new(x(v.min(0.0)), y - half, x(v.max(0.0)).max(x(v.min(0.0)) + 1.0), y + half);
            scene.rect(bar, if v < 0.0 { theme.shortfall } else { theme.ribbons.absorption.fill });
            scene.line((bar.x1, bar.y0), (bar.x1, bar.y1), Stroke::solid(theme.ink, 1.0));
            text(
                &mut scene,
                (bar.x1 + 6.0, y + 4.0),
                Align::Left,
                &short(v),
                label,
                Face::Regular,
                theme.ink,
            );
        }
    }
    let lower = Rect::new(body.x0, top(data.rows.len()) + 16.0, body.x1, body.y1 - 4.0);
    lost(&mut scene, theme, lower, names_px, data);
    scene
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
    let text = |scene: &mut Scene, at, align, words: &str, size_px, face, ink| {
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    };
    let (label, small) = (theme.sizes.label, theme.sizes.axis);
    let (x0, x1) = (area.x0 + names_px, area.x1 - 96.0);
    let x = |v: f64| x0 + (high - v) / (high - low) * (x1 - x0);
    let head = "Where the volts went at the smallest margin, from the set-point down: mV, mΩ, W";
    text(scene, (area.x0, area.y0 + 10.0), Align::Left, head, label, Face::Bold, theme.ink);
    let row_px = ((area.height() - 40.0) / data.drops.len() as f64).min(46.0);
    let inks = [theme.roles.alternator.ink, theme.roles.output.ink, theme.roles.starter.ink];
    for (n, drops) in data.drops.iter().enumerate() {
        let (y0, y1) = (area.y0 + 22.0 + n as f64 * row_px, area.y0 + 16.0 + (n as f64 + 1.0) * row_px);
        let base = f64::midpoint(y0, y1) + 4.0;
        let name = fit(&data.rows[n].0, label, Face::Bold, names_px - 56.0);
        text(scene, (area.x0, base), Align::Left, &name, label, Face::Bold, theme.ink);
        let Some(drops) = drops else {
            let words = "never on with the engine running";
            text(scene, (x0, base), Align::Left, words, label, Face::Regular, theme.ink_soft);
            continue;
        };
        let top = format!("{} V", short(drops.top_v));
        text(scene, (x(drops.top_v) - 6.0, base), Align::Right, &top, label, Face::Regular, theme.ink);
        let mut v = drops.top_v;
        for (taker, ink) in drops.takers.iter().zip(inks.into_iter().cycle()) {
            let next = v - taker.volts_v;
            let r = Rect::new(x(v.max(next)), y0, x(v.min(next)), y1);
            scene.rect(r, ink.at(0.30));
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
                text(scene, at, Align::Center, words, small, Face::Regular, theme.ink);
            }
            v = next;
        }
        let goal_x = x(drops.goal_v);
        scene.line((goal_x, y0 - 2.0), (goal_x, y1 + 2.0), Stroke { width_px: 2.0, ..theme.roles.turn_off });
        let left_v = v - drops.goal_v;
        let words =
            if left_v >= 0.0 { format!("{left_v:.2} V left") } else { format!("{:.2} V short", -left_v) };
        let at = (x(v.min(drops.goal_v)) + 6.0, base);
        text(scene, at, Align::Left, &words, label, Face::Bold, theme.ink);
    }
    let y = area.y0 + 22.0 + data.drops.len() as f64 * row_px + 10.0;
    let key = "Violet: alternator and its cable. Green: conductors of the input cable. Orange: its joints and fuses. \
               Line: turn-off.";
    let words = fit(key, small, Face::Regular, area.width());
    text(scene, (area.x0, y), Align::Left, &words, small, Face::Regular, theme.ink_soft);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::figures::checks::assert_legible;

    #[test]
    fn labels_stay_apart_with_two_and_with_seven_set_ups() {
        for n in [2, 7] {
            let row =
                |k: usize| (format!("{k} a set-up with quite a long name of its own"), "good".into(), k == 0);
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
            };
            let data = SideBySide {
                heading: Heading::default(),
                rows: (0..n).map(row).collect(),
                columns: vec![column("margin, V"), column("delivered, Ah"), column("drop-outs")],
                drops: (0..n).map(|k| (k != 1).then(|| drops(k as f64))).collect(),
            };
            let size = FigureSize::default();
            assert_legible("side by side", &side_by_side(&data, &Theme::light(), size));
        }
    }
}
