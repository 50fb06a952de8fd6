//! What would leave no trouble at all: changes in the order in which practice turns to them, each tried on the whole run and
//! judged whole.
//!
//! One change at a time first; two together where no single one does it. The search runs as loosely as studies of many runs
//! do, the last word is as strict as any run. No change breaks a guard-rail ([`crate::judge::guard_rails`]).

use super::Scene;
use super::kind::Kind;
use super::knob::{Knob, SignalMode};
use crate::bounds::MOST_STEPS_TRIED;
use crate::engine::budget::Budget;
use crate::engine::{Options, Record};
use crate::judge::Kind as Found;
use crate::judge::guard_rails;
use crate::judge::{CableOf, Facts, Finding, Read, Verdict, Want, Weight};
use crate::logic::Refusal;
use crate::model::{Model, Profile};
use crate::record::{Side, Summary};
use crate::study::TOLERANCE_OF_MANY;
use serde::Serialize;
use std::cell::{Cell, RefCell};

/// What is to be mended: a run, and what the judge says of it.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The run as it is, its vehicle and drive, and the user's limits.
    pub facts: Facts<'a>,
    /// What the run comes to.
    pub verdict: &'a Verdict,
    /// What its drop-outs are called.
    pub kinds: &'a [Kind],
    /// Error allowed per step where a remedy is confirmed: that of the run itself.
    pub tolerance: f64,
}

/// One thing changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Change {
    /// What.
    pub knob: Knob,
    /// Its value as it is, in the unit of the knob; `None` for what is only there or not.
    pub now: Option<f64>,
    /// The least that is enough for no trouble at all, on whole runs; a step less is not.
    pub least: Option<f64>,
    /// The value that is told: past the least, with room where that can be had.
    pub to: Option<f64>,
}

/// A remedy: one change, or two together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remedy {
    /// What is changed.
    pub changes: Vec<Change>,
    /// What is then left to turn-off at the least, unit on and engine running, V; `None` where no volts stop it.
    pub spare_v: Option<f64>,
    /// What it costs and gains.
    pub cost: Cost,
    /// The same as it is.
    pub before: Cost,
}

/// What a run costs and gains.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cost {
    /// Charge out of the unit, Ah.
    pub output_ah: f64,
    /// Starter battery at the end, share of full.
    pub starter_end_soc: f64,
    /// Longest that the unit runs on after a key-off, s.
    pub run_on_s: f64,
    /// Time with the unit on and the engine stopped, s.
    pub parked_s: f64,
    /// When the unit first comes on, s since the start; `None` where it does not.
    pub first_on_s: Option<f64>,
}

impl Cost {
    fn of(facts: &Facts) -> Cost {
        let (summary, timeline) = (facts.summary, facts.timeline);
        Cost {
            output_ah: summary.unit_output_ah,
            starter_end_soc: summary.starter_end_soc,
            run_on_s: timeline.longest_run_on().map_or(0.0, |r| r.span.seconds()),
            parked_s: timeline.on_s() - timeline.on_driving_s(),
            first_on_s: summary.first_on_s,
        }
    }
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Remedies {
    /// Remedies that leave no trouble at all, in the order of practice.
    pub whole: Vec<Remedy>,
    /// Where there is none: the best that was found, and what is left then.
    pub partly: Option<(Remedy, Vec<Finding>)>,
    /// How many runs it took.
    pub runs: u32,
    /// Whether the work that a search may cost ended it, or a run in it, before everything was tried.
    pub cut_short: bool,
}

/// Most remedies that are offered.
const MOST: usize = 3;
/// Values that a knob is scanned at: what does can begin anywhere.
const SCAN: u32 = 5;
/// Steps that a value is moved on from the least until enough is left to spare.
const STEPS_ON: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 12.0];
/// Steps that a value found by loose runs may have to be moved on for a strict one.
const STRICTER: u32 = 3;
/// Steps of all runs together that a search may cost; of a longer run so many times its own, up to [`MOST_STEPS_TRIED`].
const MOST_STEPS: u64 = 300_000;
const TIMES: u64 = 12;
/// Most runs of a search, however short.
const MOST_TRIALS: u32 = 240;
/// Changes that are taken as the first of two.
const FIRSTS: usize = 4;

