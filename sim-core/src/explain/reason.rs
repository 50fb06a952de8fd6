//! Why a finding is so, as numbers: of every finding that is trouble or danger.
//!
//! Switching that repeats itself has a story of its own ([`super::Story`]); what else is found is told here, from the run
//! itself: what heats, what fills and empties, what is waited for in vain.

use super::change::{Change, between};
use super::moment::Moment;
use super::story::Family;
use super::{Explanation, Scene};
use crate::judge::guard_rails::carries_a;
use crate::judge::{CableOf, Facts, Finding, Kind, Measure, Section, Source, Want};
use crate::plant::fuse::FusePlace;
use crate::record::event::Cause;
use crate::record::timeline::RunOnEnds;
use crate::record::{Line, Side, Watched};
use crate::state::{CASE_C, HOUSE_C, LOCKER_C, STARTER, STARTER_C};
use crate::time::Instant;
use serde::Serialize;

/// Why a finding is so.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "reason")]
pub enum Reason {
    /// A story tells it.
    Story {
        /// Of which family.
        family: Family,
    },
    /// A conductor carries more than it can all the time.
    Current {
        /// Of which cable.
        cable: CableOf,
        /// Current at the hottest moment, A.
        amps: f64,
        /// What the conductor carries all the time, A, where its heat is followed.
        carries_a: Option<f64>,
        /// Air around it then, °C.
        air_c: f64,
    },
    /// Joints turn current into heat.
    Joints {
        /// Of which cable.
        cable: CableOf,
        /// Current at the hottest moment, A.
        amps: f64,
        /// Their resistance then, Ω.
        ohm: f64,
        /// Heat then, W.
        watts: f64,
        /// What of it a joint has beyond its own, Ω, and since when, s since the start.
        opened: Option<(f64, f64)>,
    },
    /// A fuse carries more than its rating.
    Fuse {
        /// Which.
        at: FusePlace,
        /// Current, A.
        amps: f64,
        /// Rating, A.
        rating_a: f64,
        /// Volts at the unit's input then: the fewer, the more amps.
        input_v: f64,
        /// Output current then, A.
        output_a: f64,
        /// What the conductors behind it carry all the time, A, where their heat is followed.
        carries_a: Option<f64>,
    },
    /// A source and a battery are made for different system voltages.
    OtherSystem {
        /// On which bus.
        side: Side,
        /// What the source holds, V.
        set_v: f64,
        /// What the battery rests at when full, V.
        rested_v: f64,
    },
    /// Something holds more volts than a battery bears.
    Held {
        /// On which bus.
        side: Side,
        /// Who.
        by: Holder,
        /// What it is set to, V.
        set_v: f64,
        /// What the battery bears at its temperature then, V.
        bears_v: f64,
        /// That temperature, °C.
        temp_c: f64,
    },
    /// The alternator gives nearly all it can for long.
    Winding {
        /// Current at the hottest moment, A.
        amps: f64,
        /// The most that it can give at that speed when cold, A.
        most_a: f64,
        /// The unit's share of it, A.
        unit_a: f64,
        /// Air in the engine bay, °C.
        bay_c: f64,
    },
    /// What the starter battery gained and gave.
    Starter {
        /// At the start, share of full.
        from_soc: f64,
        /// At its lowest that is known, share of full.
        lowest_soc: f64,
        /// What came in while the engine ran, net, Ah.
        driven_ah: f64,
        /// What the unit took with the engine stopped, Ah.
        unit_ah: f64,
        /// What the vehicle took with the engine stopped, Ah.
        vehicle_ah: f64,
        /// What sun or maintainer gave, Ah.
        source_ah: f64,
        /// Lowest volts at its posts in an engine start, V; `None` where there was none.
        crank_v: Option<f64>,
    },
    /// The run signal that it needs never comes.
    NoSignal,
    /// Its input stays under turn-on.
    UnderTurnOn {
        /// Its highest with the engine running, V.
        highest_v: f64,
        /// Turn-on, V.
        turn_on_v: f64,
        /// The set-point then, V.
        set_point_v: f64,
        /// Whether the alternator gave all it could then.
        alternator_full: bool,
        /// What the vehicle's own loads took, A.
        vehicle_a: f64,
    },
    /// Its input reaches turn-on, and not for the delay.
    NotHeld {
        /// The longest time above turn-on without a break, s.
        longest_s: f64,
        /// The delay, s.
        delay_s: f64,
        /// What took it back under turn-on.
        changed: Vec<Change>,
    },
    /// Drives are short beside the delay.
    ShortDrives {
        /// The longest, s.
        longest_s: f64,
        /// The delay, s.
        delay_s: f64,
    },
    /// The starter battery holds the input over turn-off after the key.
    StaysUp {
        /// Volts at the input a minute after the key, or at the end where that is sooner.
        after_v: f64,
        /// When it went off, or at the end, V.
        end_v: f64,
        /// Turn-off, V.
        turn_off_v: f64,
        /// What the starter battery rests at, as full as it is then, V.
        rested_v: f64,
        /// What the unit takes then, A.
        input_a: f64,
        /// What sun or maintainer give then, A.
        source_a: f64,
    },
    /// It dropped out on its input voltage, and no story tells it.
    DroppedOut {
        /// Volts at its input.
        input_v: f64,
        /// The turn-off that counted, V.
        turn_off_v: f64,
        /// Volts at the starter posts.
        posts_v: f64,
        /// Its current, A.
        input_a: f64,
    },
    /// The unit came on with the engine stopped, too seldom for a story.
    CameOnParked {
        /// Volts at its input.
        input_v: f64,
        /// Turn-on, V.
        turn_on_v: f64,
        /// What the starter battery rests at, V.
        rested_v: f64,
        /// How long the engine had stood, s; `None` where it had not run.
        stood_s: Option<f64>,
        /// What sun or maintainer gave, A.
        source_a: f64,
    },
    /// The unit is hot.
    HotUnit {
        /// Hottest case, °C.
        case_c: f64,
        /// Where derating begins, °C.
        from_c: f64,
        /// Air in the locker then, °C.
        locker_c: f64,
        /// Air outside then, °C.
        air_c: f64,
        /// Loss then, W.
        loss_w: f64,
    },
    /// The house battery's protection refused charge, with no story of its own.
    Refused {
        /// Temperature of its cells then, °C.
        cells_c: f64,
        /// Volts at its posts then.
        house_v: f64,
        /// Current into it then, A.
        house_a: f64,
    },
    /// What the house battery got and gave.
    House {
        /// What the unit delivered with the engine running, Ah.
        driven_ah: f64,
        /// What others gave, Ah.
        others_ah: f64,
        /// What the loads took, Ah.
        loads_ah: f64,
        /// The same while driving, Ah.
        driving_loads_ah: f64,
        /// Share of the driving that the unit was on; `None` where the engine never ran.
        on_share: Option<f64>,
        /// Lowest state of charge, share of full.
        lowest_soc: f64,
    },
    /// It waits for most of the driving.
    Waits {
        /// How long it waited in all, s.
        waited_s: f64,
        /// Of it over turn-on, waiting for the delay, s.
        delayed_s: f64,
        /// The delay, s.
        delay_s: f64,
        /// How many drives.
        drives: u32,
    },
    /// Stops of the engine cost waiting.
    Stops {
        /// How many stops.
        times: u32,
        /// How long the unit was off for them, s.
        lost_s: f64,
        /// The delay, s.
        delay_s: f64,
    },
    /// A limit that the user set.
    Limit {
        /// Its key.
        key: &'static str,
        /// What was met and what is allowed.
        measure: Measure,
    },
}

