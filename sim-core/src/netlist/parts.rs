//! The vehicle's parts as circuit elements.

use super::{NetlistError, lead_acid};
use crate::logic::Stage;
use crate::model::Model;
use crate::network::Sense;
use crate::pchip::Pchip;
use crate::plant::battery::{Battery, BatteryState, Chemistry, Emf, PlainBattery};
use crate::plant::cable::Cable;
use crate::plant::conductor::COPPER_PER_K;
use crate::state::{self, Vector};
use std::fmt::Write;

/// Width in SOC over which a full or empty battery stops counting charge, past which what a step took too far goes back:
/// a jump leaves Newton no root, and an end without return keeps each step's overshoot.
const FULL_BAND: f64 = 1e-7;
/// Time constant of the loop that finds the converter's operating point, s.
const LOOP_S: f64 = 1e-7;

/// The value, if a netlist can hold it.
pub(super) fn finite(what: &'static str, value: f64) -> Result<f64, NetlistError> {
    if value.is_finite() { Ok(value) } else { Err(NetlistError::Value { what, value }) }
}

pub(super) fn positive(what: &'static str, value: f64) -> Result<f64, NetlistError> {
    if value > 0.0 { finite(what, value) } else { Err(NetlistError::Value { what, value }) }
}

pub(super) fn not_negative(what: &'static str, value: f64) -> Result<f64, NetlistError> {
    if value >= 0.0 { finite(what, value) } else { Err(NetlistError::Value { what, value }) }
}

/// A resistor; one of nothing becomes a source of 0 V, since ngspice would make it 1 mΩ.
fn resistor(text: &mut String, name: &str, nodes: &str, ohm: f64) {
    let _ = if ohm > 0.0 {
        writeln!(text, "R{name} {nodes} {ohm:e}")
    } else {
        writeln!(text, "Vshort_{name} {nodes} DC 0")
    };
}

/// A cable from one node to another, the current through it read by an ammeter. Where its conductors warm, each is a
/// capacitance whose volts are °C.
fn cable(
    text: &mut String,
    name: &str,
    nodes: &str,
    meter: &str,
    cable: &Cable,
    temps_c: &[f64],
) -> Result<(), NetlistError> {
    let ohm = not_negative("a cable", cable.resistance_ohm())?;
    if !cable.warms() {
        resistor(text, name, nodes, ohm);
        return Ok(());
    }
    let _ = writeln!(text, "B{name} {nodes} V = i({meter})*V({name}_ohm)");
    let mut sum = format!("{:e}", cable.joints_ohm);
    for (n, (c, &temp_c)) in cable.conductors.iter().zip(temps_c).enumerate() {
        if c.ohm_20 == 0.0 {
            continue;
        }
        let leg = format!("{name}_{n}");
        if c.j_per_k == 0.0 {
            let _ = write!(sum, " + {:e}", c.ohm_20);
            continue;
        }
        let leg_ohm = format!("{:e}*(1 + {COPPER_PER_K:e}*(V({leg}_c) - 20))", c.ohm_20);
        let _ = write!(sum, " + {leg_ohm}");
        let air = if c.in_bay { "bay_c" } else { "air_c" };
        let temp_c = finite("a temperature", temp_c)?;
        let _ = writeln!(text, "C{leg} {leg}_c 0 {:e}\n.ic V({leg}_c)={temp_c:e}", c.j_per_k);
        let _ = writeln!(
            text,
            "B{leg} 0 {leg}_c I = i({meter})*i({meter})*{leg_ohm} - {:e}*(V({leg}_c) - V({air}))",
            c.w_per_k
        );
    }
    let _ = writeln!(text, "B{name}_ohm {name}_ohm 0 V = {sum}");
    Ok(())
}

