//! Borders between outcomes, what the closed forms say of them, and why the two differ.

use super::case::Case;
use super::closed_forms::{Form, SettledSource};
use super::distance::Seen;
use super::knobs::{Knob, Part};
use super::outcome::{Outcome, Witness};
use crate::model::{Model, Piece, Profile};

/// A border between two outcomes along one knob.
#[derive(Debug, Clone, PartialEq)]
pub struct Edge {
    /// The last value run on the lower side.
    pub low: f64,
    /// The first value run on the upper side.
    pub high: f64,
    /// What the lower side comes to.
    pub below: Outcome,
    /// What the upper side comes to.
    pub above: Outcome,
    /// What the closed forms say of it.
    pub forms: Vec<Said>,
    /// Why they differ from the simulation, with the volts that each explains.
    pub reasons: Vec<Reason>,
}

impl Edge {
    /// The middle of the bracket.
    pub fn at(&self) -> f64 {
        0.5 * (self.low + self.high)
    }
}

/// A closed form along the same knob.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// The form.
    pub form: Form,
    /// Where its margin is nothing, in the knob's unit; `None` where that happens nowhere in the span.
    pub at: Option<f64>,
}

/// Why simulation and closed form differ: what the form leaves out, read at the drop-out nearest to the border.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// The starter battery is not full and settled: the posts stand lower than the form's.
    StarterStillRising {
        /// Current that it takes beyond the form's, A; nothing where the alternator gives all it can.
        more_a: f64,
        /// How much lower the posts stand, V.
        volts_v: f64,
    },
    /// The alternator gives all it can, or is not there yet: the posts stand under its droop line.
    AlternatorAtItsLimit {
        /// What it gives, A.
        gives_a: f64,
        /// How far the posts stand under the line, V.
        volts_v: f64,
        /// Whether the form counts with that: it does for a battery with a settled resistance, cold alternator.
        form_knows: bool,
    },
    /// The copper is warm.
    WarmCopper {
        /// Resistance beyond that at 20 °C, Ω.
        more_ohm: f64,
        /// What that takes, V.
        volts_v: f64,
    },
    /// The unit gives less than its limit: heat, the target voltage or the soft start holds it back.
    OutputUnderLimit {
        /// What it gives, A.
        gives_a: f64,
        /// Its limit, A.
        limit_a: f64,
    },
}

/// A reason under this explains nothing, V.
const NOTHING_V: f64 = 0.001;
/// The alternator counts as off its droop line from here on, V: its pick-up lags by less.
const OFF_LINE_V: f64 = 0.005;
/// Borders nearer to each other than this share of their value are one: between them outcomes take turns.
const FRINGE: f64 = 5e-3;

/// All borders between neighbours that were run.
pub(super) fn edges(case: &Case, knob: &Knob, seen: &[(f64, Seen)], fallback: Option<Witness>) -> Vec<Edge> {
    brackets(seen, knob.sizes.is_empty())
        .into_iter()
        .map(|((low, below), (high, above))| {
            let mut edge = Edge {
                low,
                high,
                below: below.outcome,
                above: above.outcome,
                forms: Vec::new(),
                reasons: Vec::new(),
            };
            // The side that drops out has a moment to read.
            let dropped = [(low, below), (high, above)]
                .into_iter()
                .find_map(|(v, s)| Some((v, s.witness.filter(|x| x.dropped_out)?)));
            let at_edge = dropped.or(below.witness.or(above.witness).or(fallback).map(|x| (low, x)));
            explain(&mut edge, case, knob, at_edge);
            edge
        })
        .collect()
}

type Run = (f64, Seen);

/// Pairs of runs with a border between them; those of one fringe are joined, slivers within it are not told.
fn brackets(seen: &[Run], joins: bool) -> Vec<(Run, Run)> {
    let mut found: Vec<(Run, Run)> = Vec::new();
    for pair in seen.windows(2).filter(|w| w[0].1.outcome != w[1].1.outcome) {
        match found.last_mut() {
            Some((_, high)) if joins && pair[0].0 - high.0 <= FRINGE * pair[0].0.abs() => *high = pair[1],
            _ => found.push((pair[0], pair[1])),
        }
    }
    found.retain(|(low, high)| low.1.outcome != high.1.outcome);
    found
}

fn explain(edge: &mut Edge, case: &Case, knob: &Knob, moment: Option<(f64, Witness)>) {
    let turned = |value: f64| -> Option<(Model, Profile)> {
        let (_, resolved) = knob.turned(case, value).ok()?.resolve().ok()?;
        Some((resolved.model, resolved.profile))
    };
    let out_v = moment.map(|(_, x)| x.net.out_v);
    let margin = |form: Form, value: f64| -> Option<f64> {
        let (model, profile) = turned(value)?;
        let piece = piece_of(&profile, moment.map(|(_, x)| x.piece));
        let out_v = out_v.unwrap_or(model.link().stages.absorption_v);
        Some(form.margin(&model, piece, out_v)).filter(|m| m.is_finite())
    };
    if let Some((value, witness)) = moment.filter(|(_, x)| x.dropped_out)
        && let Some((model, profile)) = turned(value)
    {
        edge.reasons = reasons(&model, piece_of(&profile, Some(witness.piece)), &witness);
    }
    for form in worth_showing(edge, knob) {
        let at = root(knob, edge.at(), &|value| margin(form, value));
        edge.forms.push(Said { form, at });
    }
}

