//! Cuts a polyline into the drawn pieces of a dash pattern, and clips polylines to a rectangle.

use super::size::{Point, Rect};

/// Drawn pieces of `points` under a pattern of drawn and skipped lengths.
#[must_use]
pub fn dashes(points: &[Point], pattern_px: &[f64]) -> Vec<Vec<Point>> {
    if pattern_px.is_empty() || pattern_px.iter().any(|&l| l <= 0.0) {
        return vec![points.to_vec()];
    }
    let mut pieces = Vec::new();
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    let (mut phase, mut left) = (0, pattern_px[0]);
    for pair in points.windows(2) {
        let (mut a, b) = (pair[0], pair[1]);
        let mut length = (b.0 - a.0).hypot(b.1 - a.1);
        while length > left {
            let k = left / length;
            let cut = (a.0 + (b.0 - a.0) * k, a.1 + (b.1 - a.1) * k);
            if phase % 2 == 0 {
                piece.push(cut);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![cut];
            }
            length -= left;
            a = cut;
            phase = (phase + 1) % pattern_px.len();
            left = pattern_px[phase];
        }
        left -= length;
        if phase % 2 == 0 {
            piece.push(b);
        }
    }
    if phase % 2 == 0 && piece.len() > 1 {
        pieces.push(piece);
    }
    pieces
}

/// Parts of a polyline inside a rectangle.
#[must_use]
pub fn clip(points: &[Point], rect: Rect) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut open: Vec<Point> = Vec::new();
    for pair in points.windows(2) {
        let Some((a, b)) = clip_segment(pair[0], pair[1], rect) else {
            if open.len() > 1 {
                parts.push(std::mem::take(&mut open));
            }
            open.clear();
            continue;
        };
        if open.last() != Some(&a) {
            if open.len() > 1 {
                parts.push(std::mem::take(&mut open));
            }
            open = vec![a];
        }
        open.push(b);
    }
    if open.len() > 1 {
        parts.push(open);
    }
    parts
}

/// Liang-Barsky: the part of one segment inside the rectangle.
fn clip_segment(a: Point, b: Point, r: Rect) -> Option<(Point, Point)> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (p, q) in [(-dx, a.0 - r.x0), (dx, r.x1 - a.0), (-dy, a.1 - r.y0), (dy, r.y1 - a.1)] {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            enter = enter.max(q / p);
        } else {
            leave = leave.min(q / p);
        }
    }
    if enter > leave {
        return None;
    }
    // Untouched ends keep their exact bits, so neighbouring segments still join.
    let at = |k: f64| (a.0 + dx * k, a.1 + dy * k);
    let start = if enter > 0.0 { at(enter) } else { a };
    let end = if leave < 1.0 { at(leave) } else { b };
    Some((start, end))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(points: &[Point]) -> f64 {
        points.windows(2).map(|p| (p[1].0 - p[0].0).hypot(p[1].1 - p[0].1)).sum()
    }

    #[test]
    fn dashes_carry_their_phase_round_corners() {
        let corner = [(0.0, 0.0), (5.0, 0.0), (5.0, 5.0)];
        let pieces = dashes(&corner, &[4.0, 2.0]);
        assert_eq!(pieces.len(), 2);
        assert!((length(&pieces[0]) - 4.0).abs() < 1e-12);
        assert!((pieces[1][0].1 - 1.0).abs() < 1e-12);
        let drawn: f64 = pieces.iter().map(|p| length(p)).sum();
        assert!((drawn - 8.0).abs() < 1e-12);
    }

    #[test]
    fn a_dash_across_a_corner_keeps_the_corner() {
        let pieces = dashes(&[(0.0, 0.0), (2.0, 0.0), (2.0, 9.0)], &[4.0, 2.0]);
        assert_eq!(pieces[0], vec![(0.0, 0.0), (2.0, 0.0), (2.0, 2.0)]);
    }

    #[test]
    fn clipping_splits_where_the_line_leaves() {
        let rect = Rect::new(0.0, 0.0, 10.0, 10.0);
        let parts = clip(&[(0.0, 5.0), (4.0, 5.0), (5.0, 20.0), (6.0, 5.0), (9.0, 5.0)], rect);
        assert_eq!(parts.len(), 2);
        assert!(parts.iter().flatten().all(|p| p.1 <= 10.0 + 1e-9));
        assert!(clip(&[(20.0, 0.0), (30.0, 5.0)], rect).is_empty());
    }
}
