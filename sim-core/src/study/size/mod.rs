//! Which conductor and which fuses: the smallest of both cables that meet every rule together, and come to no trouble that a
//! thicker cable would spare, over the scenario's drive and at its corners.
//!
//! The rules of [`rules`] are met or not by themselves; what passes them is run. A corner is the scenario with something at
//! its worst. A trouble counts against a size where the thickest cable offered does not have it at the same corner: what no
//! copper cures is told apart.

pub mod corners;
pub mod rules;

use super::case::{Case, CaseError};
use super::knobs::{Knob, Part, knobs};
use super::threads::Threads;
use super::trial::{Trial, TrialError};
use crate::judge::{CableOf, Finding, Kind, Taper, guard_rails};
use crate::model::Model;
use crate::plant::battery::Battery;
use crate::plant::cable::Cable;
use crate::scenario::Scenario;
use crate::scenario::node::Value;
use corners::{CORNERS, Corner, HOT_C, cornered};
use rules::{Broken, Chosen, Demand, Row, Rule, drives, held};
use serde::Serialize;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ask {
    /// Share of the system's nominal volts that the input cable and the output cable may take at full current.
    pub most_drop: [f64; 2],
    /// Least margin to turn-off at any corner, V.
    pub margin_v: f64,
    /// What conductors are to carry beyond the load, share.
    pub spare: f64,
}

/// One of the two cables: its sizes, smallest first, and what they are held against.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sized {
    /// Which.
    pub cable: CableOf,
    /// What is asked of it.
    pub demand: Demand,
    /// Every size that is sold.
    pub rows: Vec<Row>,
    /// The cable as it is, with the fuse that is there.
    pub now: Row,
    /// Whether a fuse is there.
    pub fused: bool,
    /// The size that is taken; `None` where none meets everything.
    pub taken: Option<usize>,
    /// What decides against the next smaller size beside the rules: troubles at a corner that the thickest cable spares.
    pub smaller: Vec<Spared>,
    /// Length one way, m.
    pub length_m: f64,
    /// What follows the name of a size: " AWG", " SAE"; nothing where the name has its unit.
    pub gauge: &'static str,
}

/// A trouble at a corner that a thicker cable spares.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spared {
    /// The corner's name.
    pub corner: &'static str,
    /// What is found there; `None` where the margin is too small, or the run has no end.
    pub finding: Option<Finding>,
    /// The smallest margin to turn-off there, V.
    pub margin_v: Option<f64>,
}

/// Everything.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sizes {
    /// Input cable, output cable.
    pub cables: [Sized; 2],
    /// The corners, and what the choice comes to at each.
    pub corners: Vec<At>,
    /// How many runs it took.
    pub runs: usize,
}

/// What a choice comes to at a corner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct At {
    /// Its name.
    pub corner: &'static str,
    /// The judge's word.
    pub word: &'static str,
    /// Dangers and troubles.
    pub bad: Vec<Finding>,
    /// The smallest margin to turn-off, V; `None` where none counts.
    pub margin_v: Option<f64>,
    /// Whether the unit came on at all.
    pub came_on: bool,
}

