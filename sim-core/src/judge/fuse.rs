//! What fuses carry beside their rating, and whether they open.
//!
//! Danger is judged at the early edge of a type's band, what conductors bear at the late one.

use super::{Facts, Finding, Kind, Measure, Weight, When};
use crate::plant::fuse::Edge;
use crate::record::fuse::{FuseWork, HARD};

/// Current over the rating for no longer than this is a transient, s.
const OVER_S: f64 = 60.0;
/// "Hours": from here on a fuse at three quarters of its rating grows hot, s.
const HOURS_S: f64 = 3600.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    findings.extend(facts.run.fuses.iter().filter_map(of));
}

/// The gravest thing that is to be said of one fuse.
fn of(fuse: &FuseWork) -> Option<Finding> {
    let at = fuse.place;
    let over = Measure::at_most(fuse.most_a, fuse.rating_a, "A");
    if let Some(opened) = fuse.opened {
        let measure = Measure::at_most(opened.amps, fuse.rating_a, "A");
        let when = When::once(opened.at_s, opened.at_s);
        return Some(Finding::new(Kind::FuseOpened { at }, Weight::Danger, when).with(measure));
    }
    if let Some(through_s) = fuse.worn_at(Edge::Early).and_then(|w| w.through_at_s) {
        let when = When::once(through_s, through_s);
        return Some(Finding::new(Kind::FuseMayOpen { at }, Weight::Danger, when).with(over));
    }
    let when = |n: usize, for_s: f64| {
        let first_s = fuse.first_s[n].unwrap_or(fuse.most_at_s);
        When { first_s, last_s: fuse.last_s[n], for_s, times: 1 }
    };
    if fuse.over_s > OVER_S {
        let when = when(1, fuse.over_s);
        return Some(Finding::new(Kind::FuseOver { at }, Weight::Danger, when).with(over));
    }
    (fuse.hard_s > HOURS_S).then(|| {
        let measure = Measure::at_most(fuse.most_a, HARD * fuse.rating_a, "A");
        Finding::new(Kind::FuseLoaded { at }, Weight::Note, when(0, fuse.hard_s)).with(measure)
    })
}
