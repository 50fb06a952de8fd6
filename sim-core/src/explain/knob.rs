//! What can be changed about a vehicle or its drive to see whether its trouble would not have happened.

use super::Scene;
use crate::judge::CableOf;
use crate::judge::guard_rails::{carries_a, least_turn_off_v, most_set_point_v};
use crate::judge::least_crank_v;
use crate::model::pieces::Pieces;
use crate::model::{Model, Piece, Profile, SignalUse};
use crate::plant::battery::Chemistry;
use crate::plant::cable::Cable;
use crate::plant::fuse::FusePlace;
use serde::Serialize;

/// A way to use a run signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SignalMode {
    /// The unit runs only with it, and then by voltage.
    Required,
    /// It counts as turn-on held.
    Either,
    /// With it a second pair of thresholds counts.
    SecondPair,
}

/// One thing that can be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Knob {
    /// Resistance taken out of the joints of a cable, Ω.
    Joints(CableOf),
    /// The input cable stays closed.
    CableClosed,
    /// The run signal stays live while the engine runs.
    SignalHeld,
    /// A run signal, used in one way.
    Signal(SignalMode),
    /// Resistance taken out of the input cable, Ω: joints first, then conductors.
    LessCable,
    /// Resistance taken out between alternator and starter battery, Ω.
    LessDroop,
    /// Copper of a cable, times what it has.
    Copper(CableOf),
    /// Rating of the fuses of a cable, A.
    Fuse(CableOf),
    /// Output current limit, A.
    OutputLimit,
    /// Turn-on delay, s: a shorter one.
    TurnOnDelay,
    /// Turn-off delay, s: a longer one.
    TurnOffDelay,
    /// Turn-on voltage, V: a higher one.
    TurnOn,
    /// Turn-on voltage, V: a lower one.
    TurnOnLower,
    /// Turn-off voltage, V: a higher one.
    TurnOff,
    /// Turn-off voltage, V: a lower one.
    TurnOffLower,
    /// Lowest set-point of the drive, V.
    SetPointFloor,
    /// Highest set-point of the drive, V.
    SetPointCap,
    /// Recharge voltage, V.
    Recharge,
    /// Absorption voltage, V.
    Absorption,
    /// Temperature of the house battery and the air around it, °C.
    HouseTemp,
    /// No sun or maintainer on the starter battery.
    Dark,
    /// The engine idles where it was stopped for a moment.
    KeepRunning,
    /// Slowest that the engine turns while it runs, rpm.
    Idle,
}

/// What a good joint has left, Ω; common practice, no source.
const GOOD_JOINTS_OHM: f64 = 5e-4;
/// A thresholds pair with a run signal where none is set, V a cell of a starter battery: 12.2 and 11.5 V of six, common
/// practice.
const SECOND_PAIR_V_PER_CELL: (f64, f64) = (12.2 / 6.0, 11.5 / 6.0);
/// Room that turn-on keeps over turn-off, V.
const BETWEEN_V: f64 = 0.2;
/// Fastest that an engine is let idle, rpm.
const FAST_RPM: f64 = 2000.0;
/// Highest turn-on that is looked at, V a cell: 15 V of six.
const HIGHEST_V_PER_CELL: f64 = 2.5;

impl Knob {
    /// Place in the order in which practice turns to it: a joint is mended, a run signal fitted, a cable laid, a limit turned
    /// down, a delay set, and only then a threshold moved.
    pub fn practice(self) -> u8 {
        match self {
            Knob::CableClosed | Knob::Joints(_) => 0,
            Knob::SignalHeld => 1,
            Knob::Signal(SignalMode::Either) => 2,
            Knob::Signal(SignalMode::SecondPair) => 3,
            Knob::Signal(SignalMode::Required) => 4,
            Knob::LessCable | Knob::LessDroop | Knob::Copper(_) => 5,
            Knob::Fuse(_) => 6,
            Knob::OutputLimit => 7,
            Knob::TurnOnDelay | Knob::TurnOffDelay => 8,
            Knob::TurnOn | Knob::TurnOnLower | Knob::TurnOff => 9,
            Knob::Recharge | Knob::Absorption | Knob::SetPointCap => 10,
            Knob::TurnOffLower => 11,
            Knob::SetPointFloor => 12,
            Knob::HouseTemp | Knob::Dark | Knob::KeepRunning | Knob::Idle => 13,
        }
    }

