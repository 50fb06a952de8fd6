//! Moving a whole set over, and finishing what a killed run began to move.

use super::Place;
use super::manifest::{Manifest, hash_of, is_as_listed};
use super::ordinary::in_the_way;
use crate::failure::Failure;
use crate::printable::printable;
use std::io::{self, ErrorKind, Write};
use std::path::PathBuf;

impl Place {
    /// The folder whose being there says that its set counts, and is not yet all in its place.
    pub(super) fn swap_folder(&self) -> PathBuf {
        self.at(&format!(".{}.swap", self.list))
    }

    /// Moves the files of the first set of a list over, then the list.
    pub(super) fn bring_over(&self, list: &Manifest) -> Result<(), (PathBuf, io::Error)> {
        let from = self.swap_folder();
        let names = list.0.first().into_iter().flat_map(|set| &set.files).map(|(name, _)| name);
        for name in names.chain(std::iter::once(&self.list)) {
            let to = self.at(name);
            match std::fs::rename(from.join(name), &to) {
                // Moved over before a kill.
                Err(e) if e.kind() == ErrorKind::NotFound => {}
                Err(e) => return Err((to, e)),
                Ok(()) => {}
            }
        }
        std::fs::remove_dir(&from).map_err(|e| (from.clone(), e))
    }

    /// Finishes what a killed run left half-way, and says so; the folder is locked.
    pub(super) fn mend(&self, err: &mut dyn Write) -> Result<(), Failure> {
        let swap = self.swap_folder();
        let failed = |e| Failure::Write(swap.clone(), e);
        match in_the_way(&swap).map_err(failed)? {
            Some("is a folder") => {}
            None if swap.symlink_metadata().is_err() => return Ok(()),
            _ => return Err(failed(io::Error::other("it is in the way, and is not ours"))),
        }
        let Some(list) = Manifest::read(&swap.join(&self.list)) else {
            // Killed between the last file and the folder.
            return std::fs::remove_dir(&swap).map_err(failed);
        };
        let known = Manifest::read(&self.at(&self.list)).unwrap_or_default();
        let files = || list.0.first().into_iter().flat_map(|set| &set.files);
        for (name, hash) in files() {
            let (waits, there) = (swap.join(name), self.at(name));
            if waits.symlink_metadata().is_ok() {
                // Somebody may have put a file of his own there since.
                self.may_replace(name, |path| known.has(name, hash_of(path).ok()))?;
            } else if !is_as_listed(&there, hash) {
                let what = format!("{} was changed since; it is left as it is", there.display());
                writeln!(err, "{}", printable(&what))?;
            }
        }
        let whose = list.0.first().map_or("", |set| &set.heading);
        let what = format!(
            "the last outputs in {} were cut off half-way ({whose}): they are whole now",
            self.folder.display()
        );
        self.bring_over(&list).map_err(|(path, e)| Failure::Write(path, e))?;
        writeln!(err, "{}", printable(&what))?;
        Ok(())
    }
}
