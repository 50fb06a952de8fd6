//! Vehicles with one cause of switching each, labelled by how they are made.
//!
//! A healthy vehicle is drawn first: it comes on once in its drive, stays on, and stays off when parked. Then one fault is
//! put in. Its size is a multiple of the critical size, which is found by halving on whole runs: the smallest at which the
//! fault's own symptom shows. Nothing here asks the explanation.

use crate::day::{DRIVING, PARKED, day};
use crate::dice::Dice;
use crate::{full, van};
use sim_core::explain::Kind;
use sim_core::judge::{Read, Verdict};
use sim_core::logic::Stage;
use sim_core::model::{Model, Piece, Profile};
use sim_core::plant::battery::Chemistry;
use sim_core::record::{Cause, EventKind, Summary};
use sim_core::scenario::limits::LimitsSpec;
use sim_core::{Options, Record, Run, simulate};

/// What is wrong with a vehicle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fault {
    /// A bad joint in the input cable.
    Joint,
    /// A thin cable.
    Cable,
    /// A joint that opens up a quarter of an hour after the start.
    WarmJoint,
    /// Turn-off too high.
    TurnOff,
    /// Starting up on a low starter battery with too narrow a band.
    Band,
    /// An alternator of too little capability.
    Alternator,
    /// An engine that idles after a while.
    Idle,
    /// A poor alternator cable.
    Droop,
    /// A set-point that falls once.
    SetPointFalls,
    /// A set-point that falls and rises.
    SetPointPulses,
    /// Thresholds so low that surface charge brings the unit on.
    LowThresholds,
    /// The sun on the starter battery.
    Sun,
    /// A closed locker, and no derating.
    Locker,
    /// A protection that opens for high voltage.
    HighVoltage,
    /// A protection that opens for current.
    OverCurrent,
    /// Cold cells.
    Cold,
    /// Stops of the engine.
    Stops,
    /// A recharge voltage too near float.
    Recharge,
}

impl Fault {
    /// All of them.
    pub const ALL: [Fault; 18] = [
        Fault::Joint,
        Fault::Cable,
        Fault::WarmJoint,
        Fault::TurnOff,
        Fault::Band,
        Fault::Alternator,
        Fault::Idle,
        Fault::Droop,
        Fault::SetPointFalls,
        Fault::SetPointPulses,
        Fault::LowThresholds,
        Fault::Sun,
        Fault::Locker,
        Fault::HighVoltage,
        Fault::OverCurrent,
        Fault::Cold,
        Fault::Stops,
        Fault::Recharge,
    ];

    /// The kind that it must be called by.
    pub fn kind(self) -> Kind {
        match self {
            Fault::Joint | Fault::Cable | Fault::WarmJoint | Fault::TurnOff => Kind::OwnDrop,
            Fault::Band => Kind::StartUp,
            Fault::Alternator | Fault::Idle | Fault::Droop => Kind::WeakSource,
            Fault::SetPointFalls | Fault::SetPointPulses => Kind::SetPoint,
            Fault::LowThresholds => Kind::SurfaceCharge,
            Fault::Sun => Kind::Sun,
            Fault::Locker => Kind::Heat,
            Fault::HighVoltage | Fault::OverCurrent | Fault::Cold => Kind::Protection,
            Fault::Stops => Kind::StopStart,
            Fault::Recharge => Kind::StageCycling,
        }
    }
}

/// A vehicle with its label.
pub struct Case {
    /// What was put in.
    pub fault: Fault,
    /// How large, over the critical size.
    pub share: f64,
    /// The kinds that it must be called by; none where nothing repeats itself.
    pub label: Vec<Kind>,
    /// The vehicle.
    pub model: Model,
    /// Its drive.
    pub profile: Profile,
    /// Its run, with its trace.
    pub run: Run,
    /// Whether the judge finds nothing to be done about the vehicle without its fault.
    pub sound: bool,
}

/// A healthy vehicle and its drive, in the pieces that faults change.
#[derive(Clone)]
struct Healthy {
    model: Model,
    parked: Piece,
    driving: Piece,
    drive_s: f64,
}