/// Why nothing can be sized.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SizeError {
    /// A cable is given as a resistance.
    #[error(
        "{0} stands for a whole cable: give its length and its size in its place, so that other sizes can be tried"
    )]
    Whole(&'static str),
    /// The scenario itself cannot be run.
    #[error(transparent)]
    Trial(#[from] TrialError),
}

impl From<CaseError> for SizeError {
    fn from(e: CaseError) -> Self {
        SizeError::Trial(e.into())
    }
}

/// The vehicle's knobs for one cable.
struct Keys {
    size: Knob,
    section: &'static str,
    /// Whether the scenario has curves of its own for the fuses: their type stays as it is.
    curves: bool,
}

/// Finds the sizes.
///
/// # Errors
/// [`SizeError`] where a cable is given as a resistance, or the scenario cannot be run.
pub fn sizes(case: &Case, ask: &Ask, threads: &impl Threads) -> Result<Sizes, SizeError> {
    let base = Trial::run_of_many(case)?;
    let all = knobs(&base.scenario);
    let keys =
        [(Part::InputSize, "input_cable"), (Part::OutputSize, "output_cable")].map(|(part, section)| {
            let size = all.iter().find(|k| k.part == part).cloned();
            size.map(|size| Keys { size, section, curves: typed_curve(&base.scenario, section) })
        });
    let [Some(input), Some(output)] = keys else {
        let whole = if base.scenario.input_cable.resistance_mohm.is_some() {
            "input_cable.resistance_mohm"
        } else {
            "output_cable.resistance_mohm"
        };
        return Err(SizeError::Whole(whole));
    };
    let keys = [input, output];
    let [mut input, mut output] = [0, 1].map(|n| sized(case, &base, &keys[n], n, ask));
    let mut search = Search { case, keys: &keys, threads, runs: 1 };
    let thickest = [input.rows.len() - 1, output.rows.len() - 1];
    let spared_by_none = search.trials([&input.rows[thickest[0]], &output.rows[thickest[1]]])?;
    let passes = |s: &Sized| (0..s.rows.len()).filter(|n| s.rows[*n].broken.is_empty()).collect::<Vec<_>>();
    let (inputs, outputs) = (passes(&input), passes(&output));
    let mut corners = Vec::new();
    'found: for o in &outputs {
        let mut before = Vec::new();
        for (tried, i) in inputs.iter().enumerate() {
            let trials = search.trials([&input.rows[*i], &output.rows[*o]])?;
            let spared = spared(&trials, &spared_by_none, ask);
            if spared.is_empty() {
                (input.taken, output.taken) = (Some(*i), Some(*o));
                input.smaller = before;
                corners = at_corners(&trials);
                break 'found;
            }
            // With the thickest input cable in the last place the output cable has to be thicker.
            if tried + 1 == inputs.len() {
                output.smaller = spared;
            } else {
                before = spared;
            }
        }
    }
    let runs = search.runs;
    Ok(Sizes { cables: [input, output], corners, runs })
}

/// Whether a curve was typed for a fuse of this cable.
fn typed_curve(s: &Scenario, section: &str) -> bool {
    let (i, o) = (&s.input_cable, &s.output_cable);
    if section == "input_cable" {
        i.fuse_times_rating.is_some() || i.unit_end_fuse_times_rating.is_some()
    } else {
        o.fuse_times_rating.is_some() || o.unit_end_fuse_times_rating.is_some()
    }
}

/// The most that the unit draws and gives, A: its output limit at its highest target, out of an input at turn-off, and no more
/// than its input limit.
pub fn loads_a(model: &Model) -> [f64; 2] {
    let (c, link) = (&model.link().converter, model.link());
    let output_a = c.output_limit_a;
    let output_w = output_a * link.stages.absorption_v.max(link.stages.float_v);
    let drawn_a = c.loss.input_w(output_w) / link.start_stop.turn_off_v;
    [drawn_a.min(c.input_limit_a), output_a]
}

/// The system's nominal volts at a battery: 12 V for each six lead-acid or four lithium-iron cells.
fn nominal_v(battery: &Battery) -> f64 {
    12.0 * (battery.rested_v(1.0) / 12.7).round().max(1.0)
}

fn cable_of(model: &Model, n: usize) -> &Cable {
    let link = model.link();
    if n == 0 { &link.input_cable } else { &link.output_cable }
}

