//! Counters of a run, as data.

use serde::Serialize;

/// What a run cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Statistics {
    /// Accepted steps.
    pub steps: u64,
    /// Rejected attempts.
    pub rejections: u64,
    /// Steps that a guard ended.
    pub located: u64,
    /// Guard crossings hidden inside a step and found by searching it.
    pub hidden: u64,
    /// Times the discrete rules were settled.
    pub settles: u64,
    /// Events recorded.
    pub events: u64,
}
