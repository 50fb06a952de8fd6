//! Where a line swings up and down too fast to draw, shows the band it sweeps instead of a solid blot.

use super::size::Point;

/// Swings smaller than this are not counted, logical pixels.
const SWING_PX: f64 = 2.5;
/// Turning points further apart than this are drawn one by one.
const APART_PX: f64 = 6.0;
/// Fewest turning points of a band.
const TURNS: usize = 12;
/// Narrowest band.
const NARROWEST_PX: f64 = 18.0;
/// Distance between corners of a band.
const CORNER_PX: f64 = 4.0;

/// How a stretch of a line is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Stretch {
    /// As the line itself.
    Line(Vec<Point>),
    /// As the band between two edges.
    Band {
        /// Upper edge, left to right.
        upper: Vec<Point>,
        /// Lower edge, left to right.
        lower: Vec<Point>,
    },
}

/// Splits a line that runs left to right into plain and dense stretches.
#[must_use]
pub fn split(line: &[Point]) -> Vec<Stretch> {
    let turns = turning_points(line);
    let mut stretches = Vec::new();
    let mut plain_from = 0;
    let mut i = 0;
    while i < turns.len() {
        let close = |pair: &&[usize]| line[pair[1]].0 - line[pair[0]].0 <= APART_PX;
        let last = i + turns[i..].windows(2).take_while(close).count();
        let (a, b) = (turns[i], turns[last]);
        if last - i + 1 >= TURNS && line[b].0 - line[a].0 >= NARROWEST_PX {
            if a > plain_from {
                stretches.push(Stretch::Line(line[plain_from..=a].to_vec()));
            }
            stretches.push(band(&line[a..=b]));
            plain_from = b;
        }
        i = last + 1;
    }
    if line.len() > plain_from + 1 {
        stretches.push(Stretch::Line(line[plain_from..].to_vec()));
    }
    stretches
}

/// Indices of the highs and lows between swings of at least [`SWING_PX`].
fn turning_points(line: &[Point]) -> Vec<usize> {
    let mut turns = Vec::new();
    // `pivot` is the furthest point reached in the present direction.
    let (mut pivot, mut rising) = (0, None);
    for (i, &(_, y)) in line.iter().enumerate() {
        let step = y - line[pivot].1;
        let onward = match rising {
            Some(true) => step > 0.0,
            Some(false) => step < 0.0,
            None => false,
        };
        if onward {
            pivot = i;
        } else if step.abs() >= SWING_PX {
            turns.push(pivot);
            rising = Some(step > 0.0);
            pivot = i;
        }
    }
    turns
}

fn band(points: &[Point]) -> Stretch {
    let (x0, x1) = (points[0].0, points[points.len() - 1].0);
    let corners = ((x1 - x0) / CORNER_PX).ceil().max(1.0) as usize;
    let (mut upper, mut lower) = (Vec::new(), Vec::new());
    for i in 0..=corners {
        let x = x0 + (x1 - x0) * i as f64 / corners as f64;
        // Two spacings about a corner always hold a whole cycle, so the edges stay calm.
        let reach = 2.0 * APART_PX;
        let from = points.partition_point(|p| p.0 < (x - reach / 2.0).min(x1 - reach));
        let to = points.partition_point(|p| p.0 <= (x + reach / 2.0).max(x0 + reach));
        let ys = || points[from..to].iter().map(|p| p.1);
        upper.push((x, ys().fold(f64::INFINITY, f64::min)));
        lower.push((x, ys().fold(f64::NEG_INFINITY, f64::max)));
    }
    Stretch::Band { upper, lower }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zigzag(n: u32, pitch: f64) -> Vec<Point> {
        (0..n).map(|i| (f64::from(i) * pitch, if i % 2 == 0 { 10.0 } else { 60.0 })).collect()
    }

    #[test]
    fn a_fast_zigzag_is_one_band_of_its_full_height() {
        let parts = split(&zigzag(200, 2.0));
        let Stretch::Band { upper, lower } = &parts[0] else {
            panic!("{parts:?}");
        };
        assert!(upper.iter().all(|p| (p.1 - 10.0).abs() < 1e-9));
        assert!(lower.iter().all(|p| (p.1 - 60.0).abs() < 1e-9));
        assert!((upper[upper.len() - 1].0 - 396.0).abs() < 2.1);
    }

    #[test]
    fn a_slow_or_short_or_rippling_line_is_left_alone() {
        let ripple = (0..400).map(|i| (f64::from(i), f64::from(i % 2))).collect();
        for line in [zigzag(20, 15.0), zigzag(8, 1.0), vec![(0.0, 1.0), (500.0, 2.0)], ripple] {
            assert_eq!(split(&line), vec![Stretch::Line(line.clone())]);
        }
        assert!(split(&[]).is_empty());
    }

    #[test]
    fn calm_before_and_after_joins_the_band() {
        let mut line = vec![(-100.0, 30.0)];
        line.extend(zigzag(100, 2.0));
        line.push((400.0, 30.0));
        let parts = split(&line);
        assert_eq!(parts.len(), 3);
        let (Stretch::Line(before), Stretch::Band { upper, .. }, Stretch::Line(after)) =
            (&parts[0], &parts[1], &parts[2])
        else {
            panic!("{parts:?}");
        };
        assert_eq!(before[before.len() - 1].0, upper[0].0);
        assert_eq!(after[0].0, upper[upper.len() - 1].0);
    }
}
