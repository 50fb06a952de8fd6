//! Why the unit switched: causes as data.
//!
//! [`Explanation::new`] reads a run and says of every switching which condition fired, where the drop sat and what had
//! changed just before ([`Switch`]), and tells what repeats itself as one [`Story`] with its kinds and the evidence for
//! each. What cannot be read off the run itself is asked of the network with one thing changed (the unit held off, an
//! alternator without a ceiling, the set-point as it was before), and what that cannot say of a short simulation (the
//! same parked night without the sun). [`remedy::find`] looks for what would leave no trouble in the whole run.
//!
//! Everything is a number or a name; whoever prints it finds the words.

mod alike;
mod change;
mod driving;
mod driving_evidence;
mod drops;
mod ended;
mod evidence;
mod kind;
mod knob;
mod mended;
mod moment;
mod other_stories;
mod parked;
mod part;
mod reason;
pub mod remedy;
mod story;
mod switch;

pub use alike::Alike;
pub use change::Change;
pub use drops::Drops;
pub use ended::Ended;
pub use evidence::Evidence;
pub use kind::{Kind, Named};
pub use knob::{Knob, SignalMode};
pub use part::is_restart;
pub use reason::{Holder, Reason};
pub use remedy::{Cost, Remedies, Remedy};
pub use story::{Family, Period, Story};
pub use switch::{Engine, Probes, Switch};

use crate::engine::Run;
use crate::engine::budget::Budget;
use crate::judge::{Facts, Finding};
use crate::model::{Model, Profile};

/// Steps that parts which are run again may take together; four times those of a longer run.
const PARTS_STEPS: u64 = 200_000;

/// Why the unit switched, over a whole run.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Explanation {
    /// Every time the unit came on or dropped out, in order.
    pub switches: Vec<Switch>,
    /// What repeated itself, or went wrong once, in order of its beginning.
    pub stories: Vec<Story>,
    /// Whether a part that was run again with something changed took more steps than the explanation may cost: what it would
    /// have told is left open.
    pub cut_short: bool,
}

impl Explanation {
    /// Explains a run; it must have kept its trace ([`crate::Record::Everything`] or [`crate::Record::Bounded`]), without one there is nothing to tell.
    pub fn new(run: &Run, model: &Model, profile: &Profile) -> Explanation {
        let work = Budget::new(PARTS_STEPS.max(4 * run.statistics.steps));
        let scene = Scene { run, model, profile, work: Some(&work) };
        let switches = switch::all(&scene);
        let mut stories = story::tell(&scene, &switches);
        stories.extend(other_stories::tell(&scene));
        stories.sort_by_key(|s| s.from);
        Explanation { switches, stories, cut_short: work.cut() }
    }

    /// Why a finding is so, of one that is trouble or danger; the run must have kept its trace.
    pub fn reason(&self, facts: &Facts, finding: &Finding) -> Option<Reason> {
        reason::of(facts, self, finding)
    }

    /// Every kind that was named, each once, in order of first appearance.
    pub fn kinds(&self) -> Vec<Kind> {
        let mut kinds = Vec::new();
        for named in self.stories.iter().flat_map(|s| &s.kinds) {
            if !kinds.contains(&named.kind) {
                kinds.push(named.kind);
            }
        }
        kinds
    }

    /// The stories, those alike together, in order of first appearance.
    pub fn alike(&self) -> Vec<Alike> {
        alike::of(&self.stories)
    }

    /// Whether something repeated itself for which no kind could be named.
    pub fn cannot_tell(&self) -> bool {
        self.stories.iter().any(|s| s.kinds.is_empty())
    }
}

/// A run with what it was a run of.
#[derive(Debug, Clone, Copy)]
struct Scene<'a> {
    run: &'a Run,
    model: &'a Model,
    profile: &'a Profile,
    /// What parts of it that are run again may cost together; `None` for who runs nothing again.
    work: Option<&'a Budget>,
}
