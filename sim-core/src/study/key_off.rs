//! (c6) Run-on after key-off in closed form: a steady draw from a starter battery that settles.

use super::trial::Trial;
use crate::judge::run_on_limit_s;
use crate::record::event::{Event, EventKind};
use crate::state::{STARTER, Vector};

/// The starter battery as it stands at a key-off, and what draws on it then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parked {
    /// Its rested voltage at that state of charge, V.
    pub rested_v: f64,
    /// How far that falls for each coulomb drawn, V/C.
    pub fall_v_per_c: f64,
    /// Its series resistance, Ω.
    pub r0_ohm: f64,
    /// Its two branches: volts at key-off, ohms, seconds.
    pub branches: [(f64, f64, f64); 2],
    /// The unit's input power just after key-off, W.
    pub draw_w: f64,
    /// The vehicle's own draw while parked, A.
    pub vehicle_a: f64,
}

impl Parked {
    /// Reads it off the last key-off of a run; `None` where the unit is off then, or where the battery has no such form
    /// (lead-acid, whose charge dies away).
    pub fn at_last_key_off(trial: &Trial) -> Option<Parked> {
        let key_off = trial.run.events.iter().rev().find(|e| e.kind == EventKind::KeyOff)?;
        let drive = trial.run.stretches.iter().rev().find(|s| s.driving)?;
        Parked::at(trial, key_off, &drive.end)
    }

    fn at(trial: &Trial, key_off: &Event, end: &Vector) -> Option<Parked> {
        let plain = trial.resolved.model.starter.plain()?;
        if key_off.after.output_a <= 0.0 {
            return None;
        }
        let soc = end[STARTER];
        let profile = &trial.resolved.profile;
        let branch = |k: usize| (end[STARTER + 1 + k], plain.branch_ohm[k], plain.branch_s[k]);
        let emf = |soc: f64| plain.emf.value_in(plain.emf.piece_of(soc), soc);
        Some(Parked {
            rested_v: emf(soc),
            fall_v_per_c: (emf(soc) - emf(soc - 0.01)) / (0.01 * plain.capacity_c),
            r0_ohm: plain.r0_ohm,
            branches: [branch(0), branch(1)],
            draw_w: key_off.after.in_v * key_off.after.input_a,
            vehicle_a: profile.piece_at(key_off.t).vehicle_load_a,
        })
    }

    /// Current out of the starter battery at a steady power with the input at `in_v`, A.
    pub fn draw_a(&self, in_v: f64) -> f64 {
        self.draw_w / in_v + self.vehicle_a
    }

    /// (c6) Volts at the input some time after key-off: `V_in(t) = E − I (R0 + Σ R_k) − I_unit R_run + Σ (a_k + I R_k) e^(−t/τ_k)`,
    /// the rested volts `E` falling with the charge drawn. The draw is that of the steady power with the input at `at_v`.
    pub fn input_v(&self, seconds: f64, at_v: f64, cable_ohm: f64) -> f64 {
        let all_a = self.draw_a(at_v);
        let branch =
            |(v, ohm, tau): &(f64, f64, f64)| (v + all_a * ohm) * (-seconds / tau).exp() - all_a * ohm;
        let branches: f64 = self.branches.iter().map(branch).sum();
        let rested_v = self.rested_v - self.fall_v_per_c * all_a * seconds;
        rested_v - all_a * self.r0_ohm - self.draw_w / at_v * cable_ohm + branches
    }
}

/// The longest run-on of a run beside (c6).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunOn {
    /// How far (c6) puts the input under turn-off when the limit is reached, V: positive where it has gone off by then.
    pub margin_v: f64,
    /// The draw on the starter battery that (c6) holds steady, A.
    pub from_a: f64,
    /// The draw when the unit went off, or when the run-on ended otherwise, A.
    pub to_a: f64,
}

impl RunOn {
    /// Reads it off a run; `None` where there was no run-on, or no such form.
    pub fn of(trial: &Trial) -> Option<RunOn> {
        let longest = trial.timeline.longest_run_on()?.span;
        let events = &trial.run.events;
        let key_off = events.iter().find(|e| e.kind == EventKind::KeyOff && e.t == longest.from)?;
        let drive = trial.run.stretches.iter().find(|s| s.driving && s.to == longest.from)?;
        let parked = Parked::at(trial, key_off, &drive.end)?;
        let link = trial.resolved.model.link();
        let rule = &link.start_stop;
        // It goes off when the input has stood under turn-off for the delay.
        let seconds = (run_on_limit_s(&trial.scenario.limits) - rule.turn_off_delay_s).max(0.0);
        let cable_ohm = link.input_cable.resistance_ohm() - rule.compensation_ohm;
        let from_a = parked.draw_a(rule.turn_off_v);
        let last = events.iter().rev().find(|e| e.t <= longest.to && e.before.output_a > 0.0);
        Some(RunOn {
            margin_v: rule.turn_off_v - parked.input_v(seconds, rule.turn_off_v, cable_ohm),
            from_a,
            to_a: last.map_or(from_a, |e| -e.before.starter_a),
        })
    }
}