/// The piece that a moment lies in, else the drive's longest with the engine running.
fn piece_of(profile: &Profile, index: Option<usize>) -> &Piece {
    let pieces = profile.pieces();
    let longest = || {
        let length = |p: &&Piece| p.end.ns() - p.start.ns();
        pieces.iter().filter(|p| p.engine_runs()).max_by_key(length)
    };
    index.map(|n| &pieces[n.min(pieces.len() - 1)]).or_else(longest).unwrap_or(&pieces[0])
}

fn worth_showing(edge: &Edge, knob: &Knob) -> Vec<Form> {
    let has = |wanted: Outcome| edge.below == wanted || edge.above == wanted;
    let mut forms = Vec::new();
    if has(Outcome::KeepsDroppingOut) || has(Outcome::DropsOutAtFirst) {
        forms.push(Form::DropsOut);
        let speed = matches!(knob.part, Part::EngineSpeed | Part::IdleSpeed | Part::VehicleLoad);
        let short = edge.reasons.iter().any(|r| matches!(r, Reason::AlternatorAtItsLimit { .. }));
        if speed || short {
            forms.push(Form::AlternatorCarries);
        }
        forms.push(Form::BandWideEnough);
    }
    if has(Outcome::DropsOutAtFirst) {
        forms.push(Form::StartUp);
    }
    if has(Outcome::NeverStarts) {
        forms.push(Form::NeverStarts);
    }
    forms
}

/// Where a closed form's margin is nothing, nearest to `near`.
fn root(knob: &Knob, near: f64, margin: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    let values: Vec<(f64, f64)> = knob.grid.iter().filter_map(|v| Some((*v, margin(*v)?))).collect();
    let crossings = values.windows(2).filter(|w| (w[0].1 < 0.0) != (w[1].1 < 0.0));
    let away = |w: &[(f64, f64)]| (w[0].0.max(near.min(w[1].0)) - near).abs();
    let nearest = crossings.min_by(|a, b| away(a).total_cmp(&away(b)))?;
    let ((mut a, mut fa), (mut b, mut fb)) = (nearest[0], nearest[1]);
    if !knob.sizes.is_empty() {
        // Between two sizes there is nothing to buy: the one without trouble.
        return Some(if fa >= 0.0 { a } else { b });
    }
    // False position, the end that stays put losing weight each time (the Illinois rule).
    let mut side = 0;
    for _ in 0..60 {
        if (b - a).abs() <= 0.02 * knob.resolution(a) {
            break;
        }
        let c = (a * fb - b * fa) / (fb - fa);
        let fc = margin(c)?;
        if fc == 0.0 {
            return Some(c);
        }
        if (fc < 0.0) == (fb < 0.0) {
            (b, fb) = (c, fc);
            if side == -1 {
                fa *= 0.5;
            }
            side = -1;
        } else {
            (a, fa) = (c, fc);
            if side == 1 {
                fb *= 0.5;
            }
            side = 1;
        }
        if fc.abs() < 1e-9 {
            return Some(c);
        }
    }
    Some(if fa.abs() < fb.abs() { a } else { b })
}

fn reasons(model: &Model, piece: &Piece, witness: &Witness) -> Vec<Reason> {
    let (net, link) = (&witness.net, model.link());
    let source = SettledSource::of(model, piece);
    let mut reasons = Vec::new();
    let line_v = source.set_v - source.droop_ohm * net.alternator_a;
    let short_v = line_v - net.sb_v;
    let form_knows = source.starter.is_some();
    if short_v > OFF_LINE_V {
        let gives_a = net.alternator_a;
        reasons.push(Reason::AlternatorAtItsLimit { gives_a, volts_v: short_v, form_knows });
    }
    if short_v <= OFF_LINE_V || form_knows {
        let more_a = net.starter_a - source.starter_a(net.input_a);
        let volts_v = source.posts_v(net.input_a) - net.sb_v;
        if volts_v.abs() > NOTHING_V {
            reasons.push(Reason::StarterStillRising { more_a, volts_v });
        }
    }
    if net.input_a > 0.0 {
        let cold_ohm = link.input_run.resistance_ohm() + piece.input_joint_extra_ohm;
        let more_ohm = (net.sb_v - net.in_v) / net.input_a - cold_ohm;
        let volts_v = more_ohm * net.input_a;
        if volts_v.abs() > NOTHING_V {
            reasons.push(Reason::WarmCopper { more_ohm, volts_v });
        }
    }
    let limit_a = link.converter.output_limit_a;
    let input_limited = net.input_a >= 0.999 * link.converter.input_limit_a;
    if net.output_a < 0.995 * limit_a && !input_limited {
        reasons.push(Reason::OutputUnderLimit { gives_a: net.output_a, limit_a });
    }
    reasons
}
