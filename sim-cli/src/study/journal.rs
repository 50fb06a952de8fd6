//! The rows of a sweep as they come, beside the table they will make: what is done stays done when the power goes.
//!
//! The first line says which sweep it is; every other line is one row with its check, in the order in which runs ended. A row
//! whose check does not fit is run again. The table is put together from it in the order of the runs and takes its place whole.

use super::part::{Label, Line, read_line};
use super::rows_there::RowsThere;
use crate::failure::Failure;
use crate::outputs::{Stage, name_of, open_existing};
use std::fs::{File, TryLockError};
use std::io::{self, BufReader, BufWriter, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A journal that rows are added to.
pub struct Journal {
    path: PathBuf,
    file: File,
    label: Label,
    /// By jobs of the part.
    there: RowsThere,
    end: u64,
    damaged: u64,
}

/// What a journal that is there was written for.
enum Found {
    /// Nothing yet.
    Nothing,
    /// This sweep.
    Ours,
    /// Another sweep.
    Other,
    /// It is no journal.
    Foreign,
}

impl Journal {
    /// Opens the journal beside `table`, going on with one that is there.
    ///
    /// # Errors
    /// [`Failure::Usage`] when one of another sweep is in the way or is in use; [`Failure::Write`] when the disk refuses.
    pub fn open(table: &Path, label: Label, restart: bool) -> Result<Journal, Failure> {
        let path = table.with_file_name(format!("{}.journal", name_of(table)?));
        let refused = |e: io::Error| match e.kind() {
            io::ErrorKind::InvalidInput => {
                Failure::Usage(format!("{} is in the way: {e}; choose another --out", path.display()))
            }
            _ => Failure::Write(path.clone(), e),
        };
        let file = open_existing(&path).map_err(refused)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let what = format!("another sweep is writing {} at this moment", path.display());
                return Err(Failure::Usage(what));
            }
            // Some disks know no locks.
            Err(TryLockError::Error(_)) => {}
        }
        let there = RowsThere::none_of(label.part.len(label.jobs));
        let mut journal = Journal { there, path, file, label, end: 0, damaged: 0 };
        let shown = journal.path.display().to_string();
        match journal.read_back()? {
            Found::Ours if !restart => {}
            Found::Other if !restart => {
                return Err(Failure::Usage(format!(
                    "{shown} is an unfinished sweep of other inputs, another program or another part, or its first \
                     line was altered: finish it, choose another --out, or begin anew with --restart"
                )));
            }
            Found::Foreign => {
                let what =
                    format!("{shown} is in the way, and is no journal of a sweep: choose another --out");
                return Err(Failure::Usage(what));
            }
            Found::Nothing | Found::Ours | Found::Other => {
                let first = format!("{}\n", journal.label);
                let begin = |file: &mut File| {
                    file.set_len(0)?;
                    file.seek(SeekFrom::Start(0))?;
                    file.write_all(first.as_bytes())
                };
                begin(&mut journal.file).map_err(|e| Failure::Write(journal.path.clone(), e))?;
                journal.there = RowsThere::none_of(journal.label.part.len(journal.label.jobs));
                (journal.end, journal.damaged) = (first.len() as u64, 0);
            }
        }
        Ok(journal)
    }

    /// Finds the rows that are there.
    fn read_back(&mut self) -> Result<Found, Failure> {
        let failed = |e| Failure::Write(self.path.clone(), e);
        let mut lines = BufReader::new(&self.file);
        let mut line = Vec::new();
        let first = read_line(&mut lines, &mut line).map_err(failed)?;
        let begins = Label::begins(&line);
        if first != Line::Whole {
            // Killed before its first line was whole, or new.
            return Ok(if begins { Found::Nothing } else { Found::Foreign });
        }
        if std::str::from_utf8(&line).ok().and_then(|l| l.strip_suffix('\n')?.parse().ok()).as_ref()
            != Some(&self.label)
        {
            return Ok(if begins { Found::Other } else { Found::Foreign });
        }
        let mut at = line.len() as u64;
        loop {
            match read_line(&mut lines, &mut line).map_err(failed)? {
                Line::Whole => {}
                Line::End | Line::Short => break,
                Line::Long => {
                    self.damaged += 1;
                    break;
                }
            }
            let ends = at + line.len() as u64;
            match self.job_of(&line) {
                Some(n) => self.there.take_note(n, at..ends),
                None => self.damaged += 1,
            }
            at = ends;
        }
        // What follows is a row that was not written to its end.
        self.file.set_len(at).map_err(failed)?;
        self.file.seek(SeekFrom::Start(at)).map_err(failed)?;
        self.end = at;
        Ok(Found::Ours)
    }

    /// Which of the part's jobs a line is the row of; `None` where its check does not fit.
    fn job_of(&self, line: &[u8]) -> Option<u64> {
        let (run, _) = self.label.opened(line)?;
        let n = self.label.part.index_of(run.checked_sub(1)?)?;
        (n < self.label.part.len(self.label.jobs)).then_some(n)
    }

    /// Number of lines that were altered since they were written; what they said is run again.
    pub fn damaged(&self) -> u64 {
        self.damaged
    }

    /// Whether the row of the part's `n`-th job is there.
    pub fn has(&self, n: u64) -> bool {
        self.there.has(n)
    }

    /// Number of rows that are there.
    pub fn done(&self) -> u64 {
        self.there.count()
    }

    /// Adds the row of the part's `n`-th job.
    ///
    /// # Errors
    /// [`Failure::Write`] when the disk refuses.
    pub fn add(&mut self, n: u64, line: &str) -> Result<(), Failure> {
        let line = self.label.sealed(line);
        self.file.write_all(line.as_bytes()).map_err(|e| Failure::Write(self.path.clone(), e))?;
        let begins = self.end;
        self.end += line.len() as u64;
        self.there.take_note(n, begins..self.end);
        Ok(())
    }

    /// Makes the table of a complete journal: the head, then the rows in the order of their jobs, each shown to `see`. Those
    /// of a part keep their checks.
    ///
    /// # Errors
    /// [`Failure::Write`] when the disk refuses, or gives back something else than was written; the journal is still there.
    pub fn table(
        &mut self,
        stage: &mut Stage,
        name: &str,
        head: &str,
        mut see: impl FnMut(&str),
    ) -> Result<(), Failure> {
        self.file.sync_all().map_err(|e| Failure::Write(self.path.clone(), e))?;
        let whole = self.label.part.of == 1;
        let mut write = || -> io::Result<()> {
            let mut out = BufWriter::with_capacity(1 << 18, stage.create(name)?);
            out.write_all(head.as_bytes())?;
            self.in_order(|row, line| {
                let row = format!("{row}\n");
                see(&row);
                out.write_all(if whole { row.as_bytes() } else { line })
            })?;
            stage.take(name, out.into_inner().map_err(io::IntoInnerError::into_error)?)
        };
        write().map_err(|e| Failure::Write(self.path.clone(), e))
    }

    /// Shows every row in the order of their jobs, as it is and as its line with its check.
    fn in_order(&self, mut show: impl FnMut(&str, &[u8]) -> io::Result<()>) -> io::Result<()> {
        let mut rows = BufReader::with_capacity(1 << 18, &self.file);
        let (mut line, mut begins) = (Vec::new(), Vec::new());
        for (jobs, span) in self.there.windows() {
            // Where the rows of so many jobs begin; the last of a job counts.
            begins.clear();
            begins.resize((jobs.end - jobs.start) as usize, 0);
            let mut at = span.start;
            rows.seek(SeekFrom::Start(at))?;
            while at < span.end {
                if read_line(&mut rows, &mut line)? != Line::Whole {
                    break;
                }
                if let Some(n) = self.job_of(&line).filter(|n| jobs.contains(n)) {
                    begins[(n - jobs.start) as usize] = at;
                }
                at += line.len() as u64;
            }
            at = rows.seek(SeekFrom::Start(span.start))?;
            for (n, &begins) in jobs.zip(&begins) {
                // Rows lie nearly in order: most are in the buffer already.
                rows.seek_relative(begins as i64 - at as i64)?;
                read_line(&mut rows, &mut line)?;
                at = begins + line.len() as u64;
                let run = self.label.part.job(n) + 1;
                let row = self.label.opened(&line).filter(|(found, _)| *found == run).map(|(_, row)| row);
                let row = row.ok_or_else(|| {
                    let what = "was altered since it was written: start the sweep again, and it is run again";
                    io::Error::other(format!("the row of run {run} {what}"))
                })?;
                show(row, &line)?;
            }
        }
        Ok(())
    }

    /// Takes the journal away, once the table is there: one that stays behind is only in the way.
    pub fn remove(self) {
        let _ = std::fs::remove_file(&self.path);
    }
}

