//! The one pass over a run's events.

use super::spans::{
    Crank, Drive, DropOut, Ended, EngineSpan, OffCause, OnCause, Refused, RunOn, RunOnEnds, Span, StageSpan,
    TurnOff, TurnOn, UnitSpan,
};
use super::{A_STOP_S, Timeline};
use crate::engine::Run;
use crate::mode::{Refusal, Stage};
use crate::model::{Model, Piece, Profile};
use crate::record::event::{Bound, Cause, Event, EventKind, Side};
use crate::time::Instant;

/// How things stood as a run began: what its first event ends, or what never changed.
struct Began {
    driving: bool,
    on: bool,
    dead: bool,
    shed: bool,
    locked: bool,
    refused: Option<Refusal>,
}

impl Began {
    fn of(run: &Run) -> Began {
        let mode = &run.standing.mode;
        // What an event ends was there before it; with no event at all it is as it stands at the end.
        let first = |is: fn(EventKind) -> Option<bool>, at_end: bool| {
            run.events.iter().find_map(|e| is(e.kind)).map_or(at_end, |begins| !begins)
        };
        let refusal = |kind| match kind {
            EventKind::ChargeRefused { why } => Some(why.is_some()),
            _ => None,
        };
        Began {
            driving: first(
                |k| match k {
                    EventKind::KeyOn => Some(true),
                    EventKind::KeyOff => Some(false),
                    _ => None,
                },
                mode.engine_runs,
            ),
            on: first(
                |k| match k {
                    EventKind::UnitOn => Some(true),
                    EventKind::UnitOff => Some(false),
                    _ => None,
                },
                mode.on,
            ),
            dead: first(
                |k| match k {
                    EventKind::StarterDead { dead } => Some(dead),
                    _ => None,
                },
                mode.starter_dead,
            ),
            shed: first(
                |k| match k {
                    EventKind::LoadsShed { shed } => Some(shed),
                    _ => None,
                },
                mode.shed,
            ),
            locked: first(
                |k| match k {
                    EventKind::HeatLock { locked } => Some(locked),
                    _ => None,
                },
                mode.locked,
            ),
            // Why it was refused before the run began is not known any more: the commonest reason stands for it.
            refused: first(refusal, mode.refusal.is_some()).then(|| mode.refusal.unwrap_or(Refusal::Cold)),
        }
    }
}

/// Spans of something that is so or not.
struct Flag {
    since: Option<Instant>,
    spans: Vec<Span>,
}

impl Flag {
    fn new(is: bool, t: Instant) -> Flag {
        Flag { since: is.then_some(t), spans: Vec::new() }
    }

    fn set(&mut self, is: bool, t: Instant) {
        match (self.since, is) {
            (None, true) => self.since = Some(t),
            (Some(from), false) => {
                self.spans.push(Span { from, to: t });
                self.since = None;
            }
            _ => {}
        }
    }

    fn end(mut self, t: Instant) -> Vec<Span> {
        self.set(false, t);
        self.spans
    }
}

/// What is open on the way through the events.
struct Pass<'a> {
    run: &'a Run,
    model: &'a Model,
    profile: &'a Profile,
    line: Timeline,
    /// The engine since when, and its start with the lowest volts so far.
    engine: Option<(Instant, Option<Crank>)>,
    cranking: bool,
    unit: Option<(Instant, Option<TurnOn>)>,
    stage: Option<(Instant, Stage)>,
    left: Stage,
    run_on: Option<Instant>,
    refused: Option<(Instant, Refusal)>,
    /// The last drop-out that the unit has not come back from: index into `line.unit`, and time off so far with the engine
    /// running, s, counted to the instant beside it while it runs.
    off: Option<(usize, f64, Instant)>,
}

