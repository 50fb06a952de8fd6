//! Points spread over a box, by number: any point can be had without those before it.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// How the points of a sample are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// As many equal layers in each direction as points; every layer has one point.
    LatinHypercube,
    /// The Sobol sequence, scrambled after Owen: even in all directions at once, and from the first point on.
    Sobol,
    /// Each point drawn by itself.
    Random,
}

/// Points in a box of sides 1.
#[derive(Debug, Clone)]
pub struct Sampler {
    method: Method,
    seed: u64,
    count: u64,
    dimensions: usize,
    /// For the Latin hypercube: which layer each point has, direction by direction.
    layers: Vec<Shuffle>,
}

/// Most directions that a sample can have.
pub const MOST_DIMENSIONS: usize = 64;
/// Most points of a sample.
pub const MOST_POINTS: u64 = crate::bounds::MOST_RUNS;
/// Points of a Sobol sequence before it is begun anew with another scrambling.
const SOBOL_POINTS: u64 = 1 << 16;

impl Sampler {
    /// A sample of `count` points in `dimensions` directions, at most [`MOST_POINTS`] and [`MOST_DIMENSIONS`]; the same
    /// seed gives the same points.
    pub fn new(method: Method, seed: u64, count: u64, dimensions: usize) -> Sampler {
        let (count, dimensions) = (count.min(MOST_POINTS), dimensions.min(MOST_DIMENSIONS));
        let layers = match method {
            Method::LatinHypercube => (0..dimensions).map(|d| Shuffle::new(seed, d, count)).collect(),
            _ => Vec::new(),
        };
        Sampler { method, seed, count, dimensions, layers }
    }

    /// Number of points.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Where a point lies, each coordinate above 0 and below 1.
    pub fn point(&self, n: u64) -> Vec<f64> {
        (0..self.dimensions).map(|d| self.coordinate(n, d).clamp(1e-9, 1.0 - 1e-9)).collect()
    }

    fn coordinate(&self, n: u64, d: usize) -> f64 {
        match self.method {
            Method::LatinHypercube => {
                (self.layers[d].at(n) as f64 + drawn(self.seed, d, n)) / self.count as f64
            }
            Method::Sobol => {
                let begun = (n / SOBOL_POINTS) as u32;
                let seed = (self.seed ^ (self.seed >> 32)) as u32 ^ begun.wrapping_mul(0x9e37_79b9);
                f64::from(sobol_burley::sample((n % SOBOL_POINTS) as u32, d as u32, seed))
            }
            Method::Random => drawn(self.seed, d, n),
        }
    }
}

