//! Follows the wear of the fuses over accepted steps, and finds the instant at which one opens.
//!
//! Fuses are passengers: they feel the current, and nothing feels them until one opens. So their wear is no state of the
//! steppers, and a fuse that does not open changes no bit of a run. It is integrated over each accepted step with four-point
//! Gauss-Legendre (textbook values) on every slice of the step's course, as a trace is; a step in which a fuse wears through
//! is cut there, and the rules open it.

use super::steppers::Steppers;
use crate::mode::Mode;
use crate::model::{Model, Piece};
use crate::network::{Net, Regime};
use crate::plant::fuse::{EDGES, Fuse, FusePlace, Wear};
use crate::plant_view::Held;
use crate::run_data::fuse::FuseWork;
use crate::state::Vector;
use crate::time::Instant;

const NODES: [(f64, f64); 4] = [
    (0.069_431_844_202_973_71, 0.173_927_422_568_726_93),
    (0.330_009_478_207_571_87, 0.326_072_577_431_273_07),
    (0.669_990_521_792_428_1, 0.326_072_577_431_273_07),
    (0.930_568_155_797_026_3, 0.173_927_422_568_726_93),
];

/// Share of the current from which a fuse opens at all under which one without any wear needs no close look.
const FAR: f64 = 0.95;
/// Pieces of a slice that a fuse near or over that current is looked at in: its opening time goes with up to the fiftieth
/// power of the current.
const CLOSE: u32 = 4;

/// An accepted step.
pub(super) struct Step<'a> {
    pub start: Instant,
    pub held: &'a Held<'a>,
    pub regime: Regime,
    pub tried: &'a Steppers,
}

/// Amps at a place of a step with the seconds that they stand for: input cable, output cable.
#[derive(Clone, Copy)]
struct Look {
    from_s: f64,
    seconds: f64,
    amps: [f64; 2],
}

impl Step<'_> {
    fn amps(&self, dt: f64) -> [f64; 2] {
        let net = self.tried.net_at(self.held, self.regime, dt);
        [net.input_a, net.output_a]
    }

    fn looks(&self, from_s: f64, to_s: f64) -> [Look; NODES.len()] {
        let long_s = to_s - from_s;
        let mut before = 0.0;
        NODES.map(|(place, weight)| {
            let look = Look {
                from_s: from_s + before * long_s,
                seconds: weight * long_s,
                amps: self.amps(from_s + place * long_s),
            };
            before += weight;
            look
        })
    }
}

/// The fuses of a run and what it has asked of them.
pub(super) struct Fuses<'a> {
    fitted: Vec<&'a Fuse>,
    works: Vec<FuseWork>,
    /// How far each is on the way to opening.
    pub wear: Wear,
}

