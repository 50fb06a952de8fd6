//! The cliff: what a drive delivers over the resistance of the loop, for several current settings.

use super::case::{Case, CaseError};
use super::headlines::{ah_per_drive_hour, starts_per_drive_hour};
use super::map_lines::MapLines;
use super::region::Region;
use super::threads::Threads;
use super::trial::Trial;
use crate::engine::{Options, Record};
use crate::judge::Kind;
use crate::scenario::node::Value;

/// Key of the current setting.
pub const OUTPUT_LIMIT: &str = "converter.output_limit_a";
/// Key of the length that is varied.
pub const LENGTH: &str = "input_cable.length_m";

/// What is charted.
#[derive(Debug, Clone)]
pub struct CliffPlan {
    /// The vehicle.
    pub case: Case,
    /// Lengths of the input cable, one way, rising, m.
    pub length_m: Vec<f64>,
    /// Current settings, A.
    pub output_limit_a: Vec<f64>,
    /// How near the cliff is found, share of the length.
    pub edge_share: f64,
    /// Error allowed per step.
    pub tolerance: f64,
}

/// One run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CliffPoint {
    /// Length of the input cable, one way, m.
    pub length_m: f64,
    /// Resistance of the run at 20 °C, Ω.
    pub cable_ohm: f64,
    /// Charge gained by the house battery per hour of driving, Ah/h.
    pub ah_per_drive_hour: f64,
    /// Times the unit came on per hour of driving.
    pub starts_per_hour: f64,
    /// How it behaves.
    pub region: Region,
    /// Whether it is over the edge: it drops out to the end of a drive, stays off for long after it, or never comes on.
    pub over: bool,
}

/// One curve.
#[derive(Debug, Clone, PartialEq)]
pub struct CliffCurve {
    /// The current setting, A.
    pub output_limit_a: f64,
    /// Runs, the shortest length first.
    pub points: Vec<CliffPoint>,
    /// Length from which the unit hunts on to the end of a drive, m; `None` where it does not.
    pub edge_m: Option<f64>,
    /// Run resistance there, Ω.
    pub edge_ohm: Option<f64>,
    /// (c3, c17) Run resistance at which it drops out under its own load, Ω: alternator regulating, starter battery
    /// full and settled. `None` where the unit never came on.
    pub closed_form_ohm: Option<f64>,
    /// Resistance of the source that goes with it, Ω.
    pub source_ohm: Option<f64>,
}

impl CliffPlan {
    fn trial(&self, length_m: f64, output_a: f64) -> Option<Trial> {
        let options = Options { tolerance: self.tolerance, record: Record::Summary, ..Options::default() };
        let changes = [(LENGTH, Value::Number(length_m)), (OUTPUT_LIMIT, Value::Number(output_a))];
        Trial::run_with(&self.case.with_all(changes).ok()?, &options).ok()
    }

    /// One point; `None` where no run can be made of it.
    pub fn point(&self, length_m: f64, output_a: f64) -> Option<CliffPoint> {
        let trial = self.trial(length_m, output_a)?;
        let region = Region::of(&trial.verdict);
        let over =
            |k: &Kind| matches!(k, Kind::KeepsDroppingOut | Kind::StaysOff | Kind::NeverComesOn { .. });
        Some(CliffPoint {
            length_m,
            cable_ohm: trial.resolved.model.link().input_cable.resistance_ohm(),
            ah_per_drive_hour: ah_per_drive_hour(&trial).unwrap_or(0.0),
            starts_per_hour: starts_per_drive_hour(&trial).unwrap_or(0.0),
            region,
            over: trial.verdict.find(over).is_some(),
        })
    }

    /// Makes the chart on threads that somebody lends.
    ///
    /// # Errors
    /// [`CaseError`] when the length leads nowhere.
    pub fn run(&self, threads: &impl Threads) -> Result<Vec<CliffCurve>, CaseError> {
        self.case.with(LENGTH, self.length_m[0])?;
        let lengths = self.length_m.len();
        let scanned = threads.map(lengths * self.output_limit_a.len(), |n| {
            self.point(self.length_m[n % lengths], self.output_limit_a[n / lengths])
        });
        Ok(threads.map(self.output_limit_a.len(), |k| {
            let output_a = self.output_limit_a[k];
            let points = scanned[k * lengths..(k + 1) * lengths].iter().flatten().copied().collect();
            self.curve(output_a, points)
        }))
    }

    /// Adds to a scanned curve both sides of the place where it begins to hunt, and the closed form.
    fn curve(&self, output_limit_a: f64, mut points: Vec<CliffPoint>) -> CliffCurve {
        let at = points.windows(2).position(|p| !p[0].over && p[1].over);
        let mut edge = None;
        if let Some(at) = at {
            let (mut good, mut bad) = (points[at], points[at + 1]);
            while bad.length_m - good.length_m > self.edge_share * good.length_m {
                let Some(mid) = self.point(f64::midpoint(good.length_m, bad.length_m), output_limit_a) else {
                    break;
                };
                if mid.over { bad = mid } else { good = mid }
            }
            edge = Some((
                f64::midpoint(good.length_m, bad.length_m),
                f64::midpoint(good.cable_ohm, bad.cable_ohm),
            ));
            points.splice(at + 1..at + 1, [good, bad]);
            points.dedup_by(|a, b| a.length_m == b.length_m);
        }
        let nearest = points.first().and_then(|p| self.trial(p.length_m, output_limit_a));
        let lines = nearest.as_ref().and_then(MapLines::of);
        let off_v = nearest.as_ref().map(|t| t.resolved.model.link().start_stop.turn_off_v);
        CliffCurve {
            output_limit_a,
            points,
            edge_m: edge.map(|e| e.0),
            edge_ohm: edge.map(|e| e.1),
            closed_form_ohm: lines.zip(off_v).map(|(l, off)| l.critical_cable_ohm(off)),
            source_ohm: lines.map(|l| l.source_ohm),
        }
    }
}
