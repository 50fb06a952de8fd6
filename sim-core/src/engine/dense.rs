//! Continuous states over one step: a quartic per state.

use crate::state::{N, USED, Vector};

/// A quartic per state, in Hairer's nested form, over an attempted step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dense {
    /// Attempted length, s.
    pub h_s: f64,
    /// States at the beginning.
    pub y0: Vector,
    pub(crate) r: [Vector; 4],
}

impl Dense {
    /// States `dt` seconds into the step.
    pub fn at(&self, dt: f64) -> Vector {
        let u = dt / self.h_s;
        let w = 1.0 - u;
        let mut y = [0.0; N];
        for (i, yi) in y.iter_mut().enumerate().take(USED) {
            *yi =
                self.y0[i] + u * (self.r[0][i] + w * (self.r[1][i] + u * (self.r[2][i] + w * self.r[3][i])));
        }
        y
    }
}
