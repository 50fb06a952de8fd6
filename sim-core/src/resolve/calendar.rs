//! A calendar becomes pieces: what holds by clock time is laid in layers, and each moment shows the top of every layer.

mod clock;
mod layers;
mod read;

use super::drive::{EngineWarmth, Ground, Sample, Start};
use super::entry::Entry;
use super::parts::Maker;
use super::trace_file::DriveFile;
use crate::bounds::{self, MOST_PIECES, MOST_ROWS_DRIVEN};
use crate::model::Profile;
use crate::scenario::calendar::Calendar;
use crate::scenario::drive::PieceSpec;
use crate::scenario::list_path::numbered;
use crate::scenario::node::Place;
use crate::scenario::{Num, Problem, Warning, WarningKind};
use crate::time::DAY_S;
use layers::{Engine, Layer, Layers, Rank};
use read::{OneDay, Plan, PlannedDay, PlannedDrive, Season};
use std::ops::ControlFlow;
use std::rc::Rc;
use std::sync::Arc;

impl Maker<'_> {
    /// The profile of a calendar.
    pub(super) fn calendar(
        &mut self,
        calendar: &Calendar,
        ground: &Ground,
        files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
    ) -> Option<Profile> {
        let plan = self.plan(calendar, ground, files);
        if !self.problems.is_empty() || !self.read.is_empty() {
            return None;
        }
        let asked = asked(&plan);
        let rows = asked.iter().filter(|a| a.rows).fold(0, |sum: u64, a| sum.saturating_add(a.count));
        if rows > MOST_ROWS_DRIVEN {
            let to_blame = asked.iter().filter(|a| a.rows).max_by_key(|a| a.count);
            self.asks_too_much("rows of drive files", MOST_ROWS_DRIVEN, to_blame);
            return None;
        }
        let (layers, overlap) = lay(&plan, ground);
        // Longer drives, as when a break-even is looked for, say it themselves.
        if let Some((day, seconds)) = overlap.filter(|_| plan.factor == 1.0) {
            let kind = WarningKind::DrivesOverlap { day: day + 1, minutes: seconds / 60.0 };
            self.warnings.push(Warning { path: "calendar".into(), place: None, kind });
        }
        let Some(layers) = layers else {
            self.asks_too_much("pieces", MOST_PIECES as u64, asked.iter().max_by_key(|a| a.count));
            return None;
        };
        let days = plan.days.len() as f64;
        let pieces = layers.pieces();
        self.entries.push(Entry::derived("calendar.duration_s", days * DAY_S, "s", "its days".into()));
        let start = Start { clock_s: 0.0, date: plan.date, weekday: Some(plan.weekday) };
        self.finished(pieces.iter(), &start)
    }

    fn asks_too_much(&mut self, what: &str, most: u64, to_blame: Option<&Asked>) {
        let (path, place) = to_blame.map_or(("calendar", None), |a| (a.path.as_str(), a.place));
        let what = bounds::passed(what, most, to_blame.map_or(0, |a| a.count));
        self.problems.push(Problem::conflict(path, place, what));
    }
}

/// How many stretches a key asks for.
struct Asked {
    path: String,
    place: Option<Place>,
    count: u64,
    /// Whether they are rows of a drive file.
    rows: bool,
}

/// What the keys of a plan ask for at most, counted before any of it is laid.
fn asked(plan: &Plan) -> Vec<Asked> {
    let days = |holds: &dyn Fn(&OneDay) -> bool| plan.days.iter().filter(|d| holds(d)).count() as u64;
    let mut all = Vec::new();
    for (n, day) in plan.named.iter().enumerate() {
        let times = days(&|d| d.lay_up.is_none() && d.planned == Some(n));
        all.extend(day.drives.iter().map(|drive| Asked {
            path: drive.path.clone(),
            place: drive.place,
            count: drive.rows(plan.factor).saturating_mul(times),
            rows: drive.file.is_some(),
        }));
        let count = (day.during.len() as u64).saturating_mul(times);
        all.push(Asked {
            path: format!("{}.during", numbered("calendar.day", n)),
            place: None,
            count,
            rows: false,
        });
    }
    let sun = plan.seasons.iter().enumerate().map(|(n, season)| {
        let steps = season.sun.map_or(0.0, |sun| season_steps(sun, plan.sun_step_s));
        (steps as u64).saturating_mul(days(&|d| d.season == Some(n)))
    });
    all.push(Asked {
        path: "calendar.sun_step_min".into(),
        place: plan.sun_step_place,
        count: sun.fold(0, u64::saturating_add),
        rows: false,
    });
    all
}

