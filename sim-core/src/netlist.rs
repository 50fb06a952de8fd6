//! The plain model, and a lead-acid starter battery, as a netlist for ngspice, over a stretch of time with the unit held on,
//! held off, or switched at given instants.
//!
//! A circuit simulator shares nothing with this crate but the component values, so its volts and amps check the
//! network, the batteries and the stepper at once. Rules that switch the unit are left out: when they switched is told. The
//! text is a pure function of its inputs; times in it count from the beginning of the cut.
//!
//! Covered: every part of the plain model, changes of the drive inside the cut, cranking, soft start, floor, remote
//! sense, full and empty batteries, runs that warm, and a starter battery of lead-acid with its warmth. Not covered: the
//! temperature of the case, which acts on nothing here, and that of the joints, likewise. Nor a fuse that opens: whoever cuts
//! takes no stretch that reaches beyond the instant at which one does, and `tickover netlist` refuses it.

mod lead_acid;
mod parts;
mod waves;

use crate::effects::Effects;
use crate::logic::Stage;
use crate::model::{Model, Profile};
use crate::plant::battery::Chemistry;
use crate::state::Vector;
use crate::time::Instant;
use std::fmt::Write;

/// A stretch of time and how it starts.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// Beginning; where the drive changes at this instant, the side after the change.
    pub from: Instant,
    /// End; where the drive changes at this instant, the side before the change.
    pub to: Instant,
    /// States at the beginning.
    pub state: Vector,
    /// What the unit does all along.
    pub unit: HeldUnit,
    /// Instants at which values are wanted, rising; the circuit simulator steps on each of them.
    pub times: Vec<Instant>,
    /// Where the values go.
    pub output: Output,
}

/// What the unit does over the whole cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HeldUnit {
    /// It draws its standby current.
    Off,
    /// It charges.
    On {
        /// Stage, which sets the voltage it charges to.
        stage: Stage,
        /// When it came on: the soft start counts from here.
        since: Instant,
    },
    /// It goes off and comes on when it is told to.
    Replayed {
        /// Stage whenever it is on.
        stage: Stage,
        /// When it came on, if it is on at the beginning.
        since: Option<Instant>,
        /// When it changes over, rising, each within the cut.
        switches: Vec<Instant>,
    },
}

/// Where the circuit simulator writes its values.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output {
    /// To a file, as columns: letters, digits, `.`, `-` and `_` only, in the folder it is run in.
    File(String),
    /// To its standard output, as a table.
    Print,
}

/// Columns of the output after time, in order.
pub const COLUMNS: [&str; 11] = [
    "sb_v",
    "in_v",
    "out_v",
    "hb_v",
    "i_alt",
    "i_in",
    "i_out",
    "i_starter",
    "i_house",
    "soc_starter",
    "soc_house",
];

/// Why there is no netlist.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NetlistError {
    /// The cut lasts no time or leaves the drive.
    #[error("the cut from {:.3} s to {:.3} s lasts no time, or is not within the drive", from.as_s(), to.as_s())]
    Span {
        /// Beginning.
        from: Instant,
        /// End.
        to: Instant,
    },
    /// The wanted instants do not rise, or leave the cut.
    #[error("the instant {:.3} s is outside the cut or does not follow on the one before it", at.as_s())]
    Times {
        /// The first that is wrong.
        at: Instant,
    },
    /// An instant of switching is outside the cut, or does not follow on the one before it.
    #[error("the unit cannot change over at {:.3} s: that is outside the cut or not after the change before it", at.as_s())]
    Switches {
        /// The first that is wrong.
        at: Instant,
    },
    /// The unit comes on after the beginning of the cut.
    #[error("the unit is held on over the whole cut, so it cannot come on at {:.3} s", since.as_s())]
    OnTooLate {
        /// When it comes on.
        since: Instant,
    },
    /// The file name holds something that the circuit simulator's command language would take apart.
    #[error("`{0}` is no file name of lower-case letters, digits, `.`, `-` and `_` with an extension")]
    FileName(String),
    /// The model has effects beyond the plain one.
    #[error(
        "only the plain model, with runs that may warm and a lead-acid starter battery, is written as a netlist; this one has \
         effects beyond it"
    )]
    NotPlain,
    /// A value is not finite, or is one that no element can have.
    #[error("{what} cannot be put into a netlist: it is {value}")]
    Value {
        /// Which.
        what: &'static str,
        /// The value.
        value: f64,
    },
}

/// Steps per time constant of the fastest branch: with half as many, up to 2e-4 A of error is the step's alone.
const STEPS_PER_TIME_CONSTANT: f64 = 400.0;
/// Longest step, s, whatever the batteries.
const LONGEST_STEP_S: f64 = 1.0;

/// The same beside a lead-acid battery, whose fast branch takes tenths of a second.
const LEAD_ACID_STEP_S: f64 = 0.02;

