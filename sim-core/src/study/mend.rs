//! The smallest change that gives a run the margin asked for, and what each costs, in the order of practice; two together
//! where none alone does it.
//!
//! A change is found by whole runs: the run must come to no trouble and its smallest margin to turn-off, unit on and engine
//! running, must reach what is asked. The nearest scanned value that does is halved back towards the value now, and tried
//! strictly in the end. No change breaks a guard-rail.

use super::case::Case;
use super::knobs::{Knob, KnobKey, Part, knobs};
use super::margins::{Against, Limit, Margins};
use super::trial::{TOLERANCE_OF_MANY, Trial, TrialError};
use crate::engine::{Options, Record, simulate};
use crate::judge::{Kind, guard_rails};
use crate::model::{Piece, Profile, SignalUse};
use crate::record::Summary;
use crate::resolve::Resolved;
use crate::scenario::Scenario;

/// Copper, kg/m³ (IEC 60028, annealed).
pub(super) const COPPER_KG_PER_M3: f64 = 8890.0;

/// Error allowed per step in the last word.
const STRICT: f64 = 1e-8;
/// Candidates that are taken as the first of two.
const FIRSTS: usize = 4;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    /// Least margin to turn-off, V.
    pub margin_v: f64,
    /// Share of the drop from set-point to input that the input cable may take for a lower turn-off to be offered.
    pub most_cable_share: f64,
    /// Parked time over which the drain of a lower turn-off is told, s.
    pub parked_s: f64,
}

/// Something that might mend it, still to be tried: a job of its own.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// The knob.
    pub knob: Knob,
    /// Values to try, the one nearest to its value now first.
    towards: Vec<f64>,
}

/// A change that mends it.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The knob.
    pub knob: Knob,
    /// Its new value.
    pub to: f64,
    /// The smallest margin then, V.
    pub margin_v: f64,
    /// Charge out of the unit then, Ah.
    pub output_ah: f64,
    /// How much later the unit first comes on, s.
    pub later_s: f64,
    /// Copper that it takes more, kg; negative where it saves some.
    pub copper_kg: f64,
    /// Starter battery at the end then, share of full.
    pub starter_end_soc: f64,
    /// Longest run-on after a key-off then, s.
    pub run_on_s: f64,
    /// Time with the unit on and the engine stopped then, s.
    pub parked_s: f64,
    /// For a lower turn-off: what the parked unit takes out of the starter battery, before and after.
    pub drain: Option<(Drain, Drain)>,
    /// What else is changed beside it, and to which value; the knob alone is not enough then.
    pub beside: Option<(Knob, f64)>,
}

/// What a parked unit takes out of the starter battery.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drain {
    /// Charge into the unit while parked, Ah.
    pub ah: f64,
    /// How long it ran on after the last key-off, s.
    pub ran_on_s: f64,
    /// Starter battery at the end, share of full.
    pub starter_end_soc: f64,
}

/// A case with what is known of it.
#[derive(Debug, Clone)]
pub struct Mend {
    case: Case,
    ask: Ask,
    /// The run as it is.
    pub base: Trial,
    /// Share of the drop from set-point to input that the input cable takes at the smallest margin.
    pub cable_share: Option<f64>,
    /// The smallest margin now, V.
    pub margin_v: Option<f64>,
}

impl Mend {
    /// Runs the case as it is.
    ///
    /// # Errors
    /// [`TrialError`] when it cannot be run.
    pub fn new(case: &Case, ask: Ask) -> Result<Mend, TrialError> {
        let base = Trial::run_with(case, &Options::default())?;
        let against = Against::nothing();
        let margins = Margins::of(&base.run, &base.resolved.model, &base.resolved.profile, &against);
        let cable_share = margins.to(Limit::TurnOff).and_then(|m| {
            let all_v = m.at.set_point_v? - m.at.input_v;
            (all_v > 0.0).then(|| (m.at.starter_v - m.at.input_v) / all_v)
        });
        let margin_v = base.summary.extremes.margin_v.map(|m| m.value);
        Ok(Mend { case: case.clone(), ask, base, cable_share, margin_v })
    }

    /// Whether nothing has to be changed.
    pub fn is_well(&self) -> bool {
        self.base.verdict.is_good() && self.margin_v.is_some_and(|m| m >= self.ask.margin_v)
    }

    /// Whether a lower turn-off may be offered.
    pub fn may_lower_turn_off(&self) -> bool {
        self.cable_share.is_some_and(|share| share <= self.ask.most_cable_share)
    }

