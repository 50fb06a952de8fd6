//! Words inside and beside a panel: call-outs, threshold names, off-scale values, line-end labels.

use super::font::{Face, fit, text_width, wrap};
use super::labels::{Placer, place_column};
use super::panel::{Frame, Marker, Panel};
use super::scale::{ValueScale, figure};
use super::scene::{Align, Scene, Text};
use super::size::{Point, Rect};
use super::theme::{Ink, Stroke, Theme};
use super::trace::Traced;

const PAD_PX: f64 = 3.0;
/// Line pitch as a share of the em.
const LEADING: f64 = 1.22;

/// Lines of words with the size of the box they need.
struct Block {
    lines: Vec<String>,
    width: f64,
    height: f64,
    size_px: f64,
    face: Face,
}

impl Block {
    fn new(text: &str, size_px: f64, face: Face) -> Self {
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let width = lines.iter().map(|l| text_width(l, size_px, face)).fold(0.0, f64::max);
        Self {
            width: width + 2.0 * PAD_PX,
            height: (lines.len().max(1) as f64) * LEADING * size_px + PAD_PX,
            lines,
            size_px,
            face,
        }
    }

    fn draw(&self, scene: &mut Scene, halo: Ink, ink: Ink, rect: Rect) {
        scene.rect(rect, halo);
        for (i, line) in self.lines.iter().enumerate() {
            let baseline = rect.y0 + PAD_PX / 2.0 + (i as f64 * LEADING + 0.95) * self.size_px;
            scene.text(Text {
                at: (rect.x0 + PAD_PX, baseline),
                align: Align::Left,
                text: line.clone(),
                size_px: self.size_px,
                face: self.face,
                ink,
            });
        }
    }
}

/// What found no free paper in the plot and is written beside it: where it belongs, its sample, its words.
pub(super) struct Beside {
    at: Point,
    sample: Sample,
    words: String,
    ink: Ink,
}

/// What stands in front of words beside a plot.
#[derive(Clone, Copy)]
enum Sample {
    Line(Stroke),
    Ring,
    /// A further line of the words above.
    Nothing,
}

/// Marks and words for markers.
pub(super) fn markers(
    scene: &mut Scene,
    theme: &Theme,
    frame: &Frame<'_>,
    scale: &ValueScale,
    markers: &[Marker],
    placer: &mut Placer,
    beside: &mut Vec<Beside>,
) {
    for m in markers {
        if !(frame.time.from_s..=frame.time.to_s).contains(&m.time_s) || !m.value.is_finite() {
            continue;
        }
        let at = (frame.time.x(m.time_s), scale.y_clamped(m.value));
        let mut middle = at;
        if let Some(foot) = m.foot {
            let foot_y = scale.y_clamped(foot);
            bracket(scene, theme, at, foot_y);
            middle.1 = f64::midpoint(at.1, foot_y);
            placer.reserve(Rect::new(at.0 - 3.0, at.1.min(foot_y), at.0 + 3.0, at.1.max(foot_y)));
        }
        ring(scene, theme, at);
        placer.reserve(Rect::new(at.0 - 5.0, at.1 - 5.0, at.0 + 5.0, at.1 + 5.0));
        // Two lines or one, whichever finds the emptier paper.
        let blocks = [m.text.clone(), m.text.replace('\n', " ")]
            .map(|words| Block::new(&words, theme.sizes.label, Face::Bold));
        let sizes = [0, 1].map(|i: usize| (blocks[i].width, blocks[i].height));
        if let Some((which, rect)) = placer.place_around(middle, &sizes) {
            let edge = nearest_edge(&rect, at);
            scene.line(edge, at, theme.leader);
            keep_clear(placer, edge, at);
            ring(scene, theme, at);
            blocks[which].draw(scene, theme.paper.at(0.94), theme.ink, rect);
        } else {
            beside.extend(m.text.lines().enumerate().map(|(n, words)| Beside {
                at,
                sample: if n == 0 { Sample::Ring } else { Sample::Nothing },
                words: words.to_owned(),
                ink: theme.ink,
            }));
        }
    }
}

/// Reserves small boxes along a leader, so that no later label is written over it.
fn keep_clear(placer: &mut Placer, a: Point, b: Point) {
    let steps = ((b.0 - a.0).hypot(b.1 - a.1) / 5.0).ceil().max(1.0);
    for i in 0..=steps as usize {
        let k = i as f64 / steps;
        let (x, y) = (a.0 + (b.0 - a.0) * k, a.1 + (b.1 - a.1) * k);
        placer.reserve(Rect::new(x - 2.0, y - 2.0, x + 2.0, y + 2.0));
    }
}

