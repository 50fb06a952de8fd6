//! What a path leads to: only ordinary files are opened or replaced, and no link is followed.

use std::fs::{File, OpenOptions};
use std::io::{self, ErrorKind};
use std::path::Path;

/// What stands at a path if it is something else than an ordinary file.
pub fn in_the_way(path: &Path) -> io::Result<Option<&'static str>> {
    match path.symlink_metadata() {
        Ok(there) if there.is_file() => Ok(None),
        Ok(there) if there.is_symlink() => Ok(Some("is a link")),
        Ok(there) if there.is_dir() => Ok(Some("is a folder")),
        Ok(_) => Ok(Some("is no ordinary file")),
        Err(e) if e.kind() == ErrorKind::NotFound => Ok(None),
        Err(e) => Err(e),
    }
}

/// Whether two paths lead to one file, by whatever names.
pub fn same(a: &Path, b: &Path) -> bool {
    let canonical = |path: &Path| path.canonicalize().ok();
    canonical(a).is_some_and(|a| Some(a) == canonical(b)) || same_inode(a, b)
}

#[cfg(unix)]
fn same_inode(a: &Path, b: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |path: &Path| path.metadata().ok().map(|m| (m.dev(), m.ino()));
    id(a).is_some() && id(a) == id(b)
}

#[cfg(not(unix))]
fn same_inode(_: &Path, _: &Path) -> bool {
    false
}

/// Opens an ordinary file to read and write it, or makes it.
///
/// # Errors
/// `InvalidInput` when something else stands there, and whatever the disk says.
pub fn open_existing(path: &Path) -> io::Result<File> {
    match OpenOptions::new().read(true).write(true).create_new(true).open(path) {
        Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
        made => return made,
    }
    let refused = |what: &str| Err(io::Error::new(ErrorKind::InvalidInput, format!("it {what}")));
    if let Some(kind) = in_the_way(path)? {
        return refused(kind);
    }
    let file = OpenOptions::new().read(true).write(true).open(path)?;
    // It may have become a link between the two.
    if in_the_way(path)?.is_some() || !is_at(&file, path)? {
        return refused("was changed at this moment");
    }
    Ok(file)
}

#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> io::Result<bool> {
    use std::os::unix::fs::MetadataExt;
    let (open, there) = (file.metadata()?, path.symlink_metadata()?);
    Ok((open.dev(), open.ino()) == (there.dev(), there.ino()))
}

#[cfg(not(unix))]
fn is_at(_: &File, _: &Path) -> io::Result<bool> {
    Ok(true)
}
