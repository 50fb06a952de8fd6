//! The cliff chart: what a drive delivers, and how often the unit starts, over the resistance of the loop.

use super::super::decimate::Joining;
use super::super::font::Face;
use super::super::panel::{Frame, Panel, Series};
use super::super::scale::{Range, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Stroke, Theme};
use super::super::time_axis::{Clock, Tick, TimeScale};
use super::super::x_axis;
use super::sheet::{self, Heading, LEFT_PX};

/// One current setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Its name.
    pub name: String,
    /// Resistance of the loop, mΩ, rising.
    pub loop_mohm: Vec<f64>,
    /// Charge per hour of driving, Ah/h.
    pub ah_per_hour: Vec<f64>,
    /// Starts per hour of driving.
    pub starts_per_hour: Vec<f64>,
    /// Where the closed form puts the cliff, mΩ.
    pub closed_form_mohm: Option<f64>,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CliffData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// One curve per current setting.
    pub curves: Vec<Curve>,
    /// The vehicle: least, likeliest and greatest resistance of its loop, mΩ.
    pub vehicle_mohm: (f64, f64, f64),
    /// Marks of the upper axis: loop resistance in mΩ and length in m.
    pub lengths: Vec<(f64, f64)>,
    /// Name of the upper axis.
    pub length_name: String,
}

const END_LABEL_PX: f64 = 120.0;
/// Room above the highest curve for names, share of the axis.
const HEAD_ROOM: f64 = 0.16;
const MARKS_MOHM: [f64; 15] =
    [2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0, 70.0, 100.0, 150.0, 200.0, 300.0];