pub(super) fn build(run: &Run, model: &Model, profile: &Profile) -> Timeline {
    let (start, end) = run.span;
    let began = Began::of(run);
    let line = Timeline {
        span: Span { from: start, to: end },
        engine: Vec::new(),
        drives: Vec::new(),
        unit: Vec::new(),
        stages: Vec::new(),
        run_ons: Vec::new(),
        refused: Vec::new(),
        shed: Vec::new(),
        locked: Vec::new(),
        starter_dead: Vec::new(),
        house_full: Vec::new(),
        starter_full: Vec::new(),
        fuses_opened: Vec::new(),
    };
    let mut pass = Pass {
        run,
        model,
        profile,
        line,
        engine: None,
        cranking: false,
        unit: None,
        stage: None,
        left: Stage::Bulk,
        run_on: None,
        refused: began.refused.map(|why| (start, why)),
        off: None,
    };
    if began.driving {
        pass.engine_starts(start, None);
    }
    if began.on {
        pass.unit_comes_on(start, None);
    }
    let mut shed = Flag::new(began.shed, start);
    let mut locked = Flag::new(began.locked, start);
    let mut dead = Flag::new(began.dead, start);
    let mut full = [Flag::new(false, start), Flag::new(false, start)];
    for (n, event) in run.events.iter().enumerate() {
        let t = event.t;
        match event.kind {
            EventKind::LoadsShed { shed: is } => shed.set(is, t),
            EventKind::HeatLock { locked: is } => locked.set(is, t),
            EventKind::StarterDead { dead: is } => dead.set(is, t),
            EventKind::Bound { side, at } => full[usize::from(side == Side::House)].set(at == Bound::Full, t),
            _ => pass.see(n, event, dead.since.is_some()),
        }
    }
    let mut line = pass.end(end);
    line.shed = shed.end(end);
    line.locked = locked.end(end);
    line.starter_dead = dead.end(end);
    let [starter, house] = full.map(|b| b.end(end));
    (line.starter_full, line.house_full) = (starter, house);
    line
}

