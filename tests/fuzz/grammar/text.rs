//! A scenario as sections of keys, so that keys can be left out and the rest still stands.

use super::log::Log;
use std::fmt;
use std::path::PathBuf;

/// One section, or one item of a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// As in [`sim_core::scenario::keys_of`].
    pub name: String,
    /// Whether it is an item of a list.
    pub listed: bool,
    /// Keys and values, as written.
    pub keys: Vec<(String, String)>,
}

/// A whole scenario and the logs that it names.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Text {
    /// The head first.
    pub sections: Vec<Section>,
    /// Logs, by the number in their file's name.
    pub logs: Vec<Log>,
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for s in &self.sections {
            match (s.name.as_str(), s.listed) {
                ("", _) => {}
                (name, true) => writeln!(f, "[[{name}]]")?,
                (name, false) => writeln!(f, "[{name}]")?,
            }
            for (key, value) in &s.keys {
                writeln!(f, "{key} = {value}")?;
            }
        }
        for (n, log) in self.logs.iter().enumerate().filter(|(n, _)| self.names(*n)) {
            let text = log.text();
            writeln!(f, "# {}", path_of(n).display())?;
            for line in text.lines() {
                writeln!(f, "#   {line}")?;
            }
        }
        Ok(())
    }
}

/// Where a log is written to.
pub fn path_of(n: usize) -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("grammar-{}-{n}.csv", std::process::id()))
}

impl Text {
    fn names(&self, n: usize) -> bool {
        let path = path_of(n).display().to_string();
        self.sections.iter().flat_map(|s| &s.keys).any(|(_, v)| v.contains(&path))
    }

    /// Writes the logs, so that the scenario can be read.
    pub fn write_logs(&self) {
        for (n, log) in self.logs.iter().enumerate() {
            std::fs::write(path_of(n), log.text()).expect("the folder of the tests takes files");
        }
    }

    /// Leaves out what stands at these paths; where a path leads to a key that is not written, its whole section.
    pub fn leave_out(&mut self, paths: &[String]) {
        for path in paths {
            let key = path.rsplit('.').next().unwrap_or_default();
            let Some(n) = self.section_at(path) else { continue };
            let s = &mut self.sections[n];
            let before = s.keys.len();
            s.keys.retain(|(k, _)| k != key);
            if s.keys.len() < before {
                continue;
            }
            if s.listed {
                self.sections.remove(n);
            } else if !s.name.is_empty() {
                s.keys.clear();
            }
        }
    }

    /// Number of the section that a path of a problem leads into: `drive.piece.2.file`, `house_battery.cells`.
    fn section_at(&self, path: &str) -> Option<usize> {
        let mut seen: Vec<(String, usize)> = Vec::new();
        let mut best = None;
        for (n, s) in self.sections.iter().enumerate() {
            let own = if s.listed { self.own_path(&mut seen, &s.name) } else { s.name.clone() };
            let inside = path == own
                || path.starts_with(&format!("{own}."))
                || (own.is_empty() && !path.contains('.'));
            if inside && best.is_none_or(|(length, _)| own.len() >= length) {
                best = Some((own.len(), n));
            }
        }
        best.map(|(_, n)| n)
    }

    /// `calendar.day.2.drive.1` for the first drive of the second day.
    fn own_path(&self, seen: &mut Vec<(String, usize)>, name: &str) -> String {
        let parent = seen
            .iter()
            .filter(|(p, _)| name.len() > p.len() && name.starts_with(&format!("{}.", without_numbers(p))))
            .map(|(p, _)| p.clone())
            .next_back();
        let (under, last) = match &parent {
            Some(p) => (p.clone(), name[without_numbers(p).len() + 1..].to_owned()),
            None => {
                let (under, last) = name.rsplit_once('.').unwrap_or(("", name));
                (under.to_owned(), last.to_owned())
            }
        };
        let stem = format!("{under}.{last}");
        let number = seen.iter().filter(|(p, _)| p.rsplit_once('.').is_some_and(|(s, _)| s == stem)).count();
        let own = format!("{stem}.{}", number + 1);
        seen.push((own.clone(), number));
        own
    }
}

fn without_numbers(path: &str) -> String {
    let words: Vec<&str> = path.split('.').filter(|p| p.parse::<usize>().is_err()).collect();
    words.join(".")
}
