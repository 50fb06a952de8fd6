//! What a fuse carries beside its rating.

use super::{CableOf, Facts, Finding, Kind, Weight, beyond};
use crate::record::Watched;

/// Current over the rating for no longer than this is a transient, s.
const OVER_S: f64 = 60.0;
/// "Hours": from here on a fuse at three quarters of its rating grows hot, s.
const HOURS_S: f64 = 3600.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    let cable = CableOf::Input;
    let peak = |what| facts.run.stress.peak(what);
    if let Some(over) = peak(Watched::FuseRating).filter(|p| p.over_s > OVER_S) {
        let (when, measure) = beyond(over, "A");
        findings.push(Finding::new(Kind::FuseOver { cable }, Weight::Danger, when).with(measure));
    } else if let Some(loaded) = peak(Watched::FuseShare).filter(|p| p.longest_s > HOURS_S) {
        let (when, measure) = beyond(loaded, "A");
        findings.push(Finding::new(Kind::FuseLoaded { cable }, Weight::Note, when).with(measure));
    }
}