    /// Whether the unit is on with the engine stopped, for too long or at all.
    fn stays_on_parked(&self) -> bool {
        let parked = |k: &Kind| matches!(k, Kind::RunsOn | Kind::ComesOnParked | Kind::StarterPays);
        self.base.verdict.bad().any(|f| parked(&f.kind))
    }

    /// What might mend it.
    pub fn candidates(&self) -> Vec<Candidate> {
        let all = knobs(&self.base.scenario).into_iter().chain(signals(&self.base.scenario));
        let found = all.filter_map(|knob| {
            let up = match knob.part {
                Part::RunSignal => true,
                Part::InputLength | Part::InputJoints | Part::InputOhm => false,
                Part::OutputLimit | Part::InputLimit | Part::VehicleLoad => false,
                // One that stops too late, or comes on parked, wants a higher one.
                Part::TurnOff if self.stays_on_parked() => true,
                Part::TurnOff if self.may_lower_turn_off() => false,
                Part::InputSize | Part::TurnOn | Part::TurnOnDelay => true,
                Part::SetPoint | Part::EngineSpeed | Part::IdleSpeed => true,
                _ => return None,
            };
            let mut towards: Vec<f64> = knob.grid.clone();
            if knob.part != Part::RunSignal {
                towards.retain(|v| if up { *v > knob.now } else { *v < knob.now });
            }
            towards.sort_by(|a, b| (a - knob.now).abs().total_cmp(&(b - knob.now).abs()));
            Some(Candidate { knob, towards })
        });
        let mut found: Vec<Candidate> = found.collect();
        found.sort_by_key(|c| c.knob.part.practice());
        found
    }

    /// Pairs of candidates to try where none alone is enough: the first by half of its way, the second searched.
    pub fn pairs(&self, candidates: &[Candidate]) -> Vec<(Candidate, Candidate)> {
        let firsts = candidates.iter().filter(|c| c.towards.len() > 1).take(FIRSTS);
        let pair = |a: &Candidate| {
            let others = candidates.iter().filter(|b| b.knob.part != a.knob.part);
            others.map(|b| (a.clone(), b.clone())).collect::<Vec<_>>()
        };
        firsts.flat_map(pair).collect()
    }

    /// Tries two candidates together; `None` where no value of the second is enough.
    pub fn try_pair(&self, (first, second): &(Candidate, Candidate)) -> Option<Offer> {
        let half = *first.towards.get(first.towards.len() / 2)?;
        let case = first.knob.turned(&self.case, half).ok()?;
        // What may be done is held against the vehicle as it is.
        let beside = Mend { case, ..self.clone() };
        let offer = beside.try_out(second)?;
        Some(Offer { beside: Some((first.knob.clone(), half)), ..offer })
    }

    /// Tries one candidate to the end; `None` where no value in its span mends it.
    pub fn try_out(&self, candidate: &Candidate) -> Option<Offer> {
        let knob = &candidate.knob;
        let mut last_bad = knob.now;
        let mut to = candidate.towards.iter().copied().find(|value| {
            let mends = self.mended(knob, *value).is_some();
            last_bad = if mends { last_bad } else { *value };
            mends
        })?;
        while knob.sizes.is_empty() && (to - last_bad).abs() > knob.resolution(to) {
            let mid = 0.5 * (to + last_bad);
            if self.mended(knob, mid).is_some() { to = mid } else { last_bad = mid }
        }
        // The last word is as strict as any run; loose runs may stop a hair short of it.
        let mut strict = self.mended_at(knob, to, STRICT);
        if knob.sizes.is_empty() && strict.is_none() {
            to += (to - last_bad).signum() * knob.resolution(to);
            strict = self.mended_at(knob, to, STRICT);
        }
        let trial = strict?;
        let first_on = |t: &Trial| t.summary.first_on_s.unwrap_or(0.0);
        let length_m = self.base.scenario.input_cable.length_m.value;
        let area_mm2 = |knob_area: f64| 2.0 * length_m * knob_area * 1e-6 * COPPER_KG_PER_M3;
        let copper_kg = match knob.part {
            Part::InputSize => area_mm2(to) - area_mm2(knob.now),
            Part::InputLength => {
                area_mm2(self.base.scenario.input_cable.area_mm2.value) * (to / length_m - 1.0)
            }
            _ => 0.0,
        };
        let drain = (knob.part == Part::TurnOff && to < knob.now)
            .then(|| Some((self.drain(&self.base.resolved)?, self.drain(&trial.resolved)?)))
            .flatten();
        Some(Offer {
            knob: knob.clone(),
            to,
            margin_v: trial.summary.extremes.margin_v.map_or(f64::NAN, |m| m.value),
            output_ah: trial.summary.unit_output_ah,
            later_s: first_on(&trial) - first_on(&self.base),
            copper_kg,
            starter_end_soc: trial.summary.starter_end_soc,
            run_on_s: run_on_s(&trial),
            parked_s: parked_s(&trial),
            drain,
            beside: None,
        })
    }

