//! Values that are fine alone and wrong together.

use super::effects::CELLS_WHOLE;
use super::parts::Maker;
use crate::model::{Model, Profile};
use crate::plant::converter::Loss;
use crate::scenario::{Num, Scenario};

/// Shortest sum of delays and soft start with which the unit can switch on and off again, s.
const SHORTEST_ROUND_S: f64 = 0.01;

/// How far, as a share, the cells that somebody wrote may be from what the absorption voltage suits; past it no cell of that
/// kind is charged at such a voltage (lead-acid 2.1 to 2.9 V, LFP 3.0 to 4.2 V).
const MOST_CELLS_OFF: f64 = 0.2;

/// The most that a standby current may lose on its way to the unit, V. Nothing runs on posts under a volt, and copper has up to
/// twice the resistance where it is hot, so the input never stands below nothing.
const MOST_STANDBY_DROP_V: f64 = 0.5;

impl Maker<'_> {
    /// The standby current through the input cable, with the worst that the drive adds to its joints.
    pub(super) fn standby_check(&mut self, s: &Scenario, model: &Model, profile: &Profile) {
        let extra_ohm = profile.pieces().iter().map(|p| p.input_joint_extra_ohm).fold(0.0, f64::max);
        let ohm = model.link().input_cable.resistance_ohm() + extra_ohm;
        let standby = ("converter.standby_ma", &s.converter.standby_ma);
        let lost_v = model.link().converter.standby_a * ohm;
        self.clash(lost_v > MOST_STANDBY_DROP_V, &[standby], || {
            format!(
                "{} mA through the {:.0} mΩ of the input cable and its joints lose {lost_v:.2} V with the unit off; a \
                 standby current loses {MOST_STANDBY_DROP_V} V at most",
                standby.1.value,
                ohm * 1e3
            )
        });
    }

    pub(super) fn cross_checks(&mut self, s: &Scenario) {
        let ss = &s.start_stop;
        let (on, off) = (("start_stop.turn_on_v", &ss.turn_on_v), ("start_stop.turn_off_v", &ss.turn_off_v));
        self.clash(off.1.value >= on.1.value, &[off, on], || {
            format!(
                "turn-off at {} V does not lie below turn-on at {} V: the unit would come on where it must drop out",
                off.1.value, on.1.value
            )
        });
        let (on, off) = (
            ("start_stop.signal_turn_on_v", &ss.signal_turn_on_v),
            ("start_stop.signal_turn_off_v", &ss.signal_turn_off_v),
        );
        let counts = ss.signal.value == "second-pair";
        self.clash(counts && off.1.value >= on.1.value, &[off, on], || {
            format!(
                "with the signal, turn-off at {} V does not lie below turn-on at {} V: the unit would come on where it must \
                 drop out",
                off.1.value, on.1.value
            )
        });
        let waits = [
            ("start_stop.turn_on_delay_s", &ss.turn_on_delay_s),
            ("start_stop.turn_off_delay_s", &ss.turn_off_delay_s),
            ("converter.ramp_s", &s.converter.ramp_s),
        ];
        let round_s: f64 = waits.iter().map(|w| w.1.value).sum();
        self.clash(round_s < SHORTEST_ROUND_S, &waits, || {
            format!(
                "turn-on delay, turn-off delay and soft start come to {round_s} s together: the unit can chatter without \
                 end at one instant; together they last at least {SHORTEST_ROUND_S} s"
            )
        });
        self.stage_checks(s);
        self.power_checks(s);
        self.cell_checks(s);
    }

    /// Cells that somebody wrote against the voltage that the unit charges them to: another chemistry alone leaves the
    /// number of cells that suited the one before.
    fn cell_checks(&mut self, s: &Scenario) {
        let kind = s.house_battery.chemistry.value.as_str();
        let (nominal_v, charged_v) = match kind {
            "lfp" => (3.2, 3.55),
            "flooded" | "agm" | "gel" => (2.0, 2.4),
            _ => return,
        };
        let Some(cells) = &s.house_battery.cells else { return };
        if cells.value.fract() != 0.0 {
            self.conflict("house_battery.cells", Some(cells), CELLS_WHOLE.into());
            return;
        }
        let absorption = ("stages.absorption_v", &s.stages.absorption_v);
        let meant = (absorption.1.value / charged_v).round().max(1.0);
        let off = (cells.value / meant - 1.0).abs();
        self.clash(off > MOST_CELLS_OFF, &[("house_battery.cells", cells), absorption], || {
            format!(
                "{} cells of {kind} are a {:.1} V battery, and the unit charges it to {} V (did you mean {meant} cells?)",
                cells.value,
                cells.value * nominal_v,
                absorption.1.value
            )
        });
    }

    fn stage_checks(&mut self, s: &Scenario) {
        let st = &s.stages;
        // A fixed supply knows the absorption voltage alone.
        if st.mode.value == "fixed-supply" {
            return;
        }
        let absorption = ("stages.absorption_v", &st.absorption_v);
        let float = ("stages.float_v", &st.float_v);
        let recharge = ("stages.recharge_v", &st.recharge_v);
        self.clash(float.1.value > absorption.1.value, &[float, absorption], || {
            format!("float at {} V lies above absorption at {} V", float.1.value, absorption.1.value)
        });
        self.clash(recharge.1.value >= float.1.value, &[recharge, float], || {
            format!(
                "a new charge below {} V would begin again at once, since float holds {} V",
                recharge.1.value, float.1.value
            )
        });
    }

    fn power_checks(&mut self, s: &Scenario) {
        let c = &s.converter;
        let floor = ("converter.input_floor_v", &c.input_floor_v);
        let off = ("start_stop.turn_off_v", &s.start_stop.turn_off_v);
        self.clash(floor.1.value > 0.0 && floor.1.value < off.1.value, &[floor, off], || {
            format!(
                "the unit drops out at {} V and so never reaches its floor of {} V; a floor lies at or above turn-off",
                off.1.value, floor.1.value
            )
        });
        let limit = ("converter.input_limit_a", &c.input_limit_a);
        let fixed = ("converter.fixed_loss_w", &c.fixed_loss_w);
        let on = ("start_stop.turn_on_v", &s.start_stop.turn_on_v);
        let loss = Loss { fixed_w: fixed.1.value, proportional: 0.0, square_per_w: 0.0 };
        let taken_w = limit.1.value * on.1.value;
        self.clash(loss.output_w(taken_w) <= 0.0, &[limit, fixed, on], || {
            format!(
                "{} A at turn-on ({} V) is {taken_w:.1} W, and the unit loses {} W before it gives any: nothing would come out",
                limit.1.value, on.1.value, fixed.1.value
            )
        });
    }

    /// Reports values that clash, at the first of them that somebody wrote.
    ///
    /// A value that could not be read stands as its default and proves nothing, so it clashes with nothing.
    fn clash(&mut self, wrong: bool, values: &[(&str, &Num)], what: impl FnOnce() -> String) {
        if !wrong || !values.iter().all(|(path, num)| self.was_read(path, num)) {
            return;
        }
        let (path, at) = values.iter().find(|v| v.1.place().is_some()).unwrap_or(&values[0]);
        self.conflict(path, Some(at), what());
    }
}
