//! What the house battery gets, and what keeps it from it.

use super::{Facts, Finding, Kind, Measure, Source, Weight, When};
use crate::logic::Refusal;
use crate::record::Line;
use crate::record::days::{flat_soc, house_low, is_flat};
use crate::record::timeline::Span;
use crate::state::HOUSE;
use crate::time::DAY_S;

/// State of charge from which a house battery counts as full, share.
pub const FULL_SOC: f64 = 0.98;
/// Charge that is worth a word, Ah.
const WORTH_AH: f64 = 0.05;
/// What others give is worth a word from here on, Ah.
const OTHERS_AH: f64 = 0.5;
/// Share of all that is charged under which the drive adds next to nothing.
const ADDS_SHARE: f64 = 0.1;
/// Charge refused for less of the driving than this is worth a word and no trouble.
const REFUSED_SHARE: f64 = 0.5;
/// Charge refused for no longer than this is not worth a word, s.
const REFUSED_S: f64 = 60.0;
/// A house battery that the same time again would take under this is losing, share of full.
const LEFT_SOC: f64 = 0.1;

pub(super) fn find(facts: &Facts, findings: &mut Vec<Finding>) {
    for why in [Refusal::Cold, Refusal::HighVoltage, Refusal::OverCurrent] {
        findings.extend(refused(facts, why));
    }
    findings.extend(shed(facts).into_iter().flatten());
    findings.extend(balance(facts));
}

fn over(spans: &[Span]) -> Option<When> {
    let (first, last) = (spans.first()?, spans.last()?);
    Some(When {
        first_s: first.from.as_s(),
        last_s: last.to.as_s(),
        for_s: spans.iter().map(Span::seconds).sum(),
        times: spans.len() as u32,
    })
}

fn refused(facts: &Facts, why: Refusal) -> Option<Finding> {
    let t = facts.timeline;
    let driving_s = t.refused_driving_s(why);
    if driving_s <= 0.0 {
        return None;
    }
    let spans: Vec<Span> = t.refused.iter().filter(|r| r.why == why).map(|r| r.span).collect();
    let when = When { for_s: driving_s, ..over(&spans)? };
    let limit_s = REFUSED_SHARE * t.driving_s();
    // Cold comes and goes with the weather; volts and amps that a protection refuses are set wrong.
    let wrong = why != Refusal::Cold && (spans.len() > 1 || driving_s > REFUSED_S);
    let weight = match driving_s {
        s if wrong || s > limit_s => Weight::Trouble,
        s if s > REFUSED_S => Weight::Note,
        _ => return None,
    };
    let measure = Measure::at_most(driving_s, limit_s, "s");
    Some(Finding::new(Kind::Refused { why }, weight, when).with(measure))
}

/// Loads that were shed: at some times the battery is flat, at others they are too heavy for it.
fn shed(facts: &Facts) -> [Option<Finding>; 2] {
    let all = &facts.timeline.shed;
    let (flat, heavy): (Vec<Span>, Vec<Span>) =
        all.iter().partition(|s| is_flat(facts.run, facts.model, s.from));
    [(Kind::HouseFlat, flat), (Kind::LoadsShed, heavy)].map(|(kind, spans)| {
        let when = over(&spans)?;
        let lows = spans.iter().map(|s| house_low(facts.run, s.from));
        let low_pct = 100.0 * lows.fold(facts.summary.house_start_soc, f64::min);
        let measure = Measure::at_least(low_pct, 100.0 * flat_soc(facts.model), "%");
        Some(Finding::new(kind, Weight::Trouble, when).with(measure))
    })
}

/// What the drive does for the house battery: one finding.
fn balance(facts: &Facts) -> Option<Finding> {
    let (s, t, l) = (facts.summary, facts.timeline, &facts.run.ledger);
    if s.driving_s <= 0.0 {
        return None;
    }
    let when = When {
        for_s: t.driving_s(),
        times: t.drives.len() as u32,
        ..When::once(t.span.from.as_s(), t.span.to.as_s())
    };
    let gain = Measure::at_least(s.house_gain_driving_ah, 0.0, "Ah");
    let whole = Measure::at_least(s.house_gain_ah, 0.0, "Ah");
    let found = |kind, weight, measure| Some(Finding::new(kind, weight, when).with(measure));
    if facts.run.start[HOUSE] >= FULL_SOC {
        let measure = Measure::at_most(100.0 * s.house_start_soc, 100.0 * FULL_SOC, "%");
        return found(Kind::FullAlready, Weight::Note, measure);
    }
    let driven_ah = facts.driven_ah();
    let (sun_ah, mains_ah) = (l.ah(Line::SolarC), l.ah(Line::MainsC));
    let others_ah = sun_ah + mains_ah;
    if others_ah > OTHERS_AH && driven_ah < ADDS_SHARE * (others_ah + driven_ah) && t.came_on() > 0 {
        let source = if sun_ah >= mains_ah { Source::Sun } else { Source::Mains };
        let measure = Measure::at_least(driven_ah, ADDS_SHARE * (others_ah + driven_ah), "Ah");
        return found(Kind::FedBy { source }, Weight::Note, measure);
    }
    let loses = s.house_gain_ah < -WORTH_AH;
    let days = s.span_s / DAY_S;
    if loses && days > 1.5 {
        // Whether it goes on so: the same time again would leave it flat.
        let again = s.house_end_soc - (s.house_start_soc - s.house_end_soc);
        let weight = if again < LEFT_SOC { Weight::Trouble } else { Weight::Note };
        return found(Kind::Loses, weight, whole);
    }
    if s.house_gain_driving_ah <= WORTH_AH {
        return found(Kind::NoGain, Weight::Trouble, gain);
    }
    if loses {
        return found(Kind::GainsOnlyDriving, Weight::Note, whole);
    }
    found(Kind::TopsUp, Weight::Good, gain)
}
