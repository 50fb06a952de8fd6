//! Text measuring and glyph outlines from the embedded Noto Sans (SIL Open Font License 1.1).
//! Every figure measures its own labels here, so layout is the same on every machine.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef, GlyphId, OutlineCurve};

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
        FontRef::try_from_slice(match face {
            Face::Regular => notosans::REGULAR_TTF,
            Face::Bold => notosans::BOLD_TTF,
        })
        .ok()
    })
    .as_ref()
}

/// Glyph ids with the pen position of each, in ems, and the total advance.
fn shape(font: &FontRef<'static>, text: &str) -> (Vec<(GlyphId, f64)>, f64) {
    let per_em = f64::from(font.units_per_em().unwrap_or(1000.0));
    let mut pen_em = 0.0;
    let mut previous: Option<GlyphId> = None;
    let mut glyphs = Vec::with_capacity(text.len());
    for c in text.chars() {
        let id = font.glyph_id(c);
        if let Some(before) = previous {
            pen_em += f64::from(font.kern_unscaled(before, id)) / per_em;
        }
        glyphs.push((id, pen_em));
        pen_em += f64::from(font.h_advance_unscaled(id)) / per_em;
        previous = Some(id);
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

/// Outlines of one line of text, in the unit of `size`.
#[must_use]
pub fn outline(text: &str, size: f64, face: Face) -> Vec<Pen> {
    let Some(font) = font(face) else {
        return Vec::new();
    };
    let k = size / f64::from(font.units_per_em().unwrap_or(1000.0));
    let mut pens = Vec::new();
    for (id, pen_em) in shape(font, text).0 {
        let Some(glyph) = font.outline(id) else {
            continue;
        };
        let at = |p: ab_glyph::Point| (pen_em * size + f64::from(p.x) * k, -f64::from(p.y) * k);
        let mut last = None;
        for curve in glyph.curves {
            let start = match curve {
                OutlineCurve::Line(p, _) | OutlineCurve::Quad(p, _, _) | OutlineCurve::Cubic(p, _, _, _) => p,
            };
            if last != Some(start) {
                let (x, y) = at(start);
                pens.push(Pen::Move(x, y));
            }
            last = Some(match curve {
                OutlineCurve::Line(_, e) => {
                    let (x, y) = at(e);
                    pens.push(Pen::Line(x, y));
                    e
                }
                OutlineCurve::Quad(_, c, e) => {
                    let ((cx, cy), (x, y)) = (at(c), at(e));
                    pens.push(Pen::Quad(cx, cy, x, y));
                    e
                }
                OutlineCurve::Cubic(_, c, d, e) => {
                    let ((cx, cy), (dx, dy), (x, y)) = (at(c), at(d), at(e));
                    pens.push(Pen::Cubic(cx, cy, dx, dy, x, y));
                    e
                }
            });
        }
    }
    pens
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
            assert_ne!(f.glyph_id(c), GlyphId(0), "no glyph for {sign}");
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