    /// The value now, and how far it may be moved; both the same where it cannot be; `None` for what is only there or not.
    pub(super) fn range(self, scene: &Scene) -> Option<(f64, f64)> {
        let (m, p) = (scene.model, scene.profile);
        let link = m.link();
        let (input, rule) = (&link.input_cable, &link.start_stop);
        let extra = extra_ohm(p);
        let cells = least_crank_v(m) / crate::judge::CRANKS_V_PER_CELL;
        let running = || p.pieces().iter().filter(|p| p.engine_runs()).map(|p| p.set_point_v);
        let rule_v = m.alternator.rule.iter().flat_map(|r| [r.accelerating_v, r.cruise_v, r.idle_v]);
        let up = |now: f64, most: f64| (now, most.max(now));
        let down = |now: f64, least: f64| (now, least.min(now));
        Some(match self {
            Knob::Joints(CableOf::Input) => up(0.0, input.joints_ohm + extra - GOOD_JOINTS_OHM),
            Knob::Joints(CableOf::Output) => up(0.0, link.output_cable.joints_ohm - GOOD_JOINTS_OHM),
            Knob::LessCable => (0.0, input.resistance_ohm() + extra),
            Knob::LessDroop => (0.0, 0.95 * m.alternator.droop_ohm),
            Knob::Copper(_) => (1.0, 6.0),
            Knob::Fuse(of) => {
                let rating_a = fuses(m, of).fold(f64::INFINITY, f64::min);
                let carries_a = carries_a((m, p))[usize::from(of == CableOf::Output)].unwrap_or(0.0);
                // Ratings that are easy to say, as all values are.
                let most_a = (carries_a.min(4.0 * rating_a) / self.step()).floor() * self.step();
                if rating_a.is_finite() { up(rating_a, most_a) } else { (0.0, 0.0) }
            }
            Knob::OutputLimit => down(link.converter.output_limit_a, 1.0),
            Knob::TurnOnDelay => down(rule.turn_on_delay_s, 5.0),
            Knob::TurnOffDelay => up(rule.turn_off_delay_s, 60.0),
            Knob::TurnOn => up(lower_turn_on_v(m), HIGHEST_V_PER_CELL * cells),
            Knob::TurnOnLower => {
                let least_v = least_turn_off_v(m).max(rule.turn_off_v) + BETWEEN_V;
                down(rule.turn_on_v, least_v)
            }
            Knob::TurnOff => up(rule.turn_off_v, rule.turn_on_v - BETWEEN_V),
            Knob::TurnOffLower => down(rule.turn_off_v, least_turn_off_v(m)),
            Knob::SetPointFloor => {
                up(running().chain(rule_v).fold(f64::INFINITY, f64::min), most_set_point_v(m))
            }
            Knob::SetPointCap => {
                let most = running().chain(rule_v).fold(f64::NEG_INFINITY, f64::max);
                down(most, rule.turn_on_v + BETWEEN_V)
            }
            Knob::Recharge => (link.stages.recharge_v, link.stages.recharge_v - 2.0),
            Knob::Absorption => (link.stages.absorption_v, link.stages.absorption_v - 2.0),
            Knob::HouseTemp => up(m.house.start(p.pieces().at(0).air_c).temp_c, 25.0),
            Knob::Idle => {
                let running = p.pieces().iter().map(|p| p.engine_rpm).filter(|rpm| *rpm > 0.0);
                let slowest = running.fold(f64::INFINITY, f64::min);
                if slowest.is_finite() { up(slowest, FAST_RPM) } else { (0.0, 0.0) }
            }
            Knob::CableClosed | Knob::SignalHeld | Knob::Signal(_) | Knob::Dark | Knob::KeepRunning => {
                return None;
            }
        })
    }

    /// Step of values that are easy to say, in the unit of the knob.
    pub(super) fn step(self) -> f64 {
        match self {
            Knob::Joints(_) | Knob::LessCable | Knob::LessDroop => 1e-3,
            Knob::OutputLimit | Knob::HouseTemp | Knob::TurnOffDelay => 1.0,
            Knob::TurnOnDelay | Knob::Fuse(_) => 5.0,
            Knob::Copper(_) => 0.25,
            Knob::Idle => 50.0,
            _ => 0.05,
        }
    }

    /// What must be left to turn-off for a value to do, V. Cables and loads are chosen with room (0.3 V: common practice, no
    /// source); a threshold set further than needed only costs charge.
    pub(super) fn to_spare(self) -> f64 {
        match self {
            Knob::Joints(_) | Knob::LessCable | Knob::LessDroop | Knob::OutputLimit | Knob::SetPointFloor => {
                0.3
            }
            _ => f64::NEG_INFINITY,
        }
    }

