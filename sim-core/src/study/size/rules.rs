//! The rules that a conductor and its fuses have to meet together, each by itself. None of them runs anything.
//!
//! Load ≤ what the fuse carries for hours; fuse ≤ what the conductor carries for good (Ib ≤ In ≤ Iz, IEC 60364-4-43, from
//! memory); the fuse's conventional current, 1.35 times its rating (ISO 8820), stays under the 1.45 Iz of that standard by
//! itself. What a short circuit lets through before the slowest fuse of the type opens stays within what the copper bears
//! with nothing to cool it, k²S². The fuse breaks what the battery can drive through it.

use crate::plant::battery::Battery;
use crate::plant::cable::{CONDUCTORS, Cable};
use crate::plant::conductor::adiabatic_k;
use crate::plant::fuse::{Edge, FuseKind, KINDS, Opening, for_hours_share};
use crate::scenario::unit_side::HELD_FUSE_MOHM;
use serde::Serialize;

/// A short circuit at the far end is to be off after so long, s: common practice for fixed cables, no source.
pub const FAR_END_S: f64 = 5.0;
/// Temperature that a conductor may reach in a short circuit, °C: thermoplastic insulation, and that of cross-linked classes;
/// IEC 60364-4-43, from memory.
const SHORT_C: (f64, f64) = (160.0, 250.0);
/// A fuse in its holder, Ω; see [`HELD_FUSE_MOHM`].
const HELD_FUSE_OHM: f64 = 1e-3 * HELD_FUSE_MOHM;
/// Classes of insulation up to this are taken for thermoplastic, °C.
const THERMOPLASTIC_C: f64 = 90.0;

/// What is not met.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// The cable takes more volts than it may.
    Drop,
    /// The conductor grows hotter than its insulation bears, at the unit's full current.
    Heat,
    /// The fuse carries less for hours than the unit draws.
    FuseForLoad,
    /// The fuse lets more through for good than the conductor carries.
    FuseForConductor,
    /// The copper grows too hot before the slowest fuse of the type opens.
    ShortCircuit,
    /// A short circuit at the far end is not off soon enough.
    FarEnd,
    /// The fuse that is there does not break what the battery can drive.
    Breaking,
}

/// A rule that is not met: what was found, and what it is held against.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Broken {
    /// Which.
    pub rule: Rule,
    /// What was found.
    pub value: f64,
    /// What it is held against.
    pub limit: f64,
    /// Unit of both.
    pub unit: &'static str,
}

/// What is asked of a cable.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Demand {
    /// The most that the unit draws or gives, A.
    pub load_a: f64,
    /// The most that the cable may take, V.
    pub most_drop_v: f64,
    /// What its insulation bears for good, °C.
    pub insulation_c: f64,
    /// Warmest air of the cabin, °C.
    pub air_c: f64,
    /// Warmest air of the engine bay, °C.
    pub bay_c: f64,
    /// Air at the fuse at the battery, °C.
    pub fuse_air_c: f64,
    /// What the conductor is to carry beyond the load, share.
    pub spare: f64,
    /// Volts of the battery at its end, V, and its resistance, Ω: what drives a short circuit.
    pub battery: (f64, f64),
}

/// What drives a short circuit: volts and resistance of a full, warm battery.
pub fn drives(battery: &Battery) -> (f64, f64) {
    let x = battery.start(25.0);
    let r_ohm = battery.port(&x, &battery.hold(&x, 0.0)).r_ohm;
    (battery.rested_v(1.0), r_ohm)
}

/// A fuse that was chosen or is there.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chosen {
    /// Rating, A.
    pub rating_a: f64,
    /// Its type, where one is known: the word of the key.
    pub kind: Option<&'static str>,
    /// Short-circuit current that it can break, A, where that is known.
    pub breaks_a: Option<f64>,
}

/// One size of conductor, with its fuse, held against the rules.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// What it is called: "16 mm²", "6".
    pub name: String,
    /// Area, mm².
    pub area_mm2: f64,
    /// What the cable takes at full current, warm, V.
    pub drop_v: f64,
    /// Its hottest conductor at full current, °C.
    pub hottest_c: f64,
    /// What its conductor carries for good, A; `None` where nobody follows its heat.
    pub carries_a: Option<f64>,
    /// The fuse, the same at both ends, where one can be named.
    pub fuse: Option<Chosen>,
    /// Short-circuit current at the battery's end and at the far end, A.
    pub short_a: [f64; 2],
    /// What is not met.
    pub broken: Vec<Broken>,
}

