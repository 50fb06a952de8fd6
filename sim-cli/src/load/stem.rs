//! Names of outputs, made from the name of a file.

use crate::printable::visible;
use std::path::Path;

/// Longest name, bytes: something is added to it, and disks take 255.
const LONGEST: usize = 180;

/// A name for outputs: one part of a path, in the working folder whatever the file is called.
pub fn output_stem(file: &Path) -> String {
    let stem = file.file_stem().map(|s| s.to_string_lossy()).unwrap_or_default();
    let plain: String = visible(&stem)
        .chars()
        .map(|c| if c.is_control() || "/\\:*?\"<>|\u{fffd}".contains(c) { '_' } else { c })
        .collect();
    let plain = plain.trim_matches(|c: char| c == '.' || c.is_whitespace());
    let end = (0..=plain.len().min(LONGEST)).rev().find(|n| plain.is_char_boundary(*n)).unwrap_or(0);
    match plain[..end].trim_end_matches(|c: char| c == '.' || c.is_whitespace()) {
        "" | "-" => "run".to_owned(),
        plain => plain.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::{Component, PathBuf};

    #[test]
    fn every_name_stays_in_the_working_folder() {
        for (file, stem) in [
            ("van.toml", "van"),
            ("a/b/camper van.2.toml", "camper van.2"),
            ("...toml", "run"),
            ("./...toml", "run"),
            ("..toml", "run"),
            ("-", "run"),
            ("..", "run"),
            ("/", "run"),
            ("", "run"),
            (".toml", "toml"),
            ("....van...toml", "van"),
            ("a\\..\\b.toml", "a_.._b"),
            ("c:van.toml", "c_van"),
            ("v\u{1b}[2Jan\n.toml", "v_[2Jan_"),
            (" .. .toml", "run"),
        ] {
            assert_eq!(output_stem(Path::new(file)), stem, "{file:?}");
        }
        let long = output_stem(Path::new(&format!("{}.toml", "é".repeat(200))));
        assert!(long.len() <= LONGEST && long.chars().all(|c| c == 'é'));
        for name in ["...", "..", ".", "a/../../b", "~", "x.", "\u{202e}..", "..\u{0}"] {
            let made = PathBuf::from(output_stem(Path::new(&format!("{name}.toml"))));
            let parts: Vec<_> = made.components().collect();
            assert!(matches!(parts[..], [Component::Normal(_)]), "{name:?} {made:?}");
        }
    }
}
