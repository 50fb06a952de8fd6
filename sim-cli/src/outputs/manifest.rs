//! The list of a folder's sets: names and SHA-256 hashes, as `sha256sum -c` reads them, a heading over each set.

use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::io::{self, Read};
use std::path::Path;

/// What every heading begins with; by the first a list is known as ours.
const OURS: &str = "# tickover ";
/// Behind the heading of a set of which a later one replaced some files.
const LEFT: &str = ", of which these are left";
/// Longest list that is read, bytes.
const LONGEST: u64 = 1 << 20;

/// Files that were written together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Set {
    /// By which command, of what.
    pub heading: String,
    /// Name and hash of each file.
    pub files: Vec<(String, String)>,
}

/// All sets of a folder, the last written first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Manifest(pub Vec<Set>);

impl Manifest {
    /// Reads one; `None` where there is none, or one that is not ours.
    pub fn read(path: &Path) -> Option<Manifest> {
        if !path.symlink_metadata().ok()?.is_file() {
            return None;
        }
        let mut text = String::new();
        std::fs::File::open(path).ok()?.take(LONGEST).read_to_string(&mut text).ok()?;
        text.starts_with(OURS).then(|| Manifest::parse(&text))
    }

    fn parse(text: &str) -> Manifest {
        let mut sets: Vec<Set> = Vec::new();
        for line in text.lines() {
            if let Some(heading) = line.strip_prefix(OURS) {
                sets.push(Set { heading: heading.to_owned(), files: Vec::new() });
            } else if let (Some((hash, name)), Some(set)) = (line.split_once("  "), sets.last_mut()) {
                // A list that was tampered with must not lead out of its folder.
                if !name.is_empty() && !name.contains(['/', '\\']) && name != "." && name != ".." {
                    set.files.push((name.to_owned(), hash.to_owned()));
                }
            }
        }
        Manifest(sets)
    }

    /// Whether a file of this name and hash is listed.
    pub fn has(&self, name: &str, hash: Option<String>) -> bool {
        hash.is_some_and(|hash| self.0.iter().flat_map(|s| &s.files).any(|(n, h)| n == name && *h == hash))
    }

    /// The list after a set was written: of the others remains what it did not replace.
    pub fn with(mut self, set: Set) -> Manifest {
        for old in &mut self.0 {
            let before = old.files.len();
            old.files.retain(|(name, _)| !set.files.iter().any(|(new, _)| new == name));
            if old.files.len() < before && !old.heading.ends_with(LEFT) {
                old.heading.push_str(LEFT);
            }
        }
        self.0.retain(|old| !old.files.is_empty());
        self.0.insert(0, set);
        self
    }

    /// As it is written.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for set in &self.0 {
            let _ = writeln!(text, "{OURS}{}", set.heading);
            for (name, hash) in &set.files {
                let _ = writeln!(text, "{hash}  {name}");
            }
        }
        text
    }
}

/// A hash as it is written.
pub fn hex(hash: impl AsRef<[u8]>) -> String {
    hash.as_ref().iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Hash of a file.
pub fn hash_of(path: &Path) -> io::Result<String> {
    let mut file = std::fs::File::open(path)?;
    let (mut hash, mut block) = (Sha256::new(), vec![0; 1 << 16]);
    loop {
        match file.read(&mut block)? {
            0 => return Ok(hex(hash.finalize())),
            n => hash.update(&block[..n]),
        }
    }
}

/// Whether a file is as a list has it.
pub fn is_as_listed(path: &Path, hash: &str) -> bool {
    path.symlink_metadata().is_ok_and(|m| m.is_file()) && hash_of(path).is_ok_and(|found| found == hash)
}
