//! What kept the unit from giving its output limit while the engine ran, ampere-hour by ampere-hour.

use super::trace::Sample;
use crate::engine::Run;
use crate::mode::{Derate, Stage};
use crate::model::{Model, Profile};
use crate::network::Limit;
use serde::Serialize;

/// Ampere-hours that the unit did not give, by cause; the engine running.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Missed {
    /// Off before its first turn-on in a drive.
    pub waiting_ah: f64,
    /// Off in a drive in which it never came on.
    pub never_on_ah: f64,
    /// Off again after a drop-out: cycling.
    pub dropped_out_ah: f64,
    /// Soft start.
    pub soft_start_ah: f64,
    /// Its own heat: derating.
    pub heat_ah: f64,
    /// Input current limit.
    pub input_limit_ah: f64,
    /// A source that could give no more, or the input-voltage floor.
    pub source_ah: f64,
    /// Absorption: the battery takes less.
    pub absorption_ah: f64,
    /// Float.
    pub float_ah: f64,
    /// The house battery's protection refuses charge.
    pub protection_ah: f64,
}

impl Missed {
    /// Causes in words, with their ampere-hours, in the order of a charge.
    pub fn named(&self) -> [(&'static str, f64); 10] {
        [
            ("waiting for turn-on", self.waiting_ah),
            ("drives without a turn-on", self.never_on_ah),
            ("off again after a drop-out", self.dropped_out_ah),
            ("soft start", self.soft_start_ah),
            ("heat", self.heat_ah),
            ("input limit", self.input_limit_ah),
            ("weak source", self.source_ah),
            ("absorption", self.absorption_ah),
            ("float", self.float_ah),
            ("protection", self.protection_ah),
        ]
    }

    /// The largest cause, where there is one worth a word (0.05 Ah).
    pub fn largest(&self) -> Option<(&'static str, f64)> {
        self.named().into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).filter(|(_, ah)| *ah >= 0.05)
    }

    /// All of it, Ah.
    pub fn total_ah(&self) -> f64 {
        self.named().iter().map(|(_, ah)| ah).sum()
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, o: &Missed) -> Missed {
        Missed {
            waiting_ah: self.waiting_ah + o.waiting_ah,
            never_on_ah: self.never_on_ah + o.never_on_ah,
            dropped_out_ah: self.dropped_out_ah + o.dropped_out_ah,
            soft_start_ah: self.soft_start_ah + o.soft_start_ah,
            heat_ah: self.heat_ah + o.heat_ah,
            input_limit_ah: self.input_limit_ah + o.input_limit_ah,
            source_ah: self.source_ah + o.source_ah,
            absorption_ah: self.absorption_ah + o.absorption_ah,
            float_ah: self.float_ah + o.float_ah,
            protection_ah: self.protection_ah + o.protection_ah,
        }
    }

    /// Over a whole run with a trace.
    pub fn of(run: &Run, model: &Model, profile: &Profile) -> Missed {
        Missed::by_day(run, model, profile).iter().fold(Missed::default(), |sum, m| sum.plus(m))
    }

    /// Day by day, in the order of [`Run::days`].
    pub fn by_day(run: &Run, model: &Model, profile: &Profile) -> Vec<Missed> {
        let cap_a = model.link().converter.output_limit_a;
        let mut days = vec![Missed::default(); run.days.len()];
        let mut place = 0;
        // Missed so far in this drive, unit never on yet, and on which day.
        let mut not_yet: Vec<(usize, f64)> = Vec::new();
        let (mut driving, mut has_run) = (false, false);
        for knot in run.trace.steps(model, profile) {
            while place + 1 < days.len() && knot.start >= run.days[place].to {
                place += 1;
            }
            if !knot.mode.engine_runs {
                end_wait(&mut days, &mut not_yet, has_run);
                (driving, has_run) = (false, false);
                continue;
            }
            if !driving {
                (driving, has_run) = (true, knot.mode.on);
            }
            let seconds = knot.ns as f64 * 1e-9;
            if !knot.mode.on {
                let missed_ah = cap_a * seconds / 3600.0;
                match not_yet.last_mut() {
                    _ if has_run => days[place].dropped_out_ah += missed_ah,
                    Some((day, ah)) if *day == place => *ah += missed_ah,
                    _ => not_yet.push((place, missed_ah)),
                }
                continue;
            }
            if !has_run {
                has_run = true;
                end_wait(&mut days, &mut not_yet, true);
            }
            let full = knot.regime.limit == Limit::OutputCurrent
                && !knot.mode.ramping()
                && knot.mode.derate == Derate::Under;
            if full {
                continue;
            }
            for (sample, weight_s) in run.trace.nodes(model, profile, &knot) {
                *days[place].cause(&sample) += (cap_a - sample.net.output_a) * weight_s / 3600.0;
            }
        }
        end_wait(&mut days, &mut not_yet, has_run);
        days
    }

    fn cause(&mut self, s: &Sample) -> &mut f64 {
        match (s.regime.limit, s.mode.stage) {
            _ if s.mode.refusal.is_some() => &mut self.protection_ah,
            (Limit::OutputCurrent, _) if !s.mode.ramping() => &mut self.heat_ah,
            (Limit::Off | Limit::OutputCurrent, _) => &mut self.soft_start_ah,
            (Limit::InputCurrent, _) => &mut self.input_limit_ah,
            (Limit::Floor | Limit::Source | Limit::SourceKink | Limit::Starved, _) => &mut self.source_ah,
            (Limit::Voltage | Limit::Idle, Stage::Float) => &mut self.float_ah,
            (Limit::Voltage | Limit::Idle, _) => &mut self.absorption_ah,
        }
    }
}

/// A drive's wait is over: it was a wait, or the unit never came on.
fn end_wait(days: &mut [Missed], not_yet: &mut Vec<(usize, f64)>, came_on: bool) {
    for (day, ah) in not_yet.drain(..) {
        *(if came_on { &mut days[day].waiting_ah } else { &mut days[day].never_on_ah }) += ah;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_together_are_the_sum_of_every_cause() {
        let of = |k: f64| Missed {
            waiting_ah: k,
            never_on_ah: 2.0 * k,
            dropped_out_ah: 3.0 * k,
            soft_start_ah: 4.0 * k,
            heat_ah: 5.0 * k,
            input_limit_ah: 6.0 * k,
            source_ah: 7.0 * k,
            absorption_ah: 8.0 * k,
            float_ah: 9.0 * k,
            protection_ah: 10.0 * k,
        };
        assert_eq!(of(1.0).plus(&of(16.0)), of(17.0));
        assert_eq!(of(1.0).total_ah(), 55.0);
    }
}
