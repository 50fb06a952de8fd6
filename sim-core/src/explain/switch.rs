//! Every switching of the unit with what fired, where the drop sat and what had changed.

use super::Scene;
use super::change::{Change, between};
use super::drops::Drops;
use super::kind::Kind;
use super::moment::Moment;
use super::part::is_restart;
use super::story::Family;
use crate::record::event::{Cause, Event, EventKind};
use crate::state::{CASE_C, INPUT_CABLE_C, WINDING_C};
use crate::time::Instant;
use serde::Serialize;

/// What the engine was doing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "engine")]
pub enum Engine {
    /// It ran.
    Runs {
        /// For how long, s.
        for_s: f64,
    },
    /// The starter motor turned.
    Cranks,
    /// It stood.
    Stands {
        /// How long since it ran, s; `None` where it had not run yet.
        for_s: Option<f64>,
    },
}

/// What the unit would have seen at a drop-out, with one thing changed; all with the alternator's load taken up, V.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Probes {
    /// As it was.
    pub as_it_was_v: f64,
    /// With itself held off.
    pub held_off_v: f64,
    /// With no resistance in the input cable.
    pub without_cable_v: f64,
    /// Behind an alternator that can give any current.
    pub without_ceiling_v: f64,
    /// Under the highest set-point since it came on: that set-point, and what it would have seen.
    pub set_point_back: Option<(f64, f64)>,
}

/// One switching of the unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Switch {
    /// When.
    pub t: Instant,
    /// Whether it came on; else it dropped out.
    pub on: bool,
    /// What fired, and for how long it had held.
    pub cause: Cause,
    /// What the engine was doing.
    pub engine: Engine,
    /// Where the drop sat just before.
    pub drops: Option<Drops>,
    /// Volts at the starter posts just after: without the unit's current, where it dropped out.
    pub posts_after_v: f64,
    /// Volts at the input just after.
    pub input_after_v: f64,
    /// What changed just before; of a drop-out, what had to change back for the unit to stay on.
    pub changed: Vec<Change>,
    /// What the network says of a drop-out with the engine running.
    pub probes: Option<Probes>,
    /// What it belongs to.
    pub family: Family,
    /// Kinds of a drop-out, as far as its own moment shows them.
    pub kinds: Vec<Kind>,
    /// When it had come on, of a drop-out.
    pub on_since: Option<Instant>,
}

/// Fall of the set-point, V, from which it is a cause of its own and not a waver.
const FELL_V: f64 = 0.2;
/// A drop-out this soon after the soft start is the unit's own doing, s.
const SOON_S: f64 = 60.0;
/// Share of the drop from which one side is named alone; under one less this, the other.
pub(super) const MOST_OF_IT: f64 = 0.6;
/// Drop from set-point to starter posts under which a source that holds its set-point is well, V (common practice for the
/// drop allowed in a charging circuit, from memory, no source).
const SOURCE_V: f64 = 0.5;
/// Time on after which the starter battery counts as carrying the unit, s.
const CARRIES_S: f64 = 30.0;
/// Time after an engine start within which the alternator still takes up its load, s.
const PICKS_UP_S: f64 = 5.0;
/// On for so long without a break, it was well, s.
const WELL_S: f64 = 60.0;
/// Most pieces of the drive that are looked through for the highest set-point.
const LOOK_BACK: usize = 200;

/// What is remembered on the way through the events.
#[derive(Default)]
struct Memory {
    key_on: Option<Instant>,
    key_off: Option<Instant>,
    running: bool,
    last_off: Option<Event>,
    on: Option<(Instant, bool)>,
    /// The longest time on so far in this drive.
    longest: Option<(Instant, Instant)>,
}

/// All switchings of a run.
pub(super) fn all(scene: &Scene) -> Vec<Switch> {
    let mut memory = Memory::default();
    let mut found = Vec::new();
    for event in &scene.run.events {
        match event.kind {
            EventKind::KeyOn => {
                if !is_restart(memory.key_off, event.t) {
                    memory.longest = None;
                }
                (memory.key_on, memory.running) = (Some(event.t), true);
            }
            EventKind::KeyOff => (memory.key_off, memory.running) = (Some(event.t), false),
            EventKind::UnitOn => {
                found.extend(came_on(scene, event, &memory));
                memory.on = Some((event.t, memory.running));
            }
            EventKind::UnitOff => {
                found.extend(dropped_out(scene, event, &memory));
                let longer =
                    |on: Instant| memory.longest.is_none_or(|(from, to)| event.t.since(on) > to.since(from));
                if let Some((on, _)) = memory.on.filter(|(on, _)| longer(*on)) {
                    memory.longest = Some((on, event.t));
                }
                memory.last_off = Some(*event);
                memory.on = None;
            }
            _ => {}
        }
    }
    found
}

