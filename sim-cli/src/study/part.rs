//! Which share of a sweep a run of the program does, and the line that a part begins with.

use crate::failure::Failure;
use sha2::{Digest, Sha256};
use std::io::{self, BufRead, Read};
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
/// What a part's table calls the column of checks.
pub const CHECK: &str = "check";
/// Longest row that is read, bytes; a name in it is as long as a scenario at most.
const LONGEST_ROW: u64 = 16 << 20;

/// What a line of a journal or a part turned out to be.
#[derive(Debug, PartialEq, Eq)]
pub enum Line {
    /// The file ends here.
    End,
    /// A line with its end, kept in the buffer.
    Whole,
    /// Not written to its end.
    Short,
    /// Longer than any row.
    Long,
}

/// Reads one line, of bounded length, with its end.
pub fn read_line(from: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Line> {
    line.clear();
    from.take(LONGEST_ROW).read_until(b'\n', line)?;
    Ok(match line.last() {
        None => Line::End,
        Some(b'\n') => Line::Whole,
        Some(_) if line.len() as u64 == LONGEST_ROW => Line::Long,
        Some(_) => Line::Short,
    })
}

/// The first 64 bits of the hash of a text, in hexadecimal.
fn check(of: &[&str]) -> String {
    let mut hash = Sha256::new();
    for text in of {
        hash.update((text.len() as u64).to_le_bytes());
        hash.update(text.as_bytes());
    }
    hash.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

impl Label {
    /// A row, its end included, with its check as one more cell: of what stands in it and of which sweep it is.
    pub fn sealed(&self, row: &str) -> String {
        let row = row.strip_suffix('\n').unwrap_or(row);
        format!("{row},{}\n", check(&[&self.sweep, row]))
    }

    /// A row as it was before it got its check, with its run and without its end; `None` where the two do not fit.
    pub fn opened<'a>(&self, line: &'a [u8]) -> Option<(u64, &'a str)> {
        let line = std::str::from_utf8(line).ok()?.strip_suffix('\n')?;
        let (row, found) = line.rsplit_once(',')?;
        let run = row.split(',').next()?.parse().ok()?;
        (found == check(&[&self.sweep, row])).then_some((run, row))
    }

    /// Whether a first line, or the beginning of one, is that of a journal or a part of whatever sweep, a bit of it altered
    /// or not.
    pub fn begins(line: &[u8]) -> bool {
        let pairs = line.iter().zip(WORDS.as_bytes());
        pairs.map(|(a, b)| (a ^ b).count_ones()).sum::<u32>() <= 1
    }

    fn words(&self) -> String {
        let Part { k, of } = self.part;
        format!("{WORDS} {} jobs {} part {k} of {of}", self.sweep, self.jobs)
    }
}

impl std::fmt::Display for Label {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let words = self.words();
        write!(f, "{words} {CHECK} {}", check(&[&words]))
    }
}

impl FromStr for Label {
    type Err = ();

    fn from_str(line: &str) -> Result<Label, ()> {
        let words: Vec<&str> = line.strip_prefix(WORDS).ok_or(())?.split_whitespace().collect();
        let [sweep, "jobs", jobs, "part", k, "of", of, CHECK, _] = words[..] else { return Err(()) };
        let number = |text: &str| text.parse::<u64>().map_err(|_| ());
        let part = Part { k: number(k)?, of: number(of)? };
        if part.k == 0 || part.k > part.of {
            return Err(());
        }
        let label = Label { sweep: sweep.to_owned(), jobs: number(jobs)?, part };
        // Its check, and everything else in it as it is written.
        if label.to_string() == line { Ok(label) } else { Err(()) }
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
    fn a_row_with_any_bit_flipped_or_of_another_sweep_does_not_open() {
        let label = Label { sweep: "0af1".into(), jobs: 120, part: Part::WHOLE };
        let row = "7,\"town, cold\",2.5,good,,Ω 1.25";
        let sealed = label.sealed(&format!("{row}\n")).into_bytes();
        assert_eq!(label.opened(&sealed), Some((7, row)));
        for bit in 0..8 * sealed.len() {
            let mut flipped = sealed.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(label.opened(&flipped), None, "bit {bit}");
        }
        assert_eq!(label.opened(&sealed[..sealed.len() - 1]), None);
        assert_eq!(Label { sweep: "0af2".into(), ..label }.opened(&sealed), None);
    }

    #[test]
    fn a_line_is_read_to_a_bound() {
        let mut line = Vec::new();
        let mut endless = std::io::BufReader::new(std::io::repeat(b'7'));
        assert_eq!(read_line(&mut endless, &mut line).expect("read"), Line::Long);
        assert_eq!(line.len() as u64, LONGEST_ROW);
        let mut text = &b"a\nb"[..];
        let mut next = || read_line(&mut text, &mut line).expect("read");
        assert_eq!([next(), next(), next()], [Line::Whole, Line::Short, Line::End]);
    }

    #[test]
    fn labels_are_read_as_written_and_parts_are_checked() {
        let label = Label { sweep: "0af1".into(), jobs: 120, part: Part { k: 2, of: 4 } };
        assert_eq!(label.to_string().parse(), Ok(label.clone()));
        assert!(label.words().parse::<Label>().is_err(), "without its check");
        assert!(label.to_string().replace("jobs 120", "jobs 121").parse::<Label>().is_err());
        for text in ["", "3", "0/4", "5/4", "1/0", "a/b", "1/2/3"] {
            assert!(Part::read(text).is_err(), "{text}");
        }
    }
}
