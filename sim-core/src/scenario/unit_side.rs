//! What a scenario says of the unit between the batteries: runs, power stage, thresholds, stages.

use super::field::{Num, Text};
use super::key::{Unit, choice, number};
use super::section::section;

/// Conductor builds that a run can name.
const CONDUCTORS: &[&str] = &["class-2", "class-5", "class-5-tinned", "pure-copper"];

section! {
    /// `[input_run]`: both legs between starter battery and unit.
    InputRunSpec {
        /// Length one way, m; the run is both legs.
        length_m: Num = number(Unit::M, 0.0, 100.0).or(5.0, "invented; measure it"),
        /// Conductor area, mm².
        area_mm2: Num = number(Unit::Mm2, 0.5, 400.0).or(16.0, "common practice for up to 50 A"),
        /// Build of a metric conductor (IEC 60228), or pure copper.
        conductor: Text = choice(CONDUCTORS).or_word("class-5", "flexible vehicle cable, IEC 60228 table 3"),
        /// AWG size such as "6" or "2/0", in place of an area.
        awg: Option<Text> = super::key::text(),
        /// SAE size such as "6" or "2/0", in place of an area.
        sae: Option<Text> = super::key::text(),
        /// Joints and fuses of both legs together, mΩ.
        joints_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(2.0, "common practice, 0.1 to 0.3 mΩ a joint, 1 to 1.5 mΩ a fuse"),
        /// Resistance of the whole run, joints included, mΩ, in place of length and area.
        resistance_mohm: Option<Num> = number(Unit::MilliOhm, 0.0, 5000.0),
    }
}

section! {
    /// `[output_run]`: both legs between unit and house battery.
    OutputRunSpec {
        /// Length one way, m; the run is both legs.
        length_m: Num = number(Unit::M, 0.0, 100.0).or(1.5, "invented; measure it"),
        /// Conductor area, mm².
        area_mm2: Num = number(Unit::Mm2, 0.5, 400.0).or(16.0, "common practice for up to 50 A"),
        /// Build of a metric conductor (IEC 60228), or pure copper.
        conductor: Text = choice(CONDUCTORS).or_word("class-5", "flexible vehicle cable, IEC 60228 table 3"),
        /// AWG size such as "6" or "2/0", in place of an area.
        awg: Option<Text> = super::key::text(),
        /// SAE size such as "6" or "2/0", in place of an area.
        sae: Option<Text> = super::key::text(),
        /// Joints and fuses of both legs together, mΩ.
        joints_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(1.0, "common practice, 0.1 to 0.3 mΩ a joint"),
        /// Resistance of the whole run, joints included, mΩ, in place of length and area.
        resistance_mohm: Option<Num> = number(Unit::MilliOhm, 0.0, 5000.0),
    }
}

section! {
    /// `[converter]`: the unit's power stage.
    ConverterSpec {
        /// Output current limit, A.
        output_limit_a: Num = number(Unit::A, 0.1, 1000.0).or(40.0, "invented; type the label"),
        /// Input current limit, A.
        input_limit_a: Num = number(Unit::A, 0.1, 2000.0).or(60.0, "invented; type the label"),
        /// Input voltage at which it gives up current rather than go lower, V; 0 where it has no such floor.
        input_floor_v: Num = number(Unit::V, 0.0, 60.0).or(0.0, "no floor"),
        /// Where it measures the voltage that it holds: its own terminals, or the house posts by a pair of its own.
        sense: Text = choice(&["terminals", "house-posts"]).or_word("terminals", "no remote sense"),
        /// Loss while on, at no output, W.
        fixed_loss_w: Num = number(Unit::W, 0.0, 500.0).or(4.0, "from memory, 2 to 5 W"),
        /// Loss in proportion to output power, %.
        proportional_loss_pct: Num = number(Unit::Pct, 0.0, 100.0).or(4.0, "from memory; with the others, peak efficiency near 92 %"),
        /// Loss with the square of output power, per watt.
        square_loss_per_w: Num = number(Unit::PerW, 0.0, 0.01).or(2e-5, "from memory; with the others, peak efficiency near 92 %"),
        /// Soft start: time for the output current limit to rise from zero, s.
        ramp_s: Num = number(Unit::S, 0.0, 600.0).or(2.0, "common practice, 1 to 10 s"),
        /// Input current while off, mA.
        standby_ma: Num = number(Unit::MilliA, 0.0, 5000.0).or(5.0, "from memory, 1 to 20 mA"),
        /// Heat capacity of the case, J/K.
        case_heat_j_per_k: Num = number(Unit::JPerK, 10.0, 1e6).or(900.0, "from memory, within a factor of 2"),
        /// Heat released by the case, W/K.
        case_release_w_per_k: Num = number(Unit::WPerK, 0.01, 1000.0).or(1.6, "from memory, 1 to 2 W/K"),
    }
}

section! {
    /// `[start_stop]`: when the unit comes on and drops out, by the voltage at its own input terminals.
    StartStopSpec {
        /// Turn-on voltage, V.
        turn_on_v: Num = number(Unit::V, 1.0, 62.0).or(13.6, "common practice, 13.2 to 13.6 V"),
        /// How long turn-on must be held, s.
        turn_on_delay_s: Num = number(Unit::S, 0.0, 3600.0).or(30.0, "common practice, 10 to 60 s"),
        /// Turn-off voltage, V.
        turn_off_v: Num = number(Unit::V, 1.0, 62.0).or(12.8, "common practice, 12.6 to 13.0 V"),
        /// How long it must stand below turn-off, s.
        turn_off_delay_s: Num = number(Unit::S, 0.0, 3600.0).or(2.0, "common practice"),
    }
}

section! {
    /// `[stages]`: what the unit charges to.
    StagesSpec {
        /// Absorption voltage, V.
        absorption_v: Num = number(Unit::V, 1.0, 62.0).or(14.2, "common practice for LFP, 14.0 to 14.4 V"),
        /// Output current under which absorption ends, A.
        tail_a: Num = number(Unit::A, 0.0, 1000.0).or(8.0, "common practice, 0.02 to 0.05 of the capacity"),
        /// How long the current must stay under the tail current, s.
        tail_hold_s: Num = number(Unit::S, 0.0, 36000.0).or(60.0, "common practice"),
        /// Longest absorption, min.
        absorption_cap_min: Num = number(Unit::Min, 0.0, 10000.0).or(60.0, "common practice"),
        /// Float voltage, V.
        float_v: Num = number(Unit::V, 1.0, 62.0).or(13.5, "common practice for LFP, 13.3 to 13.6 V"),
        /// Output voltage under which a new charge begins, V.
        recharge_v: Num = number(Unit::V, 0.0, 62.0).or(13.2, "common practice"),
        /// How long the output must stay under the recharge voltage, s.
        recharge_hold_s: Num = number(Unit::S, 0.0, 36000.0).or(60.0, "common practice"),
    }
}
