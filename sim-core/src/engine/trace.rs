//! The trace: knots and coefficients are stored, volts and amps are evaluated when asked.
//!
//! Of a run in bounded memory only the first steps are stored; the rest is taken again when it is read (`engine/again.rs`).

use super::again::{Again, Mark, Step, Steps};
use crate::engine::dense::Dense;
use crate::engine::{Options, Record};
use crate::mode::Mode;
use crate::model::{Model, Piece, Profile};
use crate::network::{Bias, Net, Regime};
use crate::plant_view::Held;
use crate::state::Vector;
use crate::time::Instant;

/// One accepted step.
#[derive(Debug, Clone, Copy)]
pub struct Knot {
    /// Beginning.
    pub start: Instant,
    /// Accepted length, ns.
    pub ns: i64,
    /// Piece of the drive.
    pub piece: usize,
    /// Discrete state during the step.
    pub mode: Mode,
    /// Regime during the step.
    pub regime: Regime,
    /// States over the step.
    pub dense: Dense,
}

impl Knot {
    /// Places within the step at which to look for the greatest or smallest of something, ns: the ends and the quarters of
    /// every slice that its course falls into.
    pub fn places_ns(&self) -> impl Iterator<Item = i64> + use<> {
        let ns = self.ns;
        self.dense
            .slices_s(ns as f64 * 1e-9)
            .flat_map(move |(from_s, to_s)| {
                (0..=4)
                    .map(move |quarter| ((from_s + 0.25 * f64::from(quarter) * (to_s - from_s)) * 1e9) as i64)
            })
            .map(move |at| at.min(ns))
    }

    /// States where the step begins and, of a step that goes over many rows of a log, at its quarters.
    pub(super) fn looks(&self) -> impl Iterator<Item = (Instant, Vector)> + '_ {
        let more = if self.ns >= LONG_NS { 3 } else { 0 };
        std::iter::once((self.start, self.dense.y0)).chain((1..=more).map(|quarter| {
            let ns = quarter * (self.ns / 4);
            (self.start.plus_ns(ns), self.dense.at(ns as f64 * 1e-9))
        }))
    }
}

/// Steps of this length and more are looked at inside for what is highest.
const LONG_NS: i64 = 10_000_000_000;

/// The trace of a run.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    kept: Vec<Knot>,
    /// What follows on the kept steps, in a run in bounded memory.
    again: Option<Box<Again>>,
}

/// Everything at one instant.
#[derive(Debug, Clone, Copy)]
pub struct Sample {
    /// When.
    pub t: Instant,
    /// Slow states.
    pub state: Vector,
    /// Volts and amps.
    pub net: Net,
    /// What the alternator's regulator aims at, V; not a number while the alternator stands.
    pub set_point_v: f64,
    /// Discrete state.
    pub mode: Mode,
    /// Which limits rule.
    pub regime: Regime,
    /// Index of the drive's piece.
    pub piece: usize,
}

impl Trace {
    pub(crate) fn new(options: &Options) -> Trace {
        let again = (options.record == Record::Bounded).then(|| Box::new(Again::new(options)));
        Trace { kept: Vec::new(), again }
    }

    pub(crate) fn push(&mut self, knot: Knot) {
        match &mut self.again {
            Some(again) if again.begun() => again.pass(&knot),
            _ => self.kept.push(knot),
        }
    }

    /// Whether the run is to say how it stands before it goes on.
    pub(crate) fn wants_mark(&self) -> bool {
        self.again.as_ref().is_some_and(|a| a.wants_mark(self.kept.len()))
    }

    pub(crate) fn mark(&mut self, mark: Mark) {
        if let Some(again) = &mut self.again {
            again.mark(mark);
        }
    }

    pub(crate) fn into_kept(self) -> Vec<Knot> {
        self.kept
    }

    /// What is behind the kept steps, where there is anything.
    pub(super) fn behind(&self) -> Option<&Again> {
        self.again.as_deref().filter(|a| a.begun())
    }

    /// The steps that are kept: all of them in a run with [`Record::Everything`], the first in one with
    /// [`Record::Bounded`]; [`Trace::steps`] gives all of either.
    pub fn knots(&self) -> &[Knot] {
        &self.kept
    }

    /// How many steps there are.
    pub fn len(&self) -> usize {
        self.kept.len() + self.behind().map_or(0, Again::len)
    }

    /// Whether there are none, as in a run with [`Record::Summary`].
    pub fn is_empty(&self) -> bool {
        self.kept.is_empty()
    }

