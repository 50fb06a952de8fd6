//! The conditions that a vehicle meets over a year, for the small maps: one thing changed at a time.

use sim_core::study::{Case, CaseError};

/// A condition: its name and what it changes.
struct Condition {
    name: &'static str,
    set: &'static [(&'static str, f64)],
    /// Changes of a value from what it is, in its unit.
    shift: &'static [(&'static str, f64)],
}

const CONDITIONS: [Condition; 6] = [
    Condition { name: "cold, −10 °C", set: &[("drive.air_c", -10.0)], shift: &[] },
    Condition { name: "hot, 40 °C", set: &[("drive.air_c", 40.0), ("drive.bay_c", 90.0)], shift: &[] },
    Condition { name: "set-point 0.4 V lower", set: &[], shift: &[("alternator.set_point_v", -0.4)] },
    Condition { name: "set-point 0.4 V higher", set: &[], shift: &[("alternator.set_point_v", 0.4)] },
    Condition { name: "house hungry, 20 %", set: &[("house_battery.start_pct", 20.0)], shift: &[] },
    Condition { name: "house near full, 97 %", set: &[("house_battery.start_pct", 97.0)], shift: &[] },
];

/// The vehicle as it is and under each condition.
///
/// # Errors
/// [`CaseError`] where a condition cannot be set.
pub fn conditions(case: &Case) -> Result<Vec<(String, Case)>, CaseError> {
    let mut all = vec![("as the scenario says".to_owned(), case.clone())];
    for condition in CONDITIONS {
        let mut changed = case.clone();
        for (path, value) in condition.set {
            changed = changed.with(path, *value)?;
        }
        for (path, by) in condition.shift {
            let now = case.number(path).unwrap_or_default();
            changed = changed.with(path, now + by)?;
        }
        all.push((condition.name.to_owned(), changed));
    }
    Ok(all)
}