impl Healthy {
    fn draw(d: &mut Dice, fault: Fault) -> Healthy {
        // Heat, protection against cold and a battery that rests as it should exist in the full model alone.
        let needs_full = matches!(fault, Fault::Cold | Fault::Locker | Fault::LowThresholds);
        let full = needs_full || d.chance(0.5);
        let mut m = if full { full::full_model() } else { van::model() };
        let limit_a = d.between(20.0, 40.0);
        let house_soc = match fault {
            Fault::HighVoltage => d.between(0.7, 0.9),
            Fault::Recharge => d.between(0.93, 0.96),
            _ => d.between(0.3, 0.6),
        };
        let starter_soc = if fault == Fault::Band { d.between(0.55, 0.8) } else { d.between(0.85, 0.95) };
        match &mut m.house.chemistry {
            Chemistry::Plain(b) => b.start_soc = house_soc,
            Chemistry::Lithium(b) => b.start_soc = house_soc,
            Chemistry::LeadAcid(b) => b.start_soc = house_soc,
        }
        match &mut m.starter.chemistry {
            Chemistry::Plain(b) => b.start_soc = starter_soc,
            Chemistry::LeadAcid(b) => b.start_soc = starter_soc,
            Chemistry::Lithium(b) => b.start_soc = starter_soc,
        }
        m.alternator.asymptote_a = d.between(150.0, 220.0);
        m.alternator.droop_ohm = d.between(0.002, 0.004);
        let set_point_v = d.between(14.1, 14.6);
        m.alternator.set_point_v = set_point_v;
        let link = &mut m.links[0];
        link.converter.output_limit_a = limit_a;
        link.converter.input_limit_a = 1.6 * limit_a;
        let cable_v = d.between(0.15, 0.40);
        let cable_ohm = cable_v / (1.08 * limit_a);
        let share = 1.0 - 0.002 / cable_ohm;
        let now_ohm = link.input_cable.conductor_ohm();
        for c in &mut link.input_cable.conductors {
            c.ohm_20 *= cable_ohm * share / now_ohm;
        }
        let rule = &mut link.start_stop;
        rule.turn_on_v = d.between(13.4, 13.6);
        let source_v = 1.15 * limit_a * 0.004;
        rule.turn_off_v = rule.turn_on_v - cable_v - source_v - d.between(0.1, 0.3);
        rule.turn_on_delay_s = d.between(15.0, 60.0);
        rule.turn_off_delay_s = d.between(1.0, 4.0);
        link.converter.ramp_s = d.between(1.0, 5.0);
        let driving = Piece {
            engine_rpm: d.between(1800.0, 2600.0),
            vehicle_load_a: d.between(10.0, 30.0),
            set_point_v,
            run_signal: true,
            bay_c: if full { 60.0 } else { 20.0 },
            house_load_w: d.between(20.0, 80.0),
            ..DRIVING
        };
        let parked = Piece { house_load_w: driving.house_load_w, ..PARKED };
        Healthy { model: m, parked, driving, drive_s: d.between(45.0, 75.0) * 60.0 }
    }

    fn profile(&self) -> Profile {
        day(&[(60.0, self.parked), (self.drive_s, self.driving), (3600.0, self.parked)])
    }

