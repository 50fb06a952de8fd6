//! Words on a map: the setting, and each behaviour's name where no line is.

use super::super::super::dash::clip;
use super::super::super::font::{Face, text_width};
use super::super::super::scale::figure;
use super::super::super::scene::{Align, Scene};
use super::super::super::size::{Point, Rect};
use super::super::super::theme::{Stroke, Theme};
use super::view::View;
use super::{Setting, fill, words};
use sim_core::study::Region;

/// Whether one of the lines passes through a box.
pub(super) fn crossed(lines: &[Vec<Point>], area: Rect) -> bool {
    lines.iter().any(|line| clip(line, area).iter().any(|part| part.len() > 1))
}

impl View<'_> {
    /// Writes each behaviour's name inside its area, clear of lines where there is such a place, and else on paper of its own.
    pub(super) fn names(
        &self,
        scene: &mut Scene,
        theme: &Theme,
        lines: &[Vec<Point>],
        taken: &mut Vec<Rect>,
    ) {
        let size_px = theme.sizes.label;
        for region in Region::ALL {
            let own: Vec<Point> = (0..self.map.points.len())
                .filter(|n| self.region(*n) == Some(region))
                .map(|n| self.at(self.node(n)))
                .collect();
            let half = text_width(region.words(), size_px, Face::Bold) / 2.0 + 4.0;
            let word =
                |p: &Point| Rect::new(p.0 - half, p.1 - 0.7 * size_px, p.0 + half, p.1 + 0.7 * size_px);
            let inside = |r: &Rect| {
                let at = |k: usize, of: usize, a: f64, b: f64| a + (b - a) * k as f64 / of as f64;
                (0..=8).all(|i| {
                    (0..=2)
                        .all(|j| self.region_at((at(i, 8, r.x0, r.x1), at(j, 2, r.y0, r.y1))) == Some(region))
                })
            };
            let room: Vec<&Point> = own
                .iter()
                .filter(|p| inside(&word(p)) && !taken.iter().any(|t| t.overlaps(&word(p).grown(2.0))))
                .collect();
            let n = own.len().max(1) as f64;
            let centre = (own.iter().map(|p| p.0).sum::<f64>() / n, own.iter().map(|p| p.1).sum::<f64>() / n);
            let far = |p: &Point| (p.0 - centre.0).hypot(p.1 - centre.1);
            let nearest = |free: bool| {
                let all = room.iter().filter(|p| !free || !crossed(lines, word(p)));
                all.min_by(|a, b| far(a).total_cmp(&far(b))).map(|p| **p)
            };
            let free = nearest(true);
            // Where no key tells the colours, a name may reach into its neighbours.
            let anywhere = || {
                let in_plot = |p: &Point| {
                    let x = p.0.clamp(self.plot.x0 + half, self.plot.x1 - half);
                    (self.plot.y0 + size_px..self.plot.y1 - size_px).contains(&p.1).then_some((x, p.1))
                };
                let clear = |p: &Point| !taken.iter().any(|t| t.overlaps(&word(p).grown(2.0)));
                let all = own.iter().filter_map(in_plot).filter(clear);
                all.filter(|_| theme.small).min_by(|a, b| far(a).total_cmp(&far(b)))
            };
            let Some(at) = free.or_else(|| nearest(false)).or_else(anywhere) else { continue };
            // On a dark ground words need paper too.
            let dark = (fill(theme, region).grey() - theme.ink.grey()).abs() < 110.0;
            if free.is_none() || dark {
                scene.rect(word(&at), theme.halo);
            }
            taken.push(word(&at));
            let base = (at.0, at.1 + 0.36 * size_px);
            words(scene, base, Align::Center, region.words(), size_px, Face::Bold, theme.ink);
        }
    }

    /// Marks the setting; returns the paper that it takes.
    pub(super) fn setting(&self, scene: &mut Scene, theme: &Theme, setting: Option<Setting>) -> Option<Rect> {
        let (here, nearest) = setting?;
        let (x, y) = self.at(here);
        if !self.plot.grown(1.0).contains(&Rect::new(x, y, x, y)) {
            return None;
        }
        let mut taken = Rect::new(x - 8.0, y - 8.0, x + 8.0, y + 8.0);
        if let Some(to) = nearest {
            let far = (to.0 - here.0).hypot(to.1 - here.1);
            let end = self.at(to);
            scene.line((x, y), end, Stroke::solid(theme.ink, 1.2));
            scene.disc(end, 2.6, theme.ink);
            let text = format!("{} V to the nearest border", figure(far, 2));
            let need = text_width(&text, theme.sizes.label, Face::Bold);
            // On the side that the border is not.
            let left = x - 14.0 - need > self.plot.x0 && (end.0 >= x || x + 14.0 + need > self.plot.x1);
            let at = if left { x - 11.0 - need } else { x + 11.0 };
            taken = Rect::new(taken.x0.min(at), y - 20.0, taken.x1.max(at + need), y + 8.0);
            scene.rect(Rect::new(at - 3.0, y - 20.0, at + need + 3.0, y - 5.0), theme.halo);
            words(scene, (at, y - 9.0), Align::Left, &text, theme.sizes.label, Face::Bold, theme.ink);
        }
        let r = 6.0;
        for (width, ink) in [(4.6, theme.paper), (2.2, theme.ink)] {
            scene.line((x - r, y - r), (x + r, y + r), Stroke::solid(ink, width));
            scene.line((x - r, y + r), (x + r, y - r), Stroke::solid(ink, width));
        }
        Some(taken)
    }
}