/// Who holds a bus too high.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Holder {
    /// The alternator.
    Alternator,
    /// The unit.
    Unit,
    /// The sun, or a maintainer on the starter side.
    Sun,
    /// The mains charger.
    Mains,
}

/// Why a finding is so; `None` of what is neither trouble nor danger.
pub(super) fn of(facts: &Facts, told: &Explanation, finding: &Finding) -> Option<Reason> {
    finding.is_bad().then(|| Reasons { facts, told, finding }.reason())
}

struct Reasons<'a> {
    facts: &'a Facts<'a>,
    told: &'a Explanation,
    finding: &'a Finding,
}

impl<'a> Reasons<'a> {
    fn reason(&self) -> Reason {
        match self.finding.kind {
            Kind::ConductorHot { cable, section, .. } => self.current(cable, section),
            Kind::JointHot { cable, .. } => self.joints(cable),
            Kind::FuseOpened { at }
            | Kind::FuseMayOpen { at }
            | Kind::FuseOver { at }
            | Kind::FuseLoaded { at } => self.fuse(at),
            Kind::SystemVoltage { side } => self.other_system(side),
            Kind::BusTooHigh { side, .. } => self.held(side),
            Kind::WindingHot => self.winding(),
            Kind::StartNotExpected { .. }
            | Kind::StarterDrained
            | Kind::StarterUnderReserve { .. }
            | Kind::StarterPays
            | Kind::StarterEmptierEachDay
            | Kind::StarterEmptier
            | Kind::StarterLosesDriving => self.starter(),
            Kind::NeverComesOn { want: Want::Signal } => Reason::NoSignal,
            Kind::NeverComesOn { want: Want::Volts } => self.under_turn_on(),
            Kind::NeverComesOn { want: Want::Held } => self.not_held(),
            Kind::NeverComesOn { want: Want::LongerDrives } => self.short_drives(),
            Kind::KeepsDroppingOut
            | Kind::StaysOff
            | Kind::DropsOutAtFirst
            | Kind::StartUpCycles
            | Kind::DropsOutOnLess => self.dropped_out(),
            Kind::StopsKeepItOff => self.story(Family::Stop).unwrap_or_else(|| self.stops()),
            Kind::RunsOn => self.stays_up(),
            Kind::ComesOnParked => self.story(Family::Parked).unwrap_or_else(|| self.came_on_parked()),
            Kind::LimitBroken { key } => {
                Reason::Limit { key, measure: self.finding.measure.unwrap_or(Measure::at_most(0.0, 0.0, "")) }
            }
            Kind::LimitedByHeat { .. } => self.story(Family::Heat).unwrap_or_else(|| self.hot_unit()),
            Kind::Refused { .. } => self.story(Family::Protection).unwrap_or_else(|| self.refused()),
            Kind::StagesCycle => self.story(Family::Stages).unwrap_or_else(|| self.house()),
            Kind::OnTooLate => self.waits(),
            Kind::LoadsShed
            | Kind::HouseFlat
            | Kind::NoGain
            | Kind::Loses
            | Kind::GainsOnlyDriving
            | Kind::FullAlready
            | Kind::TapersEarly { .. }
            | Kind::LoadHidesTail
            | Kind::FloatHigh
            | Kind::TopsUp
            | Kind::FedBy { source: Source::Sun | Source::Mains } => self.house(),
        }
    }

