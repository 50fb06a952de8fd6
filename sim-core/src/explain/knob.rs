//! What can be changed about a vehicle or its drive to see whether a story would not have happened.

use super::Scene;
use super::evidence::Evidence;
use super::kind::{Kind, Named};
use crate::logic::Refusal;
use crate::model::{Model, Piece, Profile, SignalUse};
use crate::pieces::Pieces;
use crate::plant::battery::Chemistry;
use serde::Serialize;

/// One thing that can be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Knob {
    /// Resistance taken out of the input cable, Ω: joints first, then conductors.
    LessRun,
    /// Resistance taken out between alternator and starter battery, Ω.
    LessDroop,
    /// Output current limit, A.
    OutputLimit,
    /// Lowest set-point of the drive, V.
    SetPointFloor,
    /// Turn-on voltage, V.
    TurnOn,
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
    /// The run signal stays live while the engine runs.
    SignalHeld,
    /// The input cable stays closed.
    RunClosed,
}

impl Knob {
    /// Knobs that answer a kind, the one that goes to the cause first.
    pub(super) fn of(named: &Named) -> &'static [Knob] {
        let full = named.evidence.iter().any(|e| matches!(e, Evidence::AlternatorFull { .. }));
        let why = named.evidence.iter().find_map(|e| match e {
            Evidence::Refused { why, .. } => Some(*why),
            _ => None,
        });
        match (named.kind, why) {
            (Kind::OwnDrop, _) => &[Knob::LessRun, Knob::OutputLimit],
            (Kind::StartUp, _) => &[Knob::TurnOn, Knob::LessRun, Knob::OutputLimit],
            (Kind::WeakSource, _) if full => &[Knob::OutputLimit],
            (Kind::WeakSource, _) => &[Knob::LessDroop, Knob::OutputLimit],
            (Kind::SetPoint, _) => &[Knob::SetPointFloor],
            (Kind::SurfaceCharge | Kind::RestedOverTurnOn, _) => &[Knob::TurnOn],
            (Kind::Sun, _) => &[Knob::Dark],
            (Kind::Heat, _) => &[Knob::OutputLimit],
            (Kind::Protection, Some(Refusal::Cold)) => &[Knob::HouseTemp],
            (Kind::Protection, Some(Refusal::OverCurrent)) => &[Knob::OutputLimit],
            (Kind::Protection, _) => &[Knob::Absorption],
            (Kind::StopStart, _) => &[Knob::KeepRunning],
            (Kind::StageCycling, _) => &[Knob::Recharge],
            (Kind::Signal, _) => &[Knob::SignalHeld],
            (Kind::OpenRun, _) => &[Knob::RunClosed],
        }
    }

    /// The value now, and how far it may be moved; `None` for what is only there or not.
    pub(super) fn range(self, scene: &Scene) -> Option<(f64, f64)> {
        let (m, p) = (scene.model, scene.profile);
        let link = m.link();
        let extra = p.pieces().iter().map(|p| p.input_joint_extra_ohm).fold(0.0, f64::max);
        let lowest = p
            .pieces()
            .iter()
            .filter(|p| p.engine_runs())
            .map(|p| p.set_point_v)
            .fold(f64::INFINITY, f64::min);
        let rule_v =
            m.alternator.rule.map_or(f64::INFINITY, |r| r.accelerating_v.min(r.cruise_v).min(r.idle_v));
        match self {
            Knob::LessRun => Some((0.0, link.input_cable.resistance_ohm() + extra)),
            Knob::LessDroop => Some((0.0, 0.95 * m.alternator.droop_ohm)),
            Knob::OutputLimit => Some((link.converter.output_limit_a, 1.0)),
            Knob::SetPointFloor => Some((lowest.min(rule_v), 15.0)),
            Knob::TurnOn => Some((turn_on_v(link.start_stop.turn_on_v, link.start_stop.signal), 15.0)),
            Knob::Recharge => Some((link.stages.recharge_v, link.stages.recharge_v - 2.0)),
            Knob::Absorption => Some((link.stages.absorption_v, link.stages.absorption_v - 2.0)),
            Knob::HouseTemp => Some((m.house.start(p.pieces().at(0).air_c).temp_c, 25.0)),
            Knob::Dark | Knob::KeepRunning | Knob::SignalHeld | Knob::RunClosed => None,
        }
    }

    /// Step of values that are easy to say, in the unit of the knob.
    pub(super) fn step(self) -> f64 {
        match self {
            Knob::LessRun | Knob::LessDroop => 1e-3,
            Knob::OutputLimit | Knob::HouseTemp => 1.0,
            _ => 0.05,
        }
    }

    /// What must be left to spare for a value to do, V; of heat, K. Cables and loads are chosen with room (0.3 V: common
    /// practice, no source); a threshold set further than needed only costs charge.
    pub(super) fn to_spare(self) -> f64 {
        match self {
            Knob::LessRun | Knob::LessDroop | Knob::OutputLimit | Knob::SetPointFloor => 0.3,
            _ => 1e-6,
        }
    }

    /// A value that is easy to say, at least `edge` moved on by a little away from `now`.
    pub(super) fn rounded(self, now: f64, edge: f64) -> f64 {
        let step = self.step();
        if edge >= now { (edge / step + 0.1).ceil() * step } else { (edge / step - 0.1).floor() * step }
    }

    /// The vehicle and the drive with this changed.
    pub(super) fn turned(self, scene: &Scene, value: f64) -> Option<(Model, Profile)> {
        let mut m = scene.model.clone();
        let pieces = scene.profile.pieces();
        let mut changed: Option<Box<dyn FnMut(Piece) -> Piece>> = None;
        let link = &mut m.links[0];
        match self {
            Knob::LessRun => {
                let extra = pieces.iter().map(|p| p.input_joint_extra_ohm).fold(0.0, f64::max);
                if extra > 0.0 {
                    changed = Some(Box::new(move |p| Piece {
                        input_joint_extra_ohm: (p.input_joint_extra_ohm - value).max(0.0),
                        ..p
                    }));
                }
                let run = &mut link.input_cable;
                let left = (value - extra).max(0.0);
                let of_joints = left.min(run.joints_ohm);
                run.joints_ohm -= of_joints;
                let share = ((left - of_joints) / run.conductor_ohm().max(1e-12)).min(1.0);
                for c in &mut run.conductors {
                    c.ohm_20 *= 1.0 - share;
                }
            }
            Knob::LessDroop => m.alternator.droop_ohm -= value,
            Knob::OutputLimit => link.converter.output_limit_a = value,
            Knob::SetPointFloor => {
                changed = Some(Box::new(move |p| Piece { set_point_v: p.set_point_v.max(value), ..p }));
                if let Some(r) = &mut m.alternator.rule {
                    for v in [&mut r.overrun_v, &mut r.cruise_v, &mut r.accelerating_v, &mut r.idle_v] {
                        *v = v.max(value);
                    }
                    r.refresh_v = r.refresh_v.max(value);
                }
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
            Knob::Dark => changed = Some(Box::new(|p| Piece { starter_solar_a: 0.0, ..p })),
            Knob::KeepRunning => changed = Some(Box::new(keep_running(pieces))),
            Knob::SignalHeld => {
                changed = Some(Box::new(|p| Piece { run_signal: p.run_signal || p.engine_runs(), ..p }));
            }
            Knob::RunClosed => changed = Some(Box::new(|p| Piece { input_open: false, ..p })),
        }
        // Asked of a battery of temperature held fast, warmth is its starting value alone.
        if self == Knob::HouseTemp
            && let Chemistry::Plain(_) = m.house.chemistry
        {
            return None;
        }
        let profile = match changed {
            None => scene.profile.clone(),
            Some(changed) => Profile::new(pieces.iter().map(changed), scene.profile.start_clock_s).ok()?,
        };
        Some((m, profile))
    }
}

/// The turn-on voltage that starts it at the least: with a second pair, the lower one.
fn turn_on_v(first_v: f64, signal: SignalUse) -> f64 {
    match signal {
        SignalUse::SecondPair { turn_on_v, .. } => first_v.min(turn_on_v),
        _ => first_v,
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
