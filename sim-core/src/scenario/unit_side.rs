//! What a scenario says of the unit between the batteries: runs, power stage, thresholds, stages.

use super::field::{Num, Nums, Origin, Text};
use super::key::{Unit, choice, number, numbers};
use super::section::section;
use crate::plant::fuse::KIND_WORDS;

/// How conductors can lie.
const LAYINGS: &[&str] = &["free-air", "clipped", "sleeved", "bundled", "constant"];
/// Conductor builds that a cable can name.
const CONDUCTORS: &[&str] = &["class-2", "class-5", "class-5-tinned", "pure-copper"];

section! {
    /// `[input_cable]`: both legs between starter battery and unit.
    InputCableSpec {
        /// Length one way, m; the cable is both legs.
        length_m: Num = number(Unit::M, 0.0, 100.0).or(5.0, "invented; measure it"),
        /// Conductor area, mm²; or its size as `awg` or `sae`.
        area_mm2: Num = number(Unit::Mm2, 0.5, 400.0).or(16.0, "common practice for up to 50 A"),
        /// Build of a metric conductor (IEC 60228), or pure copper.
        conductor: Text = choice(CONDUCTORS).or_word("class-5", "flexible vehicle cable, IEC 60228 table 3"),
        /// AWG size such as "6" or "2/0", in place of an area.
        awg: Option<Text> = super::key::text(),
        /// SAE size such as "6" or "2/0", in place of an area.
        sae: Option<Text> = super::key::text(),
        /// Joints, fuses and their holders of both legs together, mΩ; a fuse at the unit adds 1.2 mΩ to the default.
        joints_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(2.0, "common practice, 0.1 to 0.3 mΩ a joint, 1 to 1.5 mΩ a fuse"),
        /// Resistance of the whole cable, joints included, mΩ, in place of length and area.
        resistance_mohm: Option<Num> = number(Unit::MilliOhm, 0.0, 5000.0),
        /// How the conductors lie, which decides how warm they get; constant: they stay at 20 °C.
        laying: Text = choice(LAYINGS).or_word("sleeved", "common practice in vehicles"),
        /// Temperature that the insulation bears all the time, °C: 70 PVC of house wiring, 85 to 125 vehicle cable; read it off
        /// the cable.
        insulation_c: Num = number(Unit::C, 30.0, 300.0).or(85.0, "lowest class of vehicle cable, ISO 6722-1, from memory"),
        /// Length one way that lies in the engine bay, m.
        engine_bay_m: Num = number(Unit::M, 0.0, 50.0).or(1.0, "invented; measure it"),
        /// Heat that the joints together give off, W/K.
        joints_w_per_k: Num = number(Unit::WPerK, 0.01, 50.0).or(0.3, "from memory, low confidence"),
        /// Temperature that the joints bear all the time, °C; terminals, lugs and fuse holders say it in their sheets.
        joints_most_c: Num = number(Unit::C, 30.0, 300.0).or(105.0, "65 K over air of 40 °C, IEC 60947-1, from memory"),
        /// Rating of the fuse at the starter battery, A.
        fuse_a: Option<Num> = number(Unit::A, 1.0, 2000.0),
        /// Its type, by part and letter of its standard; its band says when it opens (from memory). Without a type and without a curve it never opens here.
        fuse_kind: Option<Text> = choice(KIND_WORDS),
        /// Its time-current curve, in place of its type's band: currents over the rating, rising, as its sheet says.
        fuse_times_rating: Option<Nums> = numbers(Unit::One, 1.0, 100.0),
        /// Its time-current curve: seconds until it opens at each of these, falling.
        fuse_opens_s: Option<Nums> = numbers(Unit::S, 0.0001, 1e7),
        /// Short-circuit current that it can break, A; its type says one where nothing stands here.
        fuse_breaks_a: Option<Num> = number(Unit::A, 1.0, 1e6),
        /// Rating of the fuse at the unit's end, A.
        unit_end_fuse_a: Option<Num> = number(Unit::A, 1.0, 2000.0),
        /// Its type, as fuse_kind.
        unit_end_fuse_kind: Option<Text> = choice(KIND_WORDS),
        /// Its time-current curve, as fuse_times_rating.
        unit_end_fuse_times_rating: Option<Nums> = numbers(Unit::One, 1.0, 100.0),
        /// Its time-current curve, as fuse_opens_s.
        unit_end_fuse_opens_s: Option<Nums> = numbers(Unit::S, 0.0001, 1e7),
        /// Short-circuit current that it can break, A, as fuse_breaks_a.
        unit_end_fuse_breaks_a: Option<Num> = number(Unit::A, 1.0, 1e6),
    }
    nothing { laying: "constant" }
    read {
        [length_m, area_mm2, joints_mohm] if |s| s.input_cable.resistance_mohm.is_none(),
        [engine_bay_m, joints_w_per_k]
            if |s| s.input_cable.resistance_mohm.is_none() && s.input_cable.laying.value != "constant",
        [insulation_c, joints_most_c] if |s| s.input_cable.laying.value != "constant",
    }
}