/// Starter battery, alternator, the vehicle's loads and the input cable.
pub(super) fn starter_side(text: &mut String, model: &Model, y: &Vector) -> Result<(), NetlistError> {
    let droop_ohm = positive("the alternator's droop", model.alternator.droop_ohm)?;
    let x = state::starter(y);
    match &model.starter.chemistry {
        Chemistry::LeadAcid(b) => lead_acid::battery(
            text,
            "starter",
            "sb",
            &["alt", "in_run", "in"],
            b,
            (&model.starter.thermal, if model.vehicle.starter_in_bay { "bay_c" } else { "air_c" }),
            &x,
        )?,
        _ => battery(text, "starter", "sb", plain(&model.starter)?, &x)?,
    }
    let _ =
        writeln!(text, "* Alternator: set-point behind a droop, between nothing and what its speed allows.");
    let _ = writeln!(text, "Balt 0 alt I = min(max((V(set_v) - V(alt))/{droop_ohm:e}, 0), V(most_a))");
    let _ = writeln!(text, "Vi_alt alt sb DC 0");
    let _ = writeln!(text, "Gvehicle sb 0 vehicle_a 0 1");
    let _ = writeln!(text, "* Input cable.");
    cable(text, "input_cable", "sb in_run", "Vi_in", &model.link().input_cable, &y[state::INPUT_CABLE_C..])?;
    let _ = writeln!(text, "Vi_in in_run in DC 0");
    Ok(())
}

/// House battery, house load, solar regulator and the output cable.
pub(super) fn house_side(text: &mut String, model: &Model, y: &Vector) -> Result<(), NetlistError> {
    let solar = &model.house_solar;
    let (set_v, droop_ohm) =
        (finite("the solar set-point", solar.set_v)?, positive("the solar droop", solar.droop_ohm)?);
    battery(text, "house", "hb", plain(&model.house)?, &state::house(y))?;
    let _ = writeln!(
        text,
        "* House load and sun, each a power. Under 1 V they are something else: Newton passes there."
    );
    let _ = writeln!(text, "Bload hb 0 I = V(house_w)/max(V(hb), 1)");
    let _ = writeln!(
        text,
        "Bsolar 0 hb I = min(max(({set_v:e} - V(hb))/{droop_ohm:e}, 0), V(solar_w)/max(V(hb), 1))"
    );
    let _ = writeln!(text, "* Output cable.");
    let _ = writeln!(text, "Vi_out out out_run DC 0");
    cable(
        text,
        "output_cable",
        "out_run hb",
        "Vi_out",
        &model.link().output_cable,
        &y[state::OUTPUT_CABLE_C..],
    )?;
    Ok(())
}

/// The plain battery; a starter battery may also be of lead-acid.
pub(super) fn plain(battery: &Battery) -> Result<&PlainBattery, NetlistError> {
    match &battery.chemistry {
        Chemistry::Plain(plain) => Ok(plain),
        _ => Err(NetlistError::NotPlain),
    }
}

/// A battery from its posts to ground: ammeter, series resistance, EMF, two branches.
fn battery(
    text: &mut String,
    name: &str,
    posts: &str,
    b: &PlainBattery,
    x: &BatteryState,
) -> Result<(), NetlistError> {
    let capacity_c = positive("a battery's capacity", b.capacity_c)?;
    let efficiency = finite("a charge efficiency", b.charge_efficiency)?;
    let soc = finite("a state of charge", x.soc)?;
    let r0_ohm = not_negative("a battery's resistance", b.r0_ohm)?;
    let _ = writeln!(
        text,
        "* {name} battery: charge in C on a capacitance of the capacity, so that volts are SOC."
    );
    let _ = writeln!(text, "C{name} soc_{name} 0 {capacity_c:e}");
    let _ = writeln!(text, ".ic V(soc_{name})={soc:e}");
    let _ = writeln!(
        text,
        "Bsoc_{name} 0 soc_{name} I = {efficiency:e}*max(i(Vi_{name}), 0)*min(max((1 - V(soc_{name}))/{FULL_BAND:e}, -1), 1)"
    );
    let _ = writeln!(text, "+ + min(i(Vi_{name}), 0)*min(max(V(soc_{name})/{FULL_BAND:e}, -1), 1)");
    let _ = writeln!(text, "Vi_{name} {posts} {name}_a DC 0");
    resistor(text, &format!("0_{name}"), &format!("{name}_a {name}_b"), r0_ohm);
    let _ = writeln!(text, "Bemf_{name} {name}_b {name}_1 V =");
    emf(text, &format!("V(soc_{name})"), &b.emf)?;
    // Branches stand between EMF and ground, so that their initial volts do not depend on the EMF.
    let ends = [format!("{name}_1"), format!("{name}_2"), "0".to_string()];
    let above_v = [x.v1 + x.v2, x.v2];
    for n in 0..2 {
        let ohm = not_negative("a branch's resistance", b.branch_ohm[n])?;
        let nodes = format!("{} {}", ends[n], ends[n + 1]);
        resistor(text, &format!("{}_{name}", n + 1), &nodes, ohm);
        let v = finite("a branch's volts", [x.v1, x.v2][n])?;
        if ohm > 0.0 {
            let farad = positive("a branch's time constant", b.branch_s[n])? / ohm;
            let _ = writeln!(text, "C{}_{name} {nodes} {farad:e}", n + 1);
            let _ = writeln!(text, ".ic V({})={:e}", ends[n], above_v[n]);
        } else if v != 0.0 {
            return Err(NetlistError::Value { what: "the volts of a branch without resistance", value: v });
        }
    }
    Ok(())
}

