//! Keys typed in another unit than the one they take: what would have to be written.

use super::key::{Key, Kind};
use super::node::{Entry, Value};

/// A unit that people write behind a key's name, and the one that the key takes: suffix, as printed, suffix of the key,
/// factor, and what is taken away before it is applied.
const UNITS: &[(&str, &str, &str, f64, f64)] = &[
    // The inch is 25.4 mm, the foot 12 inches, the yard 3 feet and the mile 1760 yards exactly (international, 1959).
    ("ft", "ft", "m", 0.3048, 0.0),
    ("feet", "ft", "m", 0.3048, 0.0),
    ("in", "in", "m", 0.0254, 0.0),
    ("inch", "in", "m", 0.0254, 0.0),
    ("yd", "yd", "m", 0.9144, 0.0),
    ("cm", "cm", "m", 0.01, 0.0),
    ("mm", "mm", "m", 0.001, 0.0),
    ("in2", "in²", "mm2", 645.16, 0.0),
    ("cm2", "cm²", "mm2", 100.0, 0.0),
    ("kcmil", "kcmil", "mm2", 0.506_707_479, 0.0),
    ("in2", "in²", "cm2", 6.4516, 0.0),
    ("mm2", "mm²", "cm2", 0.01, 0.0),
    ("f", "°F", "c", 5.0 / 9.0, 32.0),
    ("ma", "mA", "a", 1e-3, 0.0),
    ("a", "A", "ma", 1e3, 0.0),
    ("mv", "mV", "v", 1e-3, 0.0),
    ("v", "V", "mv", 1e3, 0.0),
    ("mah", "mAh", "ah", 1e-3, 0.0),
    ("kw", "kW", "w", 1e3, 0.0),
    // Mechanical horsepower, 550 ft·lbf/s.
    ("hp", "hp", "w", 745.7, 0.0),
    ("ohm", "Ω", "mohm", 1e3, 0.0),
    ("uohm", "µΩ", "mohm", 1e-3, 0.0),
    ("mph", "mph", "kmh", 1.609_344, 0.0),
    ("ms", "ms", "s", 1e-3, 0.0),
    ("min", "min", "s", 60.0, 0.0),
    ("h", "h", "s", 3600.0, 0.0),
    ("s", "s", "min", 1.0 / 60.0, 0.0),
    ("h", "h", "min", 60.0, 0.0),
    ("s", "s", "h", 1.0 / 3600.0, 0.0),
    ("min", "min", "h", 1.0 / 60.0, 0.0),
    ("days", "days", "h", 24.0, 0.0),
];

/// What an unknown key would be by a known one: the known key, and what to write.
pub(super) fn offer(entry: &Entry, keys: &[Key]) -> Option<(&'static str, String)> {
    let (stem, suffix) = entry.key.rsplit_once('_')?;
    let suffix = suffix.to_lowercase();
    if suffix == "awg" && keys.iter().any(|k| k.name == "awg") {
        let size = match &entry.node.value {
            Value::Number(n) => n.to_string(),
            Value::Text(t) => t.clone(),
            _ => "6".to_owned(),
        };
        return Some(("awg", format!("give awg = \"{size}\"")));
    }
    let (key, (_, symbol, _, factor, zero)) = UNITS.iter().filter(|u| u.0 == suffix).find_map(|unit| {
        let name = format!("{stem}_{}", unit.2);
        Some((keys.iter().find(|k| k.name == name)?, unit))
    })?;
    let (Kind::Number { unit, .. } | Kind::Numbers { unit, .. }) = key.spec.kind else { return None };
    let told = match &entry.node.value {
        Value::Number(n) => {
            format!(
                "give {}: {n} {symbol} is {} {}",
                key.name,
                six_digits((n - zero) * factor),
                unit.symbol()
            )
        }
        _ => format!("give {}, in {}", key.name, unit.symbol()),
    };
    Some((key.name, told))
}

/// As many digits as anybody can mean.
fn six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}