section! {
    /// `[output_cable]`: both legs between unit and house battery.
    OutputCableSpec {
        /// Length one way, m; the cable is both legs.
        length_m: Num = number(Unit::M, 0.0, 100.0).or(1.5, "invented; measure it"),
        /// Conductor area, mm²; or its size as `awg` or `sae`.
        area_mm2: Num = number(Unit::Mm2, 0.5, 400.0).or(16.0, "common practice for up to 50 A"),
        /// Build of a metric conductor (IEC 60228), or pure copper.
        conductor: Text = choice(CONDUCTORS).or_word("class-5", "flexible vehicle cable, IEC 60228 table 3"),
        /// AWG size such as "6" or "2/0", in place of an area.
        awg: Option<Text> = super::key::text(),
        /// SAE size such as "6" or "2/0", in place of an area.
        sae: Option<Text> = super::key::text(),
        /// Joints, fuses and their holders of both legs together, mΩ; each fuse that is told adds 1.2 mΩ to the default.
        joints_mohm: Num = number(Unit::MilliOhm, 0.0, 2000.0).or(1.0, "common practice, 0.1 to 0.3 mΩ a joint"),
        /// Resistance of the whole cable, joints included, mΩ, in place of length and area.
        resistance_mohm: Option<Num> = number(Unit::MilliOhm, 0.0, 5000.0),
        /// How the conductors lie, which decides how warm they get; constant: they stay at 20 °C.
        laying: Text = choice(LAYINGS).or_word("sleeved", "common practice in vehicles"),
        /// Temperature that the insulation bears all the time, °C: 70 PVC of house wiring, 85 to 125 vehicle cable; read it off
        /// the cable.
        insulation_c: Num = number(Unit::C, 30.0, 300.0).or(85.0, "lowest class of vehicle cable, ISO 6722-1, from memory"),
        /// Heat that the joints together give off, W/K.
        joints_w_per_k: Num = number(Unit::WPerK, 0.01, 50.0).or(0.3, "from memory, low confidence"),
        /// Temperature that the joints bear all the time, °C; terminals, lugs and fuse holders say it in their sheets.
        joints_most_c: Num = number(Unit::C, 30.0, 300.0).or(105.0, "65 K over air of 40 °C, IEC 60947-1, from memory"),
        /// Rating of the fuse at the house battery, A.
        fuse_a: Option<Num> = number(Unit::A, 1.0, 2000.0),
        /// Its type, by part and letter of its standard; its band says when it opens (from memory). Without a type and without a curve it never opens here.
        fuse_kind: Option<Text> = choice(KIND_WORDS),
        /// Its time-current curve, in place of its type's band: currents over the rating, rising, as its sheet says.
        fuse_times_rating: Option<Nums> = numbers(Unit::One, 1.0, 100.0),
        /// Its time-current curve: seconds until it opens at each of these, falling.
        fuse_opens_s: Option<Nums> = numbers(Unit::S, 0.0001, 1e7),
        /// Short-circuit current that it can break, A; its type says one where nothing stands here.
        fuse_breaks_a: Option<Num> = number(Unit::A, 1.0, 1e6),
        /// Rating of the fuse at the unit's end, A.
        unit_end_fuse_a: Option<Num> = number(Unit::A, 1.0, 2000.0),
        /// Its type, as fuse_kind.
        unit_end_fuse_kind: Option<Text> = choice(KIND_WORDS),
        /// Its time-current curve, as fuse_times_rating.
        unit_end_fuse_times_rating: Option<Nums> = numbers(Unit::One, 1.0, 100.0),
        /// Its time-current curve, as fuse_opens_s.
        unit_end_fuse_opens_s: Option<Nums> = numbers(Unit::S, 0.0001, 1e7),
        /// Short-circuit current that it can break, A, as fuse_breaks_a.
        unit_end_fuse_breaks_a: Option<Num> = number(Unit::A, 1.0, 1e6),
    }
    nothing { laying: "constant" }
    read {
        [length_m, area_mm2, joints_mohm] if |s| s.output_cable.resistance_mohm.is_none(),
        [joints_w_per_k]
            if |s| s.output_cable.resistance_mohm.is_none() && s.output_cable.laying.value != "constant",
        [insulation_c, joints_most_c] if |s| s.output_cable.laying.value != "constant",
    }
}

