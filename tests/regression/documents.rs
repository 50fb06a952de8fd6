//! Documents must not rot: every path that they name exists.

use std::path::Path;

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
    for document in ["README.md", "DEVELOPERS.md"] {
        let text = std::fs::read_to_string(root.join(document)).expect("the document");
        for path in named_paths(&text) {
            assert!(root.join(&path).exists(), "{document} names {path}, which is not there");
            seen += 1;
        }
    }
    assert!(seen > 20, "only {seen} paths were found in the documents");
}
