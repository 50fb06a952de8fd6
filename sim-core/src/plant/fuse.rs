//! A fuse: how long it stands a current, and how it cools.
//!
//! The standards give bands: at a few multiples of the rating an opening time that no fuse of the type undercuts and one
//! that none exceeds. The *early* edge is that of the quickest fuse allowed, the *late* edge that of the slowest; between
//! them, at the logarithmic mean, lies the one that a run counts with. Danger is judged at the early edge, what conductors
//! bear at the late one. A curve typed from a sheet stands for all three.
//!
//! Currents change, so what counts is the sum of time over opening time: at 1 the fuse opens. That is how protection
//! relays count a varying current (IEEE C37.112, seen quoted). It cools as such a relay resets, by `1 − (I/I1)²` over a
//! time constant, where `I1` is the current from which it opens at all. The time constant is that of one body, heated by
//! I²R, that only just opens at 1.1 times the rating and takes the late edge's time at twice of it: `t / ln(4 / (4 − 1.21))`.
//! The slowest body that the band allows is the cautious choice for all three.
//!
//! Left out: curves are taken cold, at 23 °C. A fuse that has carried its rating for an hour, or sits beside a hot engine,
//! opens sooner; one reason more for the early edge.

use serde::Serialize;

/// Where a fuse sits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FusePlace {
    /// Input cable, at the starter battery.
    InputBatteryEnd,
    /// Input cable, at the unit.
    InputUnitEnd,
    /// Output cable, at the house battery.
    OutputBatteryEnd,
    /// Output cable, at the unit.
    OutputUnitEnd,
}

impl FusePlace {
    /// All places, in the order in which lists of fuses have them.
    pub const ALL: [FusePlace; 4] = [
        FusePlace::InputBatteryEnd,
        FusePlace::InputUnitEnd,
        FusePlace::OutputBatteryEnd,
        FusePlace::OutputUnitEnd,
    ];

    /// Whether it is one of the input cable's two.
    pub fn on_input(self) -> bool {
        matches!(self, FusePlace::InputBatteryEnd | FusePlace::InputUnitEnd)
    }
}

/// A place of a type's band: no fuse opens before the early time, and none after the late one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Band {
    times_rating: f64,
    early_s: f64,
    late_s: f64,
}

/// A type of fuse, named by its standard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FuseKind {
    /// The word of the key.
    pub word: &'static str,
    /// Standard, part and type letter.
    pub name: &'static str,
    /// Short-circuit current that it can break, A.
    pub breaks_a: f64,
    /// Ratings that it is made in, A, rising; from memory.
    pub ratings_a: &'static [f64],
    band: &'static [Band],
}

const fn band(times_rating: f64, early_s: f64, late_s: f64) -> Band {
    Band { times_rating, early_s, late_s }
}

/// At 1.1 times the rating a fuse must hold for so long; whether it ever opens there is left open.
const NEVER: f64 = f64::INFINITY;

const MEDIUM_BLADE: &[Band] = &[
    band(1.1, 360_000.0, NEVER),
    band(1.35, 0.75, 600.0),
    band(1.6, 0.25, 50.0),
    band(2.0, 0.15, 5.0),
    band(3.5, 0.04, 0.5),
    band(6.0, 0.02, 0.1),
];
const LARGE_BLADE: &[Band] = &[
    band(1.1, 360_000.0, NEVER),
    band(1.35, 60.0, 1800.0),
    band(2.0, 2.0, 60.0),
    band(3.5, 0.2, 7.0),
    band(6.0, 0.04, 1.0),
];
const BOLTED: &[Band] = &[
    band(1.1, 14_400.0, NEVER),
    band(1.35, 120.0, 1800.0),
    band(2.0, 1.0, 15.0),
    band(3.5, 0.3, 5.0),
    band(6.0, 0.1, 1.0),
];

const MEDIUM_A: &[f64] = &[5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0];
const LARGE_A: &[f64] = &[20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0];
const SF30_A: &[f64] = &[30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 125.0, 150.0, 175.0, 200.0];
const SF51_A: &[f64] = &[40.0, 50.0, 60.0, 80.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0, 400.0, 500.0];

/// Share of its rating that a fuse carries for hours at 23 °C: common practice, about three quarters, no source.
const FOR_HOURS: f64 = 0.75;
/// How much less it carries for each kelvin over 23 °C, share; from memory, low confidence: 0.1 to 0.2 %.
const LESS_PER_K: f64 = 0.0015;

/// Share of its rating that a fuse carries for hours in air of so many °C.
pub fn for_hours_share(air_c: f64) -> f64 {
    FOR_HOURS * (1.0 - LESS_PER_K * (air_c - 23.0).max(0.0)).max(0.0)
}