fn ring(scene: &mut Scene, theme: &Theme, at: Point) {
    scene.disc(at, 4.0, theme.ink);
    scene.disc(at, 2.2, theme.paper);
}

fn bracket(scene: &mut Scene, theme: &Theme, at: Point, foot_y: f64) {
    let stroke = Stroke::solid(theme.ink, 1.2);
    scene.line(at, (at.0, foot_y), stroke);
    scene.line((at.0 - 3.0, foot_y), (at.0 + 3.0, foot_y), stroke);
}

fn nearest_edge(r: &Rect, p: Point) -> Point {
    (p.0.clamp(r.x0, r.x1), p.1.clamp(r.y0, r.y1))
}

/// Names of thresholds and bands, written on them.
pub(super) fn names(
    scene: &mut Scene,
    theme: &Theme,
    frame: &Frame<'_>,
    scale: &ValueScale,
    panel: &Panel<'_>,
    placer: &mut Placer,
    beside: &mut Vec<Beside>,
) {
    let lines = panel.thresholds.iter().map(|t| (t.value, &t.name, t.stroke));
    let wide = |ink| Stroke::solid(ink, 6.0);
    let bands = panel.bands.iter().map(|b| (f64::midpoint(b.low, b.high), &b.name, wide(b.ink)));
    let is_band = panel.thresholds.len();
    for (n, (value, name, stroke)) in lines.chain(bands).enumerate() {
        let ink = if n < is_band { stroke.ink.mixed(theme.ink, 0.15) } else { theme.ink };
        if !value.is_finite() || name.is_empty() {
            continue;
        }
        let block = Block::new(name, theme.sizes.label, Face::Bold);
        let span = (frame.plot.x0 + 6.0, frame.plot.x1 - 6.0);
        let y = scale.y_clamped(value);
        let others_y: Vec<f64> = panel
            .thresholds
            .iter()
            .filter(|t| t.value.is_finite() && t.value != value)
            .map(|t| scale.y(t.value))
            .collect();
        let size = (block.width, block.height);
        if let Some(rect) = placer.place_along(y, span, size, &others_y) {
            block.draw(scene, theme.halo, ink, rect);
        } else {
            let at = (frame.plot.x1, y);
            beside.push(Beside { at, sample: Sample::Line(stroke), words: name.clone(), ink });
        }
    }
}

/// Small wedges at the edge of the plot for values beyond it; the values stand beside the title.
pub(super) fn off_scale(
    scene: &mut Scene,
    theme: &Theme,
    frame: &Frame<'_>,
    scale: &ValueScale,
    traced: &[Traced<'_, '_>],
    panel: &Panel<'_>,
    free_from_x: f64,
) {
    let (plot, unit) = (frame.plot, panel.unit);
    let points = || {
        traced
            .iter()
            .flat_map(|t| t.runs.iter().flatten())
            .filter(|p| (frame.time.from_s..=frame.time.to_s).contains(&p.0))
    };
    let lowest = points().min_by(|a, b| a.1.total_cmp(&b.1)).copied();
    let highest = points().max_by(|a, b| a.1.total_cmp(&b.1)).copied();
    // A value a hair beyond the edge is not worth words.
    let slack = 0.004 * (scale.high - scale.low);
    let (mut long, mut short) = (Vec::new(), Vec::new());
    for (found, down) in [(lowest, true), (highest, false)] {
        let Some((t, v)) = found else { continue };
        let (beyond, edge, sign, words) = if down {
            (v < scale.low - slack, plot.y1, -1.0, "down to")
        } else {
            (v > scale.high + slack, plot.y0, 1.0, "up to")
        };
        if !beyond {
            continue;
        }
        let (x, base) = (frame.time.x(t), edge + sign * 7.0);
        let wedge = vec![(x, edge), (x - 4.0, base), (x + 4.0, base)];
        scene.fill(wedge, theme.ink);
        let value = figure(v, usize::from(v.abs() < 100.0));
        let moment = frame.clock.moment(t, frame.time.span_s());
        long.push(format!("{words} {value} {unit} at {moment}"));
        short.push(format!("{words} {value} {unit}"));
    }
    let off = |words: Vec<String>| {
        if words.is_empty() { String::new() } else { format!("off the scale: {}", words.join(", ")) }
    };
    let (long, short) = (off(long), off(short));
    let both = if long.is_empty() { panel.beyond.clone() } else { format!("{short}; {}", panel.beyond) };
    let words = match panel.beyond_short.is_empty() {
        true => vec![long, short],
        false => vec![both, panel.beyond.clone(), panel.beyond_short.clone()],
    };
    let room = plot.x1 - free_from_x - 12.0;
    for text in words.into_iter().filter(|w| !w.is_empty()) {
        let width = text_width(&text, theme.sizes.axis, Face::Regular);
        if width > room {
            continue;
        }
        let text = Text {
            at: (plot.x1, plot.y0 - 6.0),
            align: Align::Right,
            text,
            size_px: theme.sizes.axis,
            face: Face::Regular,
            ink: theme.ink_soft,
        };
        scene.text(text);
        break;
    }
}