/// Rested volts as continuation lines: a line, or the cubics of the table, chosen by halving.
fn emf(text: &mut String, soc: &str, emf: &Emf) -> Result<(), NetlistError> {
    match emf {
        Emf::Linear { empty_v, full_v } => {
            let empty_v = finite("an EMF", *empty_v)?;
            let rise_v = finite("an EMF", full_v - empty_v)?;
            let _ = writeln!(text, "+ {empty_v:e} + ({rise_v:e})*{soc}");
        }
        Emf::Table(p) => pieces(text, soc, p, 0, p.pieces()),
    }
    Ok(())
}

fn pieces(text: &mut String, soc: &str, p: &Pchip, first: usize, end: usize) {
    if end - first == 1 {
        let [x0, c0, c1, c2, c3] = coefficients(p, first);
        let u = format!("({soc} - ({x0:e}))");
        let _ = writeln!(text, "+ ({c0:e} + {u}*({c1:e} + {u}*(({c2:e}) + {u}*({c3:e}))))");
        return;
    }
    let middle = first.midpoint(end);
    let knot = p.bounds(middle).0;
    let _ = writeln!(text, "+ (({soc} < ({knot:e})) ?");
    pieces(text, soc, p, first, middle);
    let _ = writeln!(text, "+ :");
    pieces(text, soc, p, middle, end);
    let _ = writeln!(text, "+ )");
}

/// A piece's knot and powers, from its values and slopes at both ends; a straight continuation from its one end.
pub(super) fn coefficients(p: &Pchip, piece: usize) -> [f64; 5] {
    let (low, high) = p.bounds(piece);
    let x0 = if low.is_finite() { low } else { high };
    let (c0, c1) = (p.value_in(piece, x0), p.slope_in(piece, x0));
    if !low.is_finite() || !high.is_finite() {
        return [x0, c0, c1, 0.0, 0.0];
    }
    let h = high - low;
    let (d, s) = ((p.value_in(piece, high) - c0) / h, p.slope_in(piece, high));
    [x0, c0, c1, (3.0 * d - 2.0 * c1 - s) / h, (c1 + s - 2.0 * d) / (h * h)]
}

/// The unit off: standby current at its input.
pub(super) fn unit_off(text: &mut String, model: &Model) -> Result<(), NetlistError> {
    let standby_a = finite("the standby current", model.link().converter.standby_a)?;
    let _ = writeln!(text, "* Unit off.\nIstandby in 0 DC {standby_a:e}");
    let _ = writeln!(text, "Rno_output out 0 1e12");
    Ok(())
}

