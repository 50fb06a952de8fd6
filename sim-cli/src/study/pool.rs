//! Threads for the studies of the library.

use crate::failure::Failure;
use rayon::prelude::*;
use sim_core::study::Threads;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// A number of threads and a count of what they have done.
pub struct Pool {
    pool: rayon::ThreadPool,
    /// Jobs done so far.
    pub done: AtomicU64,
}

impl Pool {
    /// So many threads; one for each core without a number.
    ///
    /// # Errors
    /// [`Failure::Usage`] for a number that makes no sense or that the system refuses.
    pub fn new(threads: Option<u16>) -> Result<Pool, Failure> {
        let built = rayon::ThreadPoolBuilder::new().num_threads(threads.map_or(0, usize::from)).build();
        let pool = built.map_err(|e| Failure::Usage(format!("no threads to be had: {e}")))?;
        Ok(Pool { pool, done: AtomicU64::new(0) })
    }

    /// Runs jobs 0 to `count`, the lower numbers first, until all are done or one fails.
    ///
    /// # Errors
    /// The first failure seen.
    pub fn each<E: Send>(&self, count: u64, job: impl Fn(u64) -> Result<(), E> + Sync) -> Result<(), E> {
        let (next, stop) = (AtomicU64::new(0), AtomicBool::new(false));
        let results = self.pool.broadcast(|_| {
            while !stop.load(Ordering::Relaxed) {
                let n = next.fetch_add(1, Ordering::Relaxed);
                if n >= count {
                    break;
                }
                if let Err(e) = job(n) {
                    stop.store(true, Ordering::Relaxed);
                    return Err(e);
                }
            }
            Ok(())
        });
        results.into_iter().collect()
    }
}

impl Threads for Pool {
    fn map<T: Send>(&self, count: usize, job: impl Fn(usize) -> T + Sync) -> Vec<T> {
        let counted = |n| {
            let result = job(n);
            self.done.fetch_add(1, Ordering::Relaxed);
            result
        };
        // One job at a time: a unit that cycles all day costs many times one that does not.
        self.pool.install(|| (0..count).into_par_iter().with_max_len(1).map(counted).collect())
    }
}