/// Names at the right ends of the lines, each behind a sample of its line; a thin leader joins line and sample, so that
/// nothing outside the plot can be taken for a reading.
pub(super) fn end_labels(
    scene: &mut Scene,
    theme: &Theme,
    frame: &Frame<'_>,
    scale: &ValueScale,
    traced: &[Traced<'_, '_>],
    beside: Vec<Beside>,
) {
    const LEADER_PX: f64 = 9.0;
    const SAMPLE_PX: f64 = 16.0;
    let plot = frame.plot;
    let size_px = theme.sizes.label;
    let mut ends = Vec::new();
    for t in traced.iter().filter(|t| !t.series.name.is_empty()) {
        let Some(&(last_s, last)) = t.runs.last().and_then(|r| r.last()) else {
            continue;
        };
        // Lines that end together (all at zero, say) are ordered by where they mostly ran.
        let count = t.runs.iter().map(Vec::len).sum::<usize>().max(1) as f64;
        let mean = t.runs.iter().flatten().map(|p| p.1).sum::<f64>() / count;
        let at = (frame.time.x_clamped(last_s), scale.y_clamped(last));
        let ink = t.series.stroke.ink.mixed(theme.ink, 0.28);
        let end = Beside { at, sample: Sample::Line(t.series.stroke), words: t.series.name.clone(), ink };
        ends.push((end, at.1 + 1e-3 * scale.y_clamped(mean)));
    }
    // Lines of one call-out stay together.
    let label_px = frame.end_label_px - LEADER_PX - SAMPLE_PX - 4.0;
    let mut order = 0.0;
    for b in beside {
        for (n, words) in wrap(&b.words, size_px, Face::Regular, label_px, 3).into_iter().enumerate() {
            let sample = if n == 0 { b.sample } else { Sample::Nothing };
            ends.push((Beside { at: b.at, sample, words, ink: b.ink }, b.at.1 + 1e-4 * order));
            order += 1.0;
        }
    }
    let wanted: Vec<f64> = ends.iter().map(|e| e.1).collect();
    // A low panel sets its names tighter before it leaves one out.
    let room = plot.height() + 12.0;
    let pitch = (room / wanted.len().max(1) as f64).clamp(size_px, 1.2 * size_px);
    let placed = place_column(&wanted, pitch, plot.y0 - 6.0, plot.y1 + 6.0);
    for ((Beside { at: end, sample, words, ink }, _), y) in ends.into_iter().zip(placed) {
        let Some(y) = y else { continue };
        let x = plot.x1 + LEADER_PX + SAMPLE_PX;
        // A line that stops early is met where it stops only if that is near the edge.
        let start_x = if plot.x1 - end.0 < 30.0 { end.0.max(plot.x1 + 2.0) } else { plot.x1 + 2.0 };
        match sample {
            Sample::Line(stroke) => {
                scene.path(vec![(start_x, end.1), (x - SAMPLE_PX - 1.0, y)], theme.leader);
                scene.path(vec![(x - SAMPLE_PX, y), (x, y)], stroke);
            }
            Sample::Ring => ring(scene, theme, (x - 6.0, y)),
            Sample::Nothing => {}
        }
        scene.text(Text {
            at: (x + 4.0, y + 0.36 * size_px),
            align: Align::Left,
            text: fit(&words, size_px, Face::Regular, label_px),
            size_px,
            face: Face::Regular,
            ink,
        });
    }
}
