//! How a value spreads over a population: distributions by their quantiles.

use statrs::distribution::{ContinuousCDF, Normal};

/// A distribution of one value, in the unit of its key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Every value between two ends is as likely.
    Uniform {
        /// Lower end.
        from: f64,
        /// Upper end.
        to: f64,
    },
    /// Every ratio between two ends is as likely; both are above zero.
    LogUniform {
        /// Lower end.
        from: f64,
        /// Upper end.
        to: f64,
    },
    /// A normal distribution, cut off at both ends; what lies beyond is shared out over what is left.
    Normal {
        /// Mean of the whole distribution.
        mean: f64,
        /// Standard deviation of the whole distribution, above zero.
        deviation: f64,
        /// Lower end.
        from: f64,
        /// Upper end.
        to: f64,
    },
    /// Rising in a straight line to the likeliest value and falling again.
    Triangular {
        /// Lower end.
        from: f64,
        /// The likeliest value.
        likeliest: f64,
        /// Upper end.
        to: f64,
    },
}

impl Spread {
    /// The value that a share `u` of the population lies below; `u` from 0 to 1.
    pub fn quantile(&self, u: f64) -> f64 {
        let u = u.clamp(0.0, 1.0);
        match *self {
            Spread::Uniform { from, to } => from + u * (to - from),
            Spread::LogUniform { from, to } => (from.ln() + u * (to.ln() - from.ln())).exp().clamp(from, to),
            Spread::Normal { mean, deviation, from, to } => {
                let Ok(whole) = Normal::new(mean, deviation) else { return mean.clamp(from, to) };
                let (low, high) = (whole.cdf(from), whole.cdf(to));
                whole.inverse_cdf(low + u * (high - low)).clamp(from, to)
            }
            Spread::Triangular { from, likeliest, to } => {
                let (rise, width) = (likeliest - from, to - from);
                if width <= 0.0 {
                    from
                } else if u * width < rise {
                    from + (u * width * rise).sqrt()
                } else {
                    to - ((1.0 - u) * width * (to - likeliest)).sqrt()
                }
            }
        }
    }

    /// Why these numbers make no distribution, if they make none.
    pub fn fault(&self) -> Option<&'static str> {
        match *self {
            Spread::Uniform { from, to } if from >= to => Some("`from` is not below `to`"),
            Spread::LogUniform { from, .. } if from <= 0.0 => Some("ratios need values above zero"),
            Spread::LogUniform { from, to } if from >= to => Some("`from` is not below `to`"),
            Spread::Normal { deviation, .. } if deviation <= 0.0 => Some("`deviation` is not above zero"),
            Spread::Normal { from, to, .. } if from >= to => Some("`from` is not below `to`"),
            // Beyond this the share that is left cannot be told from none.
            Spread::Normal { mean, deviation, from, to }
                if mean < from - 6.0 * deviation || mean > to + 6.0 * deviation =>
            {
                Some("nearly nothing of it lies between its ends")
            }
            Spread::Triangular { from, likeliest, to }
                if !(from <= likeliest && likeliest <= to && from < to) =>
            {
                Some("`from`, `likeliest` and `to` do not rise")
            }
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_the_normal_distribution_are_those_of_its_tables() {
        // Standard normal table, two-sided 80 % and 95 %: NIST/SEMATECH e-Handbook, 1.3.6.7.1.
        let z = Spread::Normal { mean: 0.0, deviation: 1.0, from: -9.0, to: 9.0 };
        for (u, value) in [(0.9, 1.281_552), (0.975, 1.959_964), (0.5, 0.0), (0.1, -1.281_552)] {
            assert!((z.quantile(u) - value).abs() < 2e-6, "{u}: {}", z.quantile(u));
        }
    }

    #[test]
    fn a_cut_normal_distribution_stays_within_its_ends_and_keeps_its_middle() {
        let cut = Spread::Normal { mean: 10.0, deviation: 2.0, from: 8.0, to: 12.0 };
        assert!((cut.quantile(0.0) - 8.0).abs() < 1e-6 && (cut.quantile(1.0) - 12.0).abs() < 1e-6);
        assert!((cut.quantile(0.5) - 10.0).abs() < 1e-9);
        // Between -1 and 1 deviations lie 0.68269; 0.15866 + 0.68269 / 4 is the table's value at -0.4418.
        assert!((cut.quantile(0.25) - (10.0 - 2.0 * 0.4418)).abs() < 1e-3, "{}", cut.quantile(0.25));
    }

    #[test]
    fn a_triangle_has_its_closed_forms() {
        let t = Spread::Triangular { from: 2.0, likeliest: 3.0, to: 6.0 };
        // The share below the likeliest value is its rise over the width.
        assert!((t.quantile(0.25) - 3.0).abs() < 1e-12);
        assert!((t.quantile(0.0) - 2.0).abs() < 1e-12 && (t.quantile(1.0) - 6.0).abs() < 1e-12);
        let mean = (0..10_000).map(|k| t.quantile((f64::from(k) + 0.5) / 1e4)).sum::<f64>() / 1e4;
        assert!((mean - 11.0 / 3.0).abs() < 1e-4, "{mean}");
    }

    #[test]
    fn ratios_are_as_likely_on_a_log_scale() {
        let log = Spread::LogUniform { from: 1.0, to: 100.0 };
        assert!((log.quantile(0.5) - 10.0).abs() < 1e-12);
        assert_eq!(log.quantile(1.0), 100.0);
        assert!(Spread::LogUniform { from: 0.0, to: 1.0 }.fault().is_some());
    }
}