fn engine(m: &Moment, t: Instant, memory: &Memory) -> Engine {
    // At the instant of a key the moment before it still shows the engine as it was.
    if m.mode.cranking() {
        Engine::Cranks
    } else if memory.running {
        Engine::Runs { for_s: memory.key_on.map_or(0.0, |k| t.since(k)) }
    } else {
        Engine::Stands { for_s: memory.key_off.map(|k| t.since(k)) }
    }
}

fn came_on(scene: &Scene, event: &Event, memory: &Memory) -> Option<Switch> {
    let now = Moment::before(scene, event.t)?;
    let rule = &scene.model.link().start_stop;
    let mut changed = Vec::new();
    if let Cause::Signal { live } = event.cause {
        changed.push(Change::Signal { live });
    }
    let since = |t: Instant| event.t.since(t);
    // What holds now has held for the delay: look at the moment before that.
    let began = event.t.plus_s(-rule.turn_on_delay_s - 0.5).max(scene.run.span.0);
    if let Some(off) = memory.last_off.filter(|off| since(off.t) <= rule.turn_on_delay_s + 1.0) {
        changed.push(Change::DropGone { by_v: off.after.in_v - off.before.in_v });
    } else if let Some(key) =
        memory.key_on.filter(|k| memory.running && since(*k) <= rule.turn_on_delay_s + 120.0)
    {
        changed.push(Change::KeyOn { ago_s: since(key) });
    }
    if changed.is_empty()
        && let Some(then) = Moment::at(scene, began)
    {
        changed.extend(between(&then, &now));
    }
    if now.net.starter_source_a > 0.0 && !memory.running {
        changed.push(Change::Sun { amps: now.net.starter_source_a });
    }
    Some(Switch {
        t: event.t,
        on: true,
        cause: event.cause,
        engine: engine(&now, event.t, memory),
        drops: Some(Drops::of(&now)),
        posts_after_v: event.after.sb_v,
        input_after_v: event.after.in_v,
        changed,
        probes: None,
        family: if memory.running { Family::Driving } else { Family::Parked },
        kinds: Vec::new(),
        on_since: None,
    })
}

fn dropped_out(scene: &Scene, event: &Event, memory: &Memory) -> Option<Switch> {
    let now = Moment::before(scene, event.t)?;
    let (on_since, on_driving) = memory.on.unwrap_or((scene.run.span.0, memory.running));
    let mut switch = Switch {
        t: event.t,
        on: false,
        cause: event.cause,
        engine: engine(&now, event.t, memory),
        drops: Some(Drops::of(&now)),
        posts_after_v: event.after.sb_v,
        input_after_v: event.after.in_v,
        changed: Vec::new(),
        probes: None,
        family: Family::Driving,
        kinds: Vec::new(),
        on_since: Some(on_since),
    };
    let key_off = memory.key_off.filter(|_| !memory.running);
    // On through a stop and gone just after it: cranking and an alternator that only picks up are part of the stop.
    let rides =
        |held_s: f64| memory.key_on.is_some_and(|k| on_since < k && event.t.since(k) < held_s + PICKS_UP_S);
    match (event.cause, switch.engine) {
        (Cause::InputHeld { held_s, .. }, Engine::Runs { .. }) if rides(held_s) => {
            switch.family = if on_driving { Family::Stop } else { Family::Parked };
            switch.changed = vec![Change::Crank];
        }
        (Cause::Heat { case_c, .. }, _) => {
            switch.family = Family::Heat;
            switch.kinds = vec![Kind::Heat];
            switch.changed = vec![Change::Heat { case_c }];
        }
        (Cause::Signal { live }, Engine::Runs { .. }) => {
            switch.family = Family::Signal;
            switch.kinds = vec![Kind::Signal];
            switch.changed = vec![Change::Signal { live }];
        }
        (Cause::InputHeld { threshold_v, held_s, .. }, Engine::Runs { .. }) => {
            let mut found = Found::of(scene, &now, threshold_v, event.t.plus_s(-held_s), on_since);
            // Nothing since it came on: what has changed, however slowly, since it was last on for long.
            if found.changed.iter().all(|c| matches!(c, Change::OwnRamp { .. }))
                && let Some(well) = memory.longest.and_then(|on| was_well(scene, on))
            {
                let slow = since_well(&well, &now, threshold_v);
                if !slow.is_empty() {
                    found.changed = slow;
                }
            }
            (switch.changed, switch.kinds) = (found.changed, found.kinds);
            switch.probes = Some(found.probes);
        }
        // Nothing that the unit is set to: its supply was gone.
        (Cause::Posts { .. }, _) => switch.family = if on_driving { Family::Stop } else { Family::Parked },
        (_, Engine::Cranks) => {
            switch.family = if on_driving { Family::Stop } else { Family::Parked };
            switch.changed = vec![Change::Crank];
        }
        _ => {
            switch.family = if on_driving { Family::Stop } else { Family::Parked };
            let ago = key_off.filter(|_| on_driving).map(|k| Change::KeyOff { ago_s: event.t.since(k) });
            switch.changed = vec![ago.unwrap_or(Change::OwnRamp { input_a: now.net.input_a })];
        }
    }
    Some(switch)
}

