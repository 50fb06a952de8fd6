//! One panel: grid, named thresholds and bands, shaded gaps, lines, and its place on the sheet.
//! The same panel can be drawn twice, once whole and once enlarged, on one value scale.

use super::callout;
use super::decimate::Joining;
use super::font::Face;
use super::labels::{InkMap, Placer};
use super::scale::{Range, ValueScale, figure, limits};
use super::scene::{Align, Scene, Text};
use super::size::Rect;
use super::theme::{Ink, Stroke, Theme};
use super::time_axis::{Clock, Tick, TimeScale};
use super::trace;

/// A line over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Series<'a> {
    /// Label at the line's end.
    pub name: String,
    /// Sample times, rising.
    pub time_s: &'a [f64],
    /// Sample values; one that is not finite leaves a gap.
    pub value: &'a [f64],
    /// How samples are joined.
    pub joining: Joining,
    /// Line style.
    pub stroke: Stroke,
}

/// A horizontal line with its name written on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Threshold {
    /// Where it lies.
    pub value: f64,
    /// Name, value and unit.
    pub name: String,
    /// Line style.
    pub stroke: Stroke,
}

/// A horizontal band with its name written on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Lower edge.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
    /// Name.
    pub name: String,
    /// Fill.
    pub ink: Ink,
}

/// The area between one series and a level, over chosen windows of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Index of the series.
    pub series: usize,
    /// The level.
    pub level: f64,
    /// Windows to shade, seconds.
    pub windows_s: Vec<(f64, f64)>,
    /// Fill where the series is above the level.
    pub above: Ink,
    /// Fill where it is below.
    pub below: Ink,
}

/// A point worth words.
#[derive(Debug, Clone, PartialEq)]
pub struct Marker {
    /// Time of the point.
    pub time_s: f64,
    /// Value of the point.
    pub value: f64,
    /// Other end of a bracket from the point, such as the threshold the distance is measured to.
    pub foot: Option<f64>,
    /// The words; a line feed starts a new line.
    pub text: String,
}

/// What a panel shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel<'a> {
    /// Quantity and unit, written above the plot.
    pub title: String,
    /// Unit alone, for values written inside the plot.
    pub unit: &'a str,
    /// How the value range is chosen.
    pub range: Range,
    /// Smallest span of the value axis.
    pub least_span: f64,
    /// Lines, later ones on top.
    pub series: Vec<Series<'a>>,
    /// Named lines.
    pub thresholds: Vec<Threshold>,
    /// Upright lines: time and look.
    pub uprights: Vec<(f64, Stroke)>,
    /// Named bands.
    pub bands: Vec<Band>,
    /// Shaded areas.
    pub gaps: Vec<Gap>,
    /// Points with words.
    pub markers: Vec<Marker>,
    /// What lies beyond the axis, in words beside the title.
    pub beyond: String,
    /// The same, short.
    pub beyond_short: String,
}

/// Where and in how much detail a panel is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// Area of the plot itself.
    pub plot: Rect,
    /// Time scale over that area.
    pub time: TimeScale,
    /// Wall clock, for moments in words.
    pub clock: Clock,
    /// Time marks for the vertical grid.
    pub ticks: &'a [Tick],
    /// Value limits, from [`Panel::limits`].
    pub limits: (f64, f64),
    /// Write the title and the axis figures.
    pub axis_figures: bool,
    /// Width kept right of the plot for line-end labels; zero writes none.
    pub end_label_px: f64,
    /// Write names of thresholds and bands, and call-outs.
    pub names: bool,
    /// Window to tint because it is enlarged elsewhere.
    pub window_s: Option<(f64, f64)>,
}

impl<'a> Panel<'a> {
    /// A panel with a title and nothing in it yet.
    #[must_use]
    pub fn new(title: &str, unit: &'a str, range: Range) -> Self {
        Self {
            title: title.to_owned(),
            unit,
            range,
            least_span: 0.0,
            series: Vec::new(),
            thresholds: Vec::new(),
            uprights: Vec::new(),
            bands: Vec::new(),
            gaps: Vec::new(),
            markers: Vec::new(),
            beyond: String::new(),
            beyond_short: String::new(),
        }
    }

