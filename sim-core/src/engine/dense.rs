//! Continuous states over one step: a quartic per state, or decays.

use super::lean::modal;
use crate::plant_view::plain::put;
use crate::state::Vector;

/// Continuous states over a step, however it was taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Continuous {
    /// A quartic per state.
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
            Continuous::Quartic(_) => f64::INFINITY,
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

/// A quartic per state, in Hairer's nested form, over an attempted step.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Dense {
    /// Attempted length, s.
    pub h_s: f64,
    /// States in use; the others stay.
    pub used: usize,
    /// States at the beginning.
    pub y0: Vector,
    pub(crate) r: [Vector; 4],
}

impl Dense {
    /// States `dt` seconds into the step.
    pub fn at(&self, dt: f64) -> Vector {
        let u = dt / self.h_s;
        let w = 1.0 - u;
        let mut y = self.y0;
        for i in 0..self.used {
            y[i] =
                self.y0[i] + u * (self.r[0][i] + w * (self.r[1][i] + u * (self.r[2][i] + w * self.r[3][i])));
        }
        y
    }
}
