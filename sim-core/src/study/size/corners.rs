//! Corners: the scenario with something at its worst.

use super::super::case::{Case, CaseError};
use super::super::knobs::{Part, knobs};

/// Air of a hot day, °C: common practice, no source. The engine bay stays as hot as the scenario says.
pub const HOT_C: f64 = 40.0;
/// Air of a cold night, °C: common practice, no source.
pub const COLD_C: f64 = -10.0;
/// How much lower a set-point may be than it was typed, V; common practice, no source: two handheld meters and a season.
pub const SET_POINT_LOWER_V: f64 = 0.2;
/// State of charge of a hungry house battery, %.
pub const HUNGRY_PCT: f64 = 20.0;
/// How much worse joints may get, as a factor: common practice, no source.
pub const JOINTS_WORSE: f64 = 2.0;

/// A corner: its name, and what stands there at its worst.
pub(super) type Corner = (&'static str, &'static [Worst]);

/// What is at its worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Worst {
    Air(f64),
    SetPoint,
    Hungry,
    Joints,
}

pub(super) const CORNERS: [Corner; 7] = [
    ("as the scenario says", &[]),
    ("cold, −10 °C", &[Worst::Air(COLD_C)]),
    ("hot, 40 °C", &[Worst::Air(HOT_C)]),
    ("set-point 0.2 V lower", &[Worst::SetPoint]),
    ("house hungry, 20 %", &[Worst::Hungry]),
    ("joints twice as bad", &[Worst::Joints]),
    ("all of these, hot", &[Worst::Air(HOT_C), Worst::SetPoint, Worst::Hungry, Worst::Joints]),
];

/// A case at a corner.
pub(super) fn cornered(case: &Case, worst: &[Worst]) -> Result<Case, CaseError> {
    let mut case = case.clone();
    for w in worst {
        let all = knobs(&case.scenario()?);
        let of = |part: Part| all.iter().find(move |k| k.part == part);
        let turned = match *w {
            Worst::Air(c) => of(Part::Air).map(|k| k.turned(&case, c)),
            Worst::SetPoint => of(Part::SetPoint).map(|k| k.turned(&case, k.now - SET_POINT_LOWER_V)),
            Worst::Hungry => of(Part::HouseSoc).map(|k| k.turned(&case, HUNGRY_PCT.min(k.now))),
            Worst::Joints => {
                let joints = [of(Part::InputJoints), of(Part::OutputJoints)];
                Some(
                    joints
                        .into_iter()
                        .flatten()
                        .try_fold(case.clone(), |c, k| k.turned(&c, k.now * JOINTS_WORSE)),
                )
            }
        };
        if let Some(turned) = turned {
            case = turned?;
        }
    }
    Ok(case)
}
