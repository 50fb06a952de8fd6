//! Scenario → model and profile: user units become SI, defaults are filled in, values are checked against each other.
//!
//! Every number of the result is listed with where it came from.

mod alternator;
mod bears;
mod calendar;
mod cross_checks;
mod days;
mod drive;
mod effects;
mod entry;
mod fuses;
mod numbers;
mod parts;
mod phase;
mod sources;
mod stop_start;
mod trace_file;
mod warnings;

pub use entry::{Entry, From};

/// The rule that commands a scenario's set-point, if one does.
pub fn set_point_rule(s: &Scenario) -> Option<crate::plant::set_point_rule::SetPointRule> {
    alternator::rule(s, &mut |_| {})
}

pub use sources::{Source, source_of};
pub use trace_file::{DriveFile, Gearbox, Stamp};

use crate::engine::Stops;
use crate::model::{
    Converter, HouseLoads, Link, Model, Profile, Protection, Regulator, Stages, StartStop, Vehicle,
};
use crate::plant::bears::Bears;
use crate::scenario::list_path::without_numbers;
use crate::scenario::problem::Problem;
use crate::scenario::{ProblemKind, Scenario, Warning};
use parts::{Maker, cable_fields, sense};
use std::sync::Arc;

/// A scenario made ready to run.
#[derive(Debug, Clone, PartialEq)]
pub struct Resolved {
    /// The vehicle.
    pub model: Model,
    /// The drive.
    pub profile: Profile,
    /// Every number, with where it came from.
    pub entries: Vec<Entry>,
    /// What became of the engine stops of stop-start, where the drive offers any.
    pub stops: Option<Stops>,
    /// What is worth a second look; stops nothing.
    pub warnings: Vec<Warning>,
}

/// Resolves a scenario; a value that is set in code is held to its key's range and choices as one in a file is.
///
/// `files` hands over the drive file with that number
/// ([`Scenario::drive_files`]), already read.
///
/// # Errors
/// Every problem found.
pub fn resolve(
    scenario: &Scenario,
    files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
) -> Result<Resolved, Vec<Problem>> {
    resolve_after(scenario, files, Vec::new())
}

/// Resolves a scenario that was read with these problems, so that values which do not go together are told with them.
///
/// # Errors
/// The problems handed in and every problem found.
pub fn resolve_after(
    scenario: &Scenario,
    files: &dyn Fn(usize) -> Option<Arc<DriveFile>>,
    read: Vec<Problem>,
) -> Result<Resolved, Vec<Problem>> {
    let mut problems = scenario.check();
    if !problems.is_empty() {
        problems.extend(read);
        problems.sort_by_key(|p| p.place);
        return Err(problems);
    }
    let mut entries = Vec::new();
    scenario.each_number(&mut |path, unit, num| entries.push(Entry::of(path, unit, num)));
    let syntax = read.iter().any(|p| matches!(p.kind, ProblemKind::Syntax(_) | ProblemKind::BuildOn(_)));
    let told = read.iter().map(|p| p.path.clone()).collect();
    let mut warnings = Vec::new();
    let mut maker = Maker {
        entries: &mut entries,
        problems: &mut problems,
        warnings: &mut warnings,
        read: &told,
        syntax,
    };
    let mut model = maker.model(scenario);
    maker.effects(&mut model, scenario);
    maker.fuses(&mut model, scenario);
    let profile = maker.profile(scenario, files);
    maker.cross_checks(scenario);
    if let Some(profile) = &profile {
        maker.standby_check(scenario, &model, profile);
    }
    model.bears = bears::bears(scenario, &model);
    drop_unused(scenario, &mut entries);
    problems.extend(read);
    match profile {
        Some(profile) if problems.is_empty() => {
            let (profile, stops) = stop_start::decided(scenario, &model, profile);
            warnings.extend(warnings::warnings(scenario, &model, &profile));
            Ok(Resolved { model, profile, entries, stops, warnings })
        }
        _ => {
            problems.sort_by_key(|p| p.place);
            Err(problems)
        }
    }
}

/// Takes out defaults that nothing reads, and those that a derived number replaces: they are no part of the model.
fn drop_unused(s: &Scenario, entries: &mut Vec<Entry>) {
    let derived = entries.iter().filter(|e| matches!(e.from, From::Derived(_)));
    let replaced: Vec<String> = derived.map(|e| e.name.clone()).collect();
    let unused = s.unused();
    entries.retain(|e| {
        let default = matches!(e.from, From::Default(_));
        !default || !replaced.contains(&e.name) && !unused.contains(&without_numbers(&e.name))
    });
}

impl Maker<'_> {
    fn model(&mut self, s: &Scenario) -> Model {
        let mut model = Model {
            alternator: self.alternator(&s.alternator),
            vehicle: Vehicle::default(),
            starter: self.starter_battery(&s.starter_battery),
            house: self.house_battery(&s.house_battery),
            house_mains: Regulator::NONE,
            starter_solar: Regulator::NONE,
            protection: Protection::NONE,
            house_loads: HouseLoads::BARE,
            house_solar: Regulator::NONE,
            links: vec![Link {
                input_cable: self.cable("input_cable", &cable_fields!(s.input_cable)),
                converter: Converter { sense: sense(&s.converter.sense.value), ..Converter::default() },
                start_stop: StartStop::default(),
                stages: Stages::default(),
                output_cable: self.cable("output_cable", &cable_fields!(s.output_cable)),
            }],
            bears: Bears::default(),
        };
        numbers::put_into_model(&mut model, s);
        model.links.iter_mut().for_each(|link| numbers::put_into_link(link, s));
        model
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::drive::PieceSpec;
    use crate::scenario::{Num, Text};

    /// Values that no file could bring in, all told at once, with what is allowed and a guess.
    #[test]
    fn a_value_set_in_code_is_told_as_one_in_a_file() {
        let mut s = Scenario::default();
        s.converter.output_limit_a.set(-5.0);
        s.start_stop.signal = Text::typed("requierd".to_owned());
        s.pieces.push(PieceSpec {
            duration_min: Some(Num::typed(f64::NAN)),
            engine_rpm: Some(Num::typed(2000.0)),
            ..PieceSpec::default()
        });
        let told = resolve(&s, &|_| None).expect_err("three values are wrong");
        let paths: Vec<&str> = told.iter().map(|p| p.path.as_str()).collect();
        assert_eq!(paths, ["converter.output_limit_a", "start_stop.signal", "drive.piece.1.duration_min"]);
        let allowed = "a number from 0.1 to 1000 A".to_owned();
        assert_eq!(told[0].kind, ProblemKind::OutOfRange { value: -5.0, allowed });
        assert!(matches!(&told[1].kind, ProblemKind::BadChoice { guess: Some(g), .. } if g == "required"));
        assert!(matches!(told[2].kind, ProblemKind::OutOfRange { .. }));
        s.converter.output_limit_a.set(30.0);
        s.start_stop.signal = Text::typed("required".to_owned());
        s.pieces[0].duration_min = Some(Num::typed(30.0));
        assert!(resolve(&s, &|_| None).is_ok());
    }
}