    /// A value that is easy to say, at least `edge` moved on by a little away from `now`, and no further than `most`.
    pub(super) fn rounded(self, (now, most): (f64, f64), edge: f64) -> f64 {
        let step = self.step();
        let steps = edge / step;
        let nice = if most >= now { (steps - 1e-6).ceil() * step } else { (steps + 1e-6).floor() * step };
        if most >= now { nice.min(most) } else { nice.max(most) }
    }

    /// The vehicle and the drive with this changed; `None` where there is nothing to change.
    pub(super) fn turned(self, scene: &Scene, value: f64) -> Option<(Model, Profile)> {
        let mut m = scene.model.clone();
        let pieces = scene.profile.pieces();
        let mut changed: Option<Box<dyn FnMut(Piece) -> Piece>> = None;
        let extra = extra_ohm(scene.profile);
        let less_extra =
            move |p: Piece| Piece { input_joint_extra_ohm: (p.input_joint_extra_ohm - value).max(0.0), ..p };
        let starter_cells = least_crank_v(&m) / crate::judge::CRANKS_V_PER_CELL;
        let link = &mut m.links[0];
        match self {
            Knob::Joints(CableOf::Input) => {
                changed = (extra > 0.0).then(|| Box::new(less_extra) as _);
                let joints_ohm = &mut link.input_cable.joints_ohm;
                *joints_ohm = (*joints_ohm - (value - extra).max(0.0)).max(0.0);
            }
            Knob::Joints(CableOf::Output) => {
                let joints_ohm = &mut link.output_cable.joints_ohm;
                *joints_ohm = (*joints_ohm - value).max(0.0);
            }
            Knob::LessCable => {
                changed = (extra > 0.0).then(|| Box::new(less_extra) as _);
                let cable = &mut link.input_cable;
                let left = (value - extra).max(0.0);
                let of_joints = left.min(cable.joints_ohm);
                cable.joints_ohm -= of_joints;
                let share = ((left - of_joints) / cable.conductor_ohm().max(1e-12)).min(1.0);
                for c in &mut cable.conductors {
                    c.ohm_20 *= 1.0 - share;
                }
            }
            Knob::LessDroop => m.alternator.droop_ohm -= value,
            Knob::Copper(CableOf::Input) => thicken(&mut link.input_cable, value),
            Knob::Copper(CableOf::Output) => thicken(&mut link.output_cable, value),
            Knob::Fuse(of) => {
                let cable = if of == CableOf::Input { &mut link.input_cable } else { &mut link.output_cable };
                let both = [&mut cable.battery_end_fuse, &mut cable.unit_end_fuse];
                for fuse in both.into_iter().flatten() {
                    fuse.rating_a = fuse.rating_a.max(value);
                }
            }
            Knob::OutputLimit => link.converter.output_limit_a = value,
            Knob::TurnOnDelay => link.start_stop.turn_on_delay_s = value,
            Knob::TurnOffDelay => link.start_stop.turn_off_delay_s = value,
            Knob::TurnOnLower => link.start_stop.turn_on_v = value,
            Knob::TurnOff | Knob::TurnOffLower => link.start_stop.turn_off_v = value,
            Knob::SetPointFloor => {
                changed = Some(Box::new(move |p| Piece { set_point_v: p.set_point_v.max(value), ..p }));
                m.alternator.rule = m.alternator.rule.map(|r| r.with_levels(|v| v.max(value)));
            }
            Knob::SetPointCap => {
                changed = Some(Box::new(move |p| Piece { set_point_v: p.set_point_v.min(value), ..p }));
                m.alternator.set_point_v = m.alternator.set_point_v.min(value);
                m.alternator.rule = m.alternator.rule.map(|r| r.with_levels(|v| v.min(value)));
            }
            Knob::TurnOn => {
                let rule = &mut link.start_stop;
                rule.turn_on_v = rule.turn_on_v.max(value);
                if let SignalUse::SecondPair { turn_on_v, .. } = &mut rule.signal {
                    *turn_on_v = turn_on_v.max(value);
                }
            }
            Knob::Recharge => link.stages.recharge_v = value,
            Knob::Absorption => {
                link.stages.absorption_v = value;
                link.stages.float_v = link.stages.float_v.min(value);
            }
            Knob::HouseTemp => {
                m.house.start_c = value;
                changed = Some(Box::new(move |p| Piece { air_c: p.air_c.max(value), ..p }));
            }
            Knob::Signal(mode) => {
                let (on, off) = SECOND_PAIR_V_PER_CELL;
                let pair =
                    SignalUse::SecondPair { turn_on_v: on * starter_cells, turn_off_v: off * starter_cells };
                let to = match mode {
                    SignalMode::Required => SignalUse::Required,
                    SignalMode::Either => SignalUse::Either,
                    SignalMode::SecondPair => pair,
                };
                if std::mem::discriminant(&to) == std::mem::discriminant(&link.start_stop.signal) {
                    return None;
                }
                link.start_stop.signal = to;
                changed = Some(Box::new(|p| Piece { run_signal: p.engine_runs(), ..p }));
            }
            Knob::Dark => changed = Some(Box::new(|p| Piece { starter_solar_a: 0.0, ..p })),
            Knob::KeepRunning => changed = Some(Box::new(keep_running(pieces))),
            Knob::SignalHeld => {
                if link.start_stop.signal == SignalUse::Ignored {
                    return None;
                }
                changed = Some(Box::new(|p| Piece { run_signal: p.run_signal || p.engine_runs(), ..p }));
            }
            Knob::CableClosed => changed = Some(Box::new(|p| Piece { input_open: false, ..p })),
            Knob::Idle => {
                let faster = move |p: Piece| Piece {
                    engine_rpm: if p.engine_runs() { p.engine_rpm.max(value) } else { p.engine_rpm },
                    ..p
                };
                changed = Some(Box::new(faster));
            }
        }
        // Asked of a battery of temperature held fast, warmth is its starting value alone.
        if self == Knob::HouseTemp
            && let Chemistry::Plain(_) = m.house.chemistry
        {
            return None;
        }
        let profile = match changed {
            None => scene.profile.clone(),
            Some(changed) => {
                let mut made = Profile::new(pieces.iter().map(changed), scene.profile.start_clock_s).ok()?;
                (made.weekday, made.date) = (scene.profile.weekday, scene.profile.date);
                made
            }
        };
        Some((m, profile))
    }
}

