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