    /// The run with a knob at a value, if that mends it.
    fn mended(&self, knob: &Knob, value: f64) -> Option<Trial> {
        self.mended_at(knob, value, TOLERANCE_OF_MANY)
    }

    /// The same with this error allowed per step; `None` too where a guard-rail is broken.
    fn mended_at(&self, knob: &Knob, value: f64, tolerance: f64) -> Option<Trial> {
        let case = knob.turned(&self.case, value).ok()?;
        let (_, then) = case.resolve().ok()?;
        let now = &self.base.resolved;
        let (as_is, changed) = ((&now.model, &now.profile), (&then.model, &then.profile));
        if guard_rails::broken(as_is, &self.base.verdict, changed).is_some() {
            return None;
        }
        let options = Options { tolerance, record: Record::Summary, ..Options::default() };
        let trial = Trial::run_with(&case, &options).ok()?;
        let paid = guard_rails::broken_by_run(
            (&now.model, &self.base.summary),
            (&trial.resolved.model, &trial.summary),
        );
        // Held on by a run signal, it has no turn-off to be near to.
        let held = trial.resolved.model.link().start_stop.signal == SignalUse::Either;
        let margin = trial.summary.extremes.margin_v;
        let enough = margin.map_or(held, |m| m.value >= self.ask.margin_v);
        (enough && paid.is_none() && trial.verdict.is_good()).then_some(trial)
    }

    /// The same drive and then the parked time, simulated.
    fn drain(&self, resolved: &Resolved) -> Option<Drain> {
        let profile = then_parked(&resolved.profile, self.ask.parked_s)?;
        let options = Options { record: Record::Summary, ..Options::default() };
        let run = simulate(&resolved.model, &profile, &options).ok()?;
        let summary = Summary::new(&run, &resolved.model, &profile);
        Some(Drain {
            ah: summary.unit_input_parked_ah,
            ran_on_s: summary.ran_on_s.unwrap_or(0.0),
            starter_end_soc: summary.starter_end_soc,
        })
    }
}

/// Longest run-on of a trial, s.
pub fn run_on_s(trial: &Trial) -> f64 {
    trial.timeline.longest_run_on().map_or(0.0, |r| r.span.seconds())
}

/// Time of a trial with the unit on and the engine stopped, s.
pub fn parked_s(trial: &Trial) -> f64 {
    trial.timeline.on_s() - trial.timeline.on_driving_s()
}

/// The ways to use a run signal, a knob each: every one is a change of its own.
fn signals(scenario: &Scenario) -> impl Iterator<Item = Knob> {
    const NAMES: [&str; 4] = ["none", "either", "second-pair", "required"];
    let place = NAMES.iter().position(|n| *n == scenario.start_stop.signal.value);
    let now = place.unwrap_or(0) as f64;
    (1..NAMES.len()).map(|n| n as f64).filter(move |to| *to != now).map(move |to| Knob {
        name: format!("run signal, {}", NAMES[to as usize]),
        unit: "",
        now,
        grid: vec![to],
        keys: vec![KnobKey { path: "start_stop.signal".to_owned(), offset: 0.0, takes_name: true }],
        sizes: NAMES.iter().enumerate().map(|(n, name)| ((*name).to_owned(), n as f64)).collect(),
        part: Part::RunSignal,
    })
}

/// A drive with at least this much parked time at its end: its last parked piece goes on, else its first one is repeated.
fn then_parked(profile: &Profile, seconds: f64) -> Option<Profile> {
    let pieces = profile.pieces();
    let last_drive = pieces.iter().rposition(|p| p.engine_runs())?;
    let parked_s: f64 = pieces.iter().skip(last_drive + 1).map(|p| p.end.since(p.start)).sum();
    let start = profile.end();
    let end = start.plus_s(seconds - parked_s);
    let more = (end > start).then(|| {
        let like = pieces.iter().rev().find(|p| !p.engine_runs() && !p.stop_start);
        Piece { start, end, ..like.unwrap_or(Piece::NOTHING) }
    });
    Profile::new(pieces.iter().chain(more), profile.start_clock_s).ok()
}