impl Pass<'_> {
    fn see(&mut self, n: usize, event: &Event, dead: bool) {
        let t = event.t;
        match event.kind {
            EventKind::KeyOn => {
                self.end_run_on(t, RunOnEnds::EngineStarts);
                let crank = Crank { at: t, seconds: 0.0, lowest_v: event.after.sb_v, dead };
                self.engine_starts(t, Some(crank));
                self.cranking = true;
            }
            EventKind::EngineRuns => self.end_cranking(event),
            EventKind::KeyOff => {
                self.end_cranking(event);
                self.engine_stops(t, Ended::KeyOff);
                self.run_on = self.unit.map(|_| t);
            }
            EventKind::UnitOn => {
                let cause =
                    if let Cause::Signal { .. } = event.cause { OnCause::Signal } else { OnCause::Volts };
                let driving = self.engine.is_some();
                self.unit_comes_on(t, Some(TurnOn { cause, driving, event: n }));
            }
            EventKind::UnitOff => self.unit_goes_off(n, event),
            EventKind::Stage { to } => {
                self.end_stage(t);
                self.stage = self.unit.map(|_| (t, to));
            }
            EventKind::FuseOpened { at } => self.line.fuses_opened.push((at, t)),
            EventKind::ChargeRefused { why } => {
                self.end_refused(t);
                self.refused = why.map(|why| (t, why));
            }
            _ => {}
        }
    }

    fn engine_starts(&mut self, t: Instant, crank: Option<Crank>) {
        if self.engine.is_some() {
            return;
        }
        let goes_on = self.line.drives.last().is_some_and(|d| t.since(d.span.to) <= A_STOP_S);
        if !goes_on {
            let span = Span { from: t, to: t };
            let first_on = self.unit.map(|_| t);
            self.close_off();
            self.line.drives.push(Drive { span, engine_s: 0.0, first_on, on_s: 0.0, off_again_s: 0.0 });
        }
        self.engine = Some((t, crank));
        if let Some((_, _, since)) = &mut self.off {
            *since = t;
        }
        let on = self.unit.is_some();
        if let Some(drive) = self.line.drives.last_mut().filter(|_| on) {
            drive.first_on.get_or_insert(t);
        }
    }

    fn end_cranking(&mut self, event: &Event) {
        if let Some((from, Some(crank))) = &mut self.engine
            && self.cranking
        {
            crank.seconds = event.t.since(*from);
            crank.lowest_v = crank.lowest_v.min(event.before.sb_v);
        }
        self.cranking = false;
    }

    fn engine_stops(&mut self, t: Instant, ended: Ended) {
        let Some((from, crank)) = self.engine.take() else { return };
        let drive = self.line.drives.len() - 1;
        let span = Span { from, to: t };
        self.line.engine.push(EngineSpan { span, ended, crank, drive });
        let on_s = self.unit.map_or(0.0, |(since, _)| t.since(since.max(from)));
        let d = &mut self.line.drives[drive];
        d.span.to = t;
        d.engine_s += span.seconds();
        d.on_s += on_s;
        if let Some((_, off_s, since)) = &mut self.off {
            *off_s += t.since(*since);
        }
    }

    fn unit_comes_on(&mut self, t: Instant, on: Option<TurnOn>) {
        self.close_off_at(t);
        self.unit = Some((t, on));
        let stages = &self.model.link().stages;
        self.stage = Some((t, if stages.resume { self.left } else { Stage::Bulk }));
        let driving = self.engine.is_some();
        if let Some(drive) = self.line.drives.last_mut().filter(|_| driving) {
            drive.first_on.get_or_insert(t);
        }
    }

    fn unit_goes_off(&mut self, n: usize, event: &Event) {
        let t = event.t;
        let Some((from, on)) = self.unit.take() else { return };
        self.end_stage(t);
        self.end_run_on(t, RunOnEnds::Off);
        let cause = match event.cause {
            Cause::InputHeld { .. } if self.line.fuses_opened.iter().any(|(at, _)| at.on_input()) => {
                OffCause::FuseOpened
            }
            Cause::InputHeld { .. } => OffCause::Volts,
            Cause::Heat { .. } => OffCause::Heat,
            Cause::Signal { .. } => OffCause::Signal,
            Cause::Posts { .. } | Cause::Spent { .. } => OffCause::StarterDead,
            _ => OffCause::Other,
        };
        let drive = self.line.drives.len().checked_sub(1).filter(|_| self.engine.is_some());
        let driving = drive.map(|drive| {
            let (engine_from, _) = self.engine.unwrap_or((t, None));
            let d = &mut self.line.drives[drive];
            d.on_s += t.since(from.max(engine_from));
            DropOut {
                since_start_s: t.since(d.span.from),
                conditions_worse: conditions_worse(self.model, self.profile, from, t),
                held_s: t.since(from),
                off_s: 0.0,
                drive,
            }
        });
        let off = TurnOff { t, cause, event: n, driving };
        self.line.unit.push(UnitSpan { span: Span { from, to: t }, on, off: Some(off) });
        self.off = driving.map(|_| (self.line.unit.len() - 1, 0.0, t));
    }

    /// Ends the time off after a drop-out, the unit being on again.
    fn close_off_at(&mut self, t: Instant) {
        let running = self.engine.is_some();
        if let Some((_, off_s, since)) = &mut self.off
            && running
        {
            *off_s += t.since(*since);
        }
        self.close_off();
    }

    fn close_off(&mut self) {
        let Some((unit, off_s, _)) = self.off.take() else { return };
        let Some(TurnOff { cause, driving: Some(drop_out), .. }) = &mut self.line.unit[unit].off else {
            return;
        };
        drop_out.off_s = off_s;
        if *cause == OffCause::Volts {
            self.line.drives[drop_out.drive].off_again_s += off_s;
        }
    }

    fn end_stage(&mut self, t: Instant) {
        if let Some((from, stage)) = self.stage.take() {
            self.left = stage;
            self.line.stages.push(StageSpan { stage, span: Span { from, to: t } });
        }
    }

    fn end_run_on(&mut self, t: Instant, ends: RunOnEnds) {
        if let Some(from) = self.run_on.take() {
            self.line.run_ons.push(RunOn { span: Span { from, to: t }, ends });
        }
    }

    fn end_refused(&mut self, t: Instant) {
        if let Some((from, why)) = self.refused.take() {
            self.line.refused.push(Refused { why, span: Span { from, to: t } });
        }
    }

    fn end(mut self, t: Instant) -> Timeline {
        self.engine_stops(t, Ended::RunEnds);
        self.close_off();
        self.end_stage(t);
        self.end_run_on(t, RunOnEnds::RunEnds);
        self.end_refused(t);
        if let Some((from, on)) = self.unit.take() {
            self.line.unit.push(UnitSpan { span: Span { from, to: t }, on, off: None });
        }
        debug_assert_eq!(t, self.run.span.1);
        self.line
    }
}

/// Whether the drive offers the unit less at `off` than it did at `on`.
fn conditions_worse(model: &Model, profile: &Profile, on: Instant, off: Instant) -> bool {
    let (then, now) = (profile.piece_at(on), profile.piece_at(off.plus_ns(-1)));
    // Under a rule what the engine does decides. That the battery is satisfied is no change of the drive.
    let set_v = |p: &Piece| match &model.alternator.rule {
        Some(rule) => rule.target_v(p.phase, false, false, p.air_c, p.vehicle_load_a),
        None => p.set_point_v,
    };
    set_v(&now) < set_v(&then) - 0.05
        || now.engine_rpm < 0.9 * then.engine_rpm
        || now.vehicle_load_a > then.vehicle_load_a + 1.0
        || now.starter_solar_a < then.starter_solar_a - 1.0
        || now.input_joint_extra_ohm > then.input_joint_extra_ohm
        || now.input_open
}