/// Builds the picture.
#[must_use]
pub fn cliff(data: &CliffData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, &data.heading, "What happens as one input is changed.");
    let (x0, x1) = (body.x0 + LEFT_PX - 22.0, body.x1 - END_LABEL_PX);
    let all = || data.curves.iter().flat_map(|c| &c.loop_mohm).copied();
    let low = all().fold(f64::INFINITY, f64::min).min(data.vehicle_mohm.0);
    let high = all().fold(0.0, f64::max).max(data.vehicle_mohm.2);
    if !(low > 0.0 && high > low) {
        sheet::nothing(&mut scene, theme, body, "No run could be made.");
        return scene;
    }
    let x = TimeScale::new(low.log10(), high.log10(), x0, x1);
    let tick = |at: f64, label: String| Tick { time_s: at.log10(), label, day_start: false };
    let marks = MARKS_MOHM.iter().filter(|m| (low..=high).contains(*m));
    let ticks: Vec<Tick> = marks.map(|m| tick(*m, figure(*m, 0))).collect();
    let lengths: Vec<Tick> = data
        .lengths
        .iter()
        .filter(|l| (low..=high).contains(&l.0))
        .map(|l| tick(l.0, figure(l.1, usize::from(l.1.fract() != 0.0))))
        .collect();

    let log: Vec<Vec<f64>> =
        data.curves.iter().map(|c| c.loop_mohm.iter().map(|r| r.log10()).collect()).collect();
    let top = body.y0 + if theme.small { 16.0 } else { 34.0 };
    let bottom = body.y1 - x_axis::BELOW_PX;
    let split = top + 0.64 * (bottom - top);
    let upper = Rect::new(x0, top, x1, if theme.small { bottom } else { split - 14.0 });
    let lower = if theme.small { upper } else { Rect::new(x0, split + 10.0, x1, bottom) };
    let clock = Clock::default();
    let band = (data.vehicle_mohm.0.log10(), data.vehicle_mohm.2.log10());
    let both = [("Ah per drive-hour", "Ah/h", upper, true), ("Starts per drive-hour", "1/h", lower, false)];
    for (title, unit, plot, charge) in both.into_iter().take(if theme.small { 1 } else { 2 }) {
        // The upper one has an axis where its title would stand.
        let mut panel = Panel::new(if charge { "" } else { title }, unit, Range::FromZero);
        for (n, (curve, x)) in data.curves.iter().zip(&log).enumerate() {
            panel.series.push(Series {
                name: curve.name.clone(),
                time_s: x,
                value: if charge { &curve.ah_per_hour } else { &curve.starts_per_hour },
                joining: Joining::Straight,
                stroke: stroke(theme, n, data.curves.len()),
            });
        }
        panel.uprights.push((data.vehicle_mohm.1.log10(), Stroke::solid(theme.ink, 1.0)));
        // Names stand above the curves, the vehicle's above all of them.
        let (low_v, high_v) = panel.limits();
        let above = if charge && !theme.small { HEAD_ROOM * (high_v - low_v) } else { 0.0 };
        let frame = Frame {
            plot,
            time: x,
            clock,
            ticks: &ticks,
            limits: (low_v, high_v + above),
            axis_figures: true,
            end_label_px: if charge && !theme.small { 0.0 } else { END_LABEL_PX },
            names: true,
            window_s: Some(band),
        };
        panel.draw(&mut scene, theme, &frame);
        for (n, curve) in data.curves.iter().enumerate() {
            let Some(r) = curve.closed_form_mohm.filter(|r| (low..=high).contains(r)) else { continue };
            let at = x.x(r.log10());
            let own = Stroke { width_px: 2.6, dash: Dash::Solid, ..stroke(theme, n, data.curves.len()) };
            scene.line((at, plot.y1 - 11.0), (at, plot.y1 + 1.0), own);
        }
        let van = x.x(data.vehicle_mohm.1.log10());
        if charge && !theme.small {
            let words = "the vehicle; tinted: how well it is known";
            note(&mut scene, theme, (van + 5.0, plot.y0 + 12.0), words);
            curve_names(&mut scene, theme, data, &x, plot, frame.limits);
        }
    }
    scene.text(Text {
        at: (x0 - 36.0, upper.y0 - if theme.small { 6.0 } else { 21.0 }),
        align: Align::Left,
        text: "Ah per drive-hour".to_owned(),
        size_px: theme.sizes.panel,
        face: Face::Bold,
        ink: theme.ink,
    });
    if theme.small {
        x_axis::draw(&mut scene, theme, &x, &ticks, upper.y1, "loop at 20 °C, mΩ; upright: the vehicle");
        return scene;
    }
    x_axis::draw_above(&mut scene, theme, &x, &lengths, upper.y0);
    let middle = f64::midpoint(x0, x1);
    scene.text(Text {
        at: (middle, upper.y0 - 21.0),
        align: Align::Center,
        text: data.length_name.clone(),
        size_px: theme.sizes.axis,
        face: Face::Regular,
        ink: theme.ink_soft,
    });
    let name = "resistance of the loop at 20 °C, mΩ: source, both legs, joints (log); ticks: closed form";
    x_axis::draw(&mut scene, theme, &x, &ticks, lower.y1, name);
    scene
}

/// Names each curve above its level stretch, at the left where they are apart.
fn curve_names(
    scene: &mut Scene,
    theme: &Theme,
    data: &CliffData,
    x: &TimeScale,
    plot: Rect,
    limits: (f64, f64),
) {
    for curve in &data.curves {
        let Some((r, v)) = curve.loop_mohm.first().zip(curve.ah_per_hour.first()) else { continue };
        let y = plot.y1 - (v - limits.0) / (limits.1 - limits.0) * plot.height();
        note(scene, theme, (x.x(r.log10()) + 6.0, y - 5.0), &curve.name);
    }
}

fn note(scene: &mut Scene, theme: &Theme, at: (f64, f64), words: &str) {
    scene.text(Text {
        at,
        align: Align::Left,
        text: words.to_owned(),
        size_px: theme.sizes.axis,
        face: Face::Regular,
        ink: theme.ink,
    });
}

/// The greatest current is drawn firmest.
fn stroke(theme: &Theme, n: usize, of: usize) -> Stroke {
    let dashes = [Dash::Solid, Dash::Long, Dash::Chain, Dash::Short, Dash::Dot];
    let from_last = of - 1 - n;
    let inks =
        [theme.roles.input.ink, theme.roles.house.ink, theme.roles.starter.ink, theme.roles.output.ink];
    Stroke { ink: inks[from_last % 4], width_px: 1.9, dash: dashes[from_last % 5] }
}
