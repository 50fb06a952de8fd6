//! A battery's two branches on its bus as two independent decays, while the unit is off.
//!
//! Off, the unit takes a constant standby current, so each battery sees its own bus alone. With the bus's sources in known
//! states, a volt more behind the battery's resistance takes `gamma` amperes off its current; branches and that feedback
//! are a symmetric matrix of two by two once each branch is scaled by the root of what an ampere does to it.

use super::{Cell, Plain, PlainHeld};
use crate::network::Net;
use crate::network::source::{Ceiling, Source, SourceState};

/// Less than this of what an ampere does to a branch, V/s, is none: such a branch has no scale of its own.
const LEAST_PUSH: f64 = 1e-30;

/// Above this rate, 1/s, the feedback of the state of charge is too strong to be left to repetition.
const FASTEST_CHARGE_PER_S: f64 = 1.0 / 500.0;

/// One battery's branches as decays.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Modes {
    /// What a volt behind the battery's resistance takes off its current, S.
    pub gamma: f64,
    /// Rates of the decays, 1/s.
    pub rate: [f64; 2],
    /// Branch volts from decays: branch, decay.
    pub to_v: [[f64; 2]; 2],
    /// Decays from branch volts: decay, branch.
    pub to_decay: [[f64; 2]; 2],
    /// What an ampere does to each decay, 1/s.
    pub push: [f64; 2],
    /// What a volt behind the resistance does to the posts, and to the current of each source and of the load.
    pub posts: f64,
    /// Amperes of each source per volt behind the resistance.
    pub source: [f64; 2],
    /// Amperes of the load per volt behind the resistance.
    pub load: f64,
}

impl Modes {
    /// The decays of a cell on a bus whose sources' currents change by `source` and whose load by `load` per volt at the
    /// posts, S; none where a branch has no scale or nothing decays.
    fn new(cell: &Cell, source: [f64; 2], load: f64) -> Option<Modes> {
        let bus = source[0] + source[1] - load;
        // What is left of a volt at the posts; one less the battery's own drop would cancel on a stiff bus.
        let posts = 1.0 / (1.0 - cell.r0_ohm * bus);
        let gamma = -bus * posts;
        let [a, b] = cell.push;
        if !(a > LEAST_PUSH && b > LEAST_PUSH) {
            return None;
        }
        let scale = [a.sqrt(), b.sqrt()];
        let (first, second) = (cell.rate[0] + gamma * a, cell.rate[1] + gamma * b);
        let off = gamma * scale[0] * scale[1];
        let (mean, half) = (0.5 * (first + second), 0.5 * (first - second));
        let radius = half.hypot(off);
        let rate = [mean + radius, mean - radius];
        if !(rate[1] > 0.0 && rate[0].is_finite()) {
            return None;
        }
        // The angle of the eigenvectors, the greater of sine and cosine from its square.
        let (c, s) = if radius == 0.0 {
            (1.0, 0.0)
        } else if half >= 0.0 {
            let c = (0.5 * (1.0 + half / radius)).sqrt();
            (c, off / (2.0 * radius * c))
        } else {
            let s = (0.5 * (1.0 - half / radius)).sqrt();
            (off / (2.0 * radius * s), s)
        };
        Some(Modes {
            gamma,
            rate,
            to_v: [[scale[0] * c, -scale[0] * s], [scale[1] * s, scale[1] * c]],
            to_decay: [[c / scale[0], s / scale[1]], [-s / scale[0], c / scale[1]]],
            push: [c * scale[0] + s * scale[1], c * scale[1] - s * scale[0]],
            posts,
            source: source.map(|slope| slope * posts),
            load: load * posts,
        })
    }

    /// What a decay of one does to the volts behind the resistance.
    pub fn emf(&self, decay: usize) -> f64 {
        self.to_v[0][decay] + self.to_v[1][decay]
    }
}

/// How a source's current changes with the volts at its bus, its state held, S.
fn slope(source: &Source, state: SourceState, v: f64) -> f64 {
    match (state, source.ceiling) {
        (SourceState::Regulating, _) => -1.0 / source.droop_ohm,
        (SourceState::Full, Ceiling::Power(w)) => -w / (v * v),
        _ => 0.0,
    }
}

impl PlainHeld {
    /// The decays of starter and house battery while the unit is off; none where the house battery does not conduct, or
    /// where they would not come near what a battery does.
    pub fn modes(&self, x: &Plain, net: &Net) -> Option<[Modes; 2]> {
        let (starter, house) = (&self.bias.starter, &self.bias.house);
        if !self.regime.house.conducting {
            return None;
        }
        let source = |n: usize| slope(&starter.sources[n], self.regime.starter[n], net.sb_v);
        let s = Modes::new(&self.starter, [source(0), source(1)], 0.0)?;
        let source = |n: usize| slope(&house.sources[n], self.regime.house.sources[n], net.house_v);
        let load = -house.load_w / (net.house_v * net.house_v);
        let h = Modes::new(&self.house, [source(0), source(1)], load)?;
        // A battery held at a voltage where its own rises steeply, near full: what its charge does is no small correction.
        let [a, b] = self.emf_slopes(x);
        let fastest_per_s = (s.gamma * a * self.starter.soc_per_a).max(h.gamma * b * self.house.soc_per_a);
        (fastest_per_s < FASTEST_CHARGE_PER_S).then_some([s, h])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_source_moves_with_its_bus_as_the_network_has_it() {
        let of = |ceiling| Source { set_v: 14.4, droop_ohm: 0.02, ceiling };
        for (ceiling, v) in [(Ceiling::Power(120.0), 13.1), (Ceiling::Current(9.0), 13.1)] {
            let source = of(ceiling);
            for state in [SourceState::Absent, SourceState::Idle, SourceState::Regulating, SourceState::Full]
            {
                let current = |dv: f64| source.current_in(state, v + dv);
                let (told, seen) = (slope(&source, state, v), (current(1e-4) - current(-1e-4)) / 2e-4);
                assert!((told - seen).abs() < 1e-6, "{ceiling:?} {state:?}: {told} against {seen}");
            }
        }
    }
}
