//! The small blocks of the Jacobian whose states settle first.

use super::{HOUSE_V, INPUT_A, Linear, STARTER_V};
use crate::network::sensitivity::{HOUSE_SHIFT, STARTER_SHIFT};
use crate::state::{HOUSE, PICKED_UP_A, SEEN_V, STARTER};

/// How many states are fast.
pub const FAST: usize = 6;
/// Where they stand: both batteries' branches, the alternator's current, the filter before the thresholds.
pub const FAST_AT: [usize; FAST] = [STARTER + 1, STARTER + 2, HOUSE + 1, HOUSE + 2, PICKED_UP_A, SEEN_V];
/// The batteries' branches among them.
pub const BRANCHES_AT: [usize; 4] = [FAST_AT[0], FAST_AT[1], FAST_AT[2], FAST_AT[3]];
/// One number per fast state.
pub type Fast = [f64; FAST];

/// Blocks of the Jacobian, 1/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FastBlocks {
    /// Whether the starter side is the alternator's current and the starter battery's fast branch; else both branches.
    pub with_current: bool,
    /// Starter side.
    pub starter: [[f64; 2]; 2],
    /// Both branches of the house battery.
    pub house: [[f64; 2]; 2],
    /// Rate of the filter before the thresholds; zero: there is none.
    pub seen_rate: f64,
    /// What the starter side's two states do to the filter.
    pub seen_of_starter: [f64; 2],
    /// The starter battery's slow branch and the house battery's branches; nothing where they are among the two.
    pub behind: [Behind; 3],
}

/// A slower state that the starter side's two move.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Behind {
    /// What they do to it, 1/s.
    pub of_starter: [f64; 2],
    /// Its own slope, 1/s.
    pub own: f64,
}

impl Linear {
    /// The blocks, of the alternator's current where that follows its regulator.
    pub fn fast(&self, with_current: bool) -> FastBlocks {
        let s = &self.s;
        let volts = s[STARTER_V][STARTER_SHIFT];
        let (cell, current) = (&self.starter, self.alternator_shift[1]);
        let of_branch = |m: usize, n: usize| cell.d[m][n] + cell.to_volts[m] * volts * cell.shift[n];
        let (starter, shift) = if with_current {
            let of_current = self.alternator[1][1] + self.alternator_feels[1] * volts * current;
            let to_current = self.alternator_feels[1] * volts * cell.shift[1];
            let block = [[of_current, to_current], [cell.to_volts[1] * volts * current, of_branch(1, 1)]];
            (block, [current, cell.shift[1]])
        } else {
            ([1, 2].map(|m| [1, 2].map(|n| of_branch(m, n))), [cell.shift[1], cell.shift[2]])
        };
        let feels = self.seen_feels[0] * s[INPUT_A][STARTER_SHIFT] + self.seen_feels[1] * volts;
        let (house, house_volts) = (&self.house, s[HOUSE_V][HOUSE_SHIFT]);
        let house: [[f64; 2]; 2] =
            [1, 2].map(|m| [1, 2].map(|n| house.d[m][n] + house.to_volts[m] * house_volts * house.shift[n]));
        let slow = if with_current {
            Behind { of_starter: [cell.to_volts[2] * volts * current, of_branch(2, 1)], own: of_branch(2, 2) }
        } else {
            Behind::default()
        };
        let branch = |n: usize| {
            let feels = self.house.to_volts[n + 1] * s[HOUSE_V][STARTER_SHIFT];
            Behind { of_starter: shift.map(|x| feels * x), own: house[n][n] }
        };
        FastBlocks {
            behind: [slow, branch(0), branch(1)],
            with_current,
            starter,
            house,
            seen_rate: -self.seen,
            seen_of_starter: shift.map(|x| feels * x),
        }
    }
}