    /// Value limits over all series and everything named.
    #[must_use]
    pub fn limits(&self) -> (f64, f64) {
        let mut weighted = Vec::with_capacity(self.series.len());
        for s in &self.series {
            let n = s.time_s.len().min(s.value.len());
            let held_s = |i: usize| (s.time_s[(i + 1).min(n - 1)] - s.time_s[i]).max(1e-6);
            weighted
                .push((0..n).filter(|&i| s.value[i].is_finite()).map(|i| (s.value[i], held_s(i))).collect());
        }
        let mut must_show: Vec<f64> = self.thresholds.iter().map(|t| t.value).collect();
        must_show.extend(self.bands.iter().flat_map(|b| [b.low, b.high]));
        must_show.extend(self.markers.iter().map(|m| m.value));
        limits(self.range, &mut weighted, &must_show, self.least_span)
    }

    /// Draws the panel.
    pub fn draw(&self, scene: &mut Scene, theme: &Theme, frame: &Frame<'_>) {
        let plot = frame.plot;
        let scale = ValueScale { low: frame.limits.0, high: frame.limits.1, y_low: plot.y1, y_high: plot.y0 };
        self.draw_ground(scene, theme, frame, &scale);

        let traced = trace::trace(&self.series, frame);
        trace::draw_gaps(scene, &self.gaps, frame, &scale, &traced);
        for t in self.thresholds.iter().filter(|t| t.value.is_finite()) {
            let y = scale.y(t.value);
            if (plot.y0..=plot.y1).contains(&y) {
                scene.line((plot.x0, y), (plot.x1, y), t.stroke);
            }
        }
        let mut ink = InkMap::new(plot);
        for (at, stroke) in &self.uprights {
            let x = frame.time.x(*at);
            if (plot.x0..=plot.x1).contains(&x) {
                scene.line((x, plot.y0), (x, plot.y1), *stroke);
                ink.add(&[(x, plot.y0), (x, plot.y1)]);
            }
        }
        for t in &traced {
            trace::draw_line(scene, frame, &scale, t, &mut ink);
        }
        let mut beside = Vec::new();
        if frame.names {
            let free = ink.clone();
            for t in &self.thresholds {
                ink.add(&[(plot.x0, scale.y(t.value)), (plot.x1, scale.y(t.value))]);
            }
            let mut placer = Placer::new(plot.grown(-2.0), ink);
            callout::markers(scene, theme, frame, &scale, &self.markers, &mut placer, &mut beside);
            callout::names(scene, theme, frame, &scale, self, &mut placer.over(free), &mut beside);
        }
        if frame.axis_figures {
            let title = self.draw_title(scene, theme, frame);
            callout::off_scale(scene, theme, frame, &scale, &traced, self, title.x1);
        }
        if traced.iter().all(|t| t.runs.is_empty()) {
            let (x, y) = plot.center();
            scene.text(Text {
                at: (x, y + 4.0),
                align: Align::Center,
                text: "no data".to_owned(),
                size_px: theme.sizes.label,
                face: Face::Regular,
                ink: theme.ink_soft,
            });
        }
        if frame.end_label_px > 0.0 {
            callout::end_labels(scene, theme, frame, &scale, &traced, beside);
        }
    }

    /// Tints, bands, grid and axis figures.
    fn draw_ground(&self, scene: &mut Scene, theme: &Theme, frame: &Frame<'_>, scale: &ValueScale) {
        let plot = frame.plot;
        if let Some((from_s, to_s)) = frame.window_s {
            let (x0, x1) = (frame.time.x_clamped(from_s), frame.time.x_clamped(to_s));
            scene.rect(Rect::new(x0, plot.y0, x1.max(x0 + 2.0), plot.y1), theme.window);
        }
        for b in &self.bands {
            let (top, bottom) = (scale.y_clamped(b.high), scale.y_clamped(b.low));
            scene.rect(Rect::new(plot.x0, top, plot.x1, bottom), b.ink);
        }
        for t in frame.ticks {
            let x = frame.time.x(t.time_s);
            let stroke = if t.day_start { theme.day } else { theme.grid };
            scene.line((x, plot.y0), (x, plot.y1), stroke);
        }
        let (values, decimals) = scale.ticks(18.0);
        let crosses_zero = frame.limits.0 < 0.0 && frame.limits.1 > 0.0;
        for v in values {
            let y = scale.y(v);
            let zero = crosses_zero && v.abs() < 1e-9;
            let stroke = if zero { theme.axis } else { theme.grid };
            scene.line((plot.x0, y), (plot.x1, y), stroke);
            if frame.axis_figures {
                scene.text(Text {
                    at: (plot.x0 - 6.0, y + 0.36 * theme.sizes.axis),
                    align: Align::Right,
                    text: figure(v, decimals),
                    size_px: theme.sizes.axis,
                    face: Face::Regular,
                    ink: theme.ink_soft,
                });
            }
        }
        scene.line((plot.x0, plot.y1), (plot.x1, plot.y1), theme.axis);
    }