/// Looks for remedies; none where nothing has to be done.
pub fn find(asked: &Asked) -> Remedies {
    let search = Search::new(asked);
    if asked.verdict.is_good() {
        return Remedies::default();
    }
    let knobs = knobs(asked);
    let mut whole = Vec::new();
    for &knob in &knobs {
        if whole.len() < MOST {
            let changes = search.single(knob, &[]).or_else(|| search.rewired(knob, &knobs));
            whole.extend(changes.and_then(|c| search.told(&c)));
        }
    }
    if whole.is_empty() {
        whole.extend(search.pair(&knobs));
    }
    let best = search.best.borrow().clone();
    let partly = best.filter(|_| whole.is_empty()).and_then(|(moves, _)| {
        let tried = search.run(&moves, asked.tolerance)?;
        let left: Vec<Finding> = tried.verdict.bad().copied().collect();
        let changes = moves.iter().map(|&(knob, to)| search.change(knob, to, to)).collect();
        Some((search.remedy(changes, &tried), left))
    });
    let cut_short = search.budget.cut() || search.trials.get() >= MOST_TRIALS;
    Remedies { whole, partly, runs: search.trials.get(), cut_short }
}

/// Knobs that answer what was found, each once, in the order of practice.
fn knobs(asked: &Asked) -> Vec<Knob> {
    let mut all: Vec<Knob> = asked.verdict.bad().flat_map(|f| of(&f.kind, asked.kinds)).collect();
    all.sort_by_key(|k| k.practice());
    let mut once: Vec<Knob> = Vec::new();
    for knob in all {
        if !once.contains(&knob) {
            once.push(knob);
        }
    }
    once
}

const SIGNALS: [Knob; 2] = [Knob::Signal(SignalMode::Either), Knob::Signal(SignalMode::SecondPair)];
const REQUIRED: Knob = Knob::Signal(SignalMode::Required);

/// Knobs that answer a finding.
fn of(kind: &crate::judge::Kind, named: &[Kind]) -> Vec<Knob> {
    match kind {
        Found::ConductorHot { cable, .. } => vec![Knob::Copper(*cable), Knob::OutputLimit],
        Found::JointHot { cable, .. } => vec![Knob::Joints(*cable), Knob::OutputLimit],
        Found::FuseOpened { at } | Found::FuseMayOpen { at } | Found::FuseOver { at } => {
            let of = if at.on_input() { CableOf::Input } else { CableOf::Output };
            vec![Knob::Fuse(of), Knob::Copper(of), Knob::OutputLimit]
        }
        Found::BusTooHigh { side: Side::Starter, .. } => vec![Knob::SetPointCap],
        Found::BusTooHigh { side: Side::House, .. } => vec![Knob::Absorption],
        Found::WindingHot | Found::LimitedByHeat { .. } => vec![Knob::OutputLimit],
        Found::StartNotExpected { .. }
        | Found::StarterDrained
        | Found::StarterUnderReserve { .. }
        | Found::StarterPays
        | Found::StarterEmptierEachDay => {
            vec![REQUIRED, Knob::OutputLimit, Knob::TurnOff, Knob::TurnOn, Knob::LessDroop]
        }
        Found::StarterLosesDriving => {
            vec![Knob::OutputLimit, Knob::TurnOff, Knob::SetPointFloor, Knob::LessDroop, Knob::Idle]
        }
        Found::NeverComesOn { want: Want::Signal } => vec![Knob::SignalHeld],
        Found::NeverComesOn { .. } | Found::OnTooLate | Found::StopsKeepItOff => {
            let mut all = SIGNALS.to_vec();
            all.extend([Knob::TurnOnDelay, Knob::TurnOnLower, Knob::SetPointFloor, Knob::Idle]);
            if *kind == Found::StopsKeepItOff {
                all.extend([Knob::TurnOffDelay, Knob::KeepRunning]);
            }
            all
        }
        Found::KeepsDroppingOut
        | Found::StaysOff
        | Found::DropsOutAtFirst
        | Found::LimitBroken { key: "least_margin_v" | "most_drop_outs" } => drops_out(named),
        Found::RunsOn => vec![REQUIRED, Knob::TurnOff],
        Found::ComesOnParked => vec![REQUIRED, Knob::TurnOn, Knob::Dark],
        Found::LimitBroken { key: "most_input_a" } => vec![Knob::OutputLimit],
        Found::Refused { why: Refusal::Cold } => vec![Knob::HouseTemp],
        Found::Refused { why: Refusal::HighVoltage } => vec![Knob::Absorption],
        Found::Refused { why: Refusal::OverCurrent } => vec![Knob::OutputLimit],
        Found::StagesCycle => vec![Knob::Recharge],
        // Nothing that a vehicle is set to mends these: another part, less load or a longer drive does.
        Found::SystemVoltage { .. }
        | Found::LimitBroken { .. }
        | Found::LoadsShed
        | Found::HouseFlat
        | Found::NoGain
        | Found::Loses => Vec::new(),
        // No trouble.
        Found::FuseLoaded { .. }
        | Found::GainsOnlyDriving
        | Found::StartUpCycles
        | Found::DropsOutOnLess
        | Found::StarterEmptier
        | Found::TapersEarly { .. }
        | Found::LoadHidesTail
        | Found::FloatHigh
        | Found::FedBy { .. }
        | Found::FullAlready
        | Found::TopsUp => Vec::new(),
    }
}