    fn scene(&self) -> Scene<'a> {
        Scene { run: self.facts.run, model: self.facts.model, profile: self.facts.profile, work: None }
    }

    /// Everything at an instant; at the end of the run, just before it.
    fn at(&self, t_s: f64) -> Option<Moment<'a>> {
        let scene = self.scene();
        let last = scene.run.span.1.plus_ns(-1);
        Moment::at(&scene, Instant::from_s(t_s).min(last))
    }

    fn peak(&self, what: Watched) -> Option<Moment<'a>> {
        self.at(self.facts.run.stress.peak(what)?.t_s)
    }

    fn story(&self, family: Family) -> Option<Reason> {
        self.told.stories.iter().any(|s| s.family == family).then_some(Reason::Story { family })
    }

    fn carries(&self, cable: CableOf) -> Option<f64> {
        let [input, output] = carries_a((self.facts.model, self.facts.profile));
        if cable == CableOf::Input { input } else { output }
    }

    fn current(&self, cable: CableOf, section: Section) -> Reason {
        let what = match (cable, section) {
            (CableOf::Output, _) => Watched::Output,
            (_, Section::Bay) => Watched::InputBay,
            (_, Section::Cabin) => Watched::InputCabin,
        };
        // Of one that a fuse kept cool the moment counts at which it opened.
        let when = if self.finding.when.for_s > 0.0 { self.peak(what) } else { None };
        let m = when.or_else(|| self.at(self.finding.when.first_s - 1e-3));
        let (amps, air_c) = m.map_or((0.0, 0.0), |m| {
            let amps = if cable == CableOf::Input { m.net.input_a } else { m.net.output_a };
            (amps, if section == Section::Bay { m.piece.bay_c } else { m.piece.air_c })
        });
        // Heat lags behind: what warmed it is the most that flowed up to then.
        let most_a =
            if cable == CableOf::Input { self.facts.run.extremes.input_a.map(|m| m.value) } else { None };
        let amps = if amps < 1.0 { most_a.unwrap_or(amps) } else { amps };
        Reason::Current { cable, amps, carries_a: self.carries(cable), air_c }
    }

    fn joints(&self, cable: CableOf) -> Reason {
        let input = cable == CableOf::Input;
        let m = self.peak(if input { Watched::InputJoints } else { Watched::OutputJoints });
        let link = self.facts.model.link();
        let own = if input { link.input_cable.joints_ohm } else { link.output_cable.joints_ohm };
        let (amps, extra) = m.map_or((0.0, 0.0), |m| {
            (
                if input { m.net.input_a } else { m.net.output_a },
                if input { m.piece.input_joint_extra_ohm } else { 0.0 },
            )
        });
        let ohm = own + extra;
        let since = self
            .facts
            .profile
            .pieces()
            .iter()
            .find(|p| p.input_joint_extra_ohm > 0.0)
            .map(|p| p.start.as_s());
        let opened = since.filter(|_| extra > 0.0).map(|s| (extra, s));
        Reason::Joints { cable, amps, ohm, watts: amps * amps * ohm, opened }
    }

    fn fuse(&self, at: FusePlace) -> Reason {
        let work = self.facts.run.fuses.iter().find(|f| f.place == at);
        let (amps, rating_a, t_s) = work.map_or((0.0, 0.0, 0.0), |w| {
            w.opened.map_or((w.most_a, w.rating_a, w.most_at_s), |o| (o.amps, w.rating_a, o.at_s))
        });
        let m = self.at(t_s - 1e-3);
        let (input_v, output_a) = m.map_or((0.0, 0.0), |m| (m.net.in_v, m.net.output_a));
        let cable = if at.on_input() { CableOf::Input } else { CableOf::Output };
        Reason::Fuse { at, amps, rating_a, input_v, output_a, carries_a: self.carries(cable) }
    }

    fn other_system(&self, side: Side) -> Reason {
        let m = self.facts.model;
        let (battery, set_v) = match side {
            Side::Starter => (&m.starter, m.alternator.set_point_v),
            Side::House => (&m.house, m.link().stages.absorption_v),
        };
        Reason::OtherSystem { side, set_v, rested_v: battery.rested_v(1.0) }
    }

    fn held(&self, side: Side) -> Reason {
        let model = self.facts.model;
        let what = if side == Side::Starter { Watched::StarterVolts } else { Watched::HouseVolts };
        let m = self.peak(what);
        let bears = if side == Side::Starter { &model.bears.starter } else { &model.bears.house };
        let Some(m) = m else {
            return Reason::Held { side, by: Holder::Unit, set_v: 0.0, bears_v: bears.held_v, temp_c: 25.0 };
        };
        let temp_c = m.y[if side == Side::Starter { STARTER_C } else { HOUSE_C }];
        let (by, set_v) = match side {
            Side::Starter if m.net.starter_source_a > m.net.alternator_a.max(0.0) => {
                (Holder::Sun, model.starter_solar.set_v)
            }
            // A standing alternator has no set-point; what its battery still shows came from the one that it had.
            Side::Starter if m.set_point_v.is_nan() => (Holder::Alternator, model.alternator.set_point_v),
            Side::Starter => (Holder::Alternator, m.set_point_v),
            Side::House => {
                let n = &m.net;
                match n.output_a.max(n.solar_a).max(n.charger_a) {
                    most if most == n.output_a => (Holder::Unit, model.link().stages.absorption_v),
                    most if most == n.solar_a => (Holder::Sun, model.house_solar.set_v),
                    _ => (Holder::Mains, model.house_mains.set_v),
                }
            }
        };
        Reason::Held { side, by, set_v, bears_v: bears.held_at(temp_c), temp_c }
    }

    fn winding(&self) -> Reason {
        let m = self.peak(Watched::Winding);
        let (amps, most_a, unit_a, bay_c) = m.map_or((0.0, 0.0, 0.0, 0.0), |m| {
            let most_a = self.facts.model.alternator.capability_a(m.piece.engine_rpm);
            (m.net.alternator_a, most_a, m.net.input_a, m.piece.bay_c)
        });
        Reason::Winding { amps, most_a, unit_a, bay_c }
    }

    fn starter(&self) -> Reason {
        let (run, t) = (self.facts.run, self.facts.timeline);
        let parked = |line: Line| -> f64 {
            run.stretches.iter().filter(|s| !s.driving).map(|s| s.ledger.ah(line)).sum()
        };
        let driven_ah = run.stretches.iter().filter(|s| s.driving).map(|s| s.ledger.ah(Line::StarterC)).sum();
        let ends = run.stretches.iter().map(|s| s.end[STARTER]).chain([run.start[STARTER], run.end[STARTER]]);
        let cranks = t.engine.iter().filter_map(|e| e.crank).map(|c| c.lowest_v);
        Reason::Starter {
            from_soc: run.start[STARTER],
            lowest_soc: ends.fold(f64::INFINITY, f64::min).min(self.facts.summary.starter_least_start_soc),
            driven_ah,
            unit_ah: self.facts.summary.unit_input_parked_ah,
            vehicle_ah: parked(Line::VehicleC),
            source_ah: run.ledger.ah(Line::StarterSourceC),
            crank_v: cranks.reduce(f64::min),
        }
    }

    fn under_turn_on(&self) -> Reason {
        let measure = self.finding.measure.unwrap_or(Measure::at_least(0.0, 0.0, "V"));
        let met = self.facts.run.extremes.waiting_above_v;
        let m = met.and_then(|met| self.at(met.t_s));
        let (set_point_v, alternator_full, vehicle_a) = m.map_or((f64::NAN, false, 0.0), |m| {
            let full = m.net.alternator_a > 0.995 * m.capability_a();
            (m.set_point_v, full, m.piece.vehicle_load_a)
        });
        let set_point_v =
            if set_point_v.is_finite() { set_point_v } else { self.facts.model.alternator.set_point_v };
        Reason::UnderTurnOn {
            highest_v: measure.value,
            turn_on_v: measure.limit,
            set_point_v,
            alternator_full,
            vehicle_a,
        }
    }

    /// The longest time over turn-on while it waits, and what ended it.
    fn not_held(&self) -> Reason {
        let (scene, rule) = (self.scene(), &self.facts.model.link().start_stop);
        let mut best: (f64, Option<(Instant, Instant)>) = (0.0, None);
        let mut since: Option<Instant> = None;
        for k in scene.run.trace.steps(scene.model, scene.profile) {
            for ns in k.places_ns() {
                let (t, s) =
                    (k.start.plus_ns(ns), scene.run.trace.in_step(scene.model, scene.profile, &k, ns));
                let above = s.mode.alternator_turns()
                    && crate::logic::start_stop::above_turn_on_v(&s.mode, scene.model, &s.state, &s.net)
                        .is_some_and(|v| v >= 0.0);
                since = above.then(|| since.unwrap_or(t));
                if let Some(from) = since
                    && t.since(from) > best.0
                {
                    best = (t.since(from), Some((from, t)));
                }
            }
        }
        let changed = best.1.and_then(|(from, to)| {
            let then = Moment::at(&scene, from.plus_s(0.5 * to.since(from)))?;
            Some(between(&then, &Moment::at(&scene, to.plus_s(0.5).min(scene.run.span.1.plus_ns(-1)))?))
        });
        Reason::NotHeld {
            longest_s: best.0,
            delay_s: rule.turn_on_delay_s,
            changed: changed.unwrap_or_default(),
        }
    }

    fn short_drives(&self) -> Reason {
        let longest_s = self.facts.timeline.drives.iter().map(|d| d.span.seconds()).fold(0.0, f64::max);
        Reason::ShortDrives { longest_s, delay_s: self.facts.model.link().start_stop.turn_on_delay_s }
    }

    fn stays_up(&self) -> Reason {
        let rule = &self.facts.model.link().start_stop;
        let longest = self.facts.timeline.longest_run_on();
        let span = longest.map_or(self.facts.timeline.span, |r| r.span);
        let after = self.at(span.from.as_s() + 60.0f64.min(0.5 * span.seconds()));
        let to = longest.filter(|r| r.ends == RunOnEnds::EngineStarts).map_or(span.to, |r| r.span.to);
        let end = self.at(to.as_s() - 1e-3);
        let value = |m: &Option<Moment>, of: fn(&Moment) -> f64| m.as_ref().map_or(0.0, of);
        Reason::StaysUp {
            after_v: value(&after, |m| m.net.in_v),
            end_v: value(&end, |m| m.net.in_v),
            turn_off_v: rule.turn_off_v,
            rested_v: value(&end, |m| m.rested_v()),
            input_a: value(&after, |m| m.net.input_a),
            source_a: value(&after, |m| m.net.starter_source_a),
        }
    }

    fn came_on_parked(&self) -> Reason {
        let first = self.facts.timeline.turn_ons().find(|(_, on)| !on.driving).map(|(t, _)| t);
        let t = first.unwrap_or(self.facts.timeline.span.from);
        let m = Moment::before(&self.scene(), t).or_else(|| self.at(t.as_s()));
        let value = |of: fn(&Moment) -> f64| m.as_ref().map_or(0.0, of);
        let key_off = self.facts.timeline.engine.iter().map(|e| e.span.to).filter(|k| *k <= t).max();
        Reason::CameOnParked {
            input_v: value(|m| m.net.in_v),
            turn_on_v: self.facts.model.link().start_stop.turn_on_v,
            rested_v: value(|m| m.rested_v()),
            stood_s: key_off.map(|k| t.since(k)),
            source_a: value(|m| m.net.starter_source_a),
        }
    }

    fn dropped_out(&self) -> Reason {
        let told = [Family::Driving, Family::Stop, Family::Parked].into_iter().find_map(|f| self.story(f));
        told.unwrap_or_else(|| {
            let off = self
                .facts
                .timeline
                .drop_outs_on_volts()
                .next()
                .map(|(off, _)| self.facts.run.events[off.event]);
            let turn_off_v = match off.map(|e| e.cause) {
                Some(Cause::InputHeld { threshold_v, .. }) => threshold_v,
                _ => self.facts.model.link().start_stop.turn_off_v,
            };
            let net = off.map(|e| e.before).unwrap_or_default();
            Reason::DroppedOut { input_v: net.in_v, turn_off_v, posts_v: net.sb_v, input_a: net.input_a }
        })
    }

    fn hot_unit(&self) -> Reason {
        let c = &self.facts.model.link().converter;
        // A case whose line takes nothing away is not watched: it is looked at as it locks out.
        let first_s = self.finding.when.first_s;
        let m = self.peak(Watched::Case).or_else(|| self.at(first_s - 1e-3)).or_else(|| self.at(first_s));
        let value = |of: fn(&Moment) -> f64| m.as_ref().map_or(0.0, of);
        let loss_w = |m: &Moment| m.net.in_v * m.net.input_a - m.net.out_v * m.net.output_a;
        Reason::HotUnit {
            case_c: value(|m| m.y[CASE_C]),
            from_c: c.derate_from_c.min(c.lock_c),
            locker_c: value(|m| m.y[LOCKER_C]),
            air_c: value(|m| m.piece.air_c),
            loss_w: m.as_ref().map_or(0.0, loss_w),
        }
    }

    fn refused(&self) -> Reason {
        let m = self.at(self.finding.when.first_s - 1e-3).or_else(|| self.at(self.finding.when.first_s));
        let value = |of: fn(&Moment) -> f64| m.as_ref().map_or(0.0, of);
        Reason::Refused {
            cells_c: value(|m| m.y[HOUSE_C]),
            house_v: value(|m| m.net.house_v),
            house_a: value(|m| m.net.house_a),
        }
    }

    fn house(&self) -> Reason {
        let (run, s) = (self.facts.run, self.facts.summary);
        let l = &run.ledger;
        let driving = run.stretches.iter().filter(|s| s.driving);
        Reason::House {
            driven_ah: l.ah(Line::OutputC) - l.ah(Line::OutputParkedC),
            others_ah: l.ah(Line::SolarC) + l.ah(Line::MainsC),
            loads_ah: l.ah(Line::HouseLoadC),
            driving_loads_ah: driving.map(|s| s.ledger.ah(Line::HouseLoadC)).sum(),
            on_share: (s.driving_s > 0.0).then(|| s.unit_on_driving_s / s.driving_s),
            lowest_soc: s.house_low_soc,
        }
    }

    fn waits(&self) -> Reason {
        let t = self.facts.timeline;
        let rule = &self.facts.model.link().start_stop;
        let waited_s: f64 = t.drives.iter().map(crate::record::timeline::Drive::waited_s).sum();
        // The last delay before each turn-on was spent over turn-on.
        let came = t.drives.iter().filter(|d| d.first_on.is_some());
        let delayed_s = came.map(|d| d.waited_s().min(rule.turn_on_delay_s)).sum();
        Reason::Waits { waited_s, delayed_s, delay_s: rule.turn_on_delay_s, drives: t.drives.len() as u32 }
    }

    fn stops(&self) -> Reason {
        let when = self.finding.when;
        Reason::Stops {
            times: when.times,
            lost_s: when.for_s,
            delay_s: self.facts.model.link().start_stop.turn_on_delay_s,
        }
    }
}
