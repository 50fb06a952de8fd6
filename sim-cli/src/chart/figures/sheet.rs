//! What every figure shares: title, answer and footer, and the foot of the time axis.

use super::super::font::{Face, fit, wrap};
use super::super::key;
use super::super::lane::Lane;
use super::super::panel::{Frame, Panel};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::Theme;
use super::super::time_axis::{Clock, Tick, TimeScale};

/// Words around a figure.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heading {
    /// What is shown.
    pub title: String,
    /// The answer in one sentence.
    pub answer: String,
    /// The inputs that matter.
    pub footer: String,
}

/// Outer margin, logical pixels.
pub(super) const MARGIN_PX: f64 = 16.0;
/// Room for axis figures and row names left of the plots.
pub(super) const LEFT_PX: f64 = 70.0;
/// Room for a panel title above its plot.
pub(super) const TITLE_PX: f64 = 19.0;
/// Space below a plot.
pub(super) const BELOW_PX: f64 = 8.0;
/// Lowest plot that is drawn beside others.
const LOWEST_PX: f64 = 30.0;
/// Room for the labels of the time axis.
pub(super) const AXIS_PX: f64 = 21.0;

/// Draws the words of a figure and returns the area left for it; `shows` says what it draws, for those who do not see it.
pub(super) fn begin(size: FigureSize, theme: &Theme, heading: &Heading, shows: &str) -> (Scene, Rect) {
    let mut scene = Scene::new(size.width_px, size.height_px, theme.paper);
    scene.title = heading.title.clone();
    scene.desc = format!("{shows} {}", heading.answer).trim().to_owned();
    if !scene.desc.contains(|c: char| c.is_ascii_digit()) {
        scene.desc = format!("{} {}", scene.desc, heading.footer);
    }
    let margin = if theme.small { 10.0 } else { MARGIN_PX };
    let width = size.width_px - 2.0 * margin;
    let sizes = &theme.sizes;
    let mut put = |text: &str, baseline: f64, size_px: f64, face: Face, ink| {
        scene.text(Text {
            at: (margin, baseline),
            align: Align::Left,
            text: text.to_owned(),
            size_px,
            face,
            ink,
        });
    };
    let mut y = if theme.small { 5.0 } else { 11.0 } + sizes.title;
    let title = fit(&heading.title, sizes.title, Face::Bold, width);
    put(&title, y, sizes.title, Face::Bold, theme.ink);
    y += if theme.small { 1.0 } else { 3.0 };
    let answer =
        if theme.small { in_lines(&heading.answer, sizes.answer, width, 2) } else { &heading.answer };
    for line in wrap(answer, sizes.answer, Face::Regular, width, 2) {
        y += sizes.answer * 1.3;
        put(&line, y, sizes.answer, Face::Regular, theme.ink);
    }
    let top = y + if theme.small { 6.0 } else { 11.0 };

    // A slide has no room for the inputs: its last sentence says what all of this is.
    let last = heading.footer.trim_end_matches('.').rfind(". ").map_or(0, |i| i + 2);
    let footer = match theme.small {
        true => wrap(&heading.footer[last..], sizes.footer, Face::Regular, width, 1),
        false => wrap(&heading.footer, sizes.footer, Face::Regular, width, 2),
    };
    let mut bottom = size.height_px - if theme.small { 5.0 } else { 9.0 };
    for line in footer.iter().rev() {
        put(line, bottom, sizes.footer, Face::Regular, theme.ink_soft);
        bottom -= sizes.footer * 1.3;
    }
    if !footer.is_empty() {
        bottom -= 1.0;
        let rule = ((margin, bottom), (size.width_px - margin, bottom));
        scene.line(rule.0, rule.1, theme.grid);
    }
    let body = Rect::new(margin, top, size.width_px - margin, bottom - 4.0);
    (scene, body)
}

/// As many whole sentences as fit so many lines, one at least.
fn in_lines(text: &str, size_px: f64, width: f64, lines: usize) -> &str {
    let ends = text.match_indices(". ").map(|(i, _)| i + 1).chain([text.len()]);
    let fits = |end: &usize| wrap(&text[..*end], size_px, Face::Regular, width, 99).len() <= lines;
    let most = ends.clone().filter(fits).last().or(ends.clone().next()).unwrap_or(0);
    &text[..most]
}

/// Says in the middle of a figure why there is nothing to show.
pub(super) fn nothing(scene: &mut Scene, theme: &Theme, body: Rect, words: &str) {
    let (x, y) = body.center();
    scene.text(Text {
        at: (x, y),
        align: Align::Center,
        text: words.to_owned(),
        size_px: theme.sizes.answer,
        face: Face::Regular,
        ink: theme.ink_soft,
    });
}

