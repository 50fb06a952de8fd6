//! What the fuses carry beside their ratings, and which of them open.

use super::{Facts, Finding, Kind, Measure, Weight, When};
use crate::plant::fuse::Edge;
use crate::record::fuse::HARD;

/// Current over the rating for no longer than this is a transient, s.
const OVER_S: f64 = 60.0;
/// "Hours": from here on a fuse at three quarters of its rating grows hot, s.
const HOURS_S: f64 = 3600.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    let end_s = facts.timeline.span.to.as_s();
    for fuse in &facts.run.fuses {
        let at = fuse.place;
        let for_s = |for_s: f64| When { first_s: fuse.most_at_s, last_s: fuse.most_at_s, for_s, times: 1 };
        let over = Measure::at_most(fuse.most_a, fuse.rating_a, "A");
        // Danger is judged by the quickest fuse of the type; the one between opens the circuit of the run.
        let quickest_s = fuse.worn_at(Edge::Early).and_then(|w| w.through_at_s);
        findings.extend(if let Some(opened) = fuse.opened {
            let measure = Measure::at_most(opened.amps, fuse.rating_a, "A");
            Some(
                Finding::new(Kind::FuseOpened { at }, Weight::Danger, When::once(opened.at_s, end_s))
                    .with(measure),
            )
        } else if let Some(first_s) = quickest_s {
            let when = When { first_s, ..for_s(fuse.over_s) };
            Some(Finding::new(Kind::FuseOver { at }, Weight::Danger, when).with(over))
        } else if fuse.over_s > OVER_S {
            Some(Finding::new(Kind::FuseOver { at }, Weight::Danger, for_s(fuse.over_s)).with(over))
        } else if fuse.hard_s > HOURS_S {
            let measure = Measure::at_most(fuse.most_a, HARD * fuse.rating_a, "A");
            Some(Finding::new(Kind::FuseLoaded { at }, Weight::Note, for_s(fuse.hard_s)).with(measure))
        } else {
            None
        });
    }
}