/// Holds one size against the rules, with the smallest fuse that carries the load, or the one that is there.
pub fn held(name: &str, area_mm2: f64, cable: &Cable, ask: &Demand, there: Option<&Chosen>) -> Row {
    let temps_c = cable.settles_c(ask.load_a, ask.air_c, ask.bay_c);
    let hottest_c = (0..CONDUCTORS)
        .filter(|n| cable.conductors[*n].ohm_20 > 0.0)
        .map(|n| temps_c[n])
        .fold(f64::NEG_INFINITY, f64::max);
    let drop_v = ask.load_a * cable.resistance_at(&temps_c.map(|t| t.min(1e4)));
    let carries_a = cable.carries_a(ask.insulation_c, ask.air_c, ask.bay_c);
    let (volts, r_ohm) = ask.battery;
    // The fuse itself, in its holder, lies in every path.
    let (near_ohm, far_ohm) = (r_ohm + HELD_FUSE_OHM, r_ohm + cable.resistance_ohm().max(HELD_FUSE_OHM));
    let short_a = [volts / near_ohm, volts / far_ohm];
    let mut broken = Vec::new();
    let mut holds = |rule, value: f64, limit: f64, unit| {
        // Of a quantity that may be so much at most; a hair of rounding is no breach.
        if value > limit * (1.0 + 1e-9) || value.is_nan() {
            broken.push(Broken { rule, value, limit, unit });
        }
    };
    holds(Rule::Drop, drop_v, ask.most_drop_v, "V");
    if let Some(carries_a) = carries_a {
        holds(Rule::Heat, ask.load_a * (1.0 + ask.spare), carries_a, "A");
    }
    let share = for_hours_share(ask.fuse_air_c);
    let least_a = ask.load_a / share;
    let fuse = there.cloned().or_else(|| smallest(least_a, short_a[0]));
    match &fuse {
        None => holds(Rule::FuseForLoad, least_a, most_rated_a(), "A"),
        Some(fuse) => {
            holds(Rule::FuseForLoad, ask.load_a, share * fuse.rating_a, "A");
            if let Some(carries_a) = carries_a {
                holds(Rule::FuseForConductor, fuse.rating_a, carries_a, "A");
            }
            // One that is to be bought is looked for with its breaking capacity in hand; see `Row::fuse_must_break_a`.
            if let Some(breaks_a) = fuse.breaks_a.filter(|_| there.is_some()) {
                holds(Rule::Breaking, short_a[0], breaks_a, "A");
            }
            if let Some(kind) = fuse.kind.and_then(kind_of) {
                let late = &Opening::of_kind(kind).curves[Edge::Late as usize];
                let opens_s = |a: f64| late.opens_after_s(a / fuse.rating_a);
                holds(Rule::FarEnd, opens_s(short_a[1]), FAR_END_S, "s");
                let to_c = if ask.insulation_c <= THERMOPLASTIC_C { SHORT_C.0 } else { SHORT_C.1 };
                let bears = (adiabatic_k(ask.insulation_c, to_c) * area_mm2).powi(2);
                let through = short_a.map(|a| a * a * opens_s(a)).into_iter().fold(0.0, f64::max);
                if through.is_finite() {
                    holds(Rule::ShortCircuit, through, bears, "A²s");
                }
            }
        }
    }
    Row { name: name.to_owned(), area_mm2, drop_v, hottest_c, carries_a, fuse, short_a, broken }
}

/// The type whose word this is.
fn kind_of(word: &str) -> Option<&'static FuseKind> {
    KINDS.iter().find(|k| k.word == word)
}

/// The largest rating that is known here, A.
fn most_rated_a() -> f64 {
    KINDS.iter().flat_map(|k| k.ratings_a).copied().fold(0.0, f64::max)
}

/// The smallest rating that carries a load, of the smallest type that breaks the short circuit too; where none that is known
/// here does, of those that break most.
pub fn smallest(least_a: f64, short_a: f64) -> Option<Chosen> {
    let most = KINDS.iter().map(|k| k.breaks_a).fold(0.0, f64::max);
    let rated = KINDS.iter().filter_map(|k| Some((k, *k.ratings_a.iter().find(|a| **a >= least_a)?)));
    let mut best: Option<(&FuseKind, f64)> = None;
    for (kind, rating_a) in rated.filter(|(k, _)| k.breaks_a >= short_a.min(most)) {
        if best.is_none_or(|(_, a)| rating_a < a) {
            best = Some((kind, rating_a));
        }
    }
    best.map(|(kind, rating_a)| Chosen { rating_a, kind: Some(kind.word), breaks_a: Some(kind.breaks_a) })
}

impl Row {
    /// The short-circuit current that its fuse does not break as far as it is known, A: the fuse that is bought has to.
    pub fn fuse_must_break_a(&self) -> Option<f64> {
        let breaks_a = self.fuse.as_ref()?.breaks_a;
        breaks_a.is_none_or(|a| a < self.short_a[0]).then_some(self.short_a[0])
    }
}