/// Knobs for drop-outs, by what they are called; all of them where they have no name.
fn drops_out(named: &[Kind]) -> Vec<Knob> {
    let mut all = vec![Knob::Joints(CableOf::Input)];
    all.extend(SIGNALS);
    all.extend([Knob::OutputLimit, Knob::TurnOffLower]);
    let has = |kind: Kind| named.contains(&kind) || named.is_empty();
    if has(Kind::OpenCable) {
        all.push(Knob::CableClosed);
    }
    if has(Kind::Signal) {
        all.push(Knob::SignalHeld);
    }
    if has(Kind::WeakSource) {
        all.extend([Knob::LessDroop, Knob::Idle]);
    }
    if has(Kind::OwnDrop) || has(Kind::StartUp) || has(Kind::WeakSource) {
        all.push(Knob::LessCable);
    }
    if has(Kind::SetPoint) {
        all.extend([Knob::LessCable, Knob::SetPointFloor]);
    }
    if has(Kind::StopStart) {
        all.extend([Knob::TurnOffDelay, Knob::KeepRunning]);
    }
    if has(Kind::StartUp) {
        all.push(Knob::TurnOn);
    }
    all
}

/// Knobs with a value each; the value of what is only there or not counts for nothing.
type Moves = Vec<(Knob, f64)>;

/// A run with something changed.
struct Tried {
    summary: Summary,
    verdict: Verdict,
    cost: Cost,
}

impl Tried {
    fn wrong(&self) -> Wrong {
        wrong(&self.verdict, &self.summary)
    }
}

/// How much is wrong: dangers, then findings, then minutes that the unit is off with the engine running.
type Wrong = (usize, usize, u64);

fn wrong(verdict: &Verdict, summary: &Summary) -> Wrong {
    let dangers = verdict.bad().filter(|f| f.weight == Weight::Danger).count();
    let off_min = (summary.driving_s - summary.unit_on_driving_s).max(0.0) / 60.0;
    (dangers, verdict.bad().count(), off_min as u64)
}

struct Search<'a> {
    asked: &'a Asked<'a>,
    trials: Cell<u32>,
    budget: Budget,
    /// The moves that leave least wrong, and how much.
    best: RefCell<Option<(Moves, Wrong)>>,
    /// Single moves that leave less wrong than there is.
    better: RefCell<Vec<(Knob, f64, Wrong)>>,
}

