//! What a population is drawn from, where nobody says more, and what a sample says of it.

use super::study_file::key_at;
use super::sweep::{Over, Vary};
use crate::scenario::Scenario;
use crate::scenario::field::{Num, Origin};
use crate::scenario::key::{Kind, Spec, Unit};
use crate::spread::Spread;

/// How far a number is known: a default as its key declares, a measured one within its uncertainty, the middle likeliest. `None`
/// where somebody typed it, or nobody says how far it is known.
pub fn known(num: &Num, spec: &Spec) -> Option<Spread> {
    match num.origin {
        Origin::Typed(_) => None,
        Origin::Default(_) => spec.spread.map(|(spread, _)| spread),
        Origin::Measured { plus_minus, .. } => {
            let pm = plus_minus.filter(|pm| *pm > 0.0)?;
            let Kind::Number { least, most, .. } = spec.kind else { return None };
            let (from, to) = ((num.value - pm).max(least), (num.value + pm).min(most));
            (from < to).then_some(Spread::Triangular { from, likeliest: num.value, to })
        }
    }
}

/// Every number of a scenario that is known within a spread and acts, to be varied. Spreads of defaults in volts are those of
/// 12 V vehicles; a warm set-point that somebody typed says the cold one.
pub fn unknowns(scenario: &Scenario, acts: impl Fn(&str) -> bool) -> Vec<Vary> {
    let twelve = scenario.starter_battery.cells.value == 6.0;
    let warm = scenario.alternator.warm_set_point_v.is_some();
    let mut vary = Vec::new();
    scenario.each_number(&mut |path, unit, num| {
        let volts = matches!(unit, Unit::V | Unit::MilliV | Unit::MilliVPerK);
        let default = matches!(num.origin, Origin::Default(_));
        let other = default && volts && !twelve || warm && path.starts_with("alternator.set_point");
        let spread = key_at(&path).and_then(|key| known(num, &key.spec)).filter(|_| !other);
        if let Some(spread) = spread.filter(|_| acts(&path)) {
            vary.push(Vary { path, over: Over::Spread(spread) });
        }
    });
    vary
}

/// The value that a share `u` of a sample lies below, straight between neighbours; `None` for an empty one.
///
/// `sorted` rises.
pub fn quantile(sorted: &[f64], u: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = u.clamp(0.0, 1.0) * last as f64;
    let low = at.floor() as usize;
    let high = (low + 1).min(last);
    Some(sorted[low] + (at - low as f64) * (sorted[high] - sorted[low]))
}

/// Wilson's interval for a share of which `hits` of `all` draws were seen: 19 of 20 such intervals hold the true share.
///
/// For independent draws; even samples such as a Latin hypercube or a Sobol sequence do no worse.
pub fn share_between(hits: u64, all: u64) -> (f64, f64) {
    if all == 0 {
        return (0.0, 1.0);
    }
    let (n, z) = (all as f64, 1.959_964);
    let p = hits as f64 / n;
    let middle = p + z * z / (2.0 * n);
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let scale = 1.0 + z * z / n;
    (((middle - half) / scale).max(0.0), ((middle + half) / scale).min(1.0))
}

/// How much a result moves with one input, all others as they fall: mean of the result over the highest fifth of the
/// input, less that over the lowest fifth. `None` under ten pairs. Pairs are (input, result).
pub fn moves(mut pairs: Vec<(f64, f64)>) -> Option<f64> {
    if pairs.len() < 10 {
        return None;
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let fifth = pairs.len() / 5;
    let mean = |part: &[(f64, f64)]| part.iter().map(|p| p.1).sum::<f64>() / part.len() as f64;
    Some(mean(&pairs[pairs.len() - fifth..]) - mean(&pairs[..fifth]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::keys_of;

    #[test]
    fn every_declared_spread_makes_sense_around_its_default() {
        use crate::scenario::SECTIONS;
        use crate::scenario::key::Fallback;
        let mut seen = 0;
        for key in SECTIONS.iter().flat_map(|s| keys_of(s).unwrap_or_default()) {
            let Some((spread, source)) = key.spec.spread else { continue };
            let (Fallback::Number(default, _), Kind::Number { least, most, .. }) =
                (key.spec.fallback, key.spec.kind)
            else {
                panic!("{} spreads and has no default number", key.name);
            };
            seen += 1;
            assert_eq!(spread.fault(), None, "{}", key.name);
            assert!(!source.is_empty(), "{}", key.name);
            let (from, to) = (spread.quantile(0.0), spread.quantile(1.0));
            assert!(least <= from && to <= most, "{}: {from} to {to}", key.name);
            // The default is no outlier of its own population.
            let (low, high) = (spread.quantile(0.25), spread.quantile(0.75));
            assert!(low <= default && default <= high, "{}: {default} of {low} to {high}", key.name);
        }
        assert!(seen >= 6, "{seen}");
    }

    #[test]
    fn what_somebody_typed_is_known_and_what_was_measured_within_its_uncertainty() {
        let mut van = Scenario::default();
        van.alternator.build_up_s.set(3.0);
        let place = None;
        van.input_cable.joints_mohm =
            Num { value: 2.0, origin: Origin::Measured { plus_minus: Some(0.5), place } };
        van.input_cable.length_m = Num { value: 4.0, origin: Origin::Measured { plus_minus: None, place } };
        let vary = unknowns(&van, |path| path != "house_battery.hysteresis_mv");
        let paths: Vec<&str> = vary.iter().map(|v| v.path.as_str()).collect();
        assert!(paths.contains(&"alternator.set_point_v") && paths.contains(&"input_cable.joints_mohm"));
        for absent in ["alternator.build_up_s", "input_cable.length_m", "house_battery.hysteresis_mv"] {
            assert!(!paths.contains(&absent), "{absent}");
        }
        let joints = vary.iter().find(|v| v.path == "input_cable.joints_mohm").expect("there");
        let Over::Spread(spread) = joints.over else { panic!("a spread") };
        assert_eq!((spread.quantile(0.0), spread.quantile(0.5), spread.quantile(1.0)), (1.5, 2.0, 2.5));
    }

    #[test]
    fn intervals_are_those_of_the_published_examples() {
        // Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3. From memory.
        for (hits, all, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            let (a, b) = share_between(hits, all);
            assert!((a - low).abs() < 1e-4 && (b - high).abs() < 1e-4, "{hits} of {all}: {a} to {b}");
        }
    }

    #[test]
    fn quantiles_lie_between_neighbours() {
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.5), Some(2.0));
        assert_eq!(quantile(&[1.0, 2.0, 4.0], 0.75), Some(3.0));
        assert_eq!(quantile(&[], 0.5), None);
    }

    #[test]
    fn a_result_that_follows_its_input_moves_by_four_fifths_of_its_range() {
        let pairs = (0..1000).map(|k| (f64::from(k), 2.0 * f64::from(k) / 999.0)).collect();
        let by = moves(pairs).expect("enough pairs");
        assert!((by - 1.6).abs() < 0.01, "{by}");
    }
}
