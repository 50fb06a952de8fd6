//! The rows of a sweep as they come, beside the table they will make: what is done stays done when the power goes.
//!
//! The first line says which sweep it is; every other line is one row with its check, in the order in which runs ended. A row
//! whose check does not fit is run again. The table is put together from it in the order of the runs and takes its place whole.

use super::part::{Label, Line, read_line};
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
    /// Where the row of each job of the part begins; 0 where it is not there.
    begins: Vec<u64>,
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
        let count = label.part.len(label.jobs);
        let mut journal = Journal { begins: vec![0; count as usize], path, file, label, end: 0, damaged: 0 };
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
                journal.begins.fill(0);
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
            let row = self.label.opened(&line);
            let index = row.and_then(|(run, _)| self.label.part.index_of(run.checked_sub(1)?));
            match index.and_then(|n| self.begins.get_mut(n as usize)) {
                Some(begins) => *begins = at,
                None => self.damaged += 1,
            }
            at += line.len() as u64;
        }
        // What follows is a row that was not written to its end.
        self.file.set_len(at).map_err(failed)?;
        self.file.seek(SeekFrom::Start(at)).map_err(failed)?;
        self.end = at;
        Ok(Found::Ours)
    }

    /// Number of lines that were altered since they were written; what they said is run again.
    pub fn damaged(&self) -> u64 {
        self.damaged
    }

    /// Whether the row of the part's `n`-th job is there.
    pub fn has(&self, n: u64) -> bool {
        self.begins[n as usize] != 0
    }

    /// Number of rows that are there.
    pub fn done(&self) -> u64 {
        self.begins.iter().filter(|b| **b != 0).count() as u64
    }

    /// Adds the row of the part's `n`-th job.
    ///
    /// # Errors
    /// [`Failure::Write`] when the disk refuses.
    pub fn add(&mut self, n: u64, line: &str) -> Result<(), Failure> {
        let line = self.label.sealed(line);
        self.file.write_all(line.as_bytes()).map_err(|e| Failure::Write(self.path.clone(), e))?;
        self.begins[n as usize] = self.end;
        self.end += line.len() as u64;
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
        let mut rows = BufReader::with_capacity(1 << 18, &self.file);
        let mut write = || -> io::Result<()> {
            let mut out = BufWriter::with_capacity(1 << 18, stage.create(name)?);
            out.write_all(head.as_bytes())?;
            let mut line = Vec::new();
            let mut at = rows.stream_position()?;
            for (n, &begins) in self.begins.iter().enumerate() {
                // Rows lie nearly in order: most are in the buffer already.
                rows.seek_relative(begins as i64 - at as i64)?;
                read_line(&mut rows, &mut line)?;
                at = begins + line.len() as u64;
                let run = self.label.part.job(n as u64) + 1;
                let row = self.label.opened(&line).filter(|(found, _)| *found == run).map(|(_, row)| row);
                let row = row.ok_or_else(|| {
                    let what = "was altered since it was written: start the sweep again, and it is run again";
                    io::Error::other(format!("the row of run {run} {what}"))
                })?;
                let row = format!("{row}\n");
                out.write_all(if whole { row.as_bytes() } else { &line })?;
                see(&row);
            }
            stage.take(name, out.into_inner().map_err(io::IntoInnerError::into_error)?)
        };
        write().map_err(|e| Failure::Write(self.path.clone(), e))
    }

    /// Takes the journal away, once the table is there: one that stays behind is only in the way.
    pub fn remove(self) {
        let _ = std::fs::remove_file(&self.path);
    }
}
