//! The trade-off of a search: charge against what is left in the starter battery, each dot one setting that was tried.

use super::super::font::Face;
use super::super::scale::{Range, ValueScale, figure, limits};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Point, Rect};
use super::super::theme::{Ink, Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::super::x_axis;
use super::sheet::{self, Heading};

/// Everything the picture shows; pairs are starter battery in % and charge in Ah per drive-hour.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TradeOffData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Settings that break a limit.
    pub outside: Vec<(f64, f64)>,
    /// Settings within all limits.
    pub within: Vec<(f64, f64)>,
    /// Of these, those that no other beats in both, by falling charge.
    pub front: Vec<(f64, f64)>,
    /// The setting chosen.
    pub best: Option<(f64, f64)>,
}

/// Builds the picture.
#[must_use]
pub fn trade_off(data: &TradeOffData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) =
        sheet::begin(size, theme, &data.heading, "Settings that a search found, charge against switchings.");
    let all = || data.outside.iter().chain(&data.within).copied();
    if all().next().is_none() {
        sheet::nothing(&mut scene, theme, body, "No run could be made.");
        return scene;
    }
    let plot = Rect::new(
        body.x0 + 40.0,
        body.y0 + 20.0,
        body.x1 - if theme.small { 126.0 } else { 190.0 },
        body.y1 - x_axis::BELOW_PX,
    );
    let span = |values: Vec<f64>, least: f64| {
        let mut weighted = vec![values.into_iter().map(|v| (v, 1.0)).collect()];
        let (low, high) = limits(Range::Bulk, &mut weighted, &[], least);
        (low - 0.03 * (high - low), high + 0.03 * (high - low))
    };
    let must = data.best.iter().chain(&data.front);
    let (mut x, mut y) = (span(all().map(|p| p.0).collect(), 1.0), span(all().map(|p| p.1).collect(), 1.0));
    for p in must {
        x = (x.0.min(p.0), x.1.max(p.0));
        y = (y.0.min(p.1), y.1.max(p.1));
    }
    let x = TimeScale::new(x.0, x.1.min(100.5), plot.x0, plot.x1);
    let y = ValueScale { low: y.0, high: y.1, y_low: plot.y1, y_high: plot.y0 };
    let ticks = x_axis::round_ticks(&x, theme.sizes.axis);
    for t in &ticks {
        scene.line((x.x(t.time_s), plot.y0), (x.x(t.time_s), plot.y1), theme.grid);
    }
    let (values, decimals) = y.ticks(24.0);
    for v in values {
        scene.line((plot.x0, y.y(v)), (plot.x1, y.y(v)), theme.grid);
        let at = (plot.x0 - 6.0, y.y(v) + 0.36 * theme.sizes.axis);
        words(&mut scene, theme, at, Align::Right, &figure(v, decimals), Face::Regular);
    }
    let at = |p: (f64, f64)| -> Option<Point> {
        let inside = (x.from_s..=x.to_s).contains(&p.0) && (y.low..=y.high).contains(&p.1);
        inside.then(|| (x.x(p.0), y.y(p.1)))
    };
    let soft = theme.ink_soft.at(0.45);
    let firm = theme.roles.output.ink;
    data.outside.iter().filter_map(|p| at(*p)).for_each(|p| cross(&mut scene, p, 2.4, soft, 0.9));
    data.within.iter().filter_map(|p| at(*p)).for_each(|p| scene.disc(p, 2.3, firm));
    let front: Vec<Point> = data.front.iter().filter_map(|p| at(*p)).collect();
    scene.path(front.clone(), Stroke::solid(theme.ink, 1.6));
    if let Some(p) = data.best.and_then(at) {
        scene.disc(p, 6.0, theme.ink);
        scene.disc(p, 3.6, theme.paper);
    }
    let title = (plot.x0 - 34.0, plot.y0 - 7.0);
    scene.text(Text {
        at: title,
        align: Align::Left,
        text: "Ah per drive-hour, the worst case".to_owned(),
        size_px: theme.sizes.panel,
        face: Face::Bold,
        ink: theme.ink,
    });
    x_axis::draw(
        &mut scene,
        theme,
        &x,
        &ticks,
        plot.y1,
        if theme.small {
            "lowest starter battery, %, worst case"
        } else {
            "lowest state of charge of the starter battery, %, the worst case"
        },
    );
    let (kx, mut ky) = (plot.x1 + 20.0, plot.y0 + 12.0);
    let mut row = |scene: &mut Scene, text: &str| {
        words(scene, theme, (kx + 18.0, ky), Align::Left, text, Face::Regular);
        ky += 18.0;
        (kx + 6.0, ky - 22.0)
    };
    let p = row(&mut scene, "within all limits");
    scene.disc(p, 2.6, firm);
    let p = row(&mut scene, "breaks a limit");
    cross(&mut scene, p, 2.8, soft, 1.0);
    let p = row(&mut scene, "none better in both");
    scene.line((p.0 - 7.0, p.1), (p.0 + 7.0, p.1), Stroke::solid(theme.ink, 1.6));
    if data.best.is_some() {
        let p = row(&mut scene, "chosen");
        scene.disc(p, 6.0, theme.ink);
        scene.disc(p, 3.6, theme.paper);
    }
    scene
}

fn words(scene: &mut Scene, theme: &Theme, at: Point, align: Align, text: &str, face: Face) {
    scene.text(Text { at, align, text: text.to_owned(), size_px: theme.sizes.axis, face, ink: theme.ink });
}

fn cross(scene: &mut Scene, (x, y): Point, r: f64, ink: Ink, width_px: f64) {
    scene.line((x - r, y - r), (x + r, y + r), Stroke::solid(ink, width_px));
    scene.line((x - r, y + r), (x + r, y - r), Stroke::solid(ink, width_px));
}