impl<'a> Search<'a> {
    fn new(asked: &'a Asked<'a>) -> Search<'a> {
        let budget =
            Budget::new(MOST_STEPS.max(TIMES * asked.facts.run.statistics.steps).min(MOST_STEPS_TRIED));
        Search { asked, trials: Cell::new(0), budget, best: RefCell::default(), better: RefCell::default() }
    }

    fn scene(&self) -> Scene<'a> {
        let Facts { run, model, profile, .. } = self.asked.facts;
        Scene { run, model, profile, work: None }
    }

    /// Vehicle and drive with moves made; `None` where one changes nothing.
    fn turned(&self, moves: &[(Knob, f64)]) -> Option<(Model, Profile)> {
        let mut made = (self.asked.facts.model.clone(), self.asked.facts.profile.clone());
        for &(knob, value) in moves {
            let scene = Scene { model: &made.0, profile: &made.1, ..self.scene() };
            made = knob.turned(&scene, value)?;
        }
        Some(made)
    }

    /// The run with moves made; `None` where they break a rail or cannot be run.
    fn run(&self, moves: &[(Knob, f64)], tolerance: f64) -> Option<Tried> {
        let (model, profile) = self.turned(moves)?;
        let now = (self.asked.facts.model, self.asked.facts.profile);
        if guard_rails::broken(now, self.asked.verdict, (&model, &profile)).is_some() {
            return None;
        }
        self.trials.set(self.trials.get() + 1);
        let options = Options { tolerance, record: Record::Summary, ..Options::default() };
        let run = self.budget.run(&model, &profile, &options, None).ok()?;
        let read = Read::of(&run, &model, &profile);
        let facts = read.facts(&run, &model, &profile, self.asked.facts.limits);
        if guard_rails::broken_by_run((now.0, self.asked.facts.summary), (&model, facts.summary)).is_some() {
            return None;
        }
        let (verdict, cost) = (Verdict::of(&facts), Cost::of(&facts));
        Some(Tried { summary: read.summary, verdict, cost })
    }

    /// The same as one of many, remembered where it is better than what there is; `None` too where enough was tried.
    fn trial(&self, moves: &[(Knob, f64)]) -> Option<Tried> {
        if self.trials.get() >= MOST_TRIALS {
            return None;
        }
        let tried = self.run(moves, TOLERANCE_OF_MANY.max(self.asked.tolerance))?;
        let wrong = tried.wrong();
        let as_is = self::wrong(self.asked.verdict, self.asked.facts.summary);
        if wrong < as_is {
            let mut best = self.best.borrow_mut();
            // Less of the same is no finding fewer: it is not worth telling alone.
            let fewer = (wrong.0, wrong.1) < (as_is.0, as_is.1);
            if fewer && best.as_ref().is_none_or(|b| wrong < b.1) {
                *best = Some((moves.to_vec(), wrong));
            }
            if let [(knob, value)] = moves {
                let mut better = self.better.borrow_mut();
                match better.iter_mut().find(|b| b.0 == *knob) {
                    Some(b) if wrong < b.2 => (b.1, b.2) = (*value, wrong),
                    Some(_) => {}
                    None => better.push((*knob, *value, wrong)),
                }
            }
        }
        Some(tried)
    }

    fn with(fixed: &[(Knob, f64)], knob: Knob, value: f64) -> Moves {
        fixed.iter().copied().chain([(knob, value)]).collect()
    }

    fn quiet(&self, fixed: &[(Knob, f64)], knob: Knob, value: f64) -> bool {
        self.trial(&Self::with(fixed, knob, value)).is_some_and(|t| t.verdict.is_good())
    }

    fn strictly(&self, moves: &[(Knob, f64)]) -> Option<Tried> {
        self.run(moves, self.asked.tolerance).filter(|t| t.verdict.is_good())
    }

    /// The moves with the least of a knob that, beside what is fixed, leaves no trouble; with its least and told values.
    fn single(&self, knob: Knob, fixed: &[(Knob, f64)]) -> Option<Vec<Change>> {
        let before = |change: Change| {
            let first = fixed.iter().map(|&(k, v)| self.change(k, v, v));
            first.chain([change]).collect::<Vec<_>>()
        };
        // What is changed beside it can leave it more way to go.
        let beside = self.turned(fixed)?;
        let scene = Scene { model: &beside.0, profile: &beside.1, ..self.scene() };
        let Some((now, most)) = knob.range(&scene) else {
            // The strict run is the only one.
            let tried = self.quiet(fixed, knob, 0.0);
            let good = tried && self.strictly(&Self::with(fixed, knob, 0.0)).is_some();
            return good.then(|| before(self.change(knob, 0.0, 0.0)));
        };
        if (most - now).abs() < 0.5 * knob.step() {
            return None;
        }
        let at = |n: u32| now + (most - now) * f64::from(n) / f64::from(SCAN);
        let first = (1..=SCAN).find(|&n| self.quiet(fixed, knob, at(n)))?;
        let (mut loud, mut quiet) = (at(first - 1), at(first));
        while (quiet - loud).abs() > knob.step() {
            let mid = 0.5 * (loud + quiet);
            if self.quiet(fixed, knob, mid) { quiet = mid } else { loud = mid }
        }
        let way = (most - now).signum();
        let on = |from: f64, steps: f64| {
            let value = from + steps * knob.step() * way;
            if (value - most) * way > 0.0 { most } else { value }
        };
        let nice = knob.rounded((now, most), quiet);
        let strict = (0..=STRICTER).map(|n| on(nice, f64::from(n)));
        let (least, mut tried) = strict
            .map(|v| (v, self.strictly(&Self::with(fixed, knob, v))))
            .find_map(|(v, t)| Some((v, t?)))?;
        let mut to = least;
        let spare = |t: &Tried| t.summary.extremes.margin_v.map(|m| m.value);
        // A fuse that is loaded nearly to its rating grows hot.
        let loaded = |t: &Tried| t.verdict.find(|k| matches!(k, Found::FuseLoaded { .. })).is_some();
        for steps in STEPS_ON.into_iter().filter(|_| matches!(knob, Knob::Fuse(_))) {
            let further = on(least, steps);
            if !loaded(&tried) || further == to {
                break;
            }
            let Some(next) = self.strictly(&Self::with(fixed, knob, further)) else { break };
            (to, tried) = (further, next);
        }
        for steps in STEPS_ON {
            // Further on is no better where it leaves no more to spare.
            let Some(left) = spare(&tried).filter(|s| *s < knob.to_spare()) else { break };
            let further = on(least, steps);
            let next = self.strictly(&Self::with(fixed, knob, further));
            match next.filter(|t| spare(t).is_none_or(|s| s > left)) {
                Some(next) if further != to => (to, tried) = (further, next),
                _ => break,
            }
        }
        Some(before(self.change(knob, least, to)))
    }

    /// A conductor that alone is not enough, with the fuse that goes with it: who lays a cable fits its fuse too. The least
    /// copper of those scanned for which some fuse leaves no trouble.
    fn rewired(&self, knob: Knob, knobs: &[Knob]) -> Option<Vec<Change>> {
        let Knob::Copper(of) = knob else { return None };
        let fuse = Knob::Fuse(of);
        let (now, most) = knob.range(&self.scene()).filter(|_| knobs.contains(&fuse))?;
        let scan = (1..=SCAN).map(|n| now + (most - now) * f64::from(n) / f64::from(SCAN));
        scan.into_iter().find_map(|copper| self.single(fuse, &[(knob, copper)]))
    }

    fn change(&self, knob: Knob, least: f64, to: f64) -> Change {
        match knob.range(&self.scene()) {
            None => Change { knob, now: None, least: None, to: None },
            Some((now, _)) => Change { knob, now: Some(now), least: Some(least), to: Some(to) },
        }
    }

    /// Two changes together, where none alone does it.
    fn pair(&self, knobs: &[Knob]) -> Option<Remedy> {
        let mut firsts = self.better.borrow().clone();
        // What leaves least wrong first; of equals what practice turns to first.
        firsts.sort_by_key(|(knob, _, wrong)| (*wrong, knob.practice()));
        let mut firsts: Vec<(Knob, f64)> = firsts.into_iter().map(|(knob, value, _)| (knob, value)).collect();
        // Where two causes hide each other no single change shows: then the first goes half of its way.
        let half =
            |&knob: &Knob| knob.range(&self.scene()).map(|(now, most)| (knob, f64::midpoint(now, most)));
        let rest = knobs.iter().filter(|k| !firsts.iter().any(|(f, _)| f == *k)).filter_map(half);
        firsts.extend(rest.collect::<Vec<_>>());
        firsts.truncate(FIRSTS);
        for (first, value) in firsts {
            for &second in knobs.iter().filter(|k| **k != first) {
                if let Some(changes) = self.single(second, &[(first, value)]) {
                    return self.told(&changes);
                }
            }
        }
        None
    }

    /// A remedy with what it costs.
    fn told(&self, changes: &[Change]) -> Option<Remedy> {
        let moves: Moves = changes.iter().map(|c| (c.knob, c.to.unwrap_or(0.0))).collect();
        let tried = self.strictly(&moves)?;
        let mut changes = changes.to_vec();
        changes.sort_by_key(|c| c.knob.practice());
        Some(self.remedy(changes, &tried))
    }

    fn remedy(&self, changes: Vec<Change>, tried: &Tried) -> Remedy {
        let spare_v = tried.summary.extremes.margin_v.map(|m| m.value);
        Remedy { changes, spare_v, cost: tried.cost, before: Cost::of(&self.asked.facts) }
    }
}
