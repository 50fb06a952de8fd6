//! How a unit behaves for every pair of thresholds: a grid of runs, and its borders found along the grid's edges.

use super::case::Case;
use super::headlines::ah_per_drive_hour;
use super::region::Region;
use super::threads::Threads;
use super::trial::Trial;
use crate::engine::{Options, Record};
use crate::scenario::node::Value;

/// Key of the turn-off voltage.
pub const TURN_OFF: &str = "start_stop.turn_off_v";
/// Key of the turn-on voltage.
pub const TURN_ON: &str = "start_stop.turn_on_v";

/// What is mapped.
#[derive(Debug, Clone)]
pub struct MapPlan {
    /// The vehicle under one condition or several: a point is as its worst condition.
    pub cases: Vec<Case>,
    /// Turn-off voltages, rising, V.
    pub off_v: Vec<f64>,
    /// Turn-on voltages, rising, V.
    pub on_v: Vec<f64>,
    /// How near borders are found, V.
    pub border_v: f64,
    /// Error allowed per step.
    pub tolerance: f64,
}

/// One pair of thresholds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapPoint {
    /// How the unit behaves, in its worst condition.
    pub region: Region,
    /// Charge per hour of driving, Ah/h; the smallest over the conditions.
    pub ah_per_drive_hour: f64,
    /// Charge taken from the starter battery with the engine stopped, Ah; the greatest over the conditions.
    pub starter_taken_ah: f64,
    /// Events of the runs.
    pub events: u64,
}

impl MapPoint {
    /// The worse of two conditions, number by number.
    fn or_worse(&self, other: &MapPoint) -> MapPoint {
        MapPoint {
            region: self.region.max(other.region),
            ah_per_drive_hour: self.ah_per_drive_hour.min(other.ah_per_drive_hour),
            starter_taken_ah: self.starter_taken_ah.max(other.starter_taken_ah),
            events: self.events + other.events,
        }
    }
}

/// A point of a border, on an edge of the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Turn-off voltage, V.
    pub off_v: f64,
    /// Turn-on voltage, V.
    pub on_v: f64,
    /// Behaviour below, or to the left.
    pub from: Region,
    /// Behaviour above, or to the right.
    pub to: Region,
}

/// A map.
#[derive(Debug, Clone)]
pub struct ThresholdMap {
    /// Turn-off voltages, rising, V.
    pub off_v: Vec<f64>,
    /// Turn-on voltages, rising, V.
    pub on_v: Vec<f64>,
    /// Points row by row, turn-off varying fastest; `None` where turn-on is not above turn-off or no run could be made.
    pub points: Vec<Option<MapPoint>>,
    /// Crossings on edges between a point and the next turn-off: in the order of `points`.
    pub along_off: Vec<Option<Crossing>>,
    /// Crossings on edges between a point and the next turn-on: in the order of `points`.
    pub along_on: Vec<Option<Crossing>>,
    /// Runs that it took.
    pub runs: u64,
    /// Points where a run could not be made, turn-on above turn-off.
    pub failed: u64,
}

/// Turn-on has to stand above turn-off by this, V: closer than any unit can tell.
const BAND_V: f64 = 1e-3;

impl MapPlan {
    /// One pair of thresholds; `None` where no run can be made of it.
    pub fn point(&self, off_v: f64, on_v: f64) -> Option<MapPoint> {
        if on_v < off_v + BAND_V {
            return None;
        }
        let options = Options { tolerance: self.tolerance, record: Record::Summary, ..Options::default() };
        let mut worst: Option<MapPoint> = None;
        for case in &self.cases {
            let changes = [(TURN_OFF, Value::Number(off_v)), (TURN_ON, Value::Number(on_v))];
            let trial = Trial::run_with(&case.with_all(changes).ok()?, &options).ok()?;
            let one = MapPoint {
                region: Region::of(&trial.verdict),
                ah_per_drive_hour: ah_per_drive_hour(&trial).unwrap_or(0.0),
                starter_taken_ah: trial.summary.unit_input_parked_ah,
                events: trial.summary.statistics.events,
            };
            worst = Some(worst.map_or(one, |w| w.or_worse(&one)));
        }
        worst
    }

    /// Makes the map on threads that somebody lends.
    pub fn run(&self, threads: &impl Threads) -> ThresholdMap {
        let columns = self.off_v.len();
        let point = |n: usize| self.point(self.off_v[n % columns], self.on_v[n / columns]);
        let points = threads.map(columns * self.on_v.len(), point);
        let runs = points.iter().flatten().count() as u64 * self.cases.len() as u64;
        self.with_borders(points, runs, threads)
    }

