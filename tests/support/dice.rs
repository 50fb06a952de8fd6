//! A small generator of our own, so that the wild vehicles never change with a library's.

/// SplitMix64 (Steele, Lea and Flood, OOPSLA 2014).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    /// The same seed gives the same throws.
    pub fn new(seed: u64) -> Self {
        Dice(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.next() >> 11) as f64 / (1u64 << 53) as f64)
    }

    /// Evenly in the logarithm.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// True with this chance.
    pub fn chance(&mut self, of_one: f64) -> bool {
        self.between(0.0, 1.0) < of_one
    }

    /// Below `n`; 0 for an empty range.
    pub fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { (self.next() % n as u64) as usize }
    }

    /// One of several.
    pub fn of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }

    /// True once in `n`.
    pub fn once_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }
}