/// What a voltage drop-out with the engine running comes to.
struct Found {
    changed: Vec<Change>,
    kinds: Vec<Kind>,
    probes: Probes,
}

impl Found {
    fn of(scene: &Scene, now: &Moment, off_v: f64, began: Instant, on_since: Instant) -> Found {
        let thens = earlier(scene, began, on_since);
        let mut changed: Vec<Change> = Vec::new();
        let mut fell = None;
        for then in &thens {
            for change in between(then, now) {
                let cures = restored(now, then, &change).seen(|_| ()).stands(off_v);
                let known =
                    changed.iter().any(|c| std::mem::discriminant(c) == std::mem::discriminant(&change));
                if cures && !known {
                    changed.push(change);
                }
                if cures
                    && let Change::SetPoint { from_v, to_v } = change
                    && from_v - to_v > FELL_V
                {
                    fell = Some((from_v, to_v));
                }
            }
        }
        let back = thens
            .iter()
            .filter(|t| t.commanded_v() > now.commanded_v())
            .max_by(|a, b| a.set_point_v.total_cmp(&b.set_point_v))
            .map(|t| (t.set_point_v, now.with_set_point_of(t).with_starter_of(t).seen(|_| ()).v));
        let as_it_was = now.seen(|_| ());
        let without_cable = now.seen(|b| b.starter.cable_ohm = 0.0);
        let without_ceiling = now.seen(|b| {
            b.starter.sources[0].ceiling = crate::network::source::Ceiling::Current(1e4);
        });
        let probes = Probes {
            as_it_was_v: as_it_was.v,
            held_off_v: now.seen(|b| b.unit.on = false).v,
            without_cable_v: without_cable.v,
            without_ceiling_v: without_ceiling.v,
            set_point_back: back,
        };
        let drops = Drops::of(now);
        let kinds = if now.piece.input_open || now.mode.open.input() {
            changed = vec![Change::CableOpened];
            vec![Kind::OpenCable]
        } else if as_it_was.stands(off_v) {
            // Settled, it would have stood: something faster than this looks at.
            Vec::new()
        } else if fell.is_some() || drops.set_point_v.is_some_and(|v| v < off_v) {
            vec![Kind::SetPoint]
        } else {
            located(&drops, without_cable.stands(off_v), without_ceiling.stands(off_v))
        };
        if changed.is_empty() && now.since_on_s < scene.model.link().converter.ramp_s + SOON_S {
            changed.push(Change::OwnRamp { input_a: now.net.input_a });
        }
        Found { changed, kinds, probes }
    }
}

/// A moment at which it was on and well, from the longest time on before.
fn was_well<'a>(scene: &Scene<'a>, (from, to): (Instant, Instant)) -> Option<Moment<'a>> {
    let long_s = to.since(from);
    let at = from.plus_s((0.5 * long_s).min(CARRIES_S));
    (long_s >= WELL_S).then(|| Moment::at(scene, at)).flatten().filter(|m| m.mode.alternator_turns())
}

