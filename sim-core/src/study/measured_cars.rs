//! Volts of two measured cars, and how a pair of thresholds does on such volts.
//!
//! The figures are all that stands here: the logs are no part of this project. Volts are those of a control unit, some tens of
//! millivolts under the battery's posts. Two cars show what can happen, never what is usual.

/// A turn-on and a turn-off, each with the time that volts must hold it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Volts from which it comes on.
    pub on_v: f64,
    /// For how long, s.
    pub on_s: f64,
    /// Volts under which it goes off.
    pub off_v: f64,
    /// For how long, s.
    pub off_s: f64,
}

/// What a pair does on a log.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnLog {
    /// Length of the log, s.
    pub span_s: f64,
    /// How long the unit is on, s.
    pub on_s: f64,
    /// How often it comes on.
    pub came_on: u32,
    /// How often it drops out.
    pub dropped_out: u32,
}

impl Pair {
    /// What a unit with this pair does on volts over time (s, V; times rise, each holds until the next), its input falling by
    /// `falls_v` while it is on: by the volts alone, and without what the unit does to them.
    pub fn on(&self, points: &[(f64, f64)], falls_v: f64) -> OnLog {
        let (mut on, mut since) = (false, None::<f64>);
        let mut told = OnLog { span_s: 0.0, on_s: 0.0, came_on: 0, dropped_out: 0 };
        for w in points.windows(2) {
            let ((t, v), next) = (w[0], w[1].0);
            let calls = if on { v - falls_v < self.off_v } else { v >= self.on_v };
            let from = if calls { *since.get_or_insert(t) } else { t };
            if !calls {
                since = None;
            }
            if calls && t - from >= if on { self.off_s } else { self.on_s } {
                *if on { &mut told.dropped_out } else { &mut told.came_on } += 1;
                (on, since) = (!on, None);
            }
            told.span_s += next - t;
            told.on_s += if on { next - t } else { 0.0 };
        }
        told
    }
}

/// A pair that was asked of all logs of a car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// The pair.
    pub pair: Pair,
    /// Logs on which it never came on, of all, where the input does not fall; `None`: not written down.
    pub never_on: Option<(u32, u32)>,
    /// By how much the input fell, V, and the share of the time with a running engine that it was on.
    pub on_share: [(f64, f64); 3],
    /// Drop-outs in an hour for each of them; `None`: not written down.
    pub drop_outs_per_h: Option<[f64; 3]>,
}

/// Volts of all rows in a half minute after a cold start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moment {
    /// Since the engine started, s.
    pub t_s: f64,
    /// 5 % of them lie under this, V.
    pub low_v: f64,
    /// Half of them.
    pub median_v: f64,
    /// 95 % of them.
    pub high_v: f64,
}

/// A measured car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeasuredCar {
    /// What it is.
    pub name: &'static str,
    /// How much of it was logged.
    pub logged: &'static str,
    /// Where that is from, and under which terms.
    pub source: &'static str,
    /// Share of the time with a running engine that its volts lie under these; volts rise.
    pub under: [(f64, f64); 4],
    /// The longest stretches at these volts or more, s; volts rise.
    pub longest: &'static [(f64, f64)],
    /// Its warm-up after a cold start, in order of time.
    pub warm_up: &'static [Moment],
    /// What was asked of all its logs.
    pub asked: &'static [Asked],
}

const fn moment(t_s: f64, low_v: f64, median_v: f64, high_v: f64) -> Moment {
    Moment { t_s, low_v, median_v, high_v }
}

/// The cars.
pub const CARS: [MeasuredCar; 2] = [
    MeasuredCar {
        name: "small petrol hatchback of 2014, fixed set-point",
        logged: "129 drives, 41.7 h with the engine running, 39 of them cold starts at 28 °C",
        source: "carOBD, \"open source and free to everyone, please cite\"",
        under: [(13.1, 0.011), (13.3, 0.021), (13.6, 0.20), (14.0, 0.87)],
        longest: &[],
        warm_up: &[
            moment(0.0, 14.08, 14.28, 14.38),
            moment(90.0, 13.91, 14.16, 14.30),
            moment(180.0, 13.79, 14.08, 14.24),
            moment(270.0, 13.65, 14.00, 14.16),
            moment(360.0, 13.69, 13.95, 14.12),
            moment(450.0, 13.59, 13.89, 14.08),
            moment(540.0, 13.61, 13.85, 14.02),
            moment(720.0, 13.61, 13.75, 13.96),
            moment(900.0, 13.56, 13.75, 13.91),
            moment(1080.0, 13.44, 13.71, 13.89),
            moment(1350.0, 13.55, 13.69, 13.79),
        ],
        asked: &[
            Asked {
                pair: Pair { on_v: 14.0, on_s: 120.0, off_v: 13.1, off_s: 2.0 },
                never_on: Some((106, 129)),
                on_share: [(0.0, 0.11), (0.6, 0.09), (0.8, 0.06)],
                drop_outs_per_h: None,
            },
            Asked {
                pair: Pair { on_v: 13.6, on_s: 30.0, off_v: 12.8, off_s: 2.0 },
                never_on: None,
                on_share: [(0.0, 0.93), (0.6, 0.82), (0.8, 0.65)],
                drop_outs_per_h: Some([0.05, 1.8, 7.9]),
            },
        ],
    },
    MeasuredCar {
        name: "car with a variable set-point, shallow",
        logged: "44 min at 1 Hz",
        source: "no licence: figures only",
        under: [(13.1, 0.013), (13.3, 0.071), (13.6, 0.59), (14.0, 0.99)],
        longest: &[(13.6, 63.0), (14.0, 20.0)],
        warm_up: &[],
        asked: &[],
    },
];

