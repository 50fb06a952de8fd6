//! Heat: conductors, joints, the alternator's winding, the unit itself.

use super::{CableOf, Facts, Finding, Kind, Measure, Section, Weight, When, beyond};
use crate::plant::bears::{BEST_INSULATION_C, Limit, WINDING_NEVER_C};
use crate::record::timeline::{OffCause, Span};
use crate::record::{Peak, Watched};

/// How far under what they bear joints already count as hot, K: about the reach of what is not known of a joint's cooling.
const JOINT_NEAR_K: f64 = 15.0;
/// Share of the time on beyond which derating is no small matter.
const DERATED_SHARE: f64 = 0.25;
/// Derating shorter than this is not worth a word, s.
const DERATED_S: f64 = 60.0;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    let b = &facts.model.bears;
    let sections = [
        (Watched::InputBay, CableOf::Input, Section::Bay, b.input_insulation_c),
        (Watched::InputCabin, CableOf::Input, Section::Cabin, b.input_insulation_c),
        (Watched::Output, CableOf::Output, Section::Cabin, b.output_insulation_c),
    ];
    for (what, cable, section, limit) in sections {
        if let Some(peak) = facts.run.stress.peak(what).filter(|p| p.over() > 0.0) {
            let kind = Kind::ConductorHot { cable, section, typed: limit.typed };
            findings.push(with(kind, conductor_weight(peak, limit), peak, "°C"));
        }
    }
    late_edge(facts, findings);
    let joints = [
        (Watched::InputJoints, CableOf::Input, b.input_joints_c),
        (Watched::OutputJoints, CableOf::Output, b.output_joints_c),
    ];
    for (what, cable, limit) in joints {
        let Some(peak) = facts.run.stress.peak(what) else { continue };
        let weight = match peak.over() {
            over if over > 0.0 => Weight::Danger,
            over if over > -JOINT_NEAR_K => Weight::Trouble,
            _ => continue,
        };
        findings.push(with(Kind::JointHot { cable, typed: limit.typed }, weight, peak, "°C"));
    }
    if let Some(peak) = facts.run.stress.peak(Watched::Winding).filter(|p| p.over() > 0.0) {
        let weight = if peak.value > WINDING_NEVER_C { Weight::Danger } else { Weight::Trouble };
        findings.push(with(Kind::WindingHot, weight, peak, "°C"));
    }
    findings.extend(unit(facts));
}

/// A fuse that opened kept its cable cool; the slowest of its type would have let it warm on. What the conductor would have
/// come to then counts like a temperature that was met.
fn late_edge(facts: &Facts, findings: &mut Vec<Finding>) {
    let b = &facts.model.bears;
    for fuse in &facts.run.fuses {
        let input = fuse.place.on_input();
        let (cable, limit) = match input {
            true => (CableOf::Input, b.input_insulation_c),
            false => (CableOf::Output, b.output_insulation_c),
        };
        let Some(opened) = fuse.opened else { continue };
        let Some(temp_c) = opened.late_conductor_c.filter(|c| *c > limit.most) else { continue };
        if findings.iter().any(|f| matches!(f.kind, Kind::ConductorHot { cable: of, .. } if of == cable)) {
            continue;
        }
        let section =
            if input && facts.model.link().input_cable.joints_in_bay { Section::Bay } else { Section::Cabin };
        let when = When { for_s: 0.0, ..When::once(opened.at_s, opened.at_s + opened.late_after_s) };
        let kind = Kind::ConductorHot { cable, section, typed: limit.typed };
        let weight = if limit.typed || temp_c > BEST_INSULATION_C { Weight::Danger } else { Weight::Trouble };
        findings.push(Finding::new(kind, weight, when).with(Measure::at_most(temp_c, limit.most, "°C")));
    }
}

/// A typed limit is what is fitted; an assumed one says that the marking has to be read, until nothing common bears it.
fn conductor_weight(peak: &Peak, limit: Limit) -> Weight {
    if limit.typed || peak.value > BEST_INSULATION_C { Weight::Danger } else { Weight::Trouble }
}

fn with(kind: Kind, weight: Weight, peak: &Peak, unit: &'static str) -> Finding {
    let (when, measure) = beyond(peak, unit);
    Finding::new(kind, weight, when).with(measure)
}

/// The unit's own heat: locked out, or giving less for long.
fn unit(facts: &Facts) -> Option<Finding> {
    let t = facts.timeline;
    let peak = facts.run.stress.peak(Watched::Case);
    let heat_offs = t.turn_offs().filter(|off| off.cause == OffCause::Heat).count();
    if let (Some(first), Some(last)) = (t.locked.first(), t.locked.last()) {
        let when = When {
            first_s: first.from.as_s(),
            last_s: last.to.as_s(),
            for_s: t.locked.iter().map(Span::seconds).sum(),
            times: t.locked.len().max(heat_offs) as u32,
        };
        let lock_c = facts.model.link().converter.lock_c;
        // Where nothing is taken away by heat the case is not watched; it locked out at its lock-out.
        let met_c = peak.map_or(lock_c, |p| p.value);
        let measure = Measure::at_most(met_c, lock_c.min(met_c), "°C");
        let kind = Kind::LimitedByHeat { locks: true };
        return Some(Finding::new(kind, Weight::Trouble, when).with(measure));
    }
    let peak = peak?;
    let (when, measure) = beyond(peak, "°C");
    let long = when.for_s > DERATED_SHARE * t.on_s();
    let c = &facts.model.link().converter;
    // Less than half of the limit is left past the middle of the line.
    let deep = peak.value > f64::midpoint(c.derate_from_c, c.derate_to_c);
    let weight = if long && deep { Weight::Trouble } else { Weight::Note };
    let kind = Kind::LimitedByHeat { locks: false };
    (when.for_s > DERATED_S && t.on_s() > 0.0).then(|| Finding::new(kind, weight, when).with(measure))
}
