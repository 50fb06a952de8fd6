//! Marks and words along a horizontal axis that is no clock: rpm, amps, minutes, or time on a log scale.
//! Panels map any rising quantity through a [`TimeScale`]; on a log axis that quantity is log10 of seconds.

use super::font::{Face, text_width};
use super::labels::thin_row;
use super::scale::{figure, round_step};
use super::scene::{Align, Scene, Text};
use super::theme::Theme;
use super::time_axis::{Tick, TimeScale};

/// Room below a plot for figures and the name of the axis, logical pixels.
pub const BELOW_PX: f64 = 34.0;

/// Marks of a log time axis: seconds, label, rank (0 is kept first).
const LOG_MARKS: [(f64, &str, u32); 24] = [
    (1.0, "1 s", 0),
    (2.0, "2 s", 2),
    (5.0, "5 s", 2),
    (10.0, "10 s", 0),
    (20.0, "20 s", 2),
    (30.0, "30 s", 1),
    (60.0, "1 min", 0),
    (120.0, "2 min", 2),
    (300.0, "5 min", 1),
    (600.0, "10 min", 0),
    (1200.0, "20 min", 2),
    (1800.0, "30 min", 1),
    (3600.0, "1 h", 0),
    (7200.0, "2 h", 2),
    (14_400.0, "4 h", 2),
    (28_800.0, "8 h", 1),
    (43_200.0, "12 h", 2),
    (86_400.0, "1 day", 0),
    (172_800.0, "2 days", 1),
    (345_600.0, "4 days", 2),
    (604_800.0, "1 week", 0),
    (2_419_200.0, "4 weeks", 1),
    (9_676_800.0, "16 weeks", 1),
    (31_536_000.0, "1 year", 0),
];

/// Round marks between the ends of a scale, their labels apart.
#[must_use]
pub fn round_ticks(scale: &TimeScale, size_px: f64) -> Vec<Tick> {
    let width = (scale.x1 - scale.x0).max(1.0);
    let widest = [scale.from_s, scale.to_s]
        .map(|v| text_width(&figure(v, 0), size_px, Face::Regular))
        .into_iter()
        .fold(0.0, f64::max);
    let most = (width / (widest + 26.0)).floor().max(1.0);
    let step = round_step(scale.span_s() / most);
    let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize;
    let first = (scale.from_s / step - 1e-9).ceil() as i64;
    let last = (scale.to_s / step + 1e-9).floor() as i64;
    (first..=last)
        .map(|i| {
            let v = i as f64 * step;
            Tick { time_s: v, label: figure(v, decimals), day_start: false }
        })
        .collect()
}

/// Marks of a scale in log10 of seconds; where labels would touch the lesser ones lose theirs.
#[must_use]
pub fn log_ticks(scale: &TimeScale, size_px: f64) -> Vec<Tick> {
    let marks: Vec<(f64, &str, u32)> = LOG_MARKS
        .iter()
        .map(|&(s, label, rank)| (s.log10(), label, rank))
        .filter(|m| (scale.from_s - 1e-9..=scale.to_s + 1e-9).contains(&m.0))
        .collect();
    let boxes: Vec<(f64, f64, u32)> = marks
        .iter()
        .map(|&(at, label, rank)| (scale.x(at), text_width(label, size_px, Face::Regular), rank))
        .collect();
    let keep = thin_row(&boxes, 10.0);
    marks
        .iter()
        .zip(keep)
        .map(|(&(at, label, rank), keep)| Tick {
            time_s: at,
            label: if keep { label.to_owned() } else { String::new() },
            day_start: rank == 0,
        })
        .collect()
}

/// Draws the axis line at `y`, its marks and its name below.
pub fn draw(scene: &mut Scene, theme: &Theme, scale: &TimeScale, ticks: &[Tick], y: f64, name: &str) {
    scene.line((scale.x0, y), (scale.x1, y), theme.axis);
    row(scene, theme, scale, ticks, y, 1.0);
    scene.text(Text {
        at: (f64::midpoint(scale.x0, scale.x1), y + 28.0),
        align: Align::Center,
        text: name.to_owned(),
        size_px: theme.sizes.axis,
        face: Face::Regular,
        ink: theme.ink_soft,
    });
}

/// Draws marks and figures above a plot whose top edge is at `y`.
pub fn draw_above(scene: &mut Scene, theme: &Theme, scale: &TimeScale, ticks: &[Tick], y: f64) {
    scene.line((scale.x0, y), (scale.x1, y), theme.axis);
    row(scene, theme, scale, ticks, y, -1.0);
}

fn row(scene: &mut Scene, theme: &Theme, scale: &TimeScale, ticks: &[Tick], y: f64, side: f64) {
    for tick in ticks {
        let x = scale.x(tick.time_s);
        scene.line((x, y), (x, y + side * 3.0), theme.axis);
        scene.text(Text {
            at: (x, if side > 0.0 { y + 14.0 } else { y - 6.0 }),
            align: Align::Center,
            text: tick.label.clone(),
            size_px: theme.sizes.axis,
            face: Face::Regular,
            ink: theme.ink_soft,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_ticks_are_apart_at_any_range() {
        for (low, high) in [(0.0, 70.0), (400.0, 2600.0), (0.0, 0.4), (-3.0, 12.5)] {
            let scale = TimeScale::new(low, high, 0.0, 300.0);
            let ticks = round_ticks(&scale, 10.5);
            assert!(ticks.len() >= 2, "{low} to {high}: {ticks:?}");
            for pair in ticks.windows(2) {
                let half = |t: &Tick| text_width(&t.label, 10.5, Face::Regular) / 2.0;
                let apart = scale.x(pair[1].time_s) - scale.x(pair[0].time_s);
                assert!(apart > half(&pair[0]) + half(&pair[1]) + 3.0, "{low} to {high}");
            }
        }
    }

    #[test]
    fn decades_keep_their_names_on_a_short_log_axis() {
        let scale = TimeScale::new(0.0, 604_800_f64.log10(), 0.0, 260.0);
        let ticks = log_ticks(&scale, 10.5);
        let named: Vec<&str> = ticks.iter().map(|t| t.label.as_str()).filter(|l| !l.is_empty()).collect();
        for label in ["1 s", "1 min", "1 h"] {
            assert!(named.contains(&label), "{named:?}");
        }
    }
}