/// A number that is known to lie between two, ends included.
pub type Between = (f64, f64);

impl MeasuredCar {
    /// Share of the time with a running engine that its volts lie at `v` or over: between the figures on either side.
    pub fn share_over(&self, v: f64) -> Between {
        let over = self.under.iter().find(|u| u.0 >= v).map_or(0.0, |u| 1.0 - u.1);
        let under = self.under.iter().rev().find(|u| u.0 <= v).map_or(1.0, |u| 1.0 - u.1);
        (over, under)
    }

    /// Its longest stretch at `v` or over, s; the upper end is infinite where no figure says. `None` where none is there at all.
    pub fn longest_s(&self, v: f64) -> Option<Between> {
        if self.longest.is_empty() {
            return None;
        }
        let least = self.longest.iter().find(|l| l.0 >= v).map_or(0.0, |l| l.1);
        let most = self.longest.iter().rev().find(|l| l.0 <= v).map_or(f64::INFINITY, |l| l.1);
        Some((least, most))
    }

    /// When, after a cold start, the volts fall under `v` for good, s, by one of the three courses of its warm-up; 0: they are never
    /// there. `None` where they still are at the end, or there is no warm-up.
    pub fn cold_until_s(&self, v: f64, of: impl Fn(&Moment) -> f64) -> Option<f64> {
        let last = self.warm_up.iter().rposition(|m| of(m) >= v);
        let Some(n) = last else { return (!self.warm_up.is_empty()).then_some(0.0) };
        let (a, b) = (&self.warm_up[n], self.warm_up.get(n + 1)?);
        Some(a.t_s + (of(a) - v) / (of(a) - of(b)) * (b.t_s - a.t_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_needs_its_volts_for_its_time() {
        let pair = Pair { on_v: 14.0, on_s: 120.0, off_v: 13.1, off_s: 2.0 };
        let course = |warm_from: u32| -> Vec<(f64, f64)> {
            (0..1000).map(|t| (f64::from(t), if t < warm_from { 14.1 } else { 13.7 })).collect()
        };
        assert_eq!(pair.on(&course(100), 0.0).came_on, 0);
        let on = pair.on(&course(200), 0.0);
        assert_eq!((on.came_on, on.dropped_out, on.on_s), (1, 0, 999.0 - 120.0));
        // The input falls by 0.8 V: off once it is warm, and never on again.
        let on = pair.on(&course(200), 0.8);
        assert_eq!((on.came_on, on.dropped_out, on.on_s), (1, 1, 82.0));
    }

    #[test]
    fn figures_bound_what_lies_between_them() {
        let [fixed, variable] = CARS;
        assert_eq!(fixed.cold_until_s(14.0, |m| m.median_v), Some(270.0));
        assert_eq!(fixed.cold_until_s(14.4, |m| m.high_v), Some(0.0));
        assert_eq!(fixed.cold_until_s(13.5, |m| m.median_v), None);
        let until = fixed.cold_until_s(14.0, |m| m.low_v).expect("falls");
        assert!((until - 90.0 * 0.08 / 0.17).abs() < 1e-9, "{until}");
        let (least, most) = variable.share_over(13.6);
        assert!((least - 0.41).abs() < 1e-12 && (most - 0.41).abs() < 1e-12);
        assert_eq!(variable.longest_s(13.8), Some((20.0, 63.0)));
        assert_eq!(variable.longest_s(14.2), Some((0.0, 20.0)));
        assert_eq!(variable.longest_s(13.0), Some((63.0, f64::INFINITY)));
        assert_eq!(fixed.longest_s(13.0), None);
        for car in CARS {
            assert!(car.under.windows(2).all(|w| w[0].0 < w[1].0 && w[0].1 < w[1].1));
            assert!(car.warm_up.iter().all(|m| m.low_v < m.median_v && m.median_v < m.high_v));
        }
    }
}
