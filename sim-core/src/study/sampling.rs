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
    /// For the Latin hypercube: the layer of each point, direction by direction.
    layers: Vec<Vec<u32>>,
}

/// Most directions that a sample can have.
pub const MOST_DIMENSIONS: usize = 64;
/// Most points of a sample.
pub const MOST_POINTS: u64 = 100_000_000;
/// Points of a Sobol sequence before it is begun anew with another scrambling.
const SOBOL_POINTS: u64 = 1 << 16;

impl Sampler {
    /// A sample of `count` points in `dimensions` directions, at most [`MOST_POINTS`] and [`MOST_DIMENSIONS`]; the same
    /// seed gives the same points.
    pub fn new(method: Method, seed: u64, count: u64, dimensions: usize) -> Sampler {
        let (count, dimensions) = (count.min(MOST_POINTS), dimensions.min(MOST_DIMENSIONS));
        let layers = match method {
            Method::LatinHypercube => (0..dimensions).map(|d| shuffled(seed, d, count)).collect(),
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
                let layer = self.layers[d].get(n as usize).copied().unwrap_or_default();
                (f64::from(layer) + drawn(self.seed, d, n)) / self.count as f64
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

/// The numbers below `count` in an order that belongs to a seed and a direction.
fn shuffled(seed: u64, d: usize, count: u64) -> Vec<u32> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream((1 << 32) + d as u64);
    let mut layers: Vec<u32> = (0..count as u32).collect();
    for last in (1..layers.len()).rev() {
        // The remainder's bias is below one in ten to the eleventh for any count allowed.
        let other = (rng.next_u64() % (last as u64 + 1)) as usize;
        layers.swap(last, other);
    }
    layers
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
