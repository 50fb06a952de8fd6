//! A run in bounded memory: steps that are not kept are taken again when somebody reads them.
//!
//! The run says every now and then how it stands (a mark). A block of steps between two marks is simulated again from
//! the first of them, by the same code with the same inputs, so it comes out the same to the bit: nothing is thinned out,
//! and no reader needs to say beforehand what it will ask for. The last few blocks are held, since readers go forwards.

use super::trace::{Knot, Trace};
use crate::engine::{Options, Record, Standing, retake};
use crate::model::{Model, Profile};
use crate::state::Vector;
use crate::time::Instant;
use std::ops::Deref;
use std::sync::{Arc, Mutex};

/// Steps after which the next mark is due. Whoever asks for one instant has a whole block taken again.
const BLOCK: usize = 512;
/// Blocks that are held once they were taken again.
const HELD: usize = 8;

/// How a run stands before it goes on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mark {
    /// States, modes, timers, volts and amps.
    pub standing: Standing,
    /// Piece of the drive.
    pub piece: usize,
    /// Whether the last step ended with nothing flipped.
    pub calm: bool,
    /// Until when rows are held one by one.
    pub by_row_until: Instant,
    /// How often the unit came on, and since when that is counted.
    pub turn_ons: (Instant, u32),
    /// Length of the step before, where the next may be as long.
    pub carried_s: Option<f64>,
}

/// A stretch of steps that are not kept.
#[derive(Debug, Clone)]
struct Block {
    mark: Mark,
    steps: usize,
    /// Of each state the highest ([`Trace::highest`]), and when.
    highest: Vector,
    highest_at: [Instant; crate::state::N],
}

/// Everything behind the steps that are kept.
#[derive(Debug, Clone)]
pub(crate) struct Again {
    options: Options,
    blocks: Vec<Block>,
    held: HeldBlocks,
}

/// Blocks that were taken again, the latest last. A copy of a trace begins with none.
#[derive(Debug, Default)]
struct HeldBlocks(Mutex<Vec<(usize, Arc<Vec<Knot>>)>>);

impl Clone for HeldBlocks {
    fn clone(&self) -> Self {
        HeldBlocks::default()
    }
}

impl Again {
    pub(super) fn new(options: &Options) -> Again {
        let options = Options { record: Record::Everything, ..*options };
        Again { options, blocks: Vec::new(), held: HeldBlocks::default() }
    }

    /// Whether steps are no longer kept.
    pub(super) fn begun(&self) -> bool {
        !self.blocks.is_empty()
    }

    pub(super) fn wants_mark(&self, kept: usize) -> bool {
        self.blocks.last().map_or(kept >= self.options.most_kept, |b| b.steps >= BLOCK)
    }

    pub(super) fn mark(&mut self, mark: Mark) {
        let highest_at = [mark.standing.t; crate::state::N];
        self.blocks.push(Block { mark, steps: 0, highest: [f64::NEG_INFINITY; crate::state::N], highest_at });
    }

    /// Takes note of a step that is not kept.
    pub(super) fn pass(&mut self, knot: &Knot) {
        let Some(block) = self.blocks.last_mut() else { return };
        block.steps += 1;
        for (t, y) in knot.looks() {
            for (n, &value) in y.iter().enumerate() {
                if value > block.highest[n] {
                    (block.highest[n], block.highest_at[n]) = (value, t);
                }
            }
        }
    }

    pub(super) fn len(&self) -> usize {
        self.blocks.iter().map(|b| b.steps).sum()
    }

    pub(super) fn highest(&self, place: usize) -> impl Iterator<Item = (Instant, f64)> {
        self.blocks.iter().map(move |b| (b.highest_at[place], b.highest[place]))
    }

    /// The block that holds an instant; `None` before the first.
    pub(super) fn block_at(&self, t: Instant) -> Option<usize> {
        self.blocks.partition_point(|b| b.mark.standing.t <= t).checked_sub(1)
    }

    /// The steps of a block.
    pub(super) fn block(&self, model: &Model, profile: &Profile, n: usize) -> Arc<Vec<Knot>> {
        let lock = || self.held.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some((_, knots)) = lock().iter().find(|(held, _)| *held == n) {
            return knots.clone();
        }
        let until = self.blocks.get(n + 1).map_or(profile.end(), |b| b.mark.standing.t);
        let knots = Arc::new(retake(model, profile, &self.options, &self.blocks[n].mark, until));
        let mut held = lock();
        if held.len() >= HELD {
            held.remove(0);
        }
        held.push((n, knots.clone()));
        knots
    }
}

/// A step, kept or taken again.
#[derive(Debug, Clone)]
pub enum Step<'a> {
    /// Kept.
    Kept(&'a Knot),
    /// Taken again: a block of steps, and its place in it.
    Again(Arc<Vec<Knot>>, usize),
}

impl Deref for Step<'_> {
    type Target = Knot;

    fn deref(&self) -> &Knot {
        match self {
            Step::Kept(knot) => knot,
            Step::Again(block, n) => &block[*n],
        }
    }
}

/// All steps of a trace in order.
#[derive(Debug, Clone)]
pub struct Steps<'a> {
    trace: &'a Trace,
    model: &'a Model,
    profile: &'a Profile,
    kept: std::slice::Iter<'a, Knot>,
    /// The block that is being read, and the next step in it.
    block: Option<(Arc<Vec<Knot>>, usize)>,
    /// The block after it.
    next: usize,
}

impl<'a> Steps<'a> {
    pub(super) fn new(trace: &'a Trace, model: &'a Model, profile: &'a Profile) -> Steps<'a> {
        Steps { trace, model, profile, kept: trace.knots().iter(), block: None, next: 0 }
    }

    /// From the first step that ends after `from`.
    pub(super) fn from(trace: &'a Trace, model: &'a Model, profile: &'a Profile, from: Instant) -> Steps<'a> {
        let before = |knots: &[Knot]| knots.partition_point(|k| k.start.plus_ns(k.ns) <= from);
        let kept = &trace.knots()[before(trace.knots())..];
        let mut steps = Steps { kept: kept.iter(), ..Steps::new(trace, model, profile) };
        if let Some((again, n)) = trace.behind().and_then(|a| Some((a, a.block_at(from)?))) {
            let block = again.block(model, profile, n);
            let first = before(&block);
            (steps.block, steps.next) = (Some((block, first)), n + 1);
        }
        steps
    }
}

impl<'a> Iterator for Steps<'a> {
    type Item = Step<'a>;

    fn next(&mut self) -> Option<Step<'a>> {
        if let Some(knot) = self.kept.next() {
            return Some(Step::Kept(knot));
        }
        loop {
            if let Some((block, n)) = &mut self.block
                && *n < block.len()
            {
                *n += 1;
                return Some(Step::Again(block.clone(), *n - 1));
            }
            let again = self.trace.behind().filter(|a| self.next < a.blocks.len())?;
            self.block = Some((again.block(self.model, self.profile, self.next), 0));
            self.next += 1;
        }
    }
}
