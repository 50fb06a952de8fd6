//! Conditions of the drive as voltage sources: constants, or steps at the instants where the drive changes.

use super::parts::finite;
use super::{Cut, HeldUnit, NetlistError};
use crate::effects::Effects;
use crate::model::{Model, Profile};
use crate::time::Instant;
use std::fmt::Write;

/// A step's edge over the longest step; ngspice drops the second of two corners closer than 5e-5 of that step.
const EDGE_PER_STEP: f64 = 2e-4;

/// What drives the circuit, each as corners of (seconds from the cut's beginning, value).
pub(super) struct Waves {
    corners: Vec<(&'static str, Vec<(f64, f64)>)>,
    times_s: Vec<f64>,
}

impl Waves {
    pub(super) fn new(
        model: &Model,
        profile: &Profile,
        cut: &Cut,
        step_s: f64,
    ) -> Result<Self, NetlistError> {
        let changes = changes(model, profile, cut);
        let mut edge_s = EDGE_PER_STEP * step_s;
        for pair in changes.windows(2) {
            edge_s = edge_s.min(0.25 * pair[1].since(pair[0]));
        }
        let mut corners = Vec::new();
        let wave = |name: &'static str, value: &dyn Fn(Instant) -> f64| -> Result<_, NetlistError> {
            let mut wave: Vec<(f64, f64)> = Vec::new();
            for &at in &changes {
                let now = finite(name, value(at))?;
                match wave.last() {
                    // The edge ends a little before the change, so that a value wanted there is the one after it, settled.
                    Some(&(_, before)) if before != now => {
                        let t = at.since(cut.from);
                        wave.push((t - 2.0 * edge_s, before));
                        wave.push((t - edge_s, now));
                    }
                    Some(_) => {}
                    None => wave.push((0.0, now)),
                }
            }
            Ok((name, wave))
        };
        let acts = Effects::of(model);
        let warms = acts.input_cable || acts.output_cable || acts.starter_heat;
        for (name, value) in CONDITIONS.iter().chain(AIR.iter().filter(|_| warms)) {
            corners.push(wave(name, &|at| value(model, profile, at))?);
        }
        match &cut.unit {
            HeldUnit::Off => {}
            HeldUnit::On { since, .. } => {
                corners.push(("cap_a", soft_start(model, cut.from.since(*since))?));
            }
            HeldUnit::Replayed { since, switches, .. } => {
                let is_on = |at: Instant| on_since(*since, switches, at).is_some();
                corners.push(wave("on", &|at| f64::from(u8::from(is_on(at))))?);
                corners.push(("cap_a", soft_starts(model, cut, *since, switches)?));
            }
        }
        Ok(Waves { corners, times_s: cut.times.iter().map(|t| t.since(cut.from)).collect() })
    }

    pub(super) fn write(&self, text: &mut String) {
        let _ = writeln!(text, "* Conditions: volts at these nodes are V, A or W as the name says.");
        for (name, corners) in &self.corners {
            match corners.as_slice() {
                [(_, value)] => {
                    let _ = writeln!(text, "V{name} {name} 0 DC {value:e}");
                }
                many => {
                    let _ = writeln!(text, "V{name} {name} 0 PWL(");
                    write_corners(text, many.iter().copied());
                }
            }
        }
        let late = self.times_s.iter().copied().filter(|&t| t > 0.0);
        if late.clone().next().is_some() {
            let _ =
                writeln!(text, "* A saw that does nothing but make ngspice step on every instant asked for.");
            let _ = writeln!(text, "Vtimes times 0 PWL(");
            let corners = std::iter::once(0.0).chain(late).enumerate();
            write_corners(text, corners.map(|(n, t)| (t, (n % 2) as f64)));
        }
    }
}

fn write_corners(text: &mut String, corners: impl Iterator<Item = (f64, f64)>) {
    for (t, value) in corners {
        let _ = writeln!(text, "+ {t:e} {value:e}");
    }
    let _ = writeln!(text, "+ )");
}

