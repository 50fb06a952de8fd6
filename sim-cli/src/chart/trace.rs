//! Lines of a panel: samples reduced to pixels, dense stretches as bands, and the shaded gaps.

use super::dash::clip;
use super::decimate::{Run, decimate};
use super::dense::{self, Stretch};
use super::labels::InkMap;
use super::panel::{Frame, Gap, Series};
use super::scale::ValueScale;
use super::scene::Scene;
use super::size::{Point, Rect};
use super::theme::Stroke;

/// A series reduced to what its plot can show, in seconds and values.
pub(super) struct Traced<'p, 'a> {
    pub series: &'p Series<'a>,
    pub runs: Vec<Run>,
}

/// Reduces every series to the resolution of a frame.
pub(super) fn trace<'p, 'a>(series: &'p [Series<'a>], frame: &Frame<'_>) -> Vec<Traced<'p, 'a>> {
    // Two columns a logical pixel: figures are drawn at twice the logical size.
    let columns = (frame.plot.width() * 2.0) as usize;
    let window = (frame.time.from_s, frame.time.to_s);
    series
        .iter()
        .map(|series| Traced {
            series,
            runs: decimate(series.time_s, series.value, series.joining, window, columns),
        })
        .collect()
}

/// Draws one traced series and marks where its ink lies.
pub(super) fn draw_line(
    scene: &mut Scene,
    frame: &Frame<'_>,
    scale: &ValueScale,
    trace: &Traced<'_, '_>,
    ink: &mut InkMap,
) {
    let (plot, stroke) = (frame.plot, trace.series.stroke);
    for run in &trace.runs {
        // A lone sample between gaps still shows, as a dot.
        if let [only] = run[..] {
            let p = pixel(only, frame, scale);
            if plot.contains(&Rect::new(p.0, p.1, p.0, p.1)) {
                scene.disc(p, stroke.width_px, stroke.ink);
            }
            continue;
        }
        let line: Vec<Point> = run.iter().map(|&p| pixel(p, frame, scale)).collect();
        for part in clip(&line, plot) {
            for stretch in dense::split(&part) {
                match stretch {
                    Stretch::Line(points) => {
                        ink.add(&points);
                        scene.path(points, stroke);
                    }
                    Stretch::Band { upper, lower } => {
                        for (a, b) in upper.iter().zip(&lower) {
                            ink.add(&[*a, *b]);
                        }
                        let mut outline = upper.clone();
                        outline.extend(lower.iter().rev());
                        scene.fill(outline, stroke.ink.at(0.15));
                        let edge = Stroke { width_px: 0.75 * stroke.width_px, ..stroke };
                        scene.path(upper, edge);
                        scene.path(lower, edge);
                    }
                }
            }
        }
    }
}

fn pixel((t, v): (f64, f64), frame: &Frame<'_>, scale: &ValueScale) -> Point {
    (frame.time.x(t), scale.y(v))
}

/// Shades the gaps between series and levels.
pub(super) fn draw_gaps(
    scene: &mut Scene,
    gaps: &[Gap],
    frame: &Frame<'_>,
    scale: &ValueScale,
    traced: &[Traced<'_, '_>],
) {
    for gap in gaps.iter().filter(|g| g.level.is_finite()) {
        let Some(trace) = traced.get(gap.series) else {
            continue;
        };
        let level_y = scale.y_clamped(gap.level);
        for &(from_s, to_s) in &gap.windows_s {
            let from_s = from_s.max(frame.time.from_s);
            let to_s = to_s.min(frame.time.to_s);
            for run in &trace.runs {
                let cut = cut_run(run, from_s, to_s);
                if cut.len() < 2 {
                    continue;
                }
                for (ink, side) in [(gap.above, f64::min as fn(f64, f64) -> f64), (gap.below, f64::max)] {
                    let mut outline: Vec<Point> = cut
                        .iter()
                        .map(|&(t, v)| (frame.time.x(t), side(scale.y_clamped(v), level_y)))
                        .collect();
                    if outline.iter().all(|p| (p.1 - level_y).abs() < 0.05) {
                        continue;
                    }
                    outline.push((frame.time.x(cut[cut.len() - 1].0), level_y));
                    outline.push((frame.time.x(cut[0].0), level_y));
                    scene.fill(outline, ink);
                }
            }
        }
    }
}

/// The part of a run inside a window, with interpolated ends.
fn cut_run(run: &Run, from_s: f64, to_s: f64) -> Run {
    if to_s <= from_s {
        return Run::new();
    }
    let value_at = |t: f64| {
        let i = run.partition_point(|p| p.0 < t);
        match (i.checked_sub(1).map(|j| run[j]), run.get(i)) {
            (_, Some(&b)) if b.0 == t => Some(b.1),
            (Some(a), Some(&b)) if b.0 > a.0 => Some(a.1 + (b.1 - a.1) * (t - a.0) / (b.0 - a.0)),
            _ => None,
        }
    };
    let mut cut = Run::new();
    cut.extend(value_at(from_s).map(|v| (from_s, v)));
    cut.extend(run.iter().filter(|p| p.0 > from_s && p.0 < to_s));
    cut.extend(value_at(to_s).map(|v| (to_s, v)));
    cut
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_run_has_interpolated_ends() {
        let run = vec![(0.0, 0.0), (10.0, 10.0), (20.0, 0.0)];
        assert_eq!(cut_run(&run, 5.0, 12.0), vec![(5.0, 5.0), (10.0, 10.0), (12.0, 8.0)]);
        assert!(cut_run(&run, 5.0, 5.0).is_empty());
        assert_eq!(cut_run(&run, -5.0, 1.0), vec![(0.0, 0.0), (1.0, 1.0)]);
    }
}