fn sized(case: &Case, base: &Trial, keys: &Keys, n: usize, ask: &Ask) -> Sized {
    let (model, scenario) = (&base.resolved.model, &base.scenario);
    let (battery, limit, length_m, kind) = if n == 0 {
        let s = &scenario.input_cable;
        (&model.starter, model.bears.input_insulation_c, s.length_m.value, &s.fuse_kind)
    } else {
        let s = &scenario.output_cable;
        (&model.house, model.bears.output_insulation_c, s.length_m.value, &s.fuse_kind)
    };
    let (air_c, bay_c) = guard_rails::hottest_air_c(&base.resolved.profile);
    let (air_c, bay_c) = (air_c.max(HOT_C), bay_c.max(HOT_C));
    let cable = cable_of(model, n);
    let in_bay = cable.conductors.iter().any(|c| c.in_bay && c.ohm_20 > 0.0);
    let demand = Demand {
        load_a: loads_a(model)[n],
        most_drop_v: ask.most_drop[n] * nominal_v(battery),
        insulation_c: limit.most,
        air_c,
        bay_c,
        fuse_air_c: if in_bay { bay_c } else { air_c },
        spare: ask.spare,
        battery: drives(battery),
    };
    let there = cable.battery_end_fuse.as_ref().map(|f| Chosen {
        rating_a: f.rating_a,
        breaks_a: f.breaks_a,
        kind: kind
            .as_ref()
            .and_then(|k| crate::plant::fuse::KIND_WORDS.iter().find(|w| **w == k.value).copied()),
    });
    let row = |(name, area): &(String, f64)| {
        let turned = keys.size.turned(case, *area).ok()?.resolve().ok()?.1;
        Some(held(name, *area, cable_of(&turned.model, n), &demand, None))
    };
    let rows = keys.size.sizes.iter().filter_map(row).collect();
    let now = held(keys.size.size_name(keys.size.now), keys.size.now, cable, &demand, there.as_ref());
    let which = if n == 0 { CableOf::Input } else { CableOf::Output };
    let fused = there.is_some();
    let gauge = match keys.size.keys[0].path.rsplit('.').next() {
        Some("awg") => " AWG",
        Some("sae") => " SAE",
        _ => "",
    };
    Sized { cable: which, demand, rows, now, fused, taken: None, smaller: Vec::new(), length_m, gauge }
}

struct Search<'a, T: Threads> {
    case: &'a Case,
    keys: &'a [Keys; 2],
    threads: &'a T,
    runs: usize,
}

impl<T: Threads> Search<'_, T> {
    /// The corners of a choice, run.
    fn trials(&mut self, rows: [&Row; 2]) -> Result<Vec<Result<Trial, TrialError>>, SizeError> {
        let mut chosen = self.case.clone();
        for (keys, row) in self.keys.iter().zip(rows) {
            chosen = chosen.with_all(changes(keys, row).iter().map(|(k, v)| (k.as_str(), v.clone())))?;
        }
        let cases: Vec<Case> =
            CORNERS.iter().map(|(_, worst)| cornered(&chosen, worst)).collect::<Result<_, CaseError>>()?;
        self.runs += cases.len();
        Ok(self.threads.map(cases.len(), |n| Trial::run_of_many(&cases[n])))
    }
}

/// The keys that say a choice, with their values.
fn changes(keys: &Keys, row: &Row) -> Vec<(String, Value)> {
    let key = &keys.size.keys[0];
    let size = if key.takes_name { Value::Text(row.name.clone()) } else { Value::Number(row.area_mm2) };
    let mut all = vec![(key.path.clone(), size)];
    if let Some(fuse) = &row.fuse {
        for end in ["", "unit_end_"] {
            all.push((format!("{}.{end}fuse_a", keys.section), Value::Number(fuse.rating_a)));
            if let Some(kind) = fuse.kind.filter(|_| !keys.curves) {
                all.push((format!("{}.{end}fuse_kind", keys.section), Value::Text(kind.to_owned())));
            }
        }
    }
    all
}

fn margin_v(trial: &Trial) -> Option<f64> {
    trial.summary.extremes.margin_v.map(|m| m.value)
}