#[cfg(test)]
mod tests {
    use super::super::part::Part;
    use super::*;

    /// Rows far out of order, run twice, altered and run again: windows of few jobs give the order that one window gives.
    #[test]
    fn rows_come_in_the_order_of_their_jobs_from_windows_of_any_size() {
        let folder = std::env::temp_dir().join(format!("tickover-journal-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir(&folder).expect("a folder");
        let label = Label { sweep: "0af1".into(), jobs: 300, part: Part { k: 2, of: 3 } };
        let table = folder.join("t.csv");
        let row = |n: u64, word: &str| format!("{},{word} {}", label.part.job(n) + 1, "x".repeat(n as usize));
        let mut journal = Journal::open(&table, label.clone(), false).unwrap_or_else(|_| panic!("opened"));
        let add = |journal: &mut Journal, n, word| journal.add(n, &row(n, word)).unwrap_or_else(|_| panic!());
        for n in 0..100 {
            add(&mut journal, (n * 37) % 100, "first");
        }
        for n in [99, 3, 50] {
            add(&mut journal, n, "again");
        }
        assert_eq!((journal.there.count(), journal.damaged()), (100, 0));
        drop(journal);
        // The number of a row's run is altered to that of another, which stands before it.
        let path = folder.join("t.csv.journal");
        let text = std::fs::read_to_string(&path).expect("a journal");
        let altered = text.replace(&row(60, "first"), &row(0, "first").replace("first", "wrong"));
        assert_ne!(text, altered);
        std::fs::write(&path, altered).expect("written");
        for window in [1, 4, 7, 64, 100, 1000] {
            let mut journal =
                Journal::open(&table, label.clone(), false).unwrap_or_else(|_| panic!("opened"));
            journal.there = RowsThere::in_windows_of(window, 100);
            journal.damaged = 0;
            journal.file.seek(SeekFrom::Start(0)).expect("the beginning");
            assert!(matches!(journal.read_back(), Ok(Found::Ours)));
            let lost = (0..100).filter(|n| !journal.has(*n)).collect::<Vec<_>>();
            assert_eq!((journal.damaged(), lost.as_slice()), (1, if window == 1 { &[60][..] } else { &[] }));
            if window == 1 {
                assert!(journal.in_order(|_, _| Ok(())).is_err(), "one is not there");
                add(&mut journal, 60, "new");
            }
            let mut seen = Vec::new();
            let shown = journal.in_order(|row, line| {
                assert_eq!(label.opened(line).map(|l| l.1), Some(row));
                seen.push(row.to_owned());
                Ok(())
            });
            shown.expect("all are there");
            let word = |n| match n {
                99 | 3 | 50 => "again",
                60 => "new",
                _ => "first",
            };
            assert_eq!(seen, (0..100).map(|n| row(n, word(n))).collect::<Vec<_>>(), "windows of {window}");
        }
        std::fs::remove_dir_all(&folder).expect("removed");
    }
}
