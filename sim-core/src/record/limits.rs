//! Limits of the user's, checked against a summary.

use super::summary::Summary;
use crate::scenario::field::Num;
use crate::scenario::limits::LimitsSpec;
use serde::Serialize;

/// A limit that was broken.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Broken {
    /// The limit's key.
    pub key: &'static str,
    /// The limit, in the unit of the key.
    pub limit: f64,
    /// What was met, in the same unit.
    pub met: f64,
}

impl Broken {
    /// Unit of the limit, by the end of its key; none for a count.
    pub fn unit(&self) -> &'static str {
        match self.key.rsplit('_').next() {
            Some("v") => "V",
            Some("a") => "A",
            Some("min") => "min",
            Some("pct") => "%",
            _ => "",
        }
    }
}

/// The limits that a run breaks. A limit on something that never came about is not broken.
pub fn broken(limits: &LimitsSpec, s: &Summary) -> Vec<Broken> {
    let at_least =
        |key, limit: &Option<Num>, met: Option<f64>| one(key, limit, met, |met, limit| met < limit);
    let at_most = |key, limit: &Option<Num>, met: Option<f64>| one(key, limit, met, |met, limit| met > limit);
    [
        at_least("least_margin_v", &limits.least_margin_v, s.extremes.margin_v.map(|m| m.value)),
        at_most("most_drop_outs", &limits.most_drop_outs, Some(f64::from(s.dropped_out_driving))),
        at_most("longest_run_on_min", &limits.longest_run_on_min, s.ran_on_s.map(|s| s / 60.0)),
        at_least("least_house_end_pct", &limits.least_house_end_pct, Some(s.house_end_soc * 100.0)),
        at_least("least_house_pct", &limits.least_house_pct, Some(s.house_low_soc * 100.0)),
        at_least("crank_reserve_pct", &limits.crank_reserve_pct, Some(s.starter_least_start_soc * 100.0)),
        at_least("least_starter_end_pct", &limits.least_starter_end_pct, Some(s.starter_end_soc * 100.0)),
        at_most("most_input_a", &limits.most_input_a, s.extremes.input_a.map(|m| m.value)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn one(
    key: &'static str,
    limit: &Option<Num>,
    met: Option<f64>,
    beyond: fn(f64, f64) -> bool,
) -> Option<Broken> {
    let (limit, met) = (limit.as_ref()?.value, met?);
    beyond(met, limit).then_some(Broken { key, limit, met })
}
