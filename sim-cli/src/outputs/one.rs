//! One file that the user will go on with, such as a new scenario: in no list.

use super::ordinary::in_the_way;
use std::fs::OpenOptions;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

/// Writes one file, whole or not at all; an existing one is replaced only when `replace` says so, and if it is an ordinary file.
///
/// # Errors
/// `AlreadyExists` when it is there and may not be replaced, `InvalidInput` when it is no ordinary file, and whatever the disk
/// says.
pub fn write_file(path: &Path, bytes: &[u8], replace: bool) -> io::Result<()> {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    if let Some(kind) = in_the_way(path)? {
        let kind_of = if replace { ErrorKind::InvalidInput } else { ErrorKind::AlreadyExists };
        return Err(io::Error::new(kind_of, format!("it {kind}")));
    }
    let part = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
    let mut file = OpenOptions::new().write(true).create_new(true).open(&part)?;
    let _beside = Beside(part.clone());
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

/// Takes away what was written beside.
struct Beside(PathBuf);

impl Drop for Beside {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}
