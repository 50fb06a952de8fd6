//! Why a closed form and the simulation differ: what the form leaves out, read off the runs beside the border.

use super::closed_forms::SettledSource;
use super::key_off::RunOn;
use super::outcome::Witness;
use crate::model::{Model, Piece};

/// Why simulation and closed form differ: what the form leaves out, read at the drop-out nearest to the border.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// The starter battery is not full and settled: the posts stand lower than the form's.
    StarterStillRising {
        /// Current that it takes beyond the form's, A; nothing where the alternator gives all it can.
        more_a: f64,
        /// How much lower the posts stand, V.
        volts_v: f64,
    },
    /// The alternator gives all it can, or is not there yet: the posts stand under its droop line.
    AlternatorAtItsLimit {
        /// What it gives, A.
        gives_a: f64,
        /// How far the posts stand under the line, V.
        volts_v: f64,
        /// Whether the form counts with that: it does for a battery with a settled resistance, cold alternator.
        form_knows: bool,
    },
    /// The copper is warm.
    WarmCopper {
        /// Resistance beyond that at 20 °C, Ω.
        more_ohm: f64,
        /// What that takes, V.
        volts_v: f64,
    },
    /// The unit gives less than its limit: heat, the target voltage or the soft start holds it back.
    OutputUnderLimit {
        /// What it gives, A.
        gives_a: f64,
        /// Its limit, A.
        limit_a: f64,
    },
    /// (c6) The draw after key-off does not stay what it was: the charge tapers off, changes its stage or gives up amps.
    DrawChanges {
        /// The draw on the starter battery that the form holds steady, A.
        from_a: f64,
        /// The draw when the unit goes off, A.
        to_a: f64,
        /// How far the form puts the input under turn-off when the limit is reached, V; negative: above it.
        volts_v: f64,
    },
    /// (c8) The house battery still takes current when absorption ends.
    BatteryStillTakes {
        /// That current, A.
        battery_a: f64,
        /// House load that it takes the place of, W.
        load_w: f64,
    },
    /// (c8) The current has to stay under the tail current for a while, and falls meanwhile.
    TailHeld {
        /// How long, s.
        held_s: f64,
        /// By how much it has fallen under the tail current then, A.
        fell_a: f64,
        /// House load that this costs, W.
        load_w: f64,
    },
    /// (c8) The house posts stand lower than the unit's output.
    OutputCableDrop {
        /// By so much, V.
        volts_v: f64,
        /// House load that this costs, W.
        load_w: f64,
    },
    /// (c8) Sun or mains charger carry some of the house load.
    OthersFeed {
        /// Their current, A.
        others_a: f64,
        /// House load that they carry, W.
        load_w: f64,
    },
}

/// A reason under this explains nothing, V.
const NOTHING_V: f64 = 0.001;
/// The alternator counts as off its droop line from here on, V: its pick-up lags by less.
const OFF_LINE_V: f64 = 0.005;

/// A load under this explains nothing, W.
const NOTHING_W: f64 = 0.05;

/// Reasons at a drop-out.
pub(super) fn at_drop_out(model: &Model, piece: &Piece, witness: &Witness) -> Vec<Reason> {
    let (net, link) = (&witness.net, model.link());
    let source = SettledSource::of(model, piece);
    let mut reasons = Vec::new();
    let line_v = source.set_v - source.droop_ohm * net.alternator_a;
    let short_v = line_v - net.sb_v;
    let form_knows = source.starter.is_some();
    if short_v > OFF_LINE_V {
        let gives_a = net.alternator_a;
        reasons.push(Reason::AlternatorAtItsLimit { gives_a, volts_v: short_v, form_knows });
    }
    if short_v <= OFF_LINE_V || form_knows {
        let more_a = net.starter_a - source.starter_a(net.input_a);
        let volts_v = source.posts_v(net.input_a) - net.sb_v;
        if volts_v.abs() > NOTHING_V {
            reasons.push(Reason::StarterStillRising { more_a, volts_v });
        }
    }
    if net.input_a > 0.0 {
        let cold_ohm = link.input_cable.resistance_ohm() + piece.input_joint_extra_ohm;
        let more_ohm = (net.sb_v - net.in_v) / net.input_a - cold_ohm;
        let volts_v = more_ohm * net.input_a;
        if volts_v.abs() > NOTHING_V {
            reasons.push(Reason::WarmCopper { more_ohm, volts_v });
        }
    }
    let limit_a = link.converter.output_limit_a;
    let input_limited = net.input_a >= 0.999 * link.converter.input_limit_a;
    if net.output_a < 0.995 * limit_a && !input_limited {
        reasons.push(Reason::OutputUnderLimit { gives_a: net.output_a, limit_a });
    }
    reasons
}

/// Reasons at the end of a run-on.
pub(super) fn at_run_on(run_on: &RunOn) -> Vec<Reason> {
    vec![Reason::DrawChanges { from_a: run_on.from_a, to_a: run_on.to_a, volts_v: run_on.margin_v }]
}

/// Reasons at the end of absorption.
pub(super) fn at_absorption_end(model: &Model, witness: &Witness) -> Vec<Reason> {
    let (net, stages) = (&witness.net, &model.link().stages);
    let fell_a = stages.tail_a - net.output_a;
    let held_w = fell_a * net.out_v;
    let others_a = net.solar_a + net.charger_a;
    let volts_v = net.out_v - net.house_v;
    let battery_w = net.house_a * net.house_v;
    let (drop_w, others_w) = (volts_v * net.output_a, others_a * net.house_v);
    let all = [
        (battery_w, Reason::BatteryStillTakes { battery_a: net.house_a, load_w: battery_w }),
        (held_w, Reason::TailHeld { held_s: stages.tail_hold_s, fell_a, load_w: held_w }),
        (drop_w, Reason::OutputCableDrop { volts_v, load_w: drop_w }),
        (others_w, Reason::OthersFeed { others_a, load_w: others_w }),
    ];
    all.into_iter().filter(|(watts, _)| watts.abs() > NOTHING_W).map(|(_, reason)| reason).collect()
}