    /// All steps in order; those that are not kept are taken again, with the model and the drive of the run.
    pub fn steps<'a>(&'a self, model: &'a Model, profile: &'a Profile) -> Steps<'a> {
        Steps::new(self, model, profile)
    }

    /// The same from the step that holds an instant.
    pub fn steps_from<'a>(&'a self, model: &'a Model, profile: &'a Profile, from: Instant) -> Steps<'a> {
        Steps::from(self, model, profile, from)
    }

    /// When a state is highest at the beginnings of steps and the quarters of long ones, the first of equals, and how high.
    pub fn highest(&self, place: usize) -> Option<(Instant, f64)> {
        let kept = self.kept.iter().flat_map(|k| k.looks().map(|(t, y)| (t, y[place])));
        let behind = self.behind().into_iter().flat_map(|a| a.highest(place));
        kept.chain(behind).reduce(|a, b| if b.1 > a.1 { b } else { a })
    }

    /// Everything at an instant; at a jump, the side after it. `None` before the start and after the end.
    pub fn at(&self, model: &Model, profile: &Profile, t: Instant) -> Option<Sample> {
        self.within_step_at(model, profile, t, |knot, ns| sample(model, profile, knot, ns))
    }

    /// What the alternator's regulator aims at at an instant, V, as [`Sample::set_point_v`]: without the network's answer.
    pub(crate) fn set_point_v_at(&self, model: &Model, profile: &Profile, t: Instant) -> Option<f64> {
        self.within_step_at(model, profile, t, |knot, ns| {
            let piece = profile.pieces().at(row(profile, knot, ns));
            held(model, &piece, knot).set_point_v(&knot.dense.at(ns as f64 * 1e-9))
        })
    }

    fn within_step_at<T>(
        &self,
        model: &Model,
        profile: &Profile,
        t: Instant,
        read: impl Fn(&Knot, i64) -> T,
    ) -> Option<T> {
        let find = |knots: &[Knot]| {
            let after = knots.partition_point(|k| k.start <= t);
            let knot = knots.get(after.checked_sub(1)?)?;
            let ns = t.ns() - knot.start.ns();
            (ns <= knot.ns).then(|| read(knot, ns))
        };
        match self.behind().and_then(|a| Some((a, a.block_at(t)?))) {
            None => find(&self.kept),
            Some((again, n)) => find(&again.block(model, profile, n)),
        }
    }

    /// Everything `ns` into a step of this trace, its end included: the side before a jump there.
    pub(crate) fn in_step(&self, model: &Model, profile: &Profile, knot: &Knot, ns: i64) -> Sample {
        sample(model, profile, knot, ns)
    }

    /// Samples within a step for an integral over it, each with the seconds that it stands for: three-point
    /// Gauss-Legendre, exact to order six (textbook values), on every slice of its course. Steps end at every switching, so
    /// what is integrated is smooth.
    pub fn nodes<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        knot: &'a Knot,
    ) -> impl Iterator<Item = (Sample, f64)> + 'a {
        const NODES: [(f64, f64); 3] =
            [(0.112_701_665_379_258_3, 5.0 / 18.0), (0.5, 8.0 / 18.0), (0.887_298_334_620_741_7, 5.0 / 18.0)];
        knot.dense.slices_s(knot.ns as f64 * 1e-9).flat_map(move |(from_s, to_s)| {
            NODES.iter().map(move |&(place, weight)| {
                let long_s = to_s - from_s;
                let ns = ((from_s + place * long_s) * 1e9) as i64;
                (sample(model, profile, knot, ns), weight * long_s)
            })
        })
    }

    /// Samples for a picture or a table: every `step_s` seconds from the start, and both sides of every jump: of what
    /// switches, and of the drive's conditions.
    pub fn samples<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        step_s: f64,
    ) -> impl Iterator<Item = Sample> + 'a {
        self.sampled(self.steps(model, profile), model, profile, step_s, true)
    }

    /// The same from the step that holds an instant on.
    pub fn samples_from<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        step_s: f64,
        from: Instant,
    ) -> impl Iterator<Item = Sample> + 'a {
        self.sampled(self.steps_from(model, profile, from), model, profile, step_s, true)
    }

    /// The same with both sides of what switches alone: of a log the conditions change row by row.
    pub fn samples_at_switchings<'a>(
        &'a self,
        model: &'a Model,
        profile: &'a Profile,
        step_s: f64,
    ) -> impl Iterator<Item = Sample> + 'a {
        self.sampled(self.steps(model, profile), model, profile, step_s, false)
    }

    fn sampled<'a>(
        &'a self,
        steps: Steps<'a>,
        model: &'a Model,
        profile: &'a Profile,
        step_s: f64,
        conditions: bool,
    ) -> impl Iterator<Item = Sample> + 'a {
        let first = self.kept.first().map_or(Instant::ZERO, |k| k.start);
        let step_ns = ((step_s * 1e9) as i64).max(1);
        let mut steps = steps.peekable();
        let mut begins_jump = true;
        let mut rest: Option<(Step<'a>, i64)> = None;
        // Steps, cut at the ends of rows where conditions count: a step may go over several.
        let parts = std::iter::from_fn(move || {
            let (step, from) = rest.take().or_else(|| Some((steps.next()?, 0)))?;
            let number = row(profile, &step, from);
            let end =
                if conditions { profile.pieces().end_of(number).ns() - step.start.ns() } else { i64::MAX };
            let to = end.min(step.ns);
            let ends_jump = to < step.ns
                || steps
                    .peek()
                    .is_none_or(|next| switches(&step, next) || conditions && number != next.piece);
            if to < step.ns {
                rest = Some((step.clone(), to));
            }
            Some(Part {
                step,
                number,
                from,
                to,
                begins_jump: std::mem::replace(&mut begins_jump, ends_jump),
                ends_jump,
            })
        });
        parts.flat_map(move |part: Part<'a>| {
            let Part { step, number, from, to, begins_jump, ends_jump } = part;
            let start = step.start.ns() - first.ns();
            let grid = (start + from + step_ns - 1) / step_ns * step_ns;
            let inside = (0..)
                .map(move |k| grid + k * step_ns - start)
                .take_while(move |&at| at < to)
                .filter(move |&at| !(begins_jump && at == from));
            begins_jump.then_some(from).into_iter().chain(inside).chain(ends_jump.then_some(to)).map(
                move |ns| {
                    let number = if conditions { number } else { row(profile, &step, ns) };
                    sample_in(model, profile, &step, ns, number)
                },
            )
        })
    }
}

