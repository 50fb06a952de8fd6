//! The lead-acid battery as circuit elements: a resistance that moves, an EMF, two branches and gassing, all of behavioural
//! sources, since their conductances hang on state of charge, volts and temperature.

use super::NetlistError;
use super::parts::{finite, not_negative, positive};
use crate::plant::battery::lead_acid::{Branch, MOST_Z, REFERENCE_C};
use crate::plant::battery::{BatteryState, BranchState, LeadAcid, ThermalNode};
use std::fmt::Write;

/// Current past all sense, A.
const MOST_A: f64 = 1e4;

/// Node whose volts are the series resistance in Ω.
pub(super) fn r0_node(name: &str) -> String {
    format!("V({name}_r0)")
}

/// The battery from its posts to ground. Between the resistance and ground stand two things: gassing and self-discharge, and
/// the main current's way through EMF and branches. The branches stand next to ground, as the plain battery's do. Nodes `beside`
/// it are near its volts.
pub(super) fn battery(
    text: &mut String,
    name: &str,
    posts: &str,
    beside: &[&str],
    b: &LeadAcid,
    (thermal, air): (&ThermalNode, &str),
    x: &BatteryState,
) -> Result<(), NetlistError> {
    let capacity_c = positive("a battery's capacity", b.capacity_c)?;
    let efficiency = finite("a charge efficiency", b.charge_efficiency)?;
    let soc = finite("a state of charge", x.soc)?;
    let warm = format!("(V({name}_c) - {REFERENCE_C:e})");
    let exp = |per_k: f64| finite("a temperature factor", per_k).map(|k| format!("exp({k:e}*{warm})"));
    let shift = format!("({:e})*{warm}", finite("an EMF", b.emf_v_per_k)?);
    let (empty_v, rise_v) = (finite("an EMF", b.empty_v)?, finite("an EMF", b.full_v - b.empty_v)?);
    let r0_ohm = positive("a battery's resistance", b.r0_ohm)?;
    let r0_rise = not_negative("a battery's resistance", b.r0_empty_rise)?;

    let _ = writeln!(
        text,
        "* {name} battery, lead-acid: volts at soc_{name} are SOC, at {name}_c are degrees C, at {name}_r0 ohms."
    );
    let _ = writeln!(text, "Vi_{name} {posts} {name}_a DC 0");
    let _ = writeln!(
        text,
        "B{name}_r0 {name}_r0 0 V = {r0_ohm:e}*(1 + {r0_rise:e}*(1 - V(soc_{name})))*{}",
        exp(-b.r0_per_k)?
    );
    let _ = writeln!(text, "B0_{name} {name}_a {name}_b V = i(Vi_{name})*V({name}_r0)");
    let _ = writeln!(text, "* Gassing and self-discharge pass the rest by.");
    let aside = exp(b.gassing_per_k)?;
    let scale_a = not_negative("gassing", b.gassing.scale_a)?;
    let _ = writeln!(
        text,
        "B{name}_z {name}_z 0 V = max(V({name}_b) - {:e} - {shift}, 0)/{:e}",
        finite("gassing", b.gassing.onset_v)?,
        positive("gassing", b.gassing.slope_v)?
    );
    let z = format!("V({name}_z)");
    let bent = format!("min({z}, {MOST_Z:e})");
    let _ = writeln!(text, "B{name}_gas {name}_gas 0 V = {scale_a:e}*{aside}*(exp({bent}) - 1 - {bent}");
    let _ = writeln!(text, "+ + {:e}*max({z} - {MOST_Z:e}, 0))", MOST_Z.exp_m1());
    let self_a = finite("self-discharge", b.self_discharge_per_s * capacity_c)?;
    let _ = writeln!(text, "B{name}_self {name}_self 0 V = {self_a:e}*max(V(soc_{name}), 0)*{aside}");
    let _ = writeln!(text, "B{name}_aside {name}_b 0 I = V({name}_gas) + V({name}_self)");
    let _ = writeln!(text, "Vm_{name} {name}_b {name}_m DC 0");
    let _ = writeln!(
        text,
        "Bemf_{name} {name}_m {name}_1 V = {empty_v:e} + ({rise_v:e})*V(soc_{name}) + {shift}"
    );
    let _ = writeln!(text, "C{name} soc_{name} 0 {capacity_c:e}\n.ic V(soc_{name})={soc:e}");
    let _ = writeln!(
        text,
        "Bsoc_{name} 0 soc_{name} I = {efficiency:e}*max(i(Vm_{name}), 0) + min(i(Vm_{name}), 0)"
    );
    let _ = writeln!(text, "* SOC at the plates, less where the battery is pulled hard.");
    let _ = writeln!(
        text,
        "B{name}_local {name}_local 0 V = max(V(soc_{name}) - {:e}*{}, 0)",
        finite("local depletion", b.depletion_per_v)?,
        start(&format!("max(-V({name}_2), 0)"), b.depletion_soft_v, 2.0)?
    );
    let ends = [format!("{name}_1"), format!("{name}_2"), "0".to_owned()];
    let volts = [format!("(V({name}_1) - V({name}_2))"), format!("V({name}_2)")];
    for (n, branch) in [&b.fast, &b.slow].into_iter().enumerate() {
        let (number, nodes) = (n + 1, format!("{} {}", ends[n], ends[n + 1]));
        let pull = pull(name, branch, &volts[n], &exp)?;
        let farad = positive("a branch's capacitance", branch.farad())?;
        let _ = writeln!(text, "B{name}_i{number} {name}_i{number} 0 V = {pull}");
        let _ = writeln!(text, "B{number}_{name} {nodes} I = V({name}_i{number})");
        let _ = writeln!(text, "C{number}_{name} {nodes} {farad:e}");
    }
    let (v1, v2) = (finite("a branch's volts", x.v1)?, finite("a branch's volts", x.v2)?);
    let _ = writeln!(text, ".ic V({name}_1)={:e}\n.ic V({name}_2)={v2:e}", v1 + v2);
    // A guess for the first Newton iteration: from 0 V gassing and branches lead it astray.
    let emf_v = finite("an EMF", b.port(&BranchState { soc, v1, v2 }, x.temp_c).emf_v)?;
    let nodes = [posts.to_owned(), format!("{name}_a"), format!("{name}_b"), format!("{name}_m")];
    for node in nodes.iter().map(String::as_str).chain(beside.iter().copied()) {
        let _ = writeln!(text, ".nodeset V({node})={emf_v:e}");
    }
    let _ = writeln!(text, ".nodeset V({name}_r0)={r0_ohm:e}");
    temperature(text, name, b, (thermal, air), x.temp_c)
}

