//! Output files appear whole or not at all.
//!
//! Everything is made in memory first. Each file is written beside its place under a name of its own and then renamed; a
//! second run replaces its own files and touches no others.

use crate::failure::Failure;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Files to be written into one folder.
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

    /// Writes all files, or none.
    ///
    /// # Errors
    /// [`Failure::Write`] with the path that could not be written; what had been written beside is taken away again.
    pub fn write(self, folder: &Path) -> Result<Vec<PathBuf>, Failure> {
        let at = |path: &Path| {
            let path = path.to_owned();
            move |e| Failure::Write(path, e)
        };
        std::fs::create_dir_all(folder).map_err(at(folder))?;
        let mut beside = Beside::default();
        let mut open = Vec::new();
        for (name, bytes) in &self.files {
            let part = folder.join(format!(".{name}.{}.part", std::process::id()));
            beside.0.push(part.clone());
            let mut file = std::fs::File::create(&part).map_err(at(&part))?;
            file.write_all(bytes).map_err(at(&part))?;
            open.push(file);
        }
        // Waiting for the disk is most of what a short run costs: the files wait together, not one after the other.
        let synced: Vec<std::io::Result<()>> = std::thread::scope(|scope| {
            let waits: Vec<_> = open.iter().map(|file| scope.spawn(|| file.sync_all())).collect();
            let gone = || Err(std::io::Error::other("the thread that waited for the disk is gone"));
            waits.into_iter().map(|wait| wait.join().unwrap_or_else(|_| gone())).collect()
        });
        for (result, part) in synced.into_iter().zip(&beside.0) {
            result.map_err(at(part))?;
        }
        let mut written = Vec::new();
        for ((name, _), part) in self.files.iter().zip(&beside.0) {
            let whole = folder.join(name);
            std::fs::rename(part, &whole).map_err(at(&whole))?;
            written.push(whole);
        }
        beside.0.clear();
        Ok(written)
    }
}

/// Writes one file, whole or not at all; an existing one is replaced only when `replace` says so.
///
/// # Errors
/// `AlreadyExists` when it is there and may not be replaced, and whatever the disk says.
pub fn write_file(path: &Path, bytes: &[u8], replace: bool) -> std::io::Result<()> {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let part = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let _beside = Beside(vec![part.clone()]);
    let mut file = std::fs::File::create(&part)?;
    file.write_all(bytes).and_then(|()| file.sync_all())?;
    if replace {
        return std::fs::rename(&part, path);
    }
    // A link, unlike a renaming, does not take the place of a file that came in the meantime; some disks know no links.
    match std::fs::hard_link(&part, path) {
        Err(e) if e.kind() != ErrorKind::AlreadyExists && path.symlink_metadata().is_err() => {
            std::fs::rename(&part, path)
        }
        other => other,
    }
}

/// Takes away what was written beside when a later file fails.
#[derive(Default)]
struct Beside(Vec<PathBuf>);

impl Drop for Beside {
    fn drop(&mut self) {
        for part in &self.0 {
            let _ = std::fs::remove_file(part);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_nothing() {
        let folder = std::env::temp_dir().join(format!("tickover-outputs-{}", std::process::id()));
        std::fs::create_dir_all(folder.join("b.txt")).expect("a folder in the way of a file");
        std::fs::write(folder.join("mine.txt"), "kept").expect("a file of somebody else");
        let mut outputs = Outputs::default();
        outputs.add("b.txt", b"x".to_vec());
        assert!(outputs.write(&folder).is_err());
        let mut left: Vec<_> = std::fs::read_dir(&folder)
            .expect("the folder")
            .map(|e| e.expect("an entry").file_name().into_string().expect("a name"))
            .collect();
        left.sort();
        assert_eq!(left, ["b.txt", "mine.txt"]);
        std::fs::remove_dir_all(&folder).expect("cleaned up");
    }
}