type Condition = (&'static str, fn(&Model, &Profile, Instant) -> f64);

/// What lies around that which warms.
const AIR: [Condition; 2] = [
    ("air_c", |_, profile, at| profile.piece_at(at).air_c),
    ("bay_c", |_, profile, at| profile.piece_at(at).bay_c),
];

const CONDITIONS: [Condition; 5] = [
    ("set_v", |model, profile, at| model.settled_set_point_v(&profile.piece_at(at))),
    ("most_a", |model, profile, at| {
        let piece = profile.piece_at(at);
        let turns = piece.engine_runs() && !cranking(model, profile, at);
        if turns { model.alternator.capability_a(piece.engine_rpm) } else { 0.0 }
    }),
    ("vehicle_a", |model, profile, at| {
        let crank_a = if cranking(model, profile, at) { model.vehicle.crank_a } else { 0.0 };
        profile.piece_at(at).vehicle_load_a + crank_a
    }),
    ("house_w", |_, profile, at| profile.piece_at(at).house_load_w),
    ("solar_w", |_, profile, at| profile.piece_at(at).house_solar_w),
];

/// The beginning of the cut and every later instant at which the drive's conditions change, or the unit is switched.
fn changes(model: &Model, profile: &Profile, cut: &Cut) -> Vec<Instant> {
    let starts = profile.pieces().iter().map(|p| p.start);
    let crank_ends = starts.clone().map(|t| t.plus_s(model.vehicle.crank_s));
    let switches = match &cut.unit {
        HeldUnit::Replayed { switches, .. } => switches.as_slice(),
        _ => &[],
    };
    let known = starts.chain(crank_ends).chain(switches.iter().copied());
    let mut all: Vec<Instant> = known.filter(|&t| t > cut.from && t < cut.to).collect();
    all.push(cut.from);
    all.sort_unstable();
    all.dedup();
    all
}

/// Whether the starter motor turns just after an instant: the engine has run for less than the cranking time.
fn cranking(model: &Model, profile: &Profile, at: Instant) -> bool {
    let pieces = profile.pieces().iter().take(profile.index_at(at) + 1);
    let running = pieces.rev().take_while(|p| p.engine_runs()).last();
    running.is_some_and(|first| at < first.start.plus_s(model.vehicle.crank_s))
}

fn soft_start(model: &Model, since_on_s: f64) -> Result<Vec<(f64, f64)>, NetlistError> {
    let c = &model.link().converter;
    let limit_a = finite("the output limit", c.output_limit_a)?;
    let left_s = finite("the soft start", c.ramp_s)? - since_on_s;
    if left_s <= 0.0 {
        return Ok(vec![(0.0, limit_a)]);
    }
    Ok(vec![(0.0, limit_a * since_on_s / c.ramp_s), (left_s, limit_a)])
}

/// Since when the unit is on at an instant, or nothing.
fn on_since(since: Option<Instant>, switches: &[Instant], at: Instant) -> Option<Instant> {
    let passed = switches.iter().filter(|s| **s <= at);
    passed.fold(since, |since, at| if since.is_some() { None } else { Some(*at) })
}

/// The soft start begins again whenever the unit comes on. In between the cap goes back, and acts on nothing.
fn soft_starts(
    model: &Model,
    cut: &Cut,
    since: Option<Instant>,
    switches: &[Instant],
) -> Result<Vec<(f64, f64)>, NetlistError> {
    let mut wave = Vec::new();
    let bounds: Vec<Instant> = [cut.from].iter().chain(switches).chain([&cut.to]).copied().collect();
    for pair in bounds.windows(2) {
        let Some(on) = on_since(since, switches, pair[0]) else { continue };
        let (begin_s, lasts_s) = (pair[0].since(cut.from), pair[1].since(pair[0]));
        let ramp = soft_start(model, pair[0].since(on))?;
        wave.extend(ramp.iter().filter(|(t, _)| *t < lasts_s).map(|(t, a)| (begin_s + t, *a)));
        let reached_a = match ramp[..] {
            [(_, from_a), (end_s, to_a)] if lasts_s < end_s => from_a + (to_a - from_a) * lasts_s / end_s,
            _ => model.link().converter.output_limit_a,
        };
        wave.push((begin_s + lasts_s, reached_a));
    }
    Ok(wave)
}
