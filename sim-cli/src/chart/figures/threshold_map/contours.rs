//! Lines of equal charge and of equal loss on a map, and their values.

use super::super::super::font::{Face, text_width};
use super::super::super::scale::{figure, round_step};
use super::super::super::scene::{Align, Scene};
use super::super::super::size::{Point, Rect};
use super::super::super::theme::{Dash, Stroke, Theme};
use super::names::crossed;
use super::view::View;
use super::words;
use sim_core::study::Region;

/// A line of one value: its value in words, and its strokes.
pub(super) struct Contour {
    text: String,
    strokes: Vec<(Point, Point)>,
}

/// Strokes from which a line is worth a value.
const WORTH: usize = 4;
/// Lines of one kind that are aimed at.
const STEPS: f64 = 6.0;

impl View<'_> {
    /// Draws the lines, within one behaviour: across a border the quantity jumps.
    pub(super) fn contours(&self, scene: &mut Scene, theme: &Theme) -> Vec<Contour> {
        let rate = |n: usize| self.map.points[n].map(|p| p.ah_per_drive_hour);
        let taken = |n: usize| self.map.points[n].map(|p| p.starter_taken_ah);
        let soft = Stroke::solid(theme.ink_soft, 0.6);
        let dotted = Stroke::dashed(theme.ink_soft, 0.9, Dash::Dot);
        let charge = (self.levels(&rate, &[Region::Good, Region::StartUpCycles]), soft);
        let loss = (self.levels(&taken, &[Region::RunsOn, Region::ComesBack]), dotted);
        let mut all = Vec::new();
        for (levels, stroke) in [charge, loss] {
            levels.iter().flat_map(|c| &c.strokes).for_each(|(a, b)| scene.line(*a, *b, stroke));
            all.extend(levels);
        }
        all
    }

    fn levels(&self, value: &dyn Fn(usize) -> Option<f64>, within: &[Region]) -> Vec<Contour> {
        let inside = |n: usize| self.region(n).is_some_and(|r| within.contains(&r));
        let all: Vec<f64> = (0..self.map.points.len()).filter(|n| inside(*n)).filter_map(value).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if all.is_empty() || high - low < 0.05 {
            return Vec::new();
        }
        let step = round_step((high - low) / STEPS);
        let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 3.0) as usize;
        let levels = ((low / step).ceil() as i64..=(high / step).floor() as i64).map(|k| k as f64 * step);
        levels
            .map(|level| Contour {
                text: figure(level, decimals),
                strokes: self.strokes(level, value, &inside),
            })
            .collect()
    }

    /// Where a value is met, a stroke for each cell that it crosses.
    fn strokes(
        &self,
        level: f64,
        value: &dyn Fn(usize) -> Option<f64>,
        inside: &dyn Fn(usize) -> bool,
    ) -> Vec<(Point, Point)> {
        let cut = |corners: [usize; 4]| {
            let same = corners.iter().all(|n| inside(*n) && self.region(*n) == self.region(corners[0]));
            let values: Vec<f64> = corners.iter().filter_map(|n| value(*n)).collect();
            if !same || values.len() < 4 {
                return None;
            }
            let meets = |k: usize| {
                let (a, b) = (values[k], values[(k + 1) % 4]);
                if (a < level) == (b < level) {
                    return None;
                }
                let (p, q) = (self.at(self.node(corners[k])), self.at(self.node(corners[(k + 1) % 4])));
                let u = (level - a) / (b - a);
                Some((p.0 + u * (q.0 - p.0), p.1 + u * (q.1 - p.1)))
            };
            match (0..4).filter_map(meets).collect::<Vec<_>>()[..] {
                [a, b] => Some((a, b)),
                _ => None,
            }
        };
        self.cells().filter_map(cut).collect()
    }

    /// Writes the value of each line into a gap of its own, clear of every other line and word; where there is no such place
    /// it goes without.
    pub(super) fn values(
        &self,
        scene: &mut Scene,
        theme: &Theme,
        contours: &[Contour],
        lines: &[Vec<Point>],
        taken: &mut Vec<Rect>,
    ) {
        let size_px = theme.sizes.axis;
        for (n, contour) in contours.iter().enumerate().filter(|(_, c)| c.strokes.len() >= WORTH) {
            let half = text_width(&contour.text, size_px, Face::Regular) / 2.0 + 2.0;
            let others = contours.iter().enumerate().filter(|(k, _)| *k != n);
            let others: Vec<Vec<Point>> =
                others.flat_map(|(_, c)| &c.strokes).map(|(a, b)| vec![*a, *b]).collect();
            let free = |r: &Rect| {
                self.plot.contains(r)
                    && !taken.iter().any(|t| t.grown(3.0).overlaps(r))
                    && !crossed(lines, *r)
                    && !crossed(&others, *r)
            };
            let label = |(x, y): Point| Rect::new(x - half, y - 6.0, x + half, y + 6.0);
            // Nearest to the middle of the line as it is walked.
            let mut places: Vec<(usize, Point)> = contour.strokes.iter().map(|s| s.0).enumerate().collect();
            places.sort_by_key(|(k, _)| k.abs_diff(contour.strokes.len() / 2));
            let Some((_, at)) = places.into_iter().find(|(_, p)| free(&label(*p))) else { continue };
            taken.push(label(at));
            scene.rect(label(at), theme.paper);
            let base = (at.0, at.1 + 4.0);
            words(scene, base, Align::Center, &contour.text, size_px, Face::Regular, theme.ink);
        }
    }
}