    /// The vehicle with a fault of this size; `x` grows with the fault from nothing.
    fn with(&self, fault: Fault, x: f64) -> (Model, Profile) {
        let mut m = self.model.clone();
        let (parked, driving) = (self.parked, self.driving);
        let after = |s: f64, then: Piece| {
            day(&[(60.0, parked), (s, driving), (self.drive_s - s, then), (3600.0, parked)])
        };
        let mut profile = self.profile();
        let link = &mut m.links[0];
        match fault {
            Fault::Joint => link.input_cable.joints_ohm += x,
            Fault::Cable | Fault::Band => {
                let share = 1.0 + x / link.input_cable.conductor_ohm();
                link.input_cable.conductors.iter_mut().for_each(|c| c.ohm_20 *= share);
            }
            Fault::WarmJoint => {
                let opened = |p: Piece| Piece { input_joint_extra_ohm: x, ..p };
                profile = day(&[
                    (60.0, parked),
                    (900.0, driving),
                    (self.drive_s - 900.0, opened(driving)),
                    (3600.0, opened(parked)),
                ]);
            }
            Fault::TurnOff => link.start_stop.turn_off_v += x,
            Fault::Alternator => m.alternator.asymptote_a *= 1.0 - x,
            Fault::Idle => {
                let rpm = driving.engine_rpm;
                // The capability counts and not the speed: that is what is asked too much of.
                let wanted = m.alternator.capability_a(rpm) * (1.0 - x);
                let slow = m.alternator.lowest_engine_rpm(wanted).unwrap_or(rpm);
                profile = after(900.0, Piece { engine_rpm: slow, ..driving });
            }
            Fault::Droop => m.alternator.droop_ohm += x,
            Fault::SetPointFalls => {
                profile = after(900.0, Piece { set_point_v: driving.set_point_v - x, ..driving });
            }
            Fault::SetPointPulses => {
                let low = Piece { set_point_v: driving.set_point_v - x, ..driving };
                let pulses = [(180.0, driving), (60.0, low)];
                let mut stretches = vec![(60.0, parked)];
                (0..12).for_each(|_| stretches.extend(pulses));
                stretches.push((3600.0, parked));
                profile = day(&stretches);
            }
            Fault::LowThresholds => {
                link.start_stop.turn_on_v -= x;
                link.start_stop.turn_off_v -= x;
            }
            Fault::Sun => {
                m.starter_solar = sim_core::model::Regulator { set_v: 14.0, droop_ohm: 0.02 };
                let sun = Piece { starter_solar_a: x, ..parked };
                profile = day(&[(4.0 * 3600.0, sun), (self.drive_s, driving), (3600.0, parked)]);
            }
            Fault::Locker => {
                let c = &mut link.converter;
                (c.derate_from_c, c.derate_to_c) = (f64::INFINITY, f64::INFINITY);
                c.locker.w_per_k /= x;
                profile = day(&[(60.0, parked), (3.0 * self.drive_s, driving), (3600.0, parked)]);
            }
            Fault::HighVoltage => {
                m.protection.high_v = 14.6 - x;
                m.protection.high_release_v = 14.6 - x - 0.5;
            }
            Fault::OverCurrent => {
                m.protection.over_a = 60.0 - x;
                m.protection.over_release_s = 60.0;
            }
            Fault::Cold => m.house.start_c = 20.0 - x,
            Fault::Stops => {
                let mut stretches = vec![(60.0, parked), (300.0, driving)];
                let stop = Piece { vehicle_load_a: driving.vehicle_load_a, stop_start: true, ..parked };
                (0..15).for_each(|_| stretches.extend([(x, stop), (120.0, driving)]));
                stretches.push((3600.0, parked));
                profile = day(&stretches);
            }
            Fault::Recharge => {
                link.stages.recharge_v += x;
                link.stages.recharge_hold_s = 60.0;
                profile = day(&[(60.0, parked), (6.0 * 3600.0, driving), (3600.0, parked)]);
            }
        }
        (m, profile)
    }

    /// The largest fault that makes sense.
    fn most(&self, fault: Fault) -> f64 {
        match fault {
            Fault::Joint | Fault::Cable | Fault::Band | Fault::WarmJoint => 0.08,
            Fault::TurnOff => {
                self.model.links[0].start_stop.turn_on_v - self.model.links[0].start_stop.turn_off_v - 0.05
            }
            Fault::Alternator | Fault::Idle => 0.95,
            Fault::Droop => 0.04,
            Fault::SetPointFalls | Fault::SetPointPulses => 1.7,
            // Under the rested volts it would be another fault.
            Fault::LowThresholds => self.model.links[0].start_stop.turn_on_v - 12.74,
            Fault::Sun => 8.0,
            Fault::Locker => 40.0,
            Fault::HighVoltage => 1.2,
            Fault::OverCurrent => 58.0,
            Fault::Cold => 45.0,
            Fault::Stops => 60.0,
            Fault::Recharge => 1.2,
        }
    }
}

fn light(m: &Model, p: &Profile) -> Option<(Run, Summary)> {
    let run = simulate(m, p, &Options { record: Record::Summary, ..Options::default() }).ok()?;
    let summary = Summary::new(&run, m, p);
    Some((run, summary))
}

/// Whether the judge finds nothing to be done.
fn is_sound(run: &Run, model: &Model, profile: &Profile) -> bool {
    Verdict::of(&Read::of(run, model, profile).facts(run, model, profile, &LimitsSpec::default())).is_good()
}

fn count(run: &Run, is: impl Fn(EventKind, Cause) -> bool) -> usize {
    run.events.iter().filter(|e| is(e.kind, e.cause)).count()
}

/// Times of the voltage drop-outs with the engine running, s.
fn drop_out_times(run: &Run) -> Vec<f64> {
    let mut driving = false;
    let mut times = Vec::new();
    for e in &run.events {
        match e.kind {
            EventKind::KeyOn => driving = true,
            EventKind::KeyOff => driving = false,
            EventKind::UnitOff if driving && matches!(e.cause, Cause::InputHeld { .. }) => {
                times.push(e.t.as_s())
            }
            _ => {}
        }
    }
    times
}

