//! Reduces a long series to first, lowest, highest and last value per pixel column.
//! Nothing a reader could see is lost, and peaks one sample wide survive.

/// A run of consecutive samples: time and value.
pub type Run = Vec<(f64, f64)>;

/// Whether samples are joined by straight lines or held until the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joining {
    /// Straight lines.
    Straight,
    /// The value holds until the next sample.
    Step,
}

/// Samples of `[from_s, to_s]` in at most four points per column, split at values that are not finite.
///
/// One sample either side of the window is kept so that lines run to its edges.
#[must_use]
pub fn decimate(
    time_s: &[f64],
    value: &[f64],
    joining: Joining,
    (from_s, to_s): (f64, f64),
    columns: usize,
) -> Vec<Run> {
    let n = time_s.len().min(value.len());
    let (time_s, value) = (&time_s[..n], &value[..n]);
    let first = time_s.partition_point(|&t| t < from_s).saturating_sub(1);
    let last = (time_s.partition_point(|&t| t <= to_s) + 1).min(n);
    let width_s = (to_s - from_s).max(f64::MIN_POSITIVE);
    let column = |t: f64| ((t - from_s) / width_s * columns.max(1) as f64).floor();

    let mut runs = Vec::new();
    let mut run = Run::new();
    let mut bucket = Bucket::default();
    let mut previous: Option<f64> = None;
    for i in first..last {
        let (t, v) = (time_s[i], value[i]);
        if !t.is_finite() || !v.is_finite() {
            bucket.flush(&mut run);
            if !run.is_empty() {
                runs.push(std::mem::take(&mut run));
            }
            previous = None;
            continue;
        }
        if joining == Joining::Step
            && let Some(held) = previous
        {
            bucket.add(column(t), (t, held), &mut run);
        }
        bucket.add(column(t), (t, v), &mut run);
        previous = Some(v);
    }
    bucket.flush(&mut run);
    if !run.is_empty() {
        runs.push(run);
    }
    runs
}

#[derive(Default)]
struct Bucket {
    column: f64,
    points: Option<[(f64, f64); 4]>,
}

impl Bucket {
    /// Slots: first, lowest, highest, last.
    fn add(&mut self, column: f64, p: (f64, f64), run: &mut Run) {
        match &mut self.points {
            Some([_, low, high, last]) if column == self.column => {
                if p.1 < low.1 {
                    *low = p;
                }
                if p.1 > high.1 {
                    *high = p;
                }
                *last = p;
            }
            _ => {
                self.flush(run);
                self.column = column;
                self.points = Some([p; 4]);
            }
        }
    }

    fn flush(&mut self, run: &mut Run) {
        let Some([first, low, high, last]) = self.points.take() else {
            return;
        };
        let middle = if low.0 <= high.0 { [low, high] } else { [high, low] };
        for p in [first, middle[0], middle[1], last] {
            if run.last() != Some(&p) {
                run.push(p);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lone_spike_survives_and_the_count_is_bounded() {
        let t: Vec<f64> = (0..100_000).map(f64::from).collect();
        let mut v = vec![1.0; t.len()];
        v[54_321] = 9.0;
        v[54_322] = -9.0;
        let runs = decimate(&t, &v, Joining::Straight, (0.0, 99_999.0), 500);
        assert_eq!(runs.len(), 1);
        assert!(runs[0].len() <= 4 * 501);
        assert!(runs[0].contains(&(54_321.0, 9.0)));
        assert!(runs[0].contains(&(54_322.0, -9.0)));
        assert!(runs[0].is_sorted_by(|a, b| a.0 <= b.0));
    }

    #[test]
    fn few_samples_pass_unchanged() {
        let runs = decimate(&[0.0, 5.0, 9.0], &[1.0, 2.0, 0.5], Joining::Straight, (0.0, 9.0), 900);
        assert_eq!(runs, vec![vec![(0.0, 1.0), (5.0, 2.0), (9.0, 0.5)]]);
    }

    #[test]
    fn gaps_split_and_empty_or_ragged_input_is_calm() {
        let v = [1.0, f64::NAN, 2.0, 3.0];
        let runs = decimate(&[0.0, 1.0, 2.0, 3.0], &v, Joining::Straight, (0.0, 3.0), 100);
        assert_eq!(runs, vec![vec![(0.0, 1.0)], vec![(2.0, 2.0), (3.0, 3.0)]]);
        assert!(decimate(&[], &[], Joining::Step, (0.0, 1.0), 10).is_empty());
        assert_eq!(decimate(&[0.0, 1.0], &[4.0], Joining::Step, (0.0, 0.0), 0).len(), 1);
    }

    #[test]
    fn steps_hold_until_the_next_sample() {
        let runs = decimate(&[0.0, 10.0], &[1.0, 2.0], Joining::Step, (0.0, 10.0), 100);
        assert_eq!(runs[0], vec![(0.0, 1.0), (10.0, 1.0), (10.0, 2.0)]);
    }

    #[test]
    fn a_window_keeps_one_neighbour_each_side() {
        let t: Vec<f64> = (0..10).map(f64::from).collect();
        let runs = decimate(&t, &t, Joining::Straight, (3.5, 5.5), 100);
        assert_eq!(runs[0].first(), Some(&(3.0, 3.0)));
        assert_eq!(runs[0].last(), Some(&(6.0, 6.0)));
    }
}