/// Writes the netlist.
///
/// # Errors
/// [`NetlistError`] when the cut does not fit the drive or a value cannot stand in a netlist.
pub fn netlist(model: &Model, profile: &Profile, cut: &Cut) -> Result<String, NetlistError> {
    check(profile, cut)?;
    let beyond = |p: crate::model::Piece| {
        p.mains_a > 0.0 || p.starter_solar_a > 0.0 || p.input_joint_extra_ohm > 0.0 || p.input_open
    };
    if !Effects::of(model).in_netlist() || profile.pieces().iter().any(beyond) {
        return Err(NetlistError::NotPlain);
    }
    let step_s = longest_step_s(model, cut);
    let waves = waves::Waves::new(model, profile, cut, step_s)?;
    let mut text = String::new();
    heading(&mut text, cut);
    waves.write(&mut text);
    parts::starter_side(&mut text, model, &cut.state)?;
    parts::house_side(&mut text, model, &cut.state)?;
    match cut.unit {
        HeldUnit::Off => parts::unit_off(&mut text, model)?,
        HeldUnit::On { stage, .. } => parts::unit_on(&mut text, model, stage, false)?,
        HeldUnit::Replayed { stage, .. } => parts::unit_on(&mut text, model, stage, true)?,
    }
    control(&mut text, cut, step_s);
    Ok(text)
}

fn check(profile: &Profile, cut: &Cut) -> Result<(), NetlistError> {
    if cut.from >= cut.to || cut.from < profile.start() || cut.to > profile.end() {
        return Err(NetlistError::Span { from: cut.from, to: cut.to });
    }
    let mut last = None;
    for &at in &cut.times {
        if at < cut.from || at > cut.to || last.is_some_and(|l| at <= l) {
            return Err(NetlistError::Times { at });
        }
        last = Some(at);
    }
    let (since, switches) = match &cut.unit {
        HeldUnit::Off => (None, &[][..]),
        HeldUnit::On { since, .. } => (Some(*since), &[][..]),
        HeldUnit::Replayed { since, switches, .. } => (*since, switches.as_slice()),
    };
    if let Some(since) = since.filter(|since| *since > cut.from) {
        return Err(NetlistError::OnTooLate { since });
    }
    let mut last = cut.from;
    for &at in switches {
        if at <= last || at >= cut.to {
            return Err(NetlistError::Switches { at });
        }
        last = at;
    }
    if let Output::File(name) = &cut.output {
        // Upper case is left out because ngspice lowers the case of what it reads.
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "._-".contains(c);
        let extended = name.rsplit_once('.').is_some_and(|(stem, ext)| !stem.is_empty() && !ext.is_empty());
        if !extended || !name.chars().all(plain) || name.starts_with('-') {
            return Err(NetlistError::FileName(name.clone()));
        }
    }
    Ok(())
}

fn longest_step_s(model: &Model, cut: &Cut) -> f64 {
    let batteries = [&model.starter, &model.house];
    let shortest = batteries
        .iter()
        .filter_map(|b| parts::plain(b).ok())
        .flat_map(|b| b.branch_s)
        .fold(f64::INFINITY, f64::min);
    let lead_acid = matches!(model.starter.chemistry, Chemistry::LeadAcid(_));
    let longest_s = if lead_acid { LEAD_ACID_STEP_S } else { LONGEST_STEP_S };
    (shortest / STEPS_PER_TIME_CONSTANT).min(longest_s).min(cut.to.since(cut.from) / 50.0)
}

fn heading(text: &mut String, cut: &Cut) {
    let unit = match cut.unit {
        HeldUnit::Off => "held off",
        HeldUnit::On { .. } => "held on",
        HeldUnit::Replayed { .. } => "switched at given instants",
    };
    let (from, to) = (cut.from.as_s(), cut.to.as_s());
    let _ = writeln!(text, "* Battery charging in a vehicle, unit {unit}");
    let _ = writeln!(text, "* starts_at_s = {from}");
    let _ = writeln!(text, "* ends_at_s = {to}");
    let _ = writeln!(text, "* Current into a battery is positive. Volts at soc_* are states of charge.");
    let _ = writeln!(text, "* sb starter posts, in / out the unit's terminals, hb house posts.");
}

/// Analysis and output. Gear damps the unit's stiff loop, which the trapezoidal rule would leave ringing. A relative tolerance of
/// 1e-7 leaves 1e-3 A after each switching of the unit, and steps as long as ngspice thinks fit (`trtol`) a millikelvin.
fn control(text: &mut String, cut: &Cut, step_s: f64) {
    let stop_s = cut.to.since(cut.from);
    let _ = writeln!(
        text,
        ".options method=gear maxord=2 reltol=1e-9 trtol=1 vntol=1e-9 abstol=1e-9 itl1=500 itl4=200"
    );
    let _ = writeln!(text, ".tran {step_s:e} {stop_s:e} 0 {step_s:e}");
    let _ = writeln!(text, ".save v(sb) v(in) v(out) v(hb) v(soc_starter) v(soc_house)");
    let _ = writeln!(text, "+ i(vi_alt) i(vi_in) i(vi_out) i(vi_starter) i(vi_house)");
    let _ = writeln!(
        text,
        ".control\nset numdgt=15\nset wr_singlescale\nset wr_vecnames\nset nobreak\nset width=400\nrun"
    );
    for (name, node) in [("sb_v", "sb"), ("in_v", "in"), ("out_v", "out"), ("hb_v", "hb")] {
        let _ = writeln!(text, "let {name} = v({node})");
    }
    for name in ["i_alt", "i_in", "i_out", "i_starter", "i_house"] {
        let _ = writeln!(text, "let {name} = i(v{name})");
    }
    for name in ["soc_starter", "soc_house"] {
        let _ = writeln!(text, "let {name} = v({name})");
    }
    let columns = COLUMNS.join(" ");
    let _ = match &cut.output {
        Output::File(name) => writeln!(text, "wrdata {name} {columns}"),
        Output::Print => writeln!(text, "print col time {columns}"),
    };
    let _ = writeln!(text, "quit\n.endc\n.end");
}

#[cfg(test)]
mod tests;
