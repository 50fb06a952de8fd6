//! Rooms lie in floors: no room imports from one that, by however many others, imports from it.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

type Imports = BTreeMap<String, BTreeSet<String>>;

/// Which rooms of a crate each of its rooms names; tests apart, which may look at everything.
fn imports(source: &Path) -> Imports {
    let mut of = Imports::new();
    for path in files(source) {
        let within = path.strip_prefix(source).expect("a file of the crate");
        let first = within.iter().next().expect("a room").to_string_lossy();
        let room = first.trim_end_matches(".rs").to_owned();
        if room == "lib" || room == "main" || within.to_string_lossy().contains("tests") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a source file");
        let code: String = text
            .split("#[cfg(test)]")
            .next()
            .unwrap_or_default()
            .lines()
            .map(|line| line.split("//").next().unwrap_or_default())
            .collect();
        let named = of.entry(room.clone()).or_default();
        for after in code.split("crate::").skip(1) {
            let list = match after.strip_prefix('{') {
                Some(inner) => inner.split('}').next().unwrap_or_default(),
                None => after.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap_or_default(),
            };
            let other = |part: &str| {
                let name: String =
                    part.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                (!name.is_empty() && name != room).then_some(name)
            };
            named.extend(list.split(',').filter_map(other));
        }
    }
    of
}

fn files(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}

/// All rooms that can be reached from one.
fn reach<'a>(of: &'a Imports, from: &'a str, seen: &mut BTreeSet<&'a str>) {
    for next in of.get(from).into_iter().flatten() {
        if of.contains_key(next) && seen.insert(next) {
            reach(of, next, seen);
        }
    }
}

#[test]
fn no_room_of_the_library_imports_in_a_circle() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let of = imports(&root.join("sim-core/src"));
    assert!(of.len() > 15, "{} rooms", of.len());
    assert!(of["engine"].contains("plant_view") && of["study"].contains("judge"), "{of:?}");
    let mut circles = Vec::new();
    for room in of.keys() {
        let mut seen = BTreeSet::new();
        reach(&of, room, &mut seen);
        if seen.contains(room.as_str()) {
            circles.push(room);
        }
    }
    assert!(circles.is_empty(), "rooms in a circle: {circles:?}");
}