/// Types that a scenario can name. Bands from memory, those of types C and F with more confidence than the others, and that of
/// SF30 taken to be SF51's. Breaking capacity of ISO 8820-3 from its scope (up to 100 A, 1000 A at 32 V or 58 V; seen); of
/// ISO 8820-5 from memory, low confidence.
pub const KINDS: [FuseKind; 5] = [
    FuseKind {
        word: "iso-8820-3-c",
        name: "ISO 8820-3 type C",
        breaks_a: 1000.0,
        ratings_a: MEDIUM_A,
        band: MEDIUM_BLADE,
    },
    FuseKind {
        word: "iso-8820-3-f",
        name: "ISO 8820-3 type F",
        breaks_a: 1000.0,
        ratings_a: MEDIUM_A,
        band: MEDIUM_BLADE,
    },
    FuseKind {
        word: "iso-8820-3-e",
        name: "ISO 8820-3 type E",
        breaks_a: 1000.0,
        ratings_a: LARGE_A,
        band: LARGE_BLADE,
    },
    FuseKind {
        word: "iso-8820-5-sf30",
        name: "ISO 8820-5 type SF30",
        breaks_a: 2000.0,
        ratings_a: SF30_A,
        band: BOLTED,
    },
    FuseKind {
        word: "iso-8820-5-sf51",
        name: "ISO 8820-5 type SF51",
        breaks_a: 2000.0,
        ratings_a: SF51_A,
        band: BOLTED,
    },
];

/// The words of [`KINDS`], for the key.
pub const KIND_WORDS: &[&str] =
    &["iso-8820-3-c", "iso-8820-3-f", "iso-8820-3-e", "iso-8820-5-sf30", "iso-8820-5-sf51"];

/// Which fuse of those that a band allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Edge {
    /// The quickest.
    Early,
    /// The one at the logarithmic mean.
    #[default]
    Between,
    /// The slowest.
    Late,
}

/// Number of edges.
pub const EDGES: usize = 3;

/// Time to open against current over rating, through points; at least two of them.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Curve {
    /// Currents over the rating, rising.
    times_rating: Vec<f64>,
    /// Seconds until it opens at each, falling.
    opens_s: Vec<f64>,
}

impl Curve {
    /// A curve through points of current over rating, rising, and seconds, falling; at least two, which the caller sees to.
    pub fn new(points: impl IntoIterator<Item = (f64, f64)>) -> Curve {
        let (times_rating, opens_s): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        debug_assert!(times_rating.len() > 1);
        Curve { times_rating, opens_s }
    }

    /// Current over rating from which it opens at all.
    pub fn begins_at(&self) -> f64 {
        self.times_rating[0]
    }

    /// Opening time at a current over rating, s: a straight line between points in logarithms; infinite under the first.
    pub fn opens_after_s(&self, times_rating: f64) -> f64 {
        let (ratios, times) = (&self.times_rating, &self.opens_s);
        let above = ratios.partition_point(|r| *r <= times_rating);
        if above == 0 {
            return f64::INFINITY;
        }
        // Past the last point the last slope goes on.
        let high = above.min(ratios.len() - 1).max(1);
        let low = high - 1;
        let slope = (times[high] / times[low]).ln() / (ratios[high] / ratios[low]).ln();
        times[low] * (times_rating / ratios[low]).powf(slope)
    }
}

/// How a fuse opens.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Opening {
    /// The curve of each [`Edge`], in their order.
    pub curves: [Curve; EDGES],
    /// Time constant of its cooling without current, s.
    pub cools_s: f64,
    /// The edge at which it opens the circuit of a run; the others are only counted.
    pub at: Edge,
}

/// Current over rating that a fuse of any type carries for hours.
const CARRIES: f64 = 1.1;

impl Opening {
    /// As a type's band has it.
    pub fn of_kind(kind: &FuseKind) -> Opening {
        let early = Curve::new(kind.band.iter().map(|b| (b.times_rating, b.early_s)));
        // Where nothing says when the slowest opens, the only time that is told counts.
        let mean = |b: &Band| if b.late_s.is_finite() { (b.early_s * b.late_s).sqrt() } else { b.early_s };
        let between = Curve::new(kind.band.iter().map(|b| (b.times_rating, mean(b))));
        let ends = kind.band.iter().filter(|b| b.late_s.is_finite());
        Opening::new([early, between, Curve::new(ends.map(|b| (b.times_rating, b.late_s)))])
    }

    /// As one typed curve has it.
    pub fn typed(curve: Curve) -> Opening {
        Opening::new([curve.clone(), curve.clone(), curve])
    }

    fn new(curves: [Curve; EDGES]) -> Opening {
        let late = &curves[Edge::Late as usize];
        let twice = late.begins_at().max(2.0);
        let square = twice * twice;
        let cools_s = late.opens_after_s(twice) / (square / (square - CARRIES * CARRIES)).ln();
        Opening { curves, cools_s, at: Edge::default() }
    }

