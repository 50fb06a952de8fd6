//! The rows of a sweep as they come, beside the table they will make: what is done stays done when the power goes.
//!
//! The first line says which sweep it is; every other line is one row, in the order in which runs ended. The table
//! is put together from it in the order of the runs and takes its place whole.

use super::part::Label;
use crate::failure::Failure;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// A journal that rows are added to.
pub struct Journal {
    path: PathBuf,
    file: File,
    label: Label,
    /// Where the row of each job of the part begins; 0 where it is not there.
    begins: Vec<u64>,
    end: u64,
}

impl Journal {
    /// Opens the journal beside `table`, going on with one that is there.
    ///
    /// # Errors
    /// [`Failure::Usage`] when one of another sweep is in the way or is in use; [`Failure::Write`] when the disk refuses.
    pub fn open(table: &Path, label: Label, restart: bool) -> Result<Journal, Failure> {
        let path = beside(table);
        let refused = |e| Failure::Write(path.clone(), e);
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&path)
            .map_err(refused)?;
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
        let mut journal = Journal { begins: vec![0; count as usize], path, file, label, end: 0 };
        let found = if restart { None } else { journal.read_back()? };
        match found {
            Some(true) => {}
            Some(false) => {
                let what = format!(
                    "{} is an unfinished sweep of other inputs, another program or another part: finish it, choose \
                     another --out, or begin anew with --restart",
                    journal.path.display()
                );
                return Err(Failure::Usage(what));
            }
            None => {
                let first = format!("{}\n", journal.label);
                let begin = |file: &mut File| {
                    file.set_len(0)?;
                    file.seek(SeekFrom::Start(0))?;
                    file.write_all(first.as_bytes())
                };
                begin(&mut journal.file).map_err(|e| Failure::Write(journal.path.clone(), e))?;
                journal.begins.fill(0);
                journal.end = first.len() as u64;
            }
        }
        Ok(journal)
    }

    /// Finds the rows that are there; `None` for an empty file, `false` for one of another sweep.
    fn read_back(&mut self) -> Result<Option<bool>, Failure> {
        let failed = |e| Failure::Write(self.path.clone(), e);
        let mut lines = BufReader::new(&self.file);
        let (mut line, mut at) = (Vec::new(), 0_u64);
        loop {
            line.clear();
            // No row is a thousandth as long.
            let read = (&mut lines).take(1 << 24).read_until(b'\n', &mut line).map_err(failed)?;
            if read == 0 || line.last() != Some(&b'\n') {
                break;
            }
            let text = String::from_utf8_lossy(&line);
            if at == 0 {
                if text.trim_end().parse() != Ok(self.label.clone()) {
                    return Ok(Some(false));
                }
            } else {
                let job = text.split(',').next().and_then(|n| n.parse::<u64>().ok());
                let index = job.and_then(|n| self.label.part.index_of(n.checked_sub(1)?));
                match index.and_then(|n| self.begins.get_mut(n as usize)) {
                    Some(begins) => *begins = at,
                    None => break,
                }
            }
            at += read as u64;
        }
        if at == 0 {
            // Killed before its first line was whole, or new.
            return Ok(None);
        }
        // What follows is a row that was not written to its end.
        self.file.set_len(at).map_err(failed)?;
        self.file.seek(SeekFrom::Start(at)).map_err(failed)?;
        self.end = at;
        Ok(Some(true))
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
        self.file.write_all(line.as_bytes()).map_err(|e| Failure::Write(self.path.clone(), e))?;
        self.begins[n as usize] = self.end;
        self.end += line.len() as u64;
        Ok(())
    }

    /// Makes the table of a complete journal: the head, then the rows in the order of their jobs, each shown to `see`.
    ///
    /// # Errors
    /// [`Failure::Write`] when the disk refuses; the journal is then still there.
    pub fn finish(self, table: &Path, head: &str, mut see: impl FnMut(&str)) -> Result<(), Failure> {
        let failed = |e| Failure::Write(table.to_owned(), e);
        self.file.sync_all().map_err(failed)?;
        let name = table.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        let part = table.with_file_name(format!(".{name}.{}.part", std::process::id()));
        let mut write = || -> std::io::Result<()> {
            let mut rows = BufReader::with_capacity(1 << 18, &self.file);
            let mut out = BufWriter::with_capacity(1 << 18, File::create(&part)?);
            out.write_all(head.as_bytes())?;
            let mut line = String::new();
            let mut at = rows.stream_position()?;
            for &begins in &self.begins {
                // Rows lie nearly in order: most are in the buffer already.
                rows.seek_relative(begins as i64 - at as i64)?;
                line.clear();
                at = begins + rows.read_line(&mut line)? as u64;
                out.write_all(line.as_bytes())?;
                see(&line);
            }
            out.into_inner().map_err(std::io::IntoInnerError::into_error)?.sync_all()?;
            std::fs::rename(&part, table)
        };
        if let Err(e) = write() {
            let _ = std::fs::remove_file(&part);
            return Err(failed(e));
        }
        // The table is there: a journal that stays behind is only in the way.
        let _ = std::fs::remove_file(&self.path);
        Ok(())
    }
}

fn beside(table: &Path) -> PathBuf {
    let name = table.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    table.with_file_name(format!("{name}.journal"))
}
