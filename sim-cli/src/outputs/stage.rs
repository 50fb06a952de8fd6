//! The folder in which a set is made, beside its place.

use super::Place;
use super::manifest::{Manifest, Set, hex};
use crate::failure::Failure;
use sha2::{Digest, Sha256};
use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// A set on its way.
pub struct Stage<'a> {
    place: &'a Place,
    folder: PathBuf,
    files: Vec<(String, String)>,
    /// Held while the program lives: what nobody holds is swept up.
    _held: Option<File>,
}

/// A file of a stage: what is written is hashed on its way.
pub struct StageFile {
    file: File,
    hash: Sha256,
}

impl Write for StageFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.file.write(bytes)?;
        self.hash.update(&bytes[..n]);
        Ok(n)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Place {
    /// Makes the folder for a set; mends what an earlier run left half-way, and sweeps up.
    ///
    /// # Errors
    /// [`Failure::Write`] and [`Failure::Usage`] as for writing.
    pub fn begin(&self, err: &mut dyn Write) -> Result<Stage<'_>, Failure> {
        let failed = |e| Failure::Write(self.folder.clone(), e);
        std::fs::create_dir_all(&self.folder).map_err(failed)?;
        let lock = lock(&self.folder);
        self.mend(err)?;
        if lock.is_some() {
            self.sweep_up();
        }
        // Another process that has the same number elsewhere may write into the same disk.
        for _ in 0..1000 {
            static COUNT: AtomicU64 = AtomicU64::new(0);
            let n = COUNT.fetch_add(1, Ordering::Relaxed);
            let folder = self.at(&format!(".{}.{}-{n}.part", self.list, std::process::id()));
            match std::fs::create_dir(&folder) {
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
                Err(e) => return Err(Failure::Write(folder, e)),
                Ok(()) => {
                    let held = File::open(&folder).ok().filter(|f| f.try_lock().is_ok());
                    return Ok(Stage { place: self, folder, files: Vec::new(), _held: held });
                }
            }
        }
        Err(failed(io::Error::other("too much is left over beside it")))
    }

    /// Takes away what killed runs left; the folder is locked.
    fn sweep_up(&self) {
        let (Ok(entries), before) = (std::fs::read_dir(&self.folder), format!(".{}.", self.list)) else {
            return;
        };
        for entry in entries.flatten() {
            let name = entry.file_name();
            let number = name.to_str().and_then(|n| n.strip_prefix(&before)?.strip_suffix(".part"));
            let ours = number.is_some_and(|n| n.bytes().all(|b| b.is_ascii_digit() || b == b'-'));
            if !ours || !entry.file_type().is_ok_and(|t| t.is_dir()) {
                continue;
            }
            let path = entry.path();
            if File::open(&path).is_ok_and(|f| f.try_lock().is_ok()) {
                take_away(&path);
            }
        }
    }
}

/// Locks a folder until the file is dropped; `None` where the disk or the system knows no locks of folders.
pub fn lock(folder: &Path) -> Option<File> {
    let file = File::open(folder).ok()?;
    file.lock().ok()?;
    Some(file)
}

/// Removes a folder and the files in it, and nothing below that.
fn take_away(folder: &Path) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let _ = std::fs::remove_file(entry.path());
    }
    let _ = std::fs::remove_dir(folder);
}

impl Stage<'_> {
    /// A file to be written bit by bit.
    ///
    /// # Errors
    /// Whatever the disk says.
    pub fn create(&self, name: &str) -> io::Result<StageFile> {
        let file = OpenOptions::new().write(true).create_new(true).open(self.folder.join(name))?;
        Ok(StageFile { file, hash: Sha256::new() })
    }

    /// Takes a file that was written to its end.
    ///
    /// # Errors
    /// Whatever the disk says.
    pub fn take(&mut self, name: &str, file: StageFile) -> io::Result<()> {
        file.file.sync_all()?;
        self.files.push((name.to_owned(), hex(file.hash.finalize())));
        Ok(())
    }

    fn whole<N: AsRef<str>>(&self, (name, bytes): &(N, Vec<u8>)) -> io::Result<StageFile> {
        let mut file = self.create(name.as_ref())?;
        file.write_all(bytes)?;
        file.file.sync_all()?;
        Ok(file)
    }

    /// Writes files that are there.
    ///
    /// # Errors
    /// [`Failure::Write`] with the first that could not be written.
    pub fn add_all(&mut self, files: &[(impl AsRef<str> + Sync, Vec<u8>)]) -> Result<(), Failure> {
        // Waiting for the disk is most of what a short run costs: the files wait together, not one after the other.
        let stage = &*self;
        let written: Vec<io::Result<StageFile>> = std::thread::scope(|scope| {
            let start = |file| scope.spawn(move || stage.whole(file));
            let waits: Vec<_> = files.iter().map(start).collect();
            let gone = || Err(io::Error::other("the thread that wrote it is gone"));
            waits.into_iter().map(|wait| wait.join().unwrap_or_else(|_| gone())).collect()
        });
        for ((name, _), file) in files.iter().zip(written) {
            let name = name.as_ref();
            let file = file.map_err(|e| Failure::Write(self.place.at(name), e))?;
            self.files.push((name.to_owned(), hex(file.hash.finalize())));
        }
        Ok(())
    }

    /// Puts the set in its place and gives the paths of its files, the list last.
    ///
    /// # Errors
    /// As [`Place::check`], and [`Failure::Write`] when the disk refuses.
    pub fn commit(mut self, err: &mut dyn Write) -> Result<Vec<PathBuf>, Failure> {
        let place = self.place;
        let _lock = lock(&place.folder);
        place.mend(err)?;
        let names: Vec<&str> = self.files.iter().map(|f| f.0.as_str()).collect();
        place.may_write(&names)?;
        let heading = match names.len() {
            1 => format!("{}: 1 file", place.heading),
            n => format!("{}: {n} files of one set", place.heading),
        };
        let mut written: Vec<PathBuf> = names.iter().map(|name| place.at(name)).collect();
        written.push(place.at(&place.list));
        let old = Manifest::read(&place.at(&place.list)).unwrap_or_default();
        let list = old.with(Set { heading, files: std::mem::take(&mut self.files) });
        let failed = |e| Failure::Write(place.at(&place.list), e);
        let mut file = self.create(&place.list).map_err(failed)?;
        file.write_all(list.text().as_bytes()).and_then(|()| file.file.sync_all()).map_err(failed)?;
        if let Some(held) = &self._held {
            held.sync_all().map_err(failed)?;
        }
        let swap = place.swap_folder();
        std::fs::rename(&self.folder, &swap).map_err(failed)?;
        place.bring_over(&list).map_err(|(path, e)| Failure::Write(path, e))?;
        Ok(written)
    }
}

impl Drop for Stage<'_> {
    fn drop(&mut self) {
        take_away(&self.folder);
    }
}
