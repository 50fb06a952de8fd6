//! Volts that batteries do not bear, and system voltages that do not go together.

use super::{Facts, Finding, Kind, Measure, Weight, When, beyond};
use crate::model::Model;
use crate::plant::bears::BatteryVolts;
use crate::record::{Side, Watched};

/// Volts that a battery is charged with over its rested volts when full: a 14.4 V charger on 12.7 V is 1.13, a 14.2 V one on
/// a lithium battery near 1; one of twice the system voltage is 2. Beyond these it belongs to another system.
const FITS: (f64, f64) = (0.8, 1.4);
/// Volts beyond what a battery bears for hours count from here on, s without a break.
const HELD_S: f64 = 1800.0;
/// Volts beyond what was typed, or what no battery of its kind bears, count from here on, s without a break.
const TRANSIENT_S: f64 = 10.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    let b = &facts.model.bears;
    let sides =
        [(Side::Starter, Watched::StarterVolts, b.starter), (Side::House, Watched::HouseVolts, b.house)];
    for (side, what, bears) in sides {
        if let Some(misfit) = misfit(facts.model, side).filter(|_| bears.held_v.is_finite()) {
            let (from, to) = (facts.timeline.span.from.as_s(), facts.timeline.span.to.as_s());
            let kind = Kind::SystemVoltage { side };
            findings.push(Finding::new(kind, Weight::Danger, When::once(from, to)).with(misfit));
        } else {
            findings.extend(too_high(facts, side, what, &bears));
        }
    }
}

/// A source whose set-point does not go with the battery on its bus: set-point and rested volts.
fn misfit(model: &Model, side: Side) -> Option<Measure> {
    let (battery, set_v) = match side {
        Side::Starter => (&model.starter, model.alternator.set_point_v),
        Side::House => (&model.house, model.link().stages.absorption_v),
    };
    let rested_v = battery.rested_v(1.0);
    let share = set_v / rested_v;
    if share > FITS.1 {
        Some(Measure::at_most(set_v, FITS.1 * rested_v, "V"))
    } else if share < FITS.0 {
        Some(Measure::at_least(set_v, FITS.0 * rested_v, "V"))
    } else {
        None
    }
}

fn too_high(facts: &Facts, side: Side, what: Watched, bears: &BatteryVolts) -> Option<Finding> {
    let peak = facts.run.stress.peak(what).filter(|p| p.over() > 0.0)?;
    let never = peak.over() > bears.never_v - bears.held_v;
    let weight = match peak.longest_s {
        s if (bears.typed || never) && s > TRANSIENT_S => Weight::Danger,
        s if s > HELD_S => Weight::Trouble,
        _ => return None,
    };
    let (when, measure) = beyond(peak, "V");
    Some(Finding::new(Kind::BusTooHigh { side, typed: bears.typed }, weight, when).with(measure))
}
