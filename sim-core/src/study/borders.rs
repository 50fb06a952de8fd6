//! Borders between outcomes, what the closed forms say of them, and why the two differ.

use super::case::Case;
use super::closed_forms::Form;
use super::cycles::Lines;
use super::distance::Seen;
use super::knobs::{Knob, Part};
use super::outcome::{Outcome, Witness, WitnessOf};
use super::reasons::{Reason, at_absorption_end, at_drop_out, at_run_on};
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
    /// Whether the two outcomes take turns between `low` and `high`, which is then a band: start-up cycles come one by one,
    /// and each new one puts the last drop-out on the other side of the line that tells the outcomes apart.
    pub takes_turns: bool,
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

/// Borders that lie together within this share of their value are one: between them outcomes take turns.
const FRINGE: f64 = 5e-3;

/// All borders between neighbours that were run.
pub(super) fn edges(case: &Case, knob: &Knob, seen: &[Run], fallback: Option<Witness>) -> Vec<Edge> {
    let brackets = brackets(seen, knob);
    let edge = |Bracket { low: (low, below), high: (high, above), takes_turns }| {
        let mut edge = Edge {
            low,
            high,
            below: below.outcome,
            above: above.outcome,
            takes_turns,
            forms: Vec::new(),
            reasons: Vec::new(),
        };
        // The side that drops out has a moment to read.
        let dropped = [(low, below), (high, above)]
            .into_iter()
            .find_map(|(v, s)| Some((v, s.witness.filter(|x| x.of == WitnessOf::DropOut)?)));
        let at_edge = dropped.or(below.witness.or(above.witness).or(fallback).map(|x| (low, x)));
        explain(&mut edge, case, knob, at_edge);
        explain_run_on(&mut edge, knob, seen, [&below, &above]);
        edge
    };
    brackets.into_iter().map(edge).collect()
}

type Run = (f64, Seen);

/// Two runs with a border between them.
#[derive(Clone, Copy)]
struct Bracket {
    low: Run,
    high: Run,
    takes_turns: bool,
}

/// Pairs of runs with a border between them. Those over which two outcomes take turns are one band; those of one fringe are
/// joined, slivers within it are not told.
fn brackets(seen: &[Run], knob: &Knob) -> Vec<Bracket> {
    let joins = knob.sizes.is_empty();
    let differ = |n: &usize| seen[*n].1.outcome != seen[n + 1].1.outcome;
    let pairs: Vec<usize> = (0..seen.len().saturating_sub(1)).filter(differ).collect();
    let mut bands: Vec<(usize, usize)> = Vec::new();
    let mut rest = &pairs[..];
    while let [first, later @ ..] = rest {
        let mut many = 1;
        let mut last = *first;
        for next in later.iter().take_while(|_| joins) {
            if !take_turns(seen, last, *next) {
                break;
            }
            (last, many) = (*next, many + 1);
        }
        // A band has two sides: with one outcome on both its last passage is a border of its own.
        many -= usize::from(many % 2 == 0);
        bands.push((*first, rest[many - 1]));
        rest = &rest[many..];
    }
    let mut found: Vec<Bracket> = Vec::new();
    for (first, last) in bands {
        let (low, high) = (seen[first], seen[last + 1]);
        // Narrower than that it is told by one figure.
        let takes_turns = first != last && high.0 - low.0 > 3.0 * knob.resolution(low.0);
        match found.last_mut() {
            Some(before) if joins && high.0 - before.low.0 <= FRINGE * low.0.abs() => {
                let pair = |b: &Bracket| Lines::between(b.low.1.outcome, b.high.1.outcome);
                let next = Bracket { low, high, takes_turns };
                let same = pair(before).is_some() && pair(before) == pair(&next);
                before.high = high;
                before.takes_turns |=
                    takes_turns || same && high.0 - before.low.0 > 3.0 * knob.resolution(low.0);
            }
            _ => found.push(Bracket { low, high, takes_turns }),
        }
    }
    found.retain(|b| b.low.1.outcome != b.high.1.outcome);
    found
}

