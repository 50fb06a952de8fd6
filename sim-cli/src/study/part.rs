//! Which share of a sweep a run of the program does, and the line that a part begins with.

use crate::failure::Failure;
use std::str::FromStr;

/// One of several parts: every `of`-th job, beginning with the `k`-th.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// Its number, from 1.
    pub k: u64,
    /// How many there are.
    pub of: u64,
}

impl Part {
    /// The whole.
    pub const WHOLE: Part = Part { k: 1, of: 1 };

    /// Reads `k/n`.
    ///
    /// # Errors
    /// [`Failure::Usage`] when it is no part.
    pub fn read(text: &str) -> Result<Part, Failure> {
        let wrong = || {
            let what = format!(
                "--shard {text} is no part: write k/n, such as 2/4, with k from 1 to n and n to 1000000"
            );
            Failure::Usage(what)
        };
        let (k, of) = text.split_once('/').ok_or_else(wrong)?;
        let (k, of) = (k.parse().map_err(|_| wrong())?, of.parse().map_err(|_| wrong())?);
        if (1..=1_000_000).contains(&of) && (1..=of).contains(&k) { Ok(Part { k, of }) } else { Err(wrong()) }
    }

    /// Number of jobs of the part.
    pub fn len(self, jobs: u64) -> u64 {
        (jobs + self.of - self.k) / self.of
    }

    /// The job that is the `n`-th of the part.
    pub fn job(self, n: u64) -> u64 {
        n * self.of + self.k - 1
    }

    /// Which of the part's jobs a job is.
    pub fn index_of(self, job: u64) -> Option<u64> {
        (job % self.of == self.k - 1).then_some(job / self.of)
    }
}

/// What a part or a journal says of itself in its first line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// What everything that decides the outcome comes to, as a number in hexadecimal.
    pub sweep: String,
    /// Jobs of the whole sweep.
    pub jobs: u64,
    /// Which part.
    pub part: Part,
}

const WORDS: &str = "# tickover sweep";

impl std::fmt::Display for Label {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Part { k, of } = self.part;
        write!(f, "{WORDS} {} jobs {} part {k} of {of}", self.sweep, self.jobs)
    }
}

impl FromStr for Label {
    type Err = ();

    fn from_str(line: &str) -> Result<Label, ()> {
        let words: Vec<&str> = line.strip_prefix(WORDS).ok_or(())?.split_whitespace().collect();
        let [sweep, "jobs", jobs, "part", k, "of", of] = words[..] else { return Err(()) };
        let number = |text: &str| text.parse::<u64>().map_err(|_| ());
        let part = Part { k: number(k)?, of: number(of)? };
        if part.k == 0 || part.k > part.of {
            return Err(());
        }
        Ok(Label { sweep: sweep.to_owned(), jobs: number(jobs)?, part })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_share_all_jobs_out_and_none_twice() {
        for (jobs, of) in [(10, 4), (4, 4), (3, 4), (0, 3), (17, 1)] {
            let mut seen: Vec<u64> = (1..=of)
                .flat_map(|k| {
                    let part = Part { k, of };
                    (0..part.len(jobs)).map(move |n| part.job(n))
                })
                .collect();
            seen.sort_unstable();
            assert_eq!(seen, (0..jobs).collect::<Vec<_>>(), "{jobs} over {of}");
        }
        assert_eq!(Part { k: 2, of: 4 }.index_of(5), Some(1));
        assert_eq!(Part { k: 2, of: 4 }.index_of(6), None);
    }

    #[test]
    fn labels_are_read_as_written_and_parts_are_checked() {
        let label = Label { sweep: "0af1".into(), jobs: 120, part: Part { k: 2, of: 4 } };
        assert_eq!(label.to_string().parse(), Ok(label));
        for text in ["", "3", "0/4", "5/4", "1/0", "a/b", "1/2/3"] {
            assert!(Part::read(text).is_err(), "{text}");
        }
    }
}