/// Resistance of a fuse and its holder where nobody measured the joints, mΩ: common practice, 1 to 1.5 mΩ, no source.
pub const HELD_FUSE_MOHM: f64 = 1.2;

/// The joints, with each further fuse that their default does not have in it.
fn with_fuses(joints_mohm: &Num, further: [&Option<Num>; 2]) -> f64 {
    let further = further.into_iter().flatten().count() as f64;
    match joints_mohm.origin {
        Origin::Default(_) => joints_mohm.value + HELD_FUSE_MOHM * further,
        _ => joints_mohm.value,
    }
}

impl InputCableSpec {
    /// Joints, fuses and their holders together, mΩ: as typed, or the default, which has the fuse at the battery in it.
    pub fn joints_with_fuses_mohm(&self) -> f64 {
        with_fuses(&self.joints_mohm, [&self.unit_end_fuse_a, &None])
    }
}

impl OutputCableSpec {
    /// Joints, fuses and their holders together, mΩ: as typed, or the default, which has no fuse in it.
    pub fn joints_with_fuses_mohm(&self) -> f64 {
        with_fuses(&self.joints_mohm, [&self.fuse_a, &self.unit_end_fuse_a])
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
        proportional_loss_pct: Num = number(Unit::Pct, 0.0, 100.0).or(4.0, "from memory; with the others, peak efficiency 94.5 % at 447 W"),
        /// Loss with the square of output power, per watt.
        square_loss_per_w: Num = number(Unit::PerW, 0.0, 0.01).or(2e-5, "from memory; with the others, peak efficiency 94.5 % at 447 W"),
        /// Soft start: time for the output current limit to rise from zero, s.
        ramp_s: Num = number(Unit::S, 0.0, 600.0).or(2.0, "common practice, 1 to 10 s"),
        /// Input current while off, mA.
        standby_ma: Num = number(Unit::MilliA, 0.0, 5000.0).or(5.0, "from memory, 1 to 20 mA"),
        /// Heat capacity of the case, J/K.
        case_heat_j_per_k: Num = number(Unit::JPerK, 10.0, 1e6).or(900.0, "from memory, within a factor of 2"),
        /// Heat released by the case, W/K.
        case_release_w_per_k: Num = number(Unit::WPerK, 0.01, 1000.0).or(1.6, "from memory, 1 to 2 W/K"),
        /// Heat that the walls of the unit's locker pass, W/K; 0: it stands in the open air.
        locker_w_per_k: Num = number(Unit::WPerK, 0.0, 1000.0).or(0.0, "open air"),
        /// Heat capacity of the locker's air and walls, J/K.
        locker_heat_j_per_k: Num = number(Unit::JPerK, 1.0, 1e6).or(400.0, "from memory, low confidence"),
        /// Free area of the locker's vent, cm²; each adds 0.03 W/K.
        vent_cm2: Num = number(Unit::Cm2, 0.0, 10000.0).or(0.0, "no vent; 0.03 W/K for each cm² from memory"),
        /// Case temperature from which the output current limit falls, °C; 0: heat takes nothing away.
        derate_from_c: Num = number(Unit::C, 0.0, 200.0).or(60.0, "common practice"),
        /// Case temperature at which it has fallen to nothing, °C.
        derate_to_c: Num = number(Unit::C, 0.0, 250.0).or(80.0, "common practice"),
        /// Case temperature at which the unit locks itself out, °C; 0: never.
        lock_c: Num = number(Unit::C, 0.0, 250.0).or(85.0, "common practice"),
        /// Case temperature under which it may start again, °C.
        reclose_c: Num = number(Unit::C, 0.0, 250.0).or(65.0, "common practice"),
    }
    nothing { derate_from_c: 0.0, lock_c: 0.0 }
    read {
        [locker_heat_j_per_k, vent_cm2] if |s| s.converter.locker_w_per_k.value != 0.0,
        [derate_to_c] if |s| s.converter.derate_from_c.value != 0.0,
        [reclose_c] if |s| s.converter.lock_c.value != 0.0,
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
        /// Shortest time off, s.
        least_off_s: Num = number(Unit::S, 0.0, 3600.0).or(0.0, "none"),
        /// Time constant of the filter before the thresholds, s; under a millisecond, as 0: none.
        filter_s: Num = number(Unit::S, 0.0, 60.0).or(0.0, "none; 0.1 to 5 s where there is one"),
        /// Input resistance whose drop the unit adds to what it sees, mΩ.
        compensation_mohm: Num = number(Unit::MilliOhm, 0.0, 1000.0).or(0.0, "none"),
        /// What a run signal does: nothing, both must agree, either starts it, or a second pair of thresholds counts.
        signal: Text = choice(&["none", "required", "either", "second-pair"]).or_word("none", "voltage alone"),
        /// When the signal is live.
        signal_live: Text = choice(&["engine-runs", "always", "never"]).or_word("engine-runs", "as it should be"),
        /// Turn-on voltage with the signal, V, for a second pair.
        signal_turn_on_v: Num = number(Unit::V, 1.0, 62.0).or(12.2, "common practice, 12.0 to 12.5 V"),
        /// Turn-off voltage with the signal, V, for a second pair.
        signal_turn_off_v: Num = number(Unit::V, 1.0, 62.0).or(11.5, "common practice, 11.0 to 12.0 V"),
    }
    read { [signal_turn_on_v, signal_turn_off_v] if |s| s.start_stop.signal.value == "second-pair" }
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
        /// Stages, or one voltage for ever: the absorption voltage.
        mode: Text = choice(&["stages", "fixed-supply"]).or_word("stages", "a charger"),
        /// What a turn-on does: begins again with bulk, or goes on with the stage it left.
        turn_on_begins: Text = choice(&["bulk", "where-it-left"]).or_word("bulk", "common practice"),
        /// What the absorption cap counts: each absorption, or all since the last float.
        cap_counts: Text = choice(&["each", "all"]).or_word("each", "common practice"),
        /// Change of absorption and float voltage with the house battery's temperature, from 25 °C, mV/K.
        compensation_mv_per_k: Option<Num> = number(Unit::MilliVPerK, -200.0, 0.0),
    }
    read {
        [tail_a, tail_hold_s, absorption_cap_min, float_v, recharge_v, recharge_hold_s]
            if |s| s.stages.mode.value != "fixed-supply",
    }
}
