//! The key beside a map.

use super::super::super::font::Face;
use super::super::super::scale::figure;
use super::super::super::scene::{Align, Scene};
use super::super::super::size::{Point, Rect};
use super::super::super::theme::Theme;
use super::{MapData, fill, stroke, words};
use sim_core::study::Region;

/// A patch of a behaviour's colour.
pub(super) fn swatch(scene: &mut Scene, theme: &Theme, (x, y): Point, region: Region) {
    scene.rect(Rect::new(x, y - 9.0, x + 13.0, y + 1.0), fill(theme, region));
    let edge = [(x, y - 9.0), (x + 13.0, y - 9.0), (x + 13.0, y + 1.0), (x, y + 1.0), (x, y - 9.0)];
    scene.path(edge.to_vec(), theme.axis);
}

/// What the colours and lines mean.
pub(super) fn draw(scene: &mut Scene, theme: &Theme, data: &MapData, key: Rect) {
    let size_px = theme.sizes.axis;
    let mut y = key.y0 + 9.0;
    let head = |scene: &mut Scene, y: &mut f64, text: &str| {
        words(scene, (key.x0, *y), Align::Left, text, size_px, Face::Bold, theme.ink);
        *y += 16.0;
    };
    head(scene, &mut y, "What the unit does, area in V²");
    for region in Region::ALL {
        swatch(scene, theme, (key.x0, y), region);
        let text = format!("{}  {}", region.words(), figure(data.map.area_v2(region), 2));
        words(scene, (key.x0 + 19.0, y), Align::Left, &text, size_px, Face::Regular, theme.ink);
        y += 15.0;
    }
    y += 8.0;
    head(scene, &mut y, "Closed forms");
    for (n, line) in data.lines.iter().enumerate() {
        scene.line((key.x0, y - 4.0), (key.x0 + 26.0, y - 4.0), stroke(theme, n, line.guide));
        for part in line.name.split('\n') {
            words(scene, (key.x0 + 32.0, y), Align::Left, part, size_px, Face::Regular, theme.ink);
            y += 13.0;
        }
        y += 3.0;
    }
    y += 8.0;
    head(scene, &mut y, "Thin lines, with their values");
    words(scene, (key.x0, y), Align::Left, "Ah per drive-hour (plain);", size_px, Face::Regular, theme.ink);
    words(
        scene,
        (key.x0, y + 14.0),
        Align::Left,
        "Ah from the starter battery,",
        size_px,
        Face::Regular,
        theme.ink,
    );
    words(
        scene,
        (key.x0, y + 28.0),
        Align::Left,
        "engine stopped (dotted)",
        size_px,
        Face::Regular,
        theme.ink,
    );
}
