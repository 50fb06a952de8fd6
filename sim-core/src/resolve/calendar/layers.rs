//! Layers of conditions over time, flattened into pieces: at each moment the highest layer that says something of a
//! condition is heard.
//!
//! Layers are laid in the order of time and flattened behind it, so that what is held is the pieces and the layers of the
//! moment: ten years of days are no more layers than one.

use super::super::drive::{Ground, Sample};
use crate::bounds::MOST_PIECES;
use crate::model::Piece;
use crate::model::pieces::Pieces;
use crate::scenario::Num;
use crate::scenario::drive::PieceSpec;
use crate::time::Instant;
use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::rc::Rc;

/// Which layer is heard before which; the later one in this order wins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Rank {
    /// Air and sun of a season.
    Season,
    /// A lay-up.
    LayUp,
    /// What a day says by clock time.
    During,
    /// Stop-start between drives.
    Between,
    /// A drive.
    Drive,
}

/// An engine, with what its drive states.
#[derive(Debug, Clone)]
pub(super) struct Engine {
    pub(super) sample: Sample,
    pub(super) spec: Rc<PieceSpec>,
}

/// What holds over a stretch.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    rank: Rank,
    from: Instant,
    to: Instant,
    spec: Rc<PieceSpec>,
    parked_a: Option<f64>,
    engine: Option<Sample>,
}

impl Layer {
    pub(super) fn engine(rank: Rank, span_s: (f64, f64), engine: Engine) -> Layer {
        let (from, to) = (Instant::from_s(span_s.0), Instant::from_s(span_s.1));
        Layer { rank, from, to, spec: engine.spec, parked_a: None, engine: Some(engine.sample) }
    }
}

/// Layers that are laid before those that can be are flattened.
const AT_ONCE: usize = 1 << 16;

/// The layers that are not flattened yet, where each day begins, and the pieces so far.
#[derive(Debug, Default)]
pub(super) struct Layers {
    all: Vec<Layer>,
    /// How many there may be before some are flattened.
    most: usize,
    days: Vec<(Instant, u32)>,
    /// Which of these days it is where the pieces end.
    day: usize,
    at: Instant,
    pieces: Pieces,
}

impl Layers {
    /// Whether there is room for more.
    fn room(&self) -> ControlFlow<()> {
        if self.all.len().max(self.pieces.len()) > MOST_PIECES {
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    }

    pub(super) fn push(&mut self, layer: Layer) {
        if layer.to > layer.from {
            self.all.push(layer);
        }
    }

    /// Lays a stretch of a drive; a row of a log that says what the one before it said only makes it longer.
    pub(super) fn drive(&mut self, span_s: (f64, f64), engine: Engine) {
        let layer = Layer::engine(Rank::Drive, span_s, engine);
        match self.all.last_mut() {
            Some(last)
                if last.rank == Rank::Drive
                    && last.to == layer.from
                    && last.engine == layer.engine
                    && Rc::ptr_eq(&last.spec, &layer.spec) =>
            {
                last.to = layer.to;
            }
            _ => self.push(layer),
        }
    }

    pub(super) fn conditions(
        &mut self,
        rank: Rank,
        span_s: (f64, f64),
        spec: Rc<PieceSpec>,
        parked_a: Option<f64>,
    ) {
        let (from, to) = (Instant::from_s(span_s.0), Instant::from_s(span_s.1));
        self.push(Layer { rank, from, to, spec, parked_a, engine: None });
    }

    /// Says that a day begins; days of a lay-up share the number of its first.
    pub(super) fn day(&mut self, from_s: f64, day: u32) {
        if self.days.last().is_none_or(|(_, last)| *last != day) {
            self.days.push((Instant::from_s(from_s), day));
        }
    }

    /// The pieces, once all is flattened.
    pub(super) fn pieces(self) -> Pieces {
        self.pieces
    }

    /// Flattens them to where nothing is laid before any more, if they have become many; says whether there is room.
    pub(super) fn flatten_many(&mut self, end_s: f64, ground: &Ground) -> ControlFlow<()> {
        if self.all.len() <= self.most.clamp(AT_ONCE, MOST_PIECES) {
            return ControlFlow::Continue(());
        }
        let room = self.flatten(end_s, ground);
        // Those that stay last longer: to look at them again and again would cost their square.
        self.most = 2 * self.all.len();
        room
    }

    /// Flattens them to an instant before which nothing is laid any more; says whether there is room.
    pub(super) fn flatten(&mut self, end_s: f64, ground: &Ground) -> ControlFlow<()> {
        let end = Instant::from_s(end_s);
        let mut turns: Vec<(Instant, bool, usize)> = Vec::with_capacity(2 * self.all.len());
        for (n, layer) in self.all.iter().enumerate() {
            turns.push((layer.from, true, n));
            turns.push((layer.to, false, n));
        }
        turns.sort_by_key(|t| t.0);
        let mut active: BTreeSet<(Rank, usize)> = BTreeSet::new();
        let mut turn = 0;
        while self.at < end {
            let at = self.at;
            while let Some(&(_, begins, n)) = turns.get(turn).filter(|t| t.0 <= at) {
                let key = (self.all[n].rank, n);
                if begins {
                    active.insert(key);
                } else {
                    active.remove(&key);
                }
                turn += 1;
            }
            while self.days.get(self.day + 1).is_some_and(|d| d.0 <= at) {
                self.day += 1;
            }
            let next = turns.get(turn).map_or(end, |t| t.0);
            let midnight = self.days.get(self.day + 1).map_or(end, |d| d.0);
            let to = next.min(midnight).min(end);
            let piece = self.shown(&active, ground);
            let day = self.days.get(self.day).map_or(0, |d| d.1);
            self.pieces.push(&Piece { start: at, end: to, day, ..piece });
            self.at = to;
            self.room()?;
        }
        self.all.retain(|layer| layer.to > end);
        self.room()
    }

    /// What the layers show together.
    fn shown(&self, active: &BTreeSet<(Rank, usize)>, ground: &Ground) -> Piece {
        let layers = || active.iter().map(|(_, n)| &self.all[*n]);
        let engine = layers().rev().find(|l| l.engine.is_some());
        let sample = engine.and_then(|l| l.engine).unwrap_or_default();
        let ignition = sample.rpm > 0.0 || sample.stop_start;
        let mut spec = PieceSpec::default();
        for layer in layers().filter(|l| l.engine.is_none()) {
            spec = spec.under(&layer.spec);
            spec.vehicle_load_a = layer.parked_a.map(Num::typed).or(spec.vehicle_load_a);
        }
        let parked_a = spec.vehicle_load_a.take().filter(|_| !ignition);
        if let Some(engine) = engine {
            spec = spec.under(&engine.spec);
        }
        // A gap in a drive's file is parked: neither the drive's own vehicle load holds in it nor a running one.
        if !ignition {
            spec.vehicle_load_a = parked_a;
        }
        ground.conditions(&spec, &sample)
    }
}