/// Everything that holds, as layers, or none where there are too many; and the first day, from 0, whose first drive begins
/// before the one of the day before has ended, with how long before, s.
fn lay(plan: &Plan, ground: &Ground) -> (Option<Layers>, Option<(usize, f64)>) {
    let mut overlap = None;
    let mut layers = Layers::default();
    let mut engine = EngineWarmth::default();
    let mut driven_to_s = f64::NEG_INFINITY;
    for (n, day) in plan.days.iter().enumerate() {
        let from_s = n as f64 * DAY_S;
        if let Some(season) = day.season.map(|s| &plan.seasons[s]) {
            season.lay(from_s, plan.sun_step_s, &mut layers);
        }
        // A lay-up is one day to the ledger, however long.
        layers.day(from_s, day.lay_up.map_or(n, |(first, _)| first) as u32);
        match day.lay_up {
            Some((_, lay_up)) => {
                let (spec, parked_a) = &plan.lay_ups[lay_up];
                layers.conditions(Rank::LayUp, (from_s, from_s + DAY_S), spec.clone(), *parked_a);
            }
            None => {
                if let Some(planned) = day.planned.map(|p| &plan.named[p]) {
                    let first_s =
                        planned.drives.iter().map(|d| from_s + d.at_s).fold(f64::INFINITY, f64::min);
                    if overlap.is_none() && first_s < driven_to_s {
                        overlap = Some((n, driven_to_s - first_s));
                    }
                    let warmth = (&mut engine, &mut driven_to_s);
                    if planned.lay(from_s, plan.factor, ground, warmth, &mut layers).is_break() {
                        return (None, overlap);
                    }
                }
            }
        }
        if layers.flatten_many(from_s + DAY_S, ground).is_break() {
            return (None, overlap);
        }
    }
    let whole = layers.flatten(plan.days.len() as f64 * DAY_S, ground).is_continue();
    (whole.then_some(layers), overlap)
}

/// Steps of the sun from rise to set.
fn season_steps((rise_s, set_s, _): (f64, f64, f64), step_s: f64) -> f64 {
    ((set_s - rise_s) / step_s).ceil().max(1.0)
}

impl Season {
    /// Air over a day, and the sun from rise to set as half a sine in steps of equal energy.
    fn lay(&self, from_s: f64, step_s: f64, layers: &mut Layers) {
        if let Some(air_c) = self.air_c {
            let spec = PieceSpec { air_c: Some(Num::typed(air_c)), ..PieceSpec::default() };
            layers.conditions(Rank::Season, (from_s, from_s + DAY_S), Rc::new(spec), None);
        }
        let Some((rise_s, set_s, noon_w)) = self.sun.filter(|s| s.2 > 0.0) else { return };
        let steps = season_steps((rise_s, set_s, noon_w), step_s);
        let step = (set_s - rise_s) / steps;
        for k in 0..steps as usize {
            let angle = |k: f64| std::f64::consts::PI * k / steps;
            let (a, b) = (angle(k as f64), angle(k as f64 + 1.0));
            let watts = noon_w * (a.cos() - b.cos()) / (b - a);
            let spec = PieceSpec { house_solar_w: Some(Num::typed(watts)), ..PieceSpec::default() };
            let at_s = from_s + rise_s + k as f64 * step;
            layers.conditions(Rank::Season, (at_s, at_s + step), Rc::new(spec), None);
        }
    }
}

impl PlannedDay {
    fn lay(
        &self,
        from_s: f64,
        factor: f64,
        ground: &Ground,
        (engine, driven_to_s): (&mut EngineWarmth, &mut f64),
        layers: &mut Layers,
    ) -> ControlFlow<()> {
        for during in &self.during {
            let span = (from_s + during.from_s, from_s + during.to_s);
            layers.conditions(Rank::During, span, during.spec.clone(), during.parked_a);
        }
        let mut drives: Vec<(f64, &PlannedDrive)> =
            self.drives.iter().flat_map(|d| d.begins_s().map(move |at_s| (at_s, d))).collect();
        drives.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (n, (begins_s, drive)) in drives.iter().enumerate() {
            let at_s = from_s + begins_s;
            // Nothing that is laid later begins before this.
            let next_s = from_s + drives.get(n + 1).map_or(DAY_S, |d| d.0.min(DAY_S));
            if driven_to_s.is_finite() {
                engine.book(false, (at_s - *driven_to_s).max(0.0), ground);
            }
            let end_s = match &drive.file {
                None => {
                    let to_s = at_s + drive.long_s * factor;
                    let sample = Sample { rpm: drive.rpm, ..Sample::default() };
                    layers.drive((at_s, to_s), Engine { sample, spec: drive.spec.clone() });
                    engine.book(true, to_s - at_s, ground);
                    to_s
                }
                Some(file) => {
                    // Longer driving goes round the file again; shorter driving ends within it.
                    let (mut t_s, until_s) = (at_s, at_s + drive.long_s * factor);
                    while t_s < until_s - 1e-9 {
                        let each = |seconds: f64, sample| {
                            let to_s = (t_s + seconds).min(until_s);
                            if to_s > t_s {
                                layers.drive((t_s, to_s), Engine { sample, spec: drive.spec.clone() });
                            }
                            t_s += seconds;
                            layers.flatten_many(t_s.min(next_s), ground)
                        };
                        ground.drive_samples(file, engine, each)?;
                    }
                    until_s
                }
            };
            *driven_to_s = driven_to_s.max(end_s);
            let stop_start_until_s = drive.stop_start_until_s(*begins_s).map(|s| from_s + s);
            if let Some(to_s) = stop_start_until_s.filter(|to| *to > end_s) {
                let sample = Sample { stop_start: true, ..Sample::default() };
                let spec =
                    PieceSpec { vehicle_load_a: drive.between_a.map(Num::typed), ..PieceSpec::default() };
                let engine = Engine { sample, spec: Rc::new(spec) };
                layers.push(Layer::engine(Rank::Between, (end_s, to_s), engine));
            }
            layers.flatten_many(end_s.min(next_s), ground)?;
        }
        ControlFlow::Continue(())
    }
}
