//! Which stops the engine is stopped in: what the drive offers, less what the starter battery forbids.

use super::effects::twelves;
use crate::engine::{Stops, decide_stops};
use crate::model::{Model, Profile, StopRule};
use crate::scenario::Scenario;

/// The drive with its stops decided. Where the run cannot be taken, whoever runs the drive is told why: it stays as it is.
pub(super) fn decided(s: &Scenario, model: &Model, profile: Profile) -> (Profile, Option<Stops>) {
    let g = &s.gears;
    let rule = StopRule {
        least_soc: g.stop_from_soc_pct.value / 100.0,
        restart_v: g.restart_under_v.value * twelves(&g.restart_under_v, s),
        idle_rpm: g.idle_rpm.value,
        bay_c: s.drive.bay_c.value,
    };
    let asks = rule.least_soc > 0.0 || rule.restart_v > 0.0;
    if !(asks && profile.pieces().iter().any(|p| p.stop_start)) {
        return (profile, None);
    }
    match decide_stops(model, &profile, &rule) {
        Ok((driven, stops)) => (driven, Some(stops)),
        Err(_) => (profile, None),
    }
}
