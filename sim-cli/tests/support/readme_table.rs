//! A table between two markers of scenarios/README.md, kept current.

use std::path::Path;

/// Compares a table with the one that stands between the markers; `TICKOVER_UPDATE=1` writes it there instead.
pub fn check(markers: (&str, &str), table: &str) -> Result<(), String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios/README.md");
    let text = std::fs::read_to_string(&path).map_err(|e| e.to_string())?;
    let begin = text.find(markers.0).ok_or("the README has no beginning marker")? + markers.0.len();
    let end = text.find(markers.1).ok_or("the README has no end marker")?;
    let wanted = format!("\n\n{table}\n");
    if text[begin..end] == wanted {
        return Ok(());
    }
    if std::env::var_os("TICKOVER_UPDATE").is_some_and(|v| v == "1") {
        let whole = format!("{}{wanted}{}", &text[..begin], &text[end..]);
        return std::fs::write(&path, whole).map_err(|e| e.to_string());
    }
    let differs = wanted.lines().zip(text[begin..end].lines()).find(|(a, b)| a != b);
    Err(format!(
        "scenarios/README.md is not what the runs give now; TICKOVER_UPDATE=1 renews it. First difference: {differs:#?}"
    ))
}