/// A stretch of a step between two samples of conditions.
struct Part<'a> {
    step: Step<'a>,
    number: usize,
    from: i64,
    to: i64,
    begins_jump: bool,
    ends_jump: bool,
}

/// Whether anything discrete changes between a step and the next.
fn switches(a: &Knot, b: &Knot) -> bool {
    a.mode.on != b.mode.on
        || a.mode.stage != b.mode.stage
        || a.mode.engine_runs != b.mode.engine_runs
        || a.mode.cranking() != b.mode.cranking()
        || a.mode.alternator_turns() != b.mode.alternator_turns()
        || a.mode.ramping() != b.mode.ramping()
        || a.mode.contact != b.mode.contact
        || a.mode.shed != b.mode.shed
        || a.mode.mat != b.mode.mat
        || a.mode.starter_dead != b.mode.starter_dead
        || a.mode.awake() != b.mode.awake()
        || a.mode.open != b.mode.open
}

/// The network's inputs at a sample, once the alternator has taken up its load: what a load line is drawn from.
pub fn settled_bias(model: &Model, profile: &Profile, s: &Sample) -> Bias {
    let since_on = if s.mode.on { s.t.since(s.mode.on_since) } else { 0.0 };
    Held::new(model, &profile.pieces().at(s.piece), s.mode, since_on).settled_bias(&s.state)
}

/// The row of the drive that holds `ns` into a step, its end included: a step may go over several.
fn row(profile: &Profile, knot: &Knot, ns: i64) -> usize {
    if ns == 0 {
        return knot.piece;
    }
    let inside = knot.start.plus_ns(ns.min(knot.ns - 1));
    let pieces = profile.pieces();
    if inside < pieces.end_of(knot.piece) { knot.piece } else { pieces.index_at(inside) }
}

fn held<'a>(model: &'a Model, piece: &'a Piece, knot: &Knot) -> Held<'a> {
    Held::new(model, piece, knot.mode, knot.start.since(knot.mode.on_since))
}

fn sample(model: &Model, profile: &Profile, knot: &Knot, ns: i64) -> Sample {
    sample_in(model, profile, knot, ns, row(profile, knot, ns))
}

/// The same under the conditions of a row.
fn sample_in(model: &Model, profile: &Profile, knot: &Knot, ns: i64, number: usize) -> Sample {
    let dt = ns as f64 * 1e-9;
    let state = knot.dense.at(dt);
    let piece = profile.pieces().at(number);
    let held = held(model, &piece, knot);
    let net = held.net(dt, &state, knot.regime);
    let set_point_v = held.set_point_v(&state);
    let (mode, regime) = (knot.mode, knot.regime);
    Sample { t: knot.start.plus_ns(ns), state, net, set_point_v, mode, regime, piece: number }
}
