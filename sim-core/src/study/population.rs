//! What a sample says of a population.

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
