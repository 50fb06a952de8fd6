//! The key line under the time axis: small marks, each with a few words, wrapped to the width.

use super::events::{EventKind, wedge};
use super::font::{Face, text_width};
use super::lane::{comb, fill};
use super::scene::{Align, Scene, Text};
use super::size::Rect;
use super::theme::{Ink, RibbonInk, Theme};

/// The sign in front of a key entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum KeyMark {
    /// Wedge up.
    Up,
    /// Wedge down.
    Down,
    /// Hollow wedge down.
    Stopped,
    /// Letter in bold.
    Letter(char),
    /// Filled box.
    Swatch(Ink),
    /// Filled disc.
    Dot(Ink),
    /// Box of a state.
    State(RibbonInk),
    /// Box of teeth.
    Comb,
}

/// One entry of the key.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyItem {
    /// The sign.
    pub mark: KeyMark,
    /// The words.
    pub text: String,
}

/// Height of one line of the key, logical pixels.
pub const LINE_PX: f64 = 15.0;
const AIR_PX: f64 = 16.0;

fn mark_width(mark: KeyMark, size_px: f64) -> f64 {
    match mark {
        KeyMark::Up | KeyMark::Down | KeyMark::Stopped | KeyMark::Dot(_) => 8.0,
        KeyMark::Letter(c) => text_width(c.encode_utf8(&mut [0; 4]), size_px, Face::Bold),
        KeyMark::Swatch(_) | KeyMark::State(_) | KeyMark::Comb => 16.0,
    }
}

/// Entries with their left edge, line by line.
fn arrange<'i>(items: &'i [KeyItem], theme: &Theme, width: f64) -> Vec<Vec<(f64, &'i KeyItem)>> {
    let size_px = theme.sizes.axis;
    let mut lines: Vec<Vec<(f64, &KeyItem)>> = Vec::new();
    let mut x = f64::INFINITY;
    for item in items {
        let w = mark_width(item.mark, size_px) + 5.0 + text_width(&item.text, size_px, Face::Regular);
        if x + w > width {
            lines.push(Vec::new());
            x = 0.0;
        }
        if let Some(line) = lines.last_mut() {
            line.push((x, item));
        }
        x += w + AIR_PX;
    }
    lines
}

/// Lines the key needs at this width.
#[must_use]
pub fn line_count(items: &[KeyItem], theme: &Theme, width: f64) -> usize {
    arrange(items, theme, width).len()
}

/// Draws the key with its top left corner at `(x0, y0)`.
pub fn draw(scene: &mut Scene, theme: &Theme, items: &[KeyItem], (x0, y0): (f64, f64), width: f64) {
    let size_px = theme.sizes.axis;
    for (row, line) in arrange(items, theme, width).into_iter().enumerate() {
        let baseline = y0 + row as f64 * LINE_PX + 11.0;
        for (x, item) in line {
            let x = x0 + x;
            let mark_px = mark_width(item.mark, size_px);
            let r = Rect::new(x, baseline - 8.0, x + mark_px, baseline);
            match item.mark {
                KeyMark::Up => wedge(scene, theme, EventKind::On, x + 4.0, r.y0),
                KeyMark::Down => wedge(scene, theme, EventKind::Off, x + 4.0, r.y0),
                KeyMark::Stopped => wedge(scene, theme, EventKind::Stopped, x + 4.0, r.y0),
                KeyMark::Swatch(ink) => scene.rect(r, ink),
                KeyMark::Dot(ink) => scene.disc((x + 4.0, 0.5 * (r.y0 + r.y1)), 3.2, ink),
                KeyMark::State(ink) => fill(scene, r, ink),
                KeyMark::Comb => comb(scene, theme, r, theme.ink_soft),
                KeyMark::Letter(c) => scene.text(Text {
                    at: (x, baseline),
                    align: Align::Left,
                    text: c.to_string(),
                    size_px,
                    face: Face::Bold,
                    ink: theme.ink,
                }),
            }
            scene.text(Text {
                at: (r.x1 + 5.0, baseline),
                align: Align::Left,
                text: super::font::fit(&item.text, size_px, Face::Regular, x0 + width - r.x1 - 5.0),
                size_px,
                face: Face::Regular,
                ink: theme.ink_soft,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_narrow_key_wraps_and_loses_nothing() {
        let theme = Theme::light();
        let items: Vec<KeyItem> = ["voltage low", "key-off", "timer", "finished"]
            .iter()
            .map(|t| KeyItem { mark: KeyMark::Letter('V'), text: (*t).to_owned() })
            .collect();
        assert_eq!(line_count(&items, &theme, 2000.0), 1);
        assert_eq!(line_count(&[], &theme, 100.0), 0);
        let lines = arrange(&items, &theme, 100.0);
        assert!(lines.len() > 1);
        assert_eq!(lines.iter().map(Vec::len).sum::<usize>(), items.len());
    }
}
