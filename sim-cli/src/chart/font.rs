//! Text measuring and glyph outlines from the embedded Noto Sans (SIL Open Font License 1.1).
//! Every figure measures its own labels here, so layout is the same on every machine.

use std::sync::OnceLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::outline::{DrawSettings, OutlinePen};
use skrifa::{FontRef, GlyphId, MetadataProvider};

/// Family names written into SVG text, best match first.
pub const SVG_FAMILY: &str = "Noto Sans, Open Sans, Helvetica, Arial, sans-serif";

/// Height of a capital, as a share of the em.
pub const CAP_HEIGHT_EM: f64 = 0.714;

/// Height of a lower-case x, as a share of the em.
pub const X_HEIGHT_EM: f64 = 0.536;

/// Depth of a descender, as a share of the em.
pub const DESCENT_EM: f64 = 0.24;

/// Upright weights of the embedded family.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Face {
    /// Text weight.
    Regular,
    /// Titles and names that must be found first.
    Bold,
}

fn font(face: Face) -> Option<&'static FontRef<'static>> {
    static REGULAR: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    static BOLD: OnceLock<Option<FontRef<'static>>> = OnceLock::new();
    match face {
        Face::Regular => &REGULAR,
        Face::Bold => &BOLD,
    }
    .get_or_init(|| {
        FontRef::new(match face {
            Face::Regular => notosans::REGULAR_TTF,
            Face::Bold => notosans::BOLD_TTF,
        })
        .ok()
    })
    .as_ref()
}

/// Units of the font in one em.
fn per_em(font: &FontRef<'static>) -> f64 {
    f64::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em)
}

/// Glyph ids with the pen position of each, in ems, and the total advance. The font has no table of pairs set closer.
fn shape(font: &FontRef<'static>, text: &str) -> (Vec<(GlyphId, f64)>, f64) {
    let (per_em, map) = (per_em(font), font.charmap());
    let advances = font.glyph_metrics(Size::unscaled(), LocationRef::default());
    let mut pen_em = 0.0;
    let mut glyphs = Vec::with_capacity(text.len());
    for c in text.chars() {
        let id = map.map(c).unwrap_or(GlyphId::NOTDEF);
        glyphs.push((id, pen_em));
        pen_em += f64::from(advances.advance_width(id).unwrap_or(0.0)) / per_em;
    }
    (glyphs, pen_em)
}

/// Width of one line of text in the unit of `size` (the em height).
#[must_use]
pub fn text_width(text: &str, size: f64, face: Face) -> f64 {
    font(face).map_or(0.0, |f| shape(f, text).1 * size)
}

/// One drawing command of a glyph outline, y downwards, relative to the start of the baseline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pen {
    /// Start a new contour.
    Move(f64, f64),
    /// Straight line.
    Line(f64, f64),
    /// Quadratic curve: control point, end point.
    Quad(f64, f64, f64, f64),
    /// Cubic curve: two control points, end point.
    Cubic(f64, f64, f64, f64, f64, f64),
}

/// Takes a glyph's outline in units of the font, y upwards, and keeps it as [`Pen`]s.
struct Placed {
    pens: Vec<Pen>,
    /// Start of the glyph on the baseline.
    x: f64,
    /// Size of a unit of the font.
    k: f64,
}

impl Placed {
    fn at(&self, x: f32, y: f32) -> (f64, f64) {
        (self.x + f64::from(x) * self.k, -f64::from(y) * self.k)
    }
}

impl OutlinePen for Placed {
    fn move_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.pens.push(Pen::Move(x, y));
    }

    fn line_to(&mut self, x: f32, y: f32) {
        let (x, y) = self.at(x, y);
        self.pens.push(Pen::Line(x, y));
    }

    fn quad_to(&mut self, cx: f32, cy: f32, x: f32, y: f32) {
        let ((cx, cy), (x, y)) = (self.at(cx, cy), self.at(x, y));
        self.pens.push(Pen::Quad(cx, cy, x, y));
    }

    fn curve_to(&mut self, cx: f32, cy: f32, dx: f32, dy: f32, x: f32, y: f32) {
        let ((cx, cy), (dx, dy), (x, y)) = (self.at(cx, cy), self.at(dx, dy), self.at(x, y));
        self.pens.push(Pen::Cubic(cx, cy, dx, dy, x, y));
    }

    // What is filled closes by itself.
    fn close(&mut self) {}
}

/// Outlines of one line of text, in the unit of `size`.
#[must_use]
pub fn outline(text: &str, size: f64, face: Face) -> Vec<Pen> {
    let Some(font) = font(face) else {
        return Vec::new();
    };
    let outlines = font.outline_glyphs();
    let mut placed = Placed { pens: Vec::new(), x: 0.0, k: size / per_em(font) };
    for (id, pen_em) in shape(font, text).0 {
        let Some(glyph) = outlines.get(id) else {
            continue;
        };
        let (before, at_rest) = (placed.pens.len(), LocationRef::default());
        placed.x = pen_em * size;
        if glyph.draw(DrawSettings::unhinted(Size::unscaled(), at_rest), &mut placed).is_err() {
            // A broken outline leaves its room empty.
            placed.pens.truncate(before);
        }
    }
    placed.pens
}

/// Breaks text into lines no wider than `width`; what does not fit in `max_lines` ends in an ellipsis.
#[must_use]
pub fn wrap(text: &str, size: f64, face: Face, width: f64, max_lines: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let candidate = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if line.is_empty() || text_width(&candidate, size, face) <= width {
            line = candidate;
        } else {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    if lines.len() > max_lines && max_lines > 0 {
        let rest = lines.split_off(max_lines - 1).join(" ");
        lines.push(rest);
    }
    for line in &mut lines {
        *line = fit(line, size, face, width);
    }
    lines
}

/// The text itself when it fits `width`, else its beginning and an ellipsis.
#[must_use]
pub fn fit(text: &str, size: f64, face: Face, width: f64) -> String {
    if text_width(text, size, face) <= width {
        return text.to_owned();
    }
    let mut short = text.to_owned();
    while short.pop().is_some() {
        let candidate = format!("{}…", short.trim_end());
        if text_width(&candidate, size, face) <= width {
            return candidate;
        }
    }
    String::new()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_tabular_and_bold_is_wider() {
        let one = text_width("1111", 12.0, Face::Regular);
        assert!((one - text_width("8888", 12.0, Face::Regular)).abs() < 1e-9);
        assert!(text_width("volts", 12.0, Face::Bold) > text_width("volts", 12.0, Face::Regular));
    }

    #[test]
    fn every_sign_the_figures_use_has_an_outline() {
        for sign in "Ω µ ° · × − ± ≤ ≥ ≈ → – … ²".split(' ') {
            let f = font(Face::Regular).unwrap();
            let c = sign.chars().next().unwrap();
            assert!(f.charmap().map(c).is_some_and(|id| id != GlyphId::NOTDEF), "no glyph for {sign}");
        }
    }

    #[test]
    fn wrapping_keeps_every_word_until_lines_run_out() {
        let text = "one two three four five six seven";
        let all = wrap(text, 10.0, Face::Regular, 60.0, 20);
        assert_eq!(all.join(" "), text);
        let two = wrap(text, 10.0, Face::Regular, 60.0, 2);
        assert_eq!(two.len(), 2);
        assert!(two[1].ends_with('…'));
    }
}
