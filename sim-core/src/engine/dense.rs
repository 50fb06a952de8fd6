//! Continuous states over one step: a quartic per state, with decays of the fast ones, or decays alone.

use super::fades::Fades;
use super::lean::modal;
use crate::plant_view::plain::put;
use crate::state::{N, Vector};

/// Continuous states over a step, however it was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "a trace holds steps by value, nearly all of the larger kind")]
pub enum Continuous {
    /// A quartic per state, and decays.
    Quartic(Dense),
    /// Decays and what drives them, from the states at the beginning.
    Decays(Vector, modal::Course),
}

impl Continuous {
    /// States at the beginning.
    pub fn start(&self) -> &Vector {
        match self {
            Continuous::Quartic(dense) => &dense.y0,
            Continuous::Decays(y0, _) => y0,
        }
    }

    /// Into what slices the first `span_s` seconds fall whose courses a few points show: a quartic is one, decays are cut
    /// at multiples of their fastest time constant, each slice twice as long as the one before.
    pub(crate) fn slices_s(&self, span_s: f64) -> impl Iterator<Item = (f64, f64)> + use<> {
        let mut next_s = match self {
            // Where there are no decays this is infinite.
            Continuous::Quartic(dense) => 0.5 / dense.fades.fastest_per_s(),
            Continuous::Decays(_, course) => 0.5 / course.fastest_per_s(),
        };
        let mut from_s = 0.0;
        std::iter::from_fn(move || {
            (from_s < span_s).then(|| {
                let slice = (from_s, next_s.min(span_s));
                (from_s, next_s) = (slice.1, 2.0 * next_s);
                slice
            })
        })
    }

    /// States `dt` seconds into the step.
    pub fn at(&self, dt: f64) -> Vector {
        match self {
            Continuous::Quartic(dense) => dense.at(dt),
            Continuous::Decays(y0, course) => {
                let mut y = *y0;
                put(&mut y, &course.at(dt));
                y
            }
        }
    }
}

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
