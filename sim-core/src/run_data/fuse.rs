//! What a run asks of its fuses.

use crate::model::{Model, Piece};
use crate::network::Net;
use crate::plant::cable::Cable;
use crate::plant::fuse::{EDGES, Edge, Fuse, FusePlace, Wear};
use crate::state::{INPUT_CABLE_C, INPUT_JOINTS_C, OUTPUT_CABLE_C, OUTPUT_JOINTS_C, Vector};
use crate::time::Instant;
use serde::Serialize;

/// How far a fuse of one edge of the band came.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Worn {
    /// Most that it was worn, share; at 1 it opens. Past the opening of the circuit nothing is added.
    pub most: f64,
    /// When it was at 1, s since the start.
    pub through_at_s: Option<f64>,
}

/// A fuse that opened.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Opened {
    /// When, s since the start.
    pub at_s: f64,
    /// Its current just before, A.
    pub amps: f64,
    /// How long the slowest fuse of its type would have stood that current from there on, s; infinite where it need not
    /// open at it, and then it is written as null.
    pub late_after_s: f64,
    /// The hottest conductor of its cable by then, °C, current and air held; `None` where conductors stay at one
    /// temperature, or nothing bounds it.
    pub late_conductor_c: Option<f64>,
    /// The cable's joints by then, °C, likewise.
    pub late_joints_c: Option<f64>,
}

/// What a run asks of a fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FuseWork {
    /// Where it sits.
    pub place: FusePlace,
    /// Rating, A.
    pub rating_a: f64,
    /// Its type by its standard, where one is told.
    pub kind: Option<&'static str>,
    /// Short-circuit current that it can break, A, where it is known.
    pub breaks_a: Option<f64>,
    /// Largest current, A.
    pub most_a: f64,
    /// When, s since the start.
    pub most_at_s: f64,
    /// Time above three quarters of the rating, s.
    pub hard_s: f64,
    /// Time above the rating, s.
    pub over_s: f64,
    /// When it was first above three quarters of the rating, and when above the rating, s since the start.
    pub first_s: [Option<f64>; 2],
    /// When it was last so, s since the start.
    pub last_s: [f64; 2],
    /// The quickest fuse of its type, the one between, the slowest; `None` where nothing but the rating is known.
    pub worn: Option<[Worn; EDGES]>,
    /// When it opened the circuit, if it did.
    pub opened: Option<Opened>,
}

/// Share of its rating from which a fuse works hard: common practice, no source.
pub const HARD: f64 = 0.75;

impl FuseWork {
    pub(crate) fn new(place: FusePlace, fuse: &Fuse) -> FuseWork {
        FuseWork {
            place,
            rating_a: fuse.rating_a,
            kind: fuse.kind,
            breaks_a: fuse.breaks_a,
            most_a: 0.0,
            most_at_s: 0.0,
            hard_s: 0.0,
            over_s: 0.0,
            first_s: [None; 2],
            last_s: [0.0; 2],
            worn: fuse.opening.as_ref().map(|_| Default::default()),
            opened: None,
        }
    }

    /// How far the fuse of one edge came; `None` where nothing but the rating is known.
    pub fn worn_at(&self, edge: Edge) -> Option<Worn> {
        self.worn.map(|w| w[edge as usize])
    }

    /// Takes note of `seconds` that begin so long after the start with a current, and of what they wore.
    pub(crate) fn see(&mut self, at_s: f64, seconds: f64, amps: f64, worn: &[f64; EDGES]) {
        if amps > self.most_a {
            (self.most_a, self.most_at_s) = (amps, at_s);
        }
        for (n, share) in [HARD, 1.0].into_iter().enumerate() {
            if amps > share * self.rating_a {
                *(if n == 0 { &mut self.hard_s } else { &mut self.over_s }) += seconds;
                self.first_s[n].get_or_insert(at_s);
                self.last_s[n] = at_s + seconds;
            }
        }
        for (seen, worn) in self.worn.iter_mut().flatten().zip(worn) {
            if *worn >= 1.0 && seen.through_at_s.is_none() {
                // The wear grew along a line over so short a time.
                let over_s =
                    if *worn > seen.most { seconds * (worn - 1.0) / (worn - seen.most) } else { 0.0 };
                seen.through_at_s = Some(at_s + seconds - over_s);
            }
            seen.most = seen.most.max(*worn);
        }
    }

    /// Takes note that it opens at `t`, with the volts and amps just before.
    pub(crate) fn open(
        &mut self,
        t: Instant,
        model: &Model,
        piece: &Piece,
        y: &Vector,
        before: &Net,
        wear: &Wear,
    ) {
        let link = model.link();
        // A bad joint of the drive's is one of the input cable's.
        let (cable, first, joints, amps, extra_ohm) = if self.place.on_input() {
            (&link.input_cable, INPUT_CABLE_C, INPUT_JOINTS_C, before.input_a, piece.input_joint_extra_ohm)
        } else {
            (&link.output_cable, OUTPUT_CABLE_C, OUTPUT_JOINTS_C, before.output_a, 0.0)
        };
        let late = Edge::Late as usize;
        let opening = model.fuses()[self.place as usize].and_then(|f| f.opening.as_ref());
        let left = 1.0 - wear[self.place as usize][late];
        let late_after_s = opening
            .map_or(f64::INFINITY, |o| left.max(0.0) * o.curves[late].opens_after_s(amps / self.rating_a));
        self.opened = Some(Opened {
            at_s: t.as_s(),
            amps,
            late_after_s,
            late_conductor_c: conductor_after_c(cable, piece, &y[first..], amps, late_after_s),
            late_joints_c: joints_after_c(cable, piece, y[joints], amps, late_after_s, extra_ohm),
        });
    }
}

fn air_c(piece: &Piece, in_bay: bool) -> f64 {
    if in_bay { piece.bay_c } else { piece.air_c }
}

/// The hottest conductor after a time at a current.
fn conductor_after_c(cable: &Cable, piece: &Piece, temps_c: &[f64], amps: f64, seconds: f64) -> Option<f64> {
    let warm = cable.conductors.iter().zip(temps_c).filter(|(c, _)| c.j_per_k > 0.0);
    let after = warm.map(|(c, t)| c.temp_after(*t, air_c(piece, c.in_bay), amps, seconds));
    after.reduce(f64::max).filter(|c| c.is_finite())
}

fn joints_after_c(
    cable: &Cable,
    piece: &Piece,
    temp_c: f64,
    amps: f64,
    seconds: f64,
    extra_ohm: f64,
) -> Option<f64> {
    cable.joints_warm().then(|| {
        let rate = cable.joints_rate(temp_c, air_c(piece, cable.joints_in_bay), amps, extra_ohm);
        let fades_per_s = cable.joints_w_per_k / cable.joints_j_per_k;
        temp_c - rate * (-fades_per_s * seconds).exp_m1() / fades_per_s
    })
}

/// Fuses of a run by place.
pub fn at(fuses: &[FuseWork], place: FusePlace) -> Option<&FuseWork> {
    fuses.iter().find(|f| f.place == place)
}
