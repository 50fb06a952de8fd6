//! Threads that somebody lends: this library starts none.

/// Runs independent jobs and hands back what they return, in the order of their numbers.
///
/// ```
/// use sim_core::study::{OneThread, Threads};
/// assert_eq!(OneThread.map(3, |n| n * n), [0, 1, 4]);
/// ```
pub trait Threads: Sync {
    /// What `job` returns for each number below `count`, whoever ran it and whenever it was done.
    fn map<T: Send>(&self, count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T>;
}

/// No threads but one's own.
#[derive(Debug, Clone, Copy, Default)]
pub struct OneThread;

impl Threads for OneThread {
    fn map<T: Send>(&self, count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
        (0..count).map(job).collect()
    }
}