/// What has changed since it was well, without which it would have stayed on: one thing, or all of them together.
fn since_well(well: &Moment, now: &Moment, off_v: f64) -> Vec<Change> {
    let all = between(well, now);
    let one = |c: &&Change| restored(now, well, c).seen(|_| ()).stands(off_v);
    let alone: Vec<Change> = all.iter().filter(one).copied().collect();
    if !alone.is_empty() {
        return alone;
    }
    let before = all.iter().fold(*now, |m, change| restored(&m, well, change));
    if before.seen(|_| ()).stands(off_v) { all } else { Vec::new() }
}

/// Kinds by where the drop sits.
fn located(drops: &Drops, cable_cures: bool, ceiling_cures: bool) -> Vec<Kind> {
    let cable = drops.cable_share().unwrap_or(0.5);
    let source_well = drops.alternator_v.is_some_and(|v| v < SOURCE_V);
    let both = vec![Kind::OwnDrop, Kind::WeakSource];
    match (ceiling_cures, cable_cures) {
        // At its limit, and that is what takes it under turn-off: the run is named beside it where it drops as much.
        (true, _) if cable < MOST_OF_IT => vec![Kind::WeakSource],
        (true, _) => both,
        (false, true) if cable >= MOST_OF_IT || source_well => vec![Kind::OwnDrop],
        (false, _) if cable <= 1.0 - MOST_OF_IT => vec![Kind::WeakSource],
        (false, true) => both,
        // Neither alone would be enough.
        (false, false) => both,
    }
}

/// Earlier moments: as it came on, before the conditions of now, under the highest set-point; the turn-on delay counts too,
/// since what held then is what brought the unit on.
fn earlier<'a>(scene: &Scene<'a>, began: Instant, on_since: Instant) -> Vec<Moment<'a>> {
    let pieces = scene.profile.pieces();
    let delay_s = scene.model.link().start_stop.turn_on_delay_s;
    let called = on_since.plus_s(-delay_s).max(scene.run.span.0);
    let (first, last) = (scene.profile.index_at(called), scene.profile.index_at(began));
    // On for a while, so that the starter battery carries the unit.
    let settled = on_since.plus_s((0.5 * began.since(on_since)).clamp(0.0, CARRIES_S));
    let mut thens: Vec<Moment> = Moment::at(scene, settled).into_iter().collect();
    if last > first && pieces.at(last).start > on_since {
        thens.extend(Moment::before(scene, pieces.at(last).start));
    }
    let back = first.max(last.saturating_sub(LOOK_BACK));
    let before = |n: usize| pieces.at(n).end.plus_ns(-1);
    let set_point_v = |n: usize| scene.run.trace.set_point_v_at(scene.model, scene.profile, before(n));
    let highest = (back..last)
        .filter_map(|n| Some((n, set_point_v(n).filter(|v| v.is_finite())?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .and_then(|(n, _)| Moment::at(scene, before(n)));
    thens.extend(highest);
    thens.extend(Moment::at(scene, called).filter(|m| m.set_point_v.is_finite()));
    thens.retain(|m| m.mode.alternator_turns());
    thens
}

/// A moment with one change undone. Where it is the source's, the starter battery is as it was then too: it follows the
/// source within seconds, and drained it would hide any source.
pub(super) fn restored<'a>(now: &Moment<'a>, then: &Moment, change: &Change) -> Moment<'a> {
    let mut m = *now;
    match change {
        Change::SetPoint { .. } => return now.with_set_point_of(then).with_starter_of(then),
        Change::Speed { .. } => {
            m.piece.engine_rpm = then.piece.engine_rpm;
            return m.with_starter_of(then);
        }
        Change::VehicleLoad { .. } => {
            m.piece.vehicle_load_a = then.piece.vehicle_load_a;
            return m.with_starter_of(then);
        }
        Change::HouseLoad { .. } => m.piece.house_load_w = then.piece.house_load_w,
        Change::Joint { .. } => m.piece.input_joint_extra_ohm = then.piece.input_joint_extra_ohm,
        Change::CableOpened => {
            m.piece.input_open = false;
            m.mode.open = then.mode.open;
        }
        Change::CableWarmed { .. } => {
            let conductors = INPUT_CABLE_C..INPUT_CABLE_C + crate::plant::cable::CONDUCTORS;
            m.y[conductors.clone()].copy_from_slice(&then.y[conductors]);
        }
        Change::AlternatorWarmed { .. } => m.y[WINDING_C] = then.y[WINDING_C],
        Change::Heat { .. } => m.y[CASE_C] = then.y[CASE_C],
        _ => {}
    }
    m
}
