//! The public drive schedules that ship: length, distance and top speed against what the regulations say.

mod support;

use sim_cli::load::{Reading, read_drive};
use support::root;

/// Name, seconds, kilometres and their tolerance, top speed in km/h.
///
/// UDDS (40 CFR part 86 appendix I): 1369 s, 7.45 mi, 56.7 mph. HWFET (40 CFR part 600 appendix I): 765 s, 10.26 mi,
/// 59.9 mph (60 to the nearest). Each seen in two public sources; miles carry two decimals, so ±0.005 mi, and the sum of
/// samples adds up to 0.2 % for how the last second counts.
const SCHEDULES: [(&str, f64, f64, f64, f64); 2] = [
    ("udds.csv", 1369.0, 7.45 * 1.609_344, 0.002 * 12.0 + 0.008, 56.7 * 1.609_344),
    ("hwfet.csv", 765.0, 10.26 * 1.609_344, 0.002 * 16.5 + 0.008, 59.9 * 1.609_344),
];

#[test]
fn schedules_are_as_long_and_as_fast_as_the_regulations_say() {
    for (name, seconds, km, within_km, top_kmh) in SCHEDULES {
        let path = root().join("scenarios/drives").join(name);
        let text = std::fs::read_to_string(path).expect("the schedule");
        assert!(text.starts_with("# US EPA"), "{name}: the first line names its origin");
        let (mut problems, mut warnings) = (Vec::new(), Vec::new());
        let drive = read_drive(&text, 0, &Reading::default(), &mut problems, &mut warnings)
            .unwrap_or_else(|| panic!("{name}: {problems:?}"));
        assert_eq!(warnings, [], "{name}");
        let last = drive.time_s[drive.time_s.len() - 1];
        assert_eq!(last - drive.time_s[0], seconds, "{name}");
        let got_km = drive.distance_m() / 1000.0;
        assert!((got_km - km).abs() < within_km, "{name}: {got_km} km against {km} km");
        let speeds = drive.speed_kmh.expect("a speed column");
        let top = speeds.iter().fold(0.0, f64::max);
        assert!((top - top_kmh).abs() < 0.1, "{name}: {top} km/h against {top_kmh}");
        assert_eq!(speeds.at(0), 0.0);
    }
}