    /// The map of all cases of this plan together, from maps of each of them alone on the same grid: only its borders are run.
    pub fn worst_of<'a>(
        &self,
        alone: impl Iterator<Item = &'a ThresholdMap>,
        threads: &impl Threads,
    ) -> ThresholdMap {
        let each = alone.map(|map| map.points.clone());
        let points = each.reduce(|worst, one| {
            // Where one of them could not be run, neither could all.
            worst.iter().zip(&one).map(|(w, o)| Some(w.as_ref()?.or_worse(o.as_ref()?))).collect()
        });
        self.with_borders(points.unwrap_or_default(), 0, threads)
    }

    fn with_borders(&self, points: Vec<Option<MapPoint>>, runs: u64, threads: &impl Threads) -> ThresholdMap {
        let (columns, rows) = (self.off_v.len(), self.on_v.len());
        let at = |n: usize| (self.off_v[n % columns], self.on_v[n / columns]);
        let possible = |n: usize| at(n).1 >= at(n).0 + BAND_V;
        let failed = (0..points.len()).filter(|&n| possible(n) && points[n].is_none()).count() as u64;
        let differ = |n: usize, next: usize| match (points[n], points[next]) {
            (Some(a), Some(b)) if a.region != b.region => Some((n, next)),
            _ => None,
        };
        let off = (0..points.len()).filter(|n| (n + 1) % columns != 0).filter_map(|n| differ(n, n + 1));
        let on = (0..columns * (rows - 1)).filter_map(|n| differ(n, n + columns));
        let edges: Vec<(usize, usize)> = off.chain(on).collect();
        let found = threads.map(edges.len(), |e| {
            let (n, next) = edges[e];
            let [from, to] = [n, next].map(|n| points[n].expect("an edge has two points").region);
            self.bisect(at(n), at(next), (from, Some(to)))
        });
        let mut map = ThresholdMap {
            off_v: self.off_v.clone(),
            on_v: self.on_v.clone(),
            along_off: vec![None; points.len()],
            along_on: vec![None; points.len()],
            runs,
            failed,
            points,
        };
        for ((n, next), (crossing, runs)) in edges.into_iter().zip(found) {
            map.runs += runs * self.cases.len() as u64;
            let along = if next == n + 1 { &mut map.along_off } else { &mut map.along_on };
            along[n] = crossing;
        }
        map
    }

    /// Where behaviour first differs from that of the low one between two points, within `border_v`, and the runs it took; given
    /// the behaviour at both, the second `None` where no run can be made.
    pub fn bisect(
        &self,
        low: (f64, f64),
        high: (f64, f64),
        (region, mut to): (Region, Option<Region>),
    ) -> (Option<Crossing>, u64) {
        let on_line = |u: f64| (low.0 + u * (high.0 - low.0), low.1 + u * (high.1 - low.1));
        let length = (high.0 - low.0).hypot(high.1 - low.1);
        let (mut a, mut b, mut runs) = (0.0, 1.0, 0);
        while (b - a) * length > self.border_v && runs < 40 {
            let mid = f64::midpoint(a, b);
            let (off, on) = on_line(mid);
            runs += 1;
            match self.point(off, on).map(|p| p.region) {
                Some(r) if r == region => a = mid,
                other => (b, to) = (mid, other),
            }
        }
        let (off_v, on_v) = on_line(f64::midpoint(a, b));
        (to.map(|to| Crossing { off_v, on_v, from: region, to }), runs)
    }
}

impl ThresholdMap {
    /// Mean events of a point's runs.
    pub fn mean_events(&self) -> f64 {
        let all: Vec<u64> = self.points.iter().flatten().map(|p| p.events).collect();
        all.iter().sum::<u64>() as f64 / all.len().max(1) as f64
    }

    /// Every crossing.
    pub fn crossings(&self) -> impl Iterator<Item = &Crossing> {
        self.along_off.iter().chain(&self.along_on).flatten()
    }

    /// The crossing nearest to a pair of thresholds, with its distance in that plane, V.
    pub fn nearest(&self, off_v: f64, on_v: f64) -> Option<(f64, Crossing)> {
        let far = |c: &Crossing| (c.off_v - off_v).hypot(c.on_v - on_v);
        self.crossings().map(|c| (far(c), *c)).min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Area of a behaviour, V², by the points that show it.
    pub fn area_v2(&self, region: Region) -> f64 {
        let step = |v: &[f64]| (v[v.len() - 1] - v[0]) / (v.len() - 1).max(1) as f64;
        let count = self.points.iter().flatten().filter(|p| p.region == region).count();
        count as f64 * step(&self.off_v) * step(&self.on_v)
    }
}
