//! Which effects beyond the plain model a scenario asks for.

use super::field::Text;
use super::key::choice;
use super::section::section;

section! {
    /// `[physics]`: how much of the physics acts.
    PhysicsSpec {
        /// All effects with their defaults, or none beyond the plain model but what the file turns on.
        effects: Text = choice(&["all", "none"]).or_word("all", "the nearest to a vehicle"),
    }
}