/// Whether two borders, each between a run and the next, are passages of one line by the last drop-out.
fn take_turns(seen: &[Run], one: usize, next: usize) -> bool {
    let lines = |n: usize| Lines::between(seen[n].1.outcome, seen[n + 1].1.outcome);
    let between = &seen[one + 1..=next];
    lines(one).is_some_and(|l| lines(next) == Some(l) && between.iter().all(|(_, s)| s.cycles.near(l)))
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
        Some(form.margin(&model, &piece, out_v)).filter(|m| m.is_finite())
    };
    let ends_on_tail = [edge.below, edge.above].contains(&Outcome::AbsorptionEndsOnTail);
    if let Some((value, witness)) = moment {
        edge.reasons = match (witness.of, turned(value)) {
            (WitnessOf::DropOut, Some((model, profile))) => {
                at_drop_out(&model, &piece_of(&profile, Some(witness.piece)), &witness)
            }
            (WitnessOf::AbsorptionEnd, Some((model, _))) if ends_on_tail => {
                at_absorption_end(&model, &witness)
            }
            _ => Vec::new(),
        };
    }
    for form in worth_showing(edge, knob) {
        let at = root(knob, edge.at(), &|value| margin(form, value));
        edge.forms.push(Said { form, at });
    }
}

/// Sets (c6) beside a border of run-on. It starts from the battery as it stands at the key-off, which every run has its own
/// of: the margin is read off the runs that were made, and its passage taken straight between two of them. Runs lie the
/// closer the nearer they are to the border.
fn explain_run_on(edge: &mut Edge, knob: &Knob, seen: &[Run], sides: [&Seen; 2]) {
    let runs_on = |s: &Seen| s.outcome == Outcome::RunsOn;
    if !sides.iter().any(|s| runs_on(s)) {
        return;
    }
    let margins: Vec<(f64, f64)> = seen.iter().filter_map(|(v, s)| Some((*v, s.run_on?.margin_v))).collect();
    let near = edge.at();
    let at = nearest_passage(&margins, near).map(|((a, fa), (b, fb))| {
        if knob.sizes.is_empty() {
            a + (b - a) * fa / (fa - fb)
        } else if fa >= 0.0 {
            a
        } else {
            b
        }
    });
    edge.forms.push(Said { form: Form::RunsOn, at });
    let told = sides.iter().find(|s| !runs_on(s) && s.run_on.is_some()).or(sides.iter().find(|s| runs_on(s)));
    if let Some(run_on) = told.and_then(|s| s.run_on.as_ref()) {
        edge.reasons = at_run_on(run_on);
    }
}

/// The two neighbours nearest to a value between which a margin changes its sign.
fn nearest_passage(margins: &[(f64, f64)], near: f64) -> Option<((f64, f64), (f64, f64))> {
    let crossings = margins.windows(2).filter(|w| (w[0].1 < 0.0) != (w[1].1 < 0.0));
    let away = |w: &[(f64, f64)]| (near.clamp(w[0].0, w[1].0) - near).abs();
    crossings.min_by(|a, b| away(a).total_cmp(&away(b))).map(|w| (w[0], w[1]))
}

/// The piece that a moment lies in, else the drive's longest with the engine running.
fn piece_of(profile: &Profile, index: Option<usize>) -> Piece {
    let pieces = profile.pieces();
    let longest = || {
        let length = |p: &Piece| p.end.ns() - p.start.ns();
        pieces.iter().filter(|p| p.engine_runs()).max_by_key(length)
    };
    index.map(|n| pieces.at(n.min(pieces.len() - 1))).or_else(longest).unwrap_or_else(|| pieces.at(0))
}

fn worth_showing(edge: &Edge, knob: &Knob) -> Vec<Form> {
    let has = |wanted: Outcome| edge.below == wanted || edge.above == wanted;
    let mut forms = Vec::new();
    if has(Outcome::KeepsDroppingOut) || has(Outcome::DropsOutAtFirst) || has(Outcome::StaysOff) {
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
    if has(Outcome::AbsorptionEndsOnTail) && knob.part == Part::HouseLoad {
        forms.push(Form::TailReached);
    }
    forms
}

/// Where a closed form's margin is nothing, nearest to `near`.
fn root(knob: &Knob, near: f64, margin: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    let values: Vec<(f64, f64)> = knob.grid.iter().filter_map(|v| Some((*v, margin(*v)?))).collect();
    let ((mut a, mut fa), (mut b, mut fb)) = nearest_passage(&values, near)?;
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