    /// What `seconds` at a current over rating make of the wear of one edge.
    pub fn worn(&self, edge: usize, wear: f64, times_rating: f64, seconds: f64) -> f64 {
        let curve = &self.curves[edge];
        if times_rating >= curve.begins_at() {
            return wear + seconds / curve.opens_after_s(times_rating);
        }
        let left =
            wear * (-seconds / self.cools_s * (1.0 - (times_rating / curve.begins_at()).powi(2))).exp();
        // What is left of it after long can be told from nothing no more.
        if left > LEAST_WEAR { left } else { 0.0 }
    }
}

/// Wear that counts as none.
const LEAST_WEAR: f64 = 1e-9;

/// A fuse.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fuse {
    /// Rating, A.
    pub rating_a: f64,
    /// Its type, where one is told.
    pub kind: Option<&'static str>,
    /// Short-circuit current that it can break, A, where it is known.
    pub breaks_a: Option<f64>,
    /// How it opens; `None` where nothing but the rating is known, and then it never opens in a run.
    pub opening: Option<Opening>,
}

/// How far each fuse is on the way to opening, by place and edge, share of 1.
pub type Wear = [[f64; EDGES]; FusePlace::ALL.len()];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typed_curve_is_a_line_in_logarithms() {
        let curve = Curve::new([(1.35, 1800.0), (2.0, 60.0), (6.0, 1.0)]);
        assert!((curve.opens_after_s(1.35) - 1800.0).abs() < 1e-9);
        assert!((curve.opens_after_s(2.0) - 60.0).abs() < 1e-9);
        assert!((curve.opens_after_s(6.0) - 1.0).abs() < 1e-12);
        assert_eq!(curve.opens_after_s(1.2), f64::INFINITY);
        let middle = curve.opens_after_s((1.35f64 * 2.0).sqrt());
        assert!((middle - (1800.0f64 * 60.0).sqrt()).abs() < 1e-9);
        assert!(curve.opens_after_s(12.0) < 0.2);
    }

    #[test]
    fn every_kind_has_edges_in_order_and_a_word() {
        assert_eq!(KINDS.map(|k| k.word), KIND_WORDS);
        for kind in &KINDS {
            let o = Opening::of_kind(kind);
            for curve in &o.curves {
                assert!(curve.times_rating.is_sorted_by(|a, b| a < b), "{kind:?}");
                assert!(curve.opens_s.is_sorted_by(|a, b| a > b), "{kind:?}");
            }
            for n in 0..500 {
                let ratio = 1.0 + 0.02 * f64::from(n);
                let [early, between, late] = [0, 1, 2].map(|e| o.curves[e].opens_after_s(ratio));
                assert!(early <= between && between <= late, "{} at {ratio}", kind.name);
                if ratio >= 1.35 {
                    assert!(((early * late).sqrt() / between - 1.0).abs() < 1e-9, "{} at {ratio}", kind.name);
                }
            }
            // Carries its rating for ever, and 1.1 times of it for hours.
            assert_eq!(o.curves.each_ref().map(|c| c.opens_after_s(1.0)), [f64::INFINITY; 3]);
            assert!(o.curves[0].opens_after_s(1.1) >= 14_400.0);
        }
    }

    /// One body heated by I²R, cooling at its own rate, opens at `t` where its warmth reaches 1.21 of that at its rating.
    #[test]
    fn cooling_is_that_of_a_body_that_opens_late_at_twice_its_rating() {
        for kind in &KINDS {
            let o = Opening::of_kind(kind);
            let late_s = o.curves[2].opens_after_s(2.0);
            let warmth = 4.0 * (1.0 - (-late_s / o.cools_s).exp());
            assert!((warmth - 1.21).abs() < 1e-12, "{}: {warmth}", kind.name);
        }
    }

    #[test]
    fn wear_adds_up_above_and_fades_below() {
        let o = Opening::of_kind(&KINDS[0]);
        let t_s = o.curves[1].opens_after_s(1.6);
        let half = o.worn(1, 0.0, 1.6, 0.5 * t_s);
        assert!((half - 0.5).abs() < 1e-12);
        assert!((o.worn(1, half, 2.0, 0.5 * o.curves[1].opens_after_s(2.0)) - 1.0).abs() < 1e-12);
        let e = (-1.0f64).exp();
        assert!((o.worn(1, half, 0.0, o.cools_s) - 0.5 * e).abs() < 1e-12);
        let warm = o.worn(1, half, 0.55, o.cools_s);
        assert!(
            (warm - 0.5 * (-0.75f64).exp()).abs() < 1e-12,
            "half the current keeps a quarter of the warmth"
        );
        assert_eq!(o.worn(1, half, 0.0, 30.0 * o.cools_s), 0.0);
    }
}
