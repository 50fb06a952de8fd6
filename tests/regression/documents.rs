//! Documents must not rot: every path that they name exists, and the map's recipes point at what is there.

use std::path::Path;

/// The map, and the notes beside what they are about.
const DOCUMENTS: [&str; 9] = [
    "README.md",
    "DEVELOPERS.md",
    "sim-core/src/engine/NOTES.md",
    "sim-core/src/plant/battery/NOTES.md",
    "sim-core/src/explain/NOTES.md",
    "sim-core/src/study/NOTES.md",
    "sim-cli/src/study/NOTES.md",
    "sim-cli/src/outputs/NOTES.md",
    "tests/NOTES.md",
];

/// Paths in back-quotes or link targets that look like files or folders of this repository.
fn named_paths(text: &str) -> Vec<String> {
    let roots = ["sim-core/", "sim-cli/", "tests/", "benches/", "scenarios/"];
    text.split(|c: char| "`()<>|, \n".contains(c))
        .filter(|word| roots.iter().any(|r| word.starts_with(r)))
        .filter(|word| !word.contains('*'))
        .map(|word| word.trim_end_matches(['.', ';', ':']).to_owned())
        .collect()
}

#[test]
fn every_path_that_a_document_names_exists() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let mut seen = 0;
    for document in DOCUMENTS {
        let text = std::fs::read_to_string(root.join(document)).expect("the document");
        for path in named_paths(&text) {
            assert!(root.join(&path).exists(), "{document} names {path}, which is not there");
            seen += 1;
        }
    }
    assert!(seen > 20, "only {seen} paths were found in the documents");
}

/// A map is read whole: two hundred lines at most. Where it says "`file`: `words`" the file has these words.
#[test]
fn the_map_is_short_and_its_recipes_point_at_what_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the workspace");
    let map = std::fs::read_to_string(root.join("DEVELOPERS.md")).expect("the map");
    let lines = map.lines().count();
    assert!(lines <= 200, "{lines} lines");
    let flat = map.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut seen = 0;
    for (path, words) in flat.split('`').collect::<Vec<_>>().windows(3).filter_map(|w| match w {
        [path, ": ", words] if path.ends_with(".rs") => Some((path, words)),
        _ => None,
    }) {
        let text = std::fs::read_to_string(root.join(path)).unwrap_or_else(|e| panic!("{path}: {e}"));
        assert!(text.contains(words), "{path} has no `{words}`");
        seen += 1;
    }
    assert!(seen >= 12, "{seen} places");
}
