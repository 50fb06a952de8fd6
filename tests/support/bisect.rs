//! Halving.

/// Where `beyond` turns from false at `low` to true at `high`, within `width`; the middle of the last bracket.
///
/// # Panics
/// When the two ends do not bracket a change.
pub fn border(mut low: f64, mut high: f64, width: f64, mut beyond: impl FnMut(f64) -> bool) -> f64 {
    assert!(!beyond(low) && beyond(high), "{low} and {high} do not bracket a change");
    while high - low > width {
        let mid = 0.5 * (low + high);
        if beyond(mid) { high = mid } else { low = mid }
    }
    0.5 * (low + high)
}