/// The unit on: the draw rises by the least room that any limit leaves, until that is nothing.
///
/// The input current is the unknown and power follows: that always has an answer, a constant power has two or none. One that is
/// replayed draws its standby current while the wave `on` is nothing.
pub(super) fn unit_on(
    text: &mut String,
    model: &Model,
    stage: Stage,
    replayed: bool,
) -> Result<(), NetlistError> {
    let link = model.link();
    let c = &link.converter;
    let input_limit_a = finite("the input limit", c.input_limit_a)?;
    let floor_v = finite("the input floor", c.floor_v)?;
    let fixed_w = finite("a loss", c.loss.fixed_w)?;
    let linear = finite("a loss", 1.0 + c.loss.proportional)?;
    let square = finite("a loss", c.loss.square_per_w)?;
    let target_v = finite(
        "a stage's voltage",
        match stage {
            Stage::Bulk | Stage::Absorption => link.stages.absorption_v,
            Stage::Float => link.stages.float_v,
        },
    )?;
    let g_house = 1.0 / plain(&model.house)?.r0_ohm.max(1e-3);
    let sensed = match c.sense {
        Sense::Terminals => "V(out)",
        Sense::HousePosts => "V(hb)",
    };
    let droop_ohm = model.alternator.droop_ohm;
    // Resistances are numbers, or what the netlist makes of warmth and state of charge.
    let cable_ohm = if link.input_cable.warms() {
        "V(input_cable_ohm)".to_owned()
    } else {
        format!("{:e}", link.input_cable.resistance_ohm())
    };
    let starter_ohm = match &model.starter.chemistry {
        Chemistry::LeadAcid(_) => lead_acid::r0_node("starter"),
        _ => format!("{:e}", positive("the starter battery's resistance", plain(&model.starter)?.r0_ohm)?),
    };
    let inner_ohm = format!("({cable_ohm} + 1/(1/{droop_ohm:e} + 1/{starter_ohm}))");
    let outer_ohm = format!("({cable_ohm} + {starter_ohm})");
    // The square of a power below nothing would be a second root, at tens of kilowatts backwards.
    let _ = writeln!(text, "* Unit: output power from the input power that its loss leaves.");
    let _ = writeln!(text, "Gdraw in 0 draw_a 0 1");
    let _ = writeln!(
        text,
        "Bpower out_w 0 I = V(out_w)*({linear:e} + ({square:e})*max(V(out_w), 0)) + {fixed_w:e} - V(in)*V(draw_a)"
    );
    let _ = writeln!(text, "Bout 0 out I = max(V(out_w), 0)/max(V(out), 1)");
    let _ = writeln!(
        text,
        "* Room under the target, under the output limit, and above what feeds the fixed loss."
    );
    let _ = writeln!(
        text,
        "Bwanted wanted_a 0 V = max({fixed_w:e}/max(V(in), 1) - V(draw_a), min(V(cap_a) - V(out_w)/max(V(out), 1),"
    );
    let _ = writeln!(text, "+ {g_house:e}*({target_v:e} - {sensed})))");
    let _ = writeln!(
        text,
        "* Room before the source's greatest power: alternator regulating (inner) or not (outer)."
    );
    let _ = writeln!(text, "Binner inner_a 0 V = V(in)/{inner_ohm} - V(draw_a)");
    let _ = writeln!(text, "Bouter outer_a 0 V = V(in)/{outer_ohm} - V(draw_a)");
    let _ = writeln!(text, "Bkink kink_a 0 V = (V(sb) - V(set_v))/{droop_ohm:e} + V(most_a)");
    let _ = writeln!(text, "* Room under the input limit, above the floor, and before that greatest power.");
    let _ = writeln!(
        text,
        "Bgiven given_a 0 V = min(min({input_limit_a:e} - V(draw_a), (V(in) - ({floor_v:e}))/{outer_ohm}),"
    );
    let _ = writeln!(text, "+ max(V(outer_a), min(V(inner_a), V(kink_a))))");
    let room = "min(V(wanted_a), V(given_a))";
    let _ = if replayed {
        let standby_a = finite("the standby current", c.standby_a)?;
        writeln!(text, "Bdraw 0 draw_a I = V(on)*{room} + (1 - V(on))*({standby_a:e} - V(draw_a))")
    } else {
        writeln!(text, "Bdraw 0 draw_a I = {room}")
    };
    let _ = writeln!(text, "Cdraw draw_a 0 {LOOP_S:e}");
    if !matches!(model.starter.chemistry, Chemistry::LeadAcid(_)) {
        let _ = writeln!(text, ".nodeset V(in)=12 V(sb)=12");
    }
    let _ = writeln!(text, ".nodeset V(out)=12 V(hb)=12 V(draw_a)=1 V(out_w)=10");
    Ok(())
}
