//! Set-ups side by side: a row each, the same few quantities as bars in columns.

use super::super::font::{Face, fit};
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

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SideBySide {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Names of the set-ups, each with what it comes to and whether that is trouble.
    pub rows: Vec<(String, String, bool)>,
    /// Quantities.
    pub columns: Vec<Column>,
}

/// Builds the picture.
#[must_use]
pub fn side_by_side(data: &SideBySide, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, &data.heading);
    let text = |scene: &mut Scene, at, align, words: &str, size_px, face, ink| {
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    };
    let names_px = 0.27 * body.width();
    let column_px = (body.width() - names_px) / data.columns.len().max(1) as f64;
    let row_px = ((body.height() - 24.0) / data.rows.len().max(1) as f64).min(76.0);
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
    scene
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::figures::checks::assert_legible;

    #[test]
    fn labels_stay_apart_with_two_and_with_seven_set_ups() {
        for n in [2, 7] {
            let row = |k: usize| {
                (format!("{k} a set-up with quite a long name of its own"), "good".into(), k % 2 == 0)
            };
            let column = |name: &str| Column {
                name: name.into(),
                values: (0..n).map(|k| (k > 0).then_some(k as f64 * 1.37 - 2.0)).collect(),
            };
            let data = SideBySide {
                heading: Heading::default(),
                rows: (0..n).map(row).collect(),
                columns: vec![column("margin, V"), column("delivered, Ah"), column("drop-outs")],
            };
            let size = FigureSize::default();
            assert_legible("side by side", &side_by_side(&data, &Theme::light(), size));
        }
    }
}