impl<'a> Fuses<'a> {
    pub fn new(model: &'a Model) -> Fuses<'a> {
        let places = FusePlace::ALL.into_iter().zip(model.fuses());
        let (fitted, works) = places.filter_map(|(p, f)| Some((f?, FuseWork::new(p, f?)))).unzip();
        Fuses { fitted, works, wear: Wear::default() }
    }

    pub fn none(&self) -> bool {
        self.fitted.is_empty()
    }

    pub fn into_works(self) -> Vec<FuseWork> {
        self.works
    }

    /// Takes note of a fuse that opens.
    pub fn opens(
        &mut self,
        at: FusePlace,
        t: Instant,
        model: &Model,
        piece: &Piece,
        y: &Vector,
        before: &Net,
    ) {
        let wear = &self.wear;
        if let Some(work) = self.works.iter_mut().find(|w| w.place == at) {
            work.open(t, model, piece, y, before, wear);
        }
    }

    /// Follows the first `ns` of a step. Where a fuse wears through in them, only as far as that: the length until then.
    pub fn follow(&mut self, step: &Step, ns: i64) -> Option<i64> {
        let looks = self.look(step, ns);
        let opens = self.wears_through(&step.held.mode, &looks).then(|| {
            // On courses that are cut elsewhere the sum is another by rounding: the end is one that wears through by its own.
            let (mut before, mut after) = (0, ns);
            while after - before > 1 {
                let middle = before + (after - before) / 2;
                if self.wears_through(&step.held.mode, &self.look(step, middle)) {
                    after = middle;
                } else {
                    before = middle;
                }
            }
            after
        });
        let looks = opens.map_or(looks, |ns| self.look(step, ns));
        let start_s = step.start.as_s();
        let mut wear = self.wear;
        for look in &looks {
            for (fuse, work) in self.fitted.iter().zip(&mut self.works) {
                let worn = &mut wear[work.place as usize];
                // One that is worn through stays as it is.
                if fuse.opening.as_ref().is_some_and(|o| worn[o.at as usize] >= 1.0) {
                    continue;
                }
                let amps = look.amps[usize::from(!work.place.on_input())];
                wear_on(fuse, worn, amps, look.seconds);
                work.see(start_s + look.from_s, look.seconds, amps, worn);
            }
        }
        self.wear = wear;
        opens
    }

    /// Currents over the first `ns` of a step, as closely as the fuses need.
    fn look(&self, step: &Step, ns: i64) -> Vec<Look> {
        let until_s = ns as f64 * 1e-9;
        if !step.held.mode.on {
            // A unit that is off draws a constant current, or none.
            return vec![Look { from_s: 0.0, seconds: until_s, amps: step.amps(0.5 * until_s) }];
        }
        let at = |from_s: f64| Look { from_s, seconds: 0.0, amps: step.amps(from_s) };
        let (first, last) = (at(0.0), at(until_s));
        let inside = step.looks(0.0, until_s);
        let far = [first, last].iter().chain(&inside).all(|look| self.far_from(look));
        let mut looks = vec![first];
        if far {
            looks.extend(inside);
        } else {
            for (from_s, to_s) in step.tried.dense().slices_s(until_s) {
                let piece_s = (to_s - from_s) / f64::from(CLOSE);
                for n in 0..CLOSE {
                    let from_s = from_s + f64::from(n) * piece_s;
                    looks.extend(step.looks(from_s, from_s + piece_s));
                }
            }
        }
        looks.push(last);
        looks
    }

    /// Whether no fuse is warm or near the current from which it opens at all.
    fn far_from(&self, look: &Look) -> bool {
        self.fitted.iter().zip(&self.works).all(|(fuse, work)| {
            let Some(opening) = &fuse.opening else { return true };
            let begins = opening.curves.iter().map(|c| c.begins_at()).fold(f64::INFINITY, f64::min);
            let amps = look.amps[usize::from(!work.place.on_input())];
            amps < FAR * begins * fuse.rating_a && self.wear[work.place as usize] == [0.0; EDGES]
        })
    }

    /// Whether a fuse that has not opened yet wears through.
    fn wears_through(&self, mode: &Mode, looks: &[Look]) -> bool {
        self.fitted.iter().zip(&self.works).any(|(fuse, work)| {
            let Some(opening) = fuse.opening.as_ref().filter(|_| !mode.open.at(work.place)) else {
                return false;
            };
            let edge = opening.at as usize;
            let mut worn = self.wear[work.place as usize][edge];
            looks.iter().any(|look| {
                let amps = look.amps[usize::from(!work.place.on_input())];
                worn = opening.worn(edge, worn, amps / fuse.rating_a, look.seconds);
                worn >= 1.0
            })
        })
    }
}

/// Wears all edges of a fuse.
fn wear_on(fuse: &Fuse, worn: &mut [f64; EDGES], amps: f64, seconds: f64) {
    if let Some(opening) = &fuse.opening {
        for (edge, worn) in worn.iter_mut().enumerate() {
            *worn = opening.worn(edge, *worn, amps / fuse.rating_a, seconds);
        }
    }
}
