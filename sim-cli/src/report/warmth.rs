//! Temperatures, and what the alternator's share costs.

use super::Told;
use crate::clock::weekday_and_time;
use sim_core::effects::Effects;
use sim_core::plant::battery::Chemistry;
use sim_core::plant::bears::Limit;
use sim_core::record::Line;
use sim_core::state;
use std::io::{self, Write};

/// A temperature that the run followed.
#[derive(Debug, Clone, Copy)]
pub struct Followed {
    /// What has it.
    pub what: &'static str,
    /// The same, short enough for a label.
    pub short: &'static str,
    /// Its place in the state vector.
    pub place: usize,
    /// Its limit, °C, if it has one.
    pub limit_c: Option<f64>,
}

/// A temperature that something must not pass, or at which something happens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatLimit {
    /// Of what, as [`Followed::place`].
    pub place: usize,
    /// Its name, short enough for a line in a picture.
    pub name: &'static str,
    /// Degrees, °C.
    pub limit_c: f64,
    /// Whether it is a default that nobody typed.
    pub assumed: bool,
}

/// Every limit of every temperature that the run followed: what the unit does by itself, and what the parts bear.
pub fn heat_limits(told: &Told) -> Vec<HeatLimit> {
    let (m, link) = (told.model, told.model.link());
    let (c, b, input) = (&link.converter, &m.bears, &link.input_cable);
    let own = |name, limit_c| HeatLimit { place: state::CASE_C, name, limit_c, assumed: false };
    let borne =
        |place, name, limit: Limit| HeatLimit { place, name, limit_c: limit.most, assumed: !limit.typed };
    let leg = |in_bay| input.warm_leg(in_bay).map(|n| state::INPUT_CABLE_C + n);
    let acts = Effects::of(m);
    let output = acts.output_cable.then_some(state::OUTPUT_CABLE_C);
    let winding = acts.winding.then_some(state::WINDING_C);
    let joints = acts.input_joints.then_some(state::INPUT_JOINTS_C);
    let output_joints = acts.output_joints.then_some(state::OUTPUT_JOINTS_C);
    let parts = [
        (leg(true), "cable insulation", b.input_insulation_c),
        (leg(false), "cable insulation", b.input_insulation_c),
        (joints, "joints", b.input_joints_c),
        (output, "cable insulation", b.output_insulation_c),
        (output_joints, "joints", b.output_joints_c),
        (winding, "winding", b.winding_c),
    ];
    let unit = [own("unit case derates from", c.derate_from_c), own("unit case shuts off at", c.lock_c)];
    let parts = parts.into_iter().filter_map(|(place, name, limit)| Some(borne(place?, name, limit)));
    parts.chain(unit).filter(|l| l.limit_c.is_finite()).collect()
}

/// Every temperature that the run followed.
pub fn followed(told: &Told) -> Vec<Followed> {
    let link = told.model.link();
    let acts = Effects::of(told.model);
    let c = &link.converter;
    let finite = |v: f64| v.is_finite().then_some(v);
    let limit_c = finite(c.derate_from_c).or(finite(c.lock_c));
    let mut rows = vec![Followed { what: "unit case", short: "unit case", place: state::CASE_C, limit_c }];
    let mut add = |is: bool, what, short, place| {
        if is {
            rows.push(Followed { what, short, place, limit_c: None });
        }
    };
    add(acts.locker, "air in the unit's locker", "locker air", state::LOCKER_C);
    let cable = &link.input_cable;
    let legs = [
        (true, "input cable in the engine bay", "bay cable"),
        (false, "input cable in the cabin", "cabin cable"),
    ];
    for (in_bay, what, short) in legs {
        let leg = cable.warm_leg(in_bay);
        add(leg.is_some(), what, short, state::INPUT_CABLE_C + leg.unwrap_or_default());
    }
    add(acts.input_joints, "joints of the input cable", "input joints", state::INPUT_JOINTS_C);
    add(acts.output_cable, "output cable", "output cable", state::OUTPUT_CABLE_C);
    add(acts.output_joints, "joints of the output cable", "output joints", state::OUTPUT_JOINTS_C);
    add(acts.winding, "alternator winding", "winding", state::WINDING_C);
    add(acts.starter_heat, "starter battery", "starter batt.", state::STARTER_C);
    add(acts.house_heat, "house battery", "house batt.", state::HOUSE_C);
    rows
}

/// When a temperature was highest, and how high: s since the start, °C.
pub fn hottest(told: &Told, place: usize) -> (f64, f64) {
    let end = (told.run.span.1.as_s(), told.run.end[place]);
    told.run.trace.highest(place).map(|(t, c)| (t.as_s(), c)).filter(|h| h.1 > end.1).unwrap_or(end)
}

/// Prints the temperatures.
pub fn temperatures(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "\nTEMPERATURES, °C{:>32}{:>10}{:>17}{:>8}", "at start", "hottest", "at", "end")?;
    for Followed { what, place, limit_c, .. } in followed(told) {
        let hottest = hottest(told, place);
        let limit = limit_c.map(|l| format!("   limit {l:.0}")).unwrap_or_default();
        writeln!(
            out,
            "  {what:<37}{:>9.1}{:>10.1}{:>17}{:>8.1}{limit}",
            told.run.start[place],
            hottest.1,
            weekday_and_time(told.profile, hottest.0),
            told.run.end[place],
        )?;
    }
    Ok(())
}

/// Prints what the alternator gave and what it cost.
pub fn alternator(told: &Told, out: &mut dyn Write) -> io::Result<()> {
    let l = &told.run.ledger;
    let given_wh = l.wh(Line::AlternatorJ);
    if given_wh <= 0.0 {
        return Ok(());
    }
    let a = &told.model.alternator;
    let shaft_wh = given_wh / a.efficiency;
    let unit_wh = l.wh(Line::InputJ) + l.wh(Line::InputCableJ);
    let litres = |wh: f64| wh / a.efficiency / 1000.0 * a.fuel_l_per_kwh;
    writeln!(out, "\nALTERNATOR")?;
    writeln!(
        out,
        "  gave {given_wh:.0} Wh, about {shaft_wh:.0} Wh at its shaft and {:.2} L of fuel; the unit's part {unit_wh:.0} Wh, {:.2} L",
        litres(given_wh),
        litres(unit_wh),
    )
}

/// What this run's model leaves out, beyond what every model here leaves out.
pub fn effects_off(told: &Told) -> Vec<&'static str> {
    let (m, acts) = (told.model, Effects::of(told.model));
    let plain = |b: &sim_core::plant::battery::Battery| matches!(b.chemistry, Chemistry::Plain(_));
    let mut off = Vec::new();
    let mut add = |is: bool, what| {
        if is {
            off.push(what);
        }
    };
    add(plain(&m.starter), "charge acceptance that falls as the starter battery fills, and its gassing");
    add(plain(&m.house), "hysteresis and cold of the house battery");
    add(!acts.input_cable, "warm copper");
    add(!acts.derate, "heat derating of the unit");
    add(!acts.winding, "heat in the alternator");
    add(!acts.pick_up, "the alternator's slow pick-up");
    add(m.protection.high_v.is_infinite(), "battery protection");
    off
}
