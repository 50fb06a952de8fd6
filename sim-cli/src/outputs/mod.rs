//! Outputs appear as whole sets, or not at all.
//!
//! A set is made in a folder of its own beside its place, with a list of its files and their hashes (`manifest.rs`). Renaming
//! that folder is the moment from which the set counts; then its files are moved over one by one, the list last. A run that is
//! killed before that moment leaves the set before it, and a folder that the next run sweeps up. One that is killed after it
//! leaves the renamed folder, by which the next run finds out, says so, and moves the rest over (`swap.rs`).
//!
//! What is replaced is what the list names with the hash that the file still has: all else is somebody's, and is left alone
//! unless asked. Nothing here follows a link at the end of a path, or replaces what is no ordinary file (`ordinary.rs`).

mod manifest;
mod one;
mod ordinary;
mod stage;
mod swap;

pub use one::write_file;
pub use ordinary::open_existing;
pub use stage::Stage;

use crate::args::FolderArgs;
use crate::failure::Failure;
use crate::printable::printable;
use manifest::{Manifest, hash_of};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Where a set of outputs goes, and what it may replace.
#[derive(Debug, Clone)]
pub struct Place {
    folder: PathBuf,
    /// Name of the list of files.
    list: String,
    /// What the list says of the set.
    heading: String,
    replace: bool,
    /// Files that the command reads: never replaced.
    inputs: Vec<PathBuf>,
}

impl Place {
    /// A folder: the one asked for, or one of this name here. `command` and `name` say in the list whose the set is.
    pub fn folder(args: &FolderArgs, here: String, command: &str, name: &str, inputs: Vec<PathBuf>) -> Place {
        let folder = args.out.clone().unwrap_or_else(|| PathBuf::from(here));
        Place::of_folder(folder, args.replace.replace, (command, name), inputs)
    }

    /// A folder that was asked for.
    pub fn of_folder(
        folder: PathBuf,
        replace: bool,
        (command, name): (&str, &str),
        inputs: Vec<PathBuf>,
    ) -> Place {
        // `a` and `a/` are one folder; the empty path is the working folder.
        let folder = if folder.as_os_str().is_empty() { PathBuf::from(".") } else { folder };
        let heading = format!("{command}, {}", printable(name).replace('\n', " "));
        Place { folder, list: "files.sha256".into(), heading, replace, inputs }
    }

    /// The folder of a table, with a list that is named after it.
    ///
    /// # Errors
    /// [`Failure::Usage`] when the path names no file.
    pub fn beside(
        table: &Path,
        replace: bool,
        (command, name): (&str, &str),
        inputs: Vec<PathBuf>,
    ) -> Result<Place, Failure> {
        let list = format!("{}.sha256", name_of(table)?);
        let folder = table.parent().unwrap_or(Path::new("")).to_owned();
        Ok(Place { list, ..Place::of_folder(folder, replace, (command, name), inputs) })
    }

    /// Refuses what could not be written at the end, before hours have gone into it; `err` is told what was mended.
    ///
    /// # Errors
    /// [`Failure::Usage`] with the file that is in the way.
    pub fn check(&self, names: &[&str], err: &mut dyn Write) -> Result<(), Failure> {
        if self.folder.metadata().is_ok_and(|m| !m.is_dir()) {
            let what = format!("{} is no folder: name one with --out", self.folder.display());
            return Err(Failure::Usage(what));
        }
        let _lock = stage::lock(&self.folder);
        self.mend(err)?;
        self.may_write(names)
    }

    /// The same with the folder locked, and mended.
    fn may_write(&self, names: &[&str]) -> Result<(), Failure> {
        let known = Manifest::read(&self.at(&self.list));
        self.may_replace(&self.list, |_| known.is_some())?;
        let known = known.unwrap_or_default();
        names.iter().try_for_each(|name| self.may_replace(name, |path| known.has(name, hash_of(path).ok())))
    }

    fn at(&self, name: &str) -> PathBuf {
        if self.folder == Path::new(".") { PathBuf::from(name) } else { self.folder.join(name) }
    }

    /// Whether a file may be written under this name; `ours` says of one that is there whether we wrote it.
    fn may_replace(&self, name: &str, ours: impl FnOnce(&Path) -> bool) -> Result<(), Failure> {
        let path = self.at(name);
        let shown = path.display();
        let refuse = |why: &str, way: &str| Err(Failure::Usage(format!("{shown} {why}: {way}")));
        if let Some(kind) = ordinary::in_the_way(&path).map_err(|e| Failure::Write(path.clone(), e))? {
            return refuse(kind, "it is not replaced; choose another --out");
        }
        if self.inputs.iter().any(|input| ordinary::same(input, &path)) {
            return refuse("is read by this command", "it is not overwritten; choose another --out");
        }
        if self.replace || path.symlink_metadata().is_err() || ours(&path) {
            return Ok(());
        }
        let list = self.at(&self.list);
        let way =
            format!("choose another --out, or replace it with --replace ({} lists ours)", list.display());
        refuse("is there already, and is not as this program wrote it", &way)
    }
}

/// The last part of a path, which is to name a file.
///
/// # Errors
/// [`Failure::Usage`] when it names none.
pub fn name_of(path: &Path) -> Result<String, Failure> {
    let name = path.file_name().and_then(|n| n.to_str()).map(str::to_owned);
    name.ok_or_else(|| Failure::Usage(format!("{} does not name a file", path.display())))
}

/// Files of a set, in memory.
#[derive(Debug, Default)]
pub struct Outputs {
    files: Vec<(&'static str, Vec<u8>)>,
}

impl Outputs {
    /// Adds a file.
    pub fn add(&mut self, name: &'static str, bytes: Vec<u8>) {
        self.files.push((name, bytes));
    }

    /// Adds a file before all others.
    pub fn add_first(&mut self, name: &'static str, bytes: Vec<u8>) {
        self.files.insert(0, (name, bytes));
    }

    /// Writes all files, or none, and gives their paths; `err` is told what was mended.
    ///
    /// # Errors
    /// [`Failure::Write`] with the path that could not be written, [`Failure::Usage`] with the file that is in the way; what
    /// had been written beside is taken away again.
    pub fn write(self, place: &Place, err: &mut dyn Write) -> Result<Vec<PathBuf>, Failure> {
        let mut stage = place.begin(err)?;
        stage.add_all(&self.files)?;
        stage.commit(err)
    }
}

#[cfg(test)]
mod tests;