/// Whether the fault's own symptom shows.
fn symptom(fault: Fault, run: &Run, s: &Summary, drive_s: f64) -> bool {
    // What still happens in the last ten minutes of a drive goes on.
    let sustained = drop_out_times(run).iter().filter(|t| **t >= drive_s - 540.0).count() >= 2;
    match fault {
        Fault::Joint
        | Fault::Cable
        | Fault::WarmJoint
        | Fault::TurnOff
        | Fault::Alternator
        | Fault::Idle
        | Fault::Droop => sustained,
        Fault::Band => {
            // Over within half an hour, or it is no starting up.
            let times = drop_out_times(run);
            let over = times.last().zip(times.first()).is_some_and(|(b, a)| b - a < 1800.0);
            over && !sustained
        }
        Fault::SetPointFalls => s.dropped_out_driving >= 1,
        Fault::SetPointPulses => s.dropped_out_driving >= 3,
        Fault::LowThresholds | Fault::Sun => s.came_on_parked >= 3,
        Fault::Locker => count(run, |k, c| k == EventKind::UnitOff && matches!(c, Cause::Heat { .. })) >= 1,
        Fault::HighVoltage | Fault::OverCurrent | Fault::Cold => {
            count(run, |k, _| matches!(k, EventKind::ChargeRefused { why: Some(_) })) >= 1
        }
        // Three stops, and the end of the day.
        Fault::Stops => s.dropped_out >= 4,
        Fault::Recharge => {
            let bulk = EventKind::Stage { to: Stage::Bulk };
            count(run, |k, c| k == bulk && matches!(c, Cause::OutputLow { .. })) >= 2
        }
    }
}

/// Halvings for the critical size.
const HALVINGS: u32 = 10;

/// A vehicle with this fault, at 0.9 to 1.5 of its critical size; draws until a vehicle has such a size at all.
pub fn draw(d: &mut Dice, fault: Fault) -> Case {
    loop {
        if let Some(case) = try_draw(d, fault) {
            return case;
        }
    }
}

fn try_draw(d: &mut Dice, fault: Fault) -> Option<Case> {
    let h = Healthy::draw(d, fault);
    let share = d.between(0.9, 1.5);
    let (run, s) = light(&h.model, &h.profile())?;
    let sound = is_sound(&run, &h.model, &h.profile());
    if s.came_on != 1 || s.dropped_out_driving != 0 || s.came_on_parked != 0 {
        return None;
    }
    let shows = |x: f64| {
        let (m, p) = h.with(fault, x);
        light(&m, &p).is_some_and(|(run, s)| symptom(fault, &run, &s, h.drive_s))
    };
    let most = h.most(fault);
    // The first of a few sizes at which it shows: some faults show only in a window.
    let first = (1..=12).map(|n| most * f64::from(n) / 12.0).find(|&x| shows(x))?;
    let (mut low, mut high) = (first - most / 12.0, first);
    if low <= 0.0 {
        low = if fault == Fault::Locker { 1.0 } else { 1e-6 };
    }
    if shows(low) {
        return None;
    }
    for _ in 0..HALVINGS {
        let mid = 0.5 * (low + high);
        if shows(mid) { high = mid } else { low = mid }
    }
    let x = share * high;
    if x > most || shows(x) != (share > 1.0) {
        return None;
    }
    let (model, profile) = h.with(fault, x);
    let run = simulate(&model, &profile, &Options::default()).ok()?;
    let s = Summary::new(&run, &model, &profile);
    let mut label = Vec::new();
    if share > 1.0 {
        label.push(fault.kind());
    } else if s.dropped_out_driving > 0 {
        // Short of going on for ever it still cycles: until the starter battery has risen, if it is over soon.
        let drop_outs = drop_out_times(&run);
        let drops = matches!(fault.kind(), Kind::OwnDrop | Kind::WeakSource);
        let (first, last) = (drop_outs[0], drop_outs[drop_outs.len() - 1]);
        let soon = drops && first < 1860.0 && last - first < 1800.0 && last < h.drive_s - 540.0;
        if fault != Fault::Stops {
            label.push(if soon { Kind::StartUp } else { fault.kind() });
        }
    }
    // Coming on again and again with the engine stopped and no sun is surface charge, whatever else is wrong.
    if s.came_on_parked >= 3 && !label.contains(&Kind::SurfaceCharge) && fault != Fault::Sun {
        label.push(Kind::SurfaceCharge);
    }
    Some(Case { fault, share, label, model, profile, run, sound })
}
