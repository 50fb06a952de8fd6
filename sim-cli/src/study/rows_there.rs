//! Which rows of a sweep are in its journal, in a bit a row: a hundred million of them take 13 MB.
//!
//! Where each begins is known for a window of jobs at a time, while the table is put together, from that part of the journal in
//! which the window's rows lie. Rows come nearly in the order of their jobs, so that a window's part is short; one that was run
//! again later has its window read to there.

use std::ops::Range;

/// Jobs of a window: what is kept of each while it is written takes 8 bytes.
const WINDOW: u64 = 1 << 22;

/// Which rows are there.
pub struct RowsThere {
    jobs: u64,
    /// A bit a job.
    bits: Vec<u64>,
    /// From the first to the last byte of a window's rows, by windows.
    spans: Vec<Range<u64>>,
    window: u64,
}

impl RowsThere {
    /// Nothing yet of so many jobs.
    pub fn none_of(jobs: u64) -> RowsThere {
        RowsThere::in_windows_of(WINDOW, jobs)
    }

    /// The same, with as many jobs to a window.
    pub fn in_windows_of(window: u64, jobs: u64) -> RowsThere {
        let bits = vec![0; jobs.div_ceil(64) as usize];
        let nothing = Range { start: u64::MAX, end: 0 };
        let spans = vec![nothing; jobs.div_ceil(window) as usize];
        RowsThere { jobs, bits, spans, window }
    }

    /// Takes note of the row of a job, with the bytes that it lies in.
    pub fn take_note(&mut self, job: u64, bytes: Range<u64>) {
        self.bits[(job / 64) as usize] |= 1 << (job % 64);
        let span = &mut self.spans[(job / self.window) as usize];
        *span = span.start.min(bytes.start)..span.end.max(bytes.end);
    }

    /// Whether the row of a job is there.
    pub fn has(&self, job: u64) -> bool {
        self.bits[(job / 64) as usize] >> (job % 64) & 1 == 1
    }

    /// Number of rows that are there.
    pub fn count(&self) -> u64 {
        self.bits.iter().map(|b| u64::from(b.count_ones())).sum()
    }

    /// Jobs of each window, and the bytes among which their rows lie.
    pub fn windows(&self) -> impl Iterator<Item = (Range<u64>, Range<u64>)> {
        let begins = (0..self.jobs).step_by(self.window as usize);
        begins.map(|b| b..(b + self.window).min(self.jobs)).zip(self.spans.iter().cloned())
    }
}
