//! Fills that stay apart in grey print: a ground with lines over it, told by their direction and how close they are.

use super::dash::clip;
use super::scene::Scene;
use super::size::Rect;
use super::theme::{Ink, Stroke};

/// Lines over a ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pattern {
    /// None.
    Plain,
    /// Rising to the right, so far apart.
    Rising(f64),
    /// Falling to the right, so far apart.
    Falling(f64),
    /// Rising and falling, so far apart.
    Crossed(f64),
    /// Upright, so far apart.
    Upright(f64),
    /// Level, so far apart.
    Level(f64),
}

/// Fills a rectangle with a ground and lines over it.
pub fn fill(scene: &mut Scene, r: Rect, ground: Ink, pattern: Pattern, stroke: Stroke) {
    scene.rect(r, ground);
    // Round ends stay inside.
    let inside = if r.width().min(r.height()) > 4.0 { r.grown(-0.5 * stroke.width_px) } else { r };
    let h = r.height();
    // From x at the bottom to x + lean at the top.
    let mut lines = |apart: f64, lean: f64| {
        let mut x = r.x0 - h + apart / 2.0;
        while x < r.x1 + h {
            for part in clip(&[(x, r.y1), (x + lean, r.y0)], inside) {
                scene.path(part, stroke);
            }
            x += apart;
        }
    };
    match pattern {
        Pattern::Plain => {}
        Pattern::Rising(apart) => lines(apart, h),
        Pattern::Falling(apart) => lines(apart, -h),
        Pattern::Crossed(apart) => {
            lines(apart, h);
            lines(apart, -h);
        }
        Pattern::Upright(apart) => lines(apart, 0.0),
        Pattern::Level(apart) => {
            let count = (h / apart).floor().max(1.0);
            let first = r.y0 + 0.5 * (h - (count - 1.0) * apart);
            for n in 0..count as u32 {
                let y = first + f64::from(n) * apart;
                scene.path(vec![(r.x0, y), (r.x1, y)], stroke);
            }
        }
    }
}