    /// Writes the title and returns the box it fills.
    fn draw_title(&self, scene: &mut Scene, theme: &Theme, frame: &Frame<'_>) -> Rect {
        let title = Text {
            at: (frame.plot.x0, frame.plot.y0 - 6.0),
            align: Align::Left,
            text: self.title.clone(),
            size_px: theme.sizes.panel,
            face: Face::Bold,
            ink: theme.ink,
        };
        let bounds = title.bounds();
        scene.text(title);
        bounds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A panel with every kind of thing in it, over invented data.
    fn full<'a>(time_s: &'a [f64], value: &'a [f64]) -> Panel<'a> {
        let theme = Theme::light();
        let mut panel = Panel::new("Case temperature, °C", "°C", Range::Bulk);
        panel.series.push(Series {
            name: "unit case".to_owned(),
            time_s,
            value,
            joining: Joining::Step,
            stroke: theme.roles.temperature,
        });
        panel.bands.push(Band {
            low: 60.0,
            high: 80.0,
            name: "current reduced, 60 to 80 °C".to_owned(),
            ink: theme.gap,
        });
        panel.gaps.push(Gap {
            series: 0,
            level: 30.0,
            windows_s: vec![(100.0, 300.0)],
            above: theme.gap,
            below: theme.shortfall,
        });
        panel.markers.push(Marker {
            time_s: 300.0,
            value: 71.0,
            foot: None,
            text: "hottest: 71 °C\nat 00:05:00".to_owned(),
        });
        panel
    }

    #[test]
    fn a_band_a_step_and_a_call_out_are_drawn_and_named() {
        let time_s = [0.0, 100.0, 200.0, 300.0, 400.0, 500.0];
        let value = [20.0, 45.0, f64::NAN, 71.0, 66.0, 30.0];
        let (theme, panel) = (Theme::light(), full(&time_s, &value));
        let time = TimeScale::new(0.0, 500.0, 60.0, 700.0);
        let clock = Clock { start_s_of_day: Some(0.0), ..Clock::default() };
        let ticks = time.ticks(&clock, 10.5);
        let mut scene = Scene::new(900.0, 300.0, theme.paper);
        let frame = Frame {
            plot: Rect::new(60.0, 40.0, 700.0, 260.0),
            time,
            clock,
            ticks: &ticks,
            limits: panel.limits(),
            axis_figures: true,
            end_label_px: 150.0,
            names: true,
            window_s: None,
        };
        panel.draw(&mut scene, &theme, &frame);
        for words in ["current reduced", "hottest: 71", "unit case", "Case temperature"] {
            assert!(scene.texts().any(|t| t.text.contains(words)), "{words}");
        }
        // The step makes level pieces: some stretch of the line has two points at one height.
        let stroke = theme.roles.temperature;
        assert!(scene.shapes.iter().any(|s| matches!(
            s,
            super::super::scene::Shape::Path { points, stroke: drawn }
                if *drawn == stroke && points.windows(2).any(|p| p[0].1 == p[1].1)
        )));
    }

    #[test]
    fn limits_cover_thresholds_without_data() {
        let mut panel = Panel::new("volts", "V", Range::Bulk);
        panel.thresholds.push(Threshold {
            value: 13.6,
            name: "turn-on".to_owned(),
            stroke: Theme::light().roles.turn_on,
        });
        let (low, high) = panel.limits();
        assert!(low < 13.6 && high > 13.6);
    }
}