/// A branch's current from its volts: charge is accepted as far as the plates are not full, discharge as far as they are not
/// empty.
fn pull(
    name: &str,
    branch: &Branch,
    volts: &str,
    exp: &dyn Fn(f64) -> Result<String, NetlistError>,
) -> Result<String, NetlistError> {
    let siemens = 1.0 / positive("a branch's resistance", branch.discharge_ohm)?;
    let half_soc = not_negative("a branch's local SOC", branch.half_soc)?;
    let open = match half_soc {
        0.0 => "1".to_owned(),
        half => format!("V({name}_local)/(V({name}_local) + {half:e})"),
    };
    let charge = finite("a branch's share", branch.charge_share * siemens)?;
    let acceptance = finite("a branch's acceptance", branch.acceptance)?;
    Ok(format!(
        "{charge:e}*{}*max(1 - {acceptance:e}*V(soc_{name}), 0)*{}\n+ - {siemens:e}*{}*{open}*{}",
        exp(branch.charge_per_k)?,
        start(&format!("max({volts}, 0)"), branch.charge_soft_v, branch.charge_power)?,
        exp(branch.discharge_per_k)?,
        start(&format!("max(-{volts}, 0)"), branch.discharge_soft_v, 2.0)?,
    ))
}

/// `x·u/(1 + u)`, `u = (x/w)^(n − 1)`, of something at or above zero, or itself without a `w`.
fn start(x: &str, soft_v: f64, power: f64) -> Result<String, NetlistError> {
    let w = not_negative("a branch's activation", soft_v)?;
    Ok(if w == 0.0 {
        x.to_owned()
    } else if power == 2.0 {
        format!("{x}*{x}/({x} + {w:e})")
    } else {
        let u = format!("pow({x}/{w:e}, {:e})", finite("a branch's activation", power - 1.0)?);
        format!("{x}*{u}/(1 + {u})")
    })
}

/// Held where it is, or a capacitance that the battery's losses warm and the air cools; what leaves with the gas does not.
fn temperature(
    text: &mut String,
    name: &str,
    b: &LeadAcid,
    (thermal, air): (&ThermalNode, &str),
    temp_c: f64,
) -> Result<(), NetlistError> {
    let temp_c = finite("a temperature", temp_c)?;
    if thermal.j_per_k == f64::INFINITY {
        let _ = writeln!(text, "V{name}_c {name}_c 0 DC {temp_c:e}");
        return Ok(());
    }
    let j_per_k = positive("a heat capacity", thermal.j_per_k)?;
    let w_per_k = not_negative("a loss of heat", thermal.w_per_k)?;
    let _ = writeln!(text, "C{name}_c {name}_c 0 {j_per_k:e}\n.ic V({name}_c)={temp_c:e}");
    // A square without an end takes ngspice's Newton iteration past all numbers.
    let ends = format!("min(max(i(Vi_{name}), -{MOST_A:e}), {MOST_A:e})");
    let _ = writeln!(text, "B{name}_c 0 {name}_c I = V({name}_r0)*i(Vi_{name})*{ends}");
    let _ = writeln!(text, "+ + V({name}_i1)*(V({name}_1) - V({name}_2)) + V({name}_i2)*V({name}_2)");
    let carried_v = finite("gassing", b.gassing.carried_v)?;
    let _ = writeln!(text, "+ + V({name}_self)*V({name}_b) + V({name}_gas)*(V({name}_b) - {carried_v:e})");
    let lost = 1.0 - b.charge_efficiency;
    let _ = writeln!(text, "+ + {lost:e}*max(i(Vm_{name}), 0)*(V({name}_m) - V({name}_1))");
    let _ = writeln!(text, "+ - {w_per_k:e}*(V({name}_c) - V({air}))");
    Ok(())
}