/// What a choice has that the thickest cable spares, corner by corner; and margins smaller than asked where the thickest has
/// enough.
fn spared(
    trials: &[Result<Trial, TrialError>],
    thickest: &[Result<Trial, TrialError>],
    ask: &Ask,
) -> Vec<Spared> {
    let mut found = Vec::new();
    for (((corner, _), ours), best) in CORNERS.iter().zip(trials).zip(thickest) {
        let (ours, best) = match (ours, best) {
            (Ok(ours), Ok(best)) => (ours, best),
            (Err(_), Ok(_)) => {
                found.push(Spared { corner, finding: None, margin_v: None });
                continue;
            }
            (_, Err(_)) => continue,
        };
        let there: Vec<Kind> = best.verdict.bad().map(|f| f.kind).collect();
        let new = ours.verdict.bad().filter(|f| of_copper(&f.kind) && !there.contains(&f.kind));
        let margin = margin_v(ours);
        let told = found.len();
        found.extend(new.map(|f| Spared { corner, finding: Some(*f), margin_v: margin }));
        let short = |t: &Trial| margin_v(t).is_some_and(|m| m < ask.margin_v);
        if found.len() == told && short(ours) && !short(best) {
            found.push(Spared { corner, finding: None, margin_v: margin });
        }
    }
    found
}

/// Whether copper decides it: what joints, alternator, batteries or the unit's own heat do is theirs to mend, though a thicker
/// cable moves it by a hair.
fn of_copper(kind: &Kind) -> bool {
    matches!(
        kind,
        Kind::ConductorHot { .. }
            | Kind::FuseOpened { .. }
            | Kind::FuseMayOpen { .. }
            | Kind::FuseOver { .. }
            | Kind::NeverComesOn { .. }
            | Kind::KeepsDroppingOut
            | Kind::StaysOff
            | Kind::StopsKeepItOff
            | Kind::DropsOutAtFirst
            | Kind::OnTooLate
            | Kind::TapersEarly { by: Taper::Cable }
    )
}

fn at_corners(trials: &[Result<Trial, TrialError>]) -> Vec<At> {
    let at = |((corner, _), trial): (&Corner, &Result<Trial, TrialError>)| match trial {
        Ok(t) => At {
            corner,
            word: t.verdict.word(),
            bad: t.verdict.bad().copied().collect(),
            margin_v: margin_v(t),
            came_on: t.summary.first_on_s.is_some(),
        },
        Err(_) => At { corner, word: "has no end", bad: Vec::new(), margin_v: None, came_on: false },
    };
    CORNERS.iter().zip(trials).map(at).collect()
}

impl Sized {
    /// The size that is taken.
    pub fn row(&self) -> Option<&Row> {
        self.taken.map(|n| &self.rows[n])
    }

    /// The next smaller size, and what speaks against it by the rules; `None` where there is none smaller.
    pub fn less(&self) -> Option<&Row> {
        self.taken.filter(|n| *n > 0).map(|n| &self.rows[n - 1])
    }

    /// What speaks against the cable as it is: first what keeps it from carrying the unit, then what it only costs or lacks, a
    /// drop that takes volts and a fuse that may not break a short circuit.
    pub fn against_now(&self) -> [Vec<&Broken>; 2] {
        let beside = |b: &&Broken| matches!(b.rule, Rule::Drop | Rule::Breaking);
        let (lacks, keeps) = self.now.broken.iter().partition(beside);
        [keeps, lacks]
    }

    /// Copper of both legs, kg (IEC 60028).
    pub fn copper_kg(&self, row: &Row) -> f64 {
        2.0 * self.length_m * row.area_mm2 * 1e-6 * super::mend::COPPER_KG_PER_M3
    }
}

impl Sizes {
    /// The keys that say the choice, section by section: what a scenario with it changes.
    pub fn keys(&self, case: &Case) -> Result<Vec<(String, Value)>, CaseError> {
        let scenario = case.scenario()?;
        let all = knobs(&scenario);
        let mut found = Vec::new();
        for (sized, (part, section)) in
            self.cables.iter().zip([(Part::InputSize, "input_cable"), (Part::OutputSize, "output_cable")])
        {
            if let (Some(row), Some(size)) = (sized.row(), all.iter().find(|k| k.part == part)) {
                let curves = typed_curve(&scenario, section);
                found.extend(changes(&Keys { size: size.clone(), section, curves }, row));
            }
        }
        Ok(found)
    }
}
