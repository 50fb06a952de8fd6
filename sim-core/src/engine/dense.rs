//! Dense states over one step: a quartic per state, with decays of the fast ones.

use super::fades::Fades;
use crate::state::{N, Vector};

/// A quartic per state, in Hairer's nested form, over an attempted step; and decays of the fast states on top.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dense {
    /// Attempted length, s.
    pub h_s: f64,
    /// States in use; the others stay.
    pub used: usize,
    /// States at the beginning.
    pub y0: Vector,
    pub(crate) r: [Vector; 4],
    pub(crate) fades: Fades,
}

impl Dense {
    /// Into what slices the first `span_s` seconds fall whose courses a few points show: a quartic is one, decays are cut
    /// at multiples of their fastest time constant, each slice twice as long as the one before.
    pub(crate) fn slices_s(&self, span_s: f64) -> impl Iterator<Item = (f64, f64)> + use<> {
        // Where there are no decays this is infinite.
        let mut next_s = 0.5 / self.fades.fastest_per_s();
        let mut from_s = 0.0;
        std::iter::from_fn(move || {
            (from_s < span_s).then(|| {
                let slice = (from_s, next_s.min(span_s));
                (from_s, next_s) = (slice.1, 2.0 * next_s);
                slice
            })
        })
    }

    /// Rates of some states `dt` seconds into the step.
    pub(crate) fn rates<const K: usize>(&self, dt: f64, places: [usize; K]) -> [f64; K] {
        let u = dt / self.h_s;
        let w = 1.0 - u;
        let mut fading = [0.0; N];
        self.fades.still(&self.fades.left(dt), &mut fading);
        places.map(|i| {
            let [a, b, c, d] = [0, 1, 2, 3].map(|n| self.r[n][i]);
            let inner = c + w * d;
            let middle = b + u * inner;
            let outer = a + w * middle;
            (outer + u * (w * (inner - u * d) - middle)) / self.h_s - fading[i]
        })
    }

    /// States `dt` seconds into the step.
    pub fn at(&self, dt: f64) -> Vector {
        let u = dt / self.h_s;
        let w = 1.0 - u;
        let mut y = self.y0;
        for i in 0..self.used {
            y[i] =
                self.y0[i] + u * (self.r[0][i] + w * (self.r[1][i] + u * (self.r[2][i] + w * self.r[3][i])));
        }
        if !self.fades.none() {
            self.fades.go(&self.fades.left(dt), &mut y);
        }
        y
    }
}