/// Draws panels below each other over one horizontal scale, `area` shared by their weights.
///
/// Returns the plot of each.
pub(super) fn stack(
    scene: &mut Scene,
    theme: &Theme,
    panels: &[(Panel<'_>, f64)],
    area: Rect,
    (time, ticks, clock): (&TimeScale, &[Tick], &Clock),
    end_label_px: f64,
) -> Vec<Rect> {
    // Where all would be too low to read, the first are drawn and the rest is left to a larger sheet.
    let share_px = |panels: &[(Panel<'_>, f64)]| {
        let chrome = panels.len() as f64 * (TITLE_PX + BELOW_PX);
        (area.height() - chrome).max(10.0) / panels.iter().map(|p| p.1).sum::<f64>()
    };
    let low = |panels: &[(Panel<'_>, f64)]| panels.iter().any(|p| p.1 * share_px(panels) < LOWEST_PX);
    let shown = (1..=panels.len()).rev().find(|n| *n == 1 || !low(&panels[..*n])).unwrap_or(panels.len());
    let panels = &panels[..shown];
    let per_share = share_px(panels);
    let mut y = area.y0;
    let mut plots = Vec::new();
    for (panel, share) in panels {
        y += TITLE_PX;
        let plot = Rect::new(time.x0, y, time.x1, y + share * per_share);
        let frame = Frame {
            plot,
            time: *time,
            clock: *clock,
            ticks,
            limits: panel.limits(),
            axis_figures: true,
            end_label_px,
            names: true,
            window_s: None,
        };
        panel.draw(scene, theme, &frame);
        y = plot.y1 + BELOW_PX;
        plots.push(plot);
    }
    plots
}

/// The lane, its time axis and the key, all anchored to the bottom of a figure.
pub(super) struct Foot<'a> {
    pub lane: &'a Lane,
    pub clock: &'a Clock,
    pub items: Vec<key::KeyItem>,
    /// Top of the lane.
    pub lane_y: f64,
    /// Name of the axis, where it is not that of a clock.
    pub axis_name: Option<&'a str>,
    key_y: f64,
    key_x: (f64, f64),
}

impl<'a> Foot<'a> {
    /// Measures the foot; `scales` are all at which it will be drawn.
    pub(super) fn measure(
        theme: &Theme,
        body: Rect,
        lane: &'a Lane,
        clock: &'a Clock,
        scales: &[TimeScale],
    ) -> Self {
        let items = if theme.small { Vec::new() } else { lane.key(theme, scales) };
        let lines = key::line_count(&items, theme, body.width());
        let key_y = body.y1 - lines as f64 * key::LINE_PX;
        Self {
            lane,
            clock,
            items,
            lane_y: key_y - AXIS_PX - lane.height_px(),
            axis_name: None,
            key_y,
            key_x: (body.x0, body.width()),
        }
    }

    /// Draws lane and time axis over one scale.
    pub(super) fn draw(
        &self,
        scene: &mut Scene,
        theme: &Theme,
        time: &TimeScale,
        ticks: &[Tick],
        main: bool,
    ) {
        self.lane.draw(scene, theme, time, self.lane_y, main);
        let y = self.lane_y + self.lane.height_px();
        scene.line((time.x0, y), (time.x1, y), theme.axis);
        let size_px = theme.sizes.axis;
        let mut text = |x: f64, align, words: &str| {
            let text = Text {
                at: (x, y + 14.0),
                align,
                text: words.to_owned(),
                size_px,
                face: Face::Regular,
                ink: theme.ink_soft,
            };
            let bounds = text.bounds();
            scene.text(text);
            bounds
        };
        let (mut left_edge, mut right_edge) = (f64::INFINITY, time.x1);
        for tick in ticks {
            // The outermost labels may hang over the plot a little, never into a neighbour.
            let bounds = text(time.x(tick.time_s), Align::Center, &tick.label);
            left_edge = left_edge.min(bounds.x0);
            right_edge = right_edge.max(bounds.x1);
        }
        if main {
            let words = self.axis_name.map_or_else(|| time.title(self.clock), str::to_owned);
            let width = super::super::font::text_width(&words, size_px, Face::Regular);
            if time.x0 - 6.0 - width >= MARGIN_PX - 8.0 && left_edge >= time.x0 - 2.0 {
                text(time.x0 - 6.0, Align::Right, &words);
            } else {
                text((time.x1 + 26.0).max(right_edge + 12.0), Align::Left, &words);
            }
        }
        for tick in ticks {
            let x = time.x(tick.time_s);
            scene.line((x, y), (x, y + 3.0), theme.axis);
        }
        if main {
            key::draw(scene, theme, &self.items, (self.key_x.0, self.key_y), self.key_x.1);
        }
    }
}