/// The greatest resistance that a joint of the input cable has beyond its own, Ω.
fn extra_ohm(profile: &Profile) -> f64 {
    profile.pieces().iter().map(|p| p.input_joint_extra_ohm).fold(0.0, f64::max)
}

/// Ratings of the fuses of a cable, A.
fn fuses(model: &Model, of: CableOf) -> impl Iterator<Item = f64> + '_ {
    let mine = move |(place, _): &(FusePlace, _)| place.on_input() == (of == CableOf::Input);
    FusePlace::ALL.into_iter().zip(model.fuses()).filter(mine).filter_map(|(_, f)| Some(f?.rating_a))
}

/// A cable with more copper: what a conductor gives off goes at least with the fourth root of its area (`plant/laying.rs`).
fn thicken(cable: &mut Cable, times: f64) {
    for c in &mut cable.conductors {
        c.ohm_20 /= times;
        c.j_per_k *= times;
        c.w_per_k *= times.powf(0.25);
    }
}

/// The turn-on voltage that starts it at the least: with a second pair, the lower one.
fn lower_turn_on_v(model: &Model) -> f64 {
    let rule = &model.link().start_stop;
    match rule.signal {
        SignalUse::SecondPair { turn_on_v, .. } => rule.turn_on_v.min(turn_on_v),
        _ => rule.turn_on_v,
    }
}

/// The engine idles through its short stops, at the slowest speed at which it ever runs: to be shown all pieces in order.
fn keep_running(pieces: &Pieces) -> impl FnMut(Piece) -> Piece + '_ {
    let running = pieces.iter().map(|p| p.engine_rpm).filter(|rpm| *rpm > 0.0);
    let idle_rpm = running.fold(f64::INFINITY, f64::min);
    let (mut last, mut n) = (None, 0);
    move |mut here| {
        let before: Option<Piece> = last;
        let after = (n + 1 < pieces.len()).then(|| pieces.at(n + 1));
        let short = here.stop_start || here.end.since(here.start) <= crate::record::timeline::A_STOP_S;
        if let (Some(before), Some(after)) = (before, after)
            && short
            && !here.engine_runs()
            && before.engine_runs()
            && after.engine_runs()
        {
            here = Piece {
                engine_rpm: idle_rpm,
                set_point_v: before.set_point_v,
                set_point_as_read: before.set_point_as_read,
                vehicle_load_a: before.vehicle_load_a,
                run_signal: before.run_signal,
                stop_start: false,
                ..here
            };
        }
        (last, n) = (Some(here), n + 1);
        here
    }
}