/// A number from 0 to 1 that belongs to a seed, a direction and a point.
fn drawn(seed: u64, d: usize, n: u64) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(d as u64);
    rng.set_word_pos(2 * u128::from(n));
    (rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// Rounds of [`Shuffle`]: four hide a structure from those who look for it, twice that is for small numbers.
const ROUNDS: usize = 8;

/// The numbers below `count` in an order that belongs to a seed and a direction. Any of them is had by itself and none is
/// held, so that a sample of any size takes no memory: a balanced Feistel network over the next even power of two, walked
/// until it falls below `count` (Black and Rogaway 2002, "Ciphers with arbitrary finite domains"; from memory).
#[derive(Debug, Clone)]
struct Shuffle {
    count: u64,
    /// Bits of a half.
    half: u32,
    keys: [u64; ROUNDS],
}

impl Shuffle {
    fn new(seed: u64, d: usize, count: u64) -> Shuffle {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream((1 << 32) + d as u64);
        let bits = u64::BITS - count.saturating_sub(1).leading_zeros();
        Shuffle { count, half: bits.div_ceil(2).max(1), keys: std::array::from_fn(|_| rng.next_u64()) }
    }

    /// The number at place `n`, which is below `count`.
    fn at(&self, n: u64) -> u64 {
        let mut at = n.min(self.count.saturating_sub(1));
        loop {
            at = self.once(at);
            // A permutation leads back to where it began, so to a number below `count`.
            if at < self.count.max(1) {
                return at;
            }
        }
    }

    fn once(&self, n: u64) -> u64 {
        let mask = (1 << self.half) - 1;
        let (mut left, mut right) = (n >> self.half, n & mask);
        for key in self.keys {
            (left, right) = (right, left ^ (mixed(right ^ key) & mask));
        }
        (left << self.half) | right
    }
}

/// A number of which every bit hangs on every bit (the finalizer of SplitMix64; Steele, Lea and Flood 2014).
fn mixed(n: u64) -> u64 {
    let n = (n ^ (n >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let n = (n ^ (n >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    n ^ (n >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(method: Method, count: u64) -> Vec<Vec<f64>> {
        let sampler = Sampler::new(method, 7, count, 3);
        (0..count).map(|n| sampler.point(n)).collect()
    }

    #[test]
    fn every_layer_of_a_latin_hypercube_has_one_point() {
        let all = points(Method::LatinHypercube, 200);
        for d in 0..3 {
            let mut layers: Vec<usize> = all.iter().map(|p| (p[d] * 200.0) as usize).collect();
            layers.sort_unstable();
            assert_eq!(layers, (0..200).collect::<Vec<_>>());
        }
        assert_ne!(all[0][0], all[0][1], "directions are shuffled apart");
    }

    #[test]
    fn every_number_has_one_place_and_neighbours_lie_apart() {
        for count in [1, 2, 3, 5, 64, 65, 1000, 4096, 4097] {
            let shuffle = Shuffle::new(3, 1, count);
            let mut all: Vec<u64> = (0..count).map(|n| shuffle.at(n)).collect();
            let rises = all.windows(2).filter(|w| w[1] > w[0]).count() as f64;
            // Ups and downs of a random order: half of them each, with a variance of (n + 1) / 12.
            let off = (rises - (count - 1) as f64 / 2.0).abs();
            assert!(off <= 4.0 * ((count + 1) as f64 / 12.0).sqrt(), "{rises} of {count} rise");
            all.sort_unstable();
            assert_eq!(all, (0..count).collect::<Vec<_>>());
        }
    }

    /// Correlation between directions and with the order itself: of independent draws it is 1/√n at one standard deviation.
    #[test]
    fn directions_of_a_large_latin_hypercube_have_nothing_to_do_with_each_other() {
        let count = 20_000_u64;
        let sampler = Sampler::new(Method::LatinHypercube, 11, count, 4);
        let all: Vec<Vec<f64>> = (0..count).map(|n| sampler.point(n)).collect();
        let order: Vec<f64> = (0..count).map(|n| (n as f64 + 0.5) / count as f64).collect();
        let direction = |d: usize| all.iter().map(|p| p[d]).collect::<Vec<f64>>();
        let columns: Vec<Vec<f64>> = (0..4).map(direction).chain([order]).collect();
        for (a, one) in columns.iter().enumerate() {
            for other in &columns[..a] {
                let together: f64 = one.iter().zip(other).map(|(x, y)| (x - 0.5) * (y - 0.5)).sum();
                let correlation = 12.0 * together / count as f64;
                assert!(correlation.abs() < 4.0 / (count as f64).sqrt(), "{correlation}");
            }
        }
    }

    /// What a sample takes does not hang on how many points it has.
    #[test]
    fn the_last_of_a_hundred_million_points_is_had_by_itself() {
        let sampler = Sampler::new(Method::LatinHypercube, 1, MOST_POINTS, MOST_DIMENSIONS);
        let point = sampler.point(MOST_POINTS - 1);
        assert!(point.len() == MOST_DIMENSIONS && point.iter().all(|u| *u > 0.0 && *u < 1.0));
    }

    #[test]
    fn a_sobol_sample_integrates_far_better_than_a_random_one() {
        // The mean of x y z over the unit box is 1/8. A scrambled sequence of 4096 points is wrong by under a
        // thousandth of it, independent draws by about a hundredth.
        let error = |method| {
            let all = points(method, 4096);
            let mean = all.iter().map(|p| p[0] * p[1] * p[2]).sum::<f64>() / 4096.0;
            (8.0 * mean - 1.0).abs()
        };
        assert!(error(Method::Sobol) < 2e-3, "{}", error(Method::Sobol));
        assert!(error(Method::Random) < 0.1);
    }

    #[test]
    fn a_sobol_sample_goes_on_past_its_period() {
        let sampler = Sampler::new(Method::Sobol, 1, 70_000, 2);
        let (a, b) = (sampler.point(5), sampler.point(SOBOL_POINTS + 5));
        assert_ne!(a, b);
    }

    #[test]
    fn a_seed_gives_the_same_points_and_another_seed_others() {
        for method in [Method::LatinHypercube, Method::Sobol, Method::Random] {
            let (a, b) = (Sampler::new(method, 1, 50, 2), Sampler::new(method, 1, 50, 2));
            let c = Sampler::new(method, 2, 50, 2);
            assert_eq!(a.point(31), b.point(31));
            assert_ne!(a.point(31), c.point(31));
        }
    }
}
