//! Closed forms of the operating point and of switching, each with the regime that it holds in.
//!
//! They are textbook algebra of a constant-power load behind a resistance, and stand beside the simulation: where the two
//! differ, the simulation holds what a form leaves out. Volts, amps, ohms, watts throughout.

use crate::model::{Model, Piece};

/// (c5) What is left, V, of a band that is wide enough whatever the set-point: `V_on − V_off − I_in R`.
///
/// Sufficient where not negative, never a border: a unit may be steady with far less.
pub fn band_left_v(on_v: f64, off_v: f64, input_a: f64, loop_ohm: f64) -> f64 {
    on_v - off_v - input_a * loop_ohm
}

/// (c8) House load up to which absorption can end on tail current, W: `V_abs (I_tail − I_batt)`.
///
/// Holds with the unit alone on the house bus; `battery_a`: what the battery still takes at that voltage.
pub fn tail_load_w(absorption_v: f64, tail_a: f64, battery_a: f64) -> f64 {
    absorption_v * (tail_a - battery_a)
}

/// A parallel pair of resistances, Ω.
pub fn parallel_ohm(a_ohm: f64, b_ohm: f64) -> f64 {
    a_ohm * b_ohm / (a_ohm + b_ohm)
}

/// The source as the closed forms see it: the alternator regulating, the starter battery full and settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettledSource {
    /// Alternator set-point, V.
    pub set_v: f64,
    /// Its droop, Ω.
    pub droop_ohm: f64,
    /// The vehicle's own load, A.
    pub vehicle_a: f64,
    /// The full starter battery: rested volts and resistance with its branches settled, Ω. `None` for a battery without
    /// such a form (lead-acid, whose charge dies away): it is taken to draw nothing.
    pub starter: Option<(f64, f64)>,
    /// Greatest current of the alternator at the drive's speed, cold, A.
    pub alternator_most_a: f64,
}

impl SettledSource {
    /// The source in a piece of a drive.
    pub fn of(model: &Model, piece: &Piece) -> SettledSource {
        let a = &model.alternator;
        let starter = model.starter.plain().map(|b| {
            let full_v = b.emf.value_in(b.emf.piece_of(1.0), 1.0);
            (full_v, b.r0_ohm + b.branch_ohm.iter().sum::<f64>())
        });
        SettledSource {
            set_v: model.settled_set_point_v(piece),
            droop_ohm: a.droop_ohm,
            vehicle_a: piece.vehicle_load_a,
            starter,
            alternator_most_a: a.capability_a(piece.engine_rpm),
        }
    }

    /// (c17) Starter posts with the alternator regulating and the unit drawing `input_a`, V:
    /// `(V_set/R_d − I_veh − I_in + E_s/R_dc) / (1/R_d + 1/R_dc)`.
    pub fn regulated_v(&self, input_a: f64) -> f64 {
        let (over_v, over_ohm) = self.starter.map_or((0.0, 0.0), |(e, r)| (e / r, 1.0 / r));
        (self.set_v / self.droop_ohm - self.vehicle_a - input_a + over_v) / (1.0 / self.droop_ohm + over_ohm)
    }

    /// Starter posts with the unit drawing `input_a`, V: [`SettledSource::regulated_v`], or where the alternator is at its
    /// greatest current `E_s + R_dc (I_max − I_veh − I_in)`, as far as the battery has such a form.
    pub fn posts_v(&self, input_a: f64) -> f64 {
        let regulated_v = self.regulated_v(input_a);
        let left_a = self.alternator_most_a - self.vehicle_a - input_a;
        self.starter.map_or(regulated_v, |(e, r)| regulated_v.min(e + r * left_a))
    }

    /// Current into the starter battery with the unit drawing `input_a`, A.
    pub fn starter_a(&self, input_a: f64) -> f64 {
        self.starter.map_or(0.0, |(e, r)| (self.posts_v(input_a) - e) / r)
    }

    /// How far the posts fall per ampere, Ω: `R_d ∥ R_dc`.
    pub fn source_ohm(&self) -> f64 {
        self.starter.map_or(self.droop_ohm, |(_, r)| parallel_ohm(self.droop_ohm, r))
    }

    /// (c11) What the alternator could give beyond what is asked, A: `I_max − I_veh − I_sb − I_in`. Where it is negative
    /// (c17) does not hold: the alternator cannot hold its set-point.
    pub fn alternator_left_a(&self, input_a: f64) -> f64 {
        let starter_a = self.starter.map_or(0.0, |(e, r)| (self.regulated_v(input_a) - e) / r);
        self.alternator_most_a - self.vehicle_a - starter_a - input_a
    }
}

/// A closed form that says where a verdict changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// (c3, c17) It keeps dropping out where `V_SB,on − I_in R_run < V_off`, with `I_in = P_in/V_off` or the input limit.
    /// Holds with the starter battery full and settled; with the alternator at its greatest current for a battery that has
    /// a settled resistance only.
    DropsOut,
    /// (c17 at no current) It never comes on where `V_SB,off − I_standby R_run < V_on`; holds as above.
    NeverStarts,
    /// (c18) It cycles at the start unless `V_on − V_off > I_in (R_run + R_d ∥ R0)`. Sharp where it comes on exactly at
    /// turn-on; a delay that lets the source rise allows more.
    StartUp,
    /// (c11) The alternator carries the demand: `I_max(n) ≥ I_veh + I_sb + P_in/V`.
    AlternatorCarries,
    /// (c5) A band wide enough whatever the set-point: `V_on − V_off ≥ I_in R`. Sufficient, no border.
    BandWideEnough,
    /// (c6) It runs on after key-off at a steady draw; see [`super::key_off`]. It needs the starter battery as it stands at
    /// the key-off, so its margin is read off runs.
    RunsOn,
    /// (c8) Absorption can end on its tail current: `P_load/V_abs + I_batt < I_tail`, the battery taking nothing any more.
    TailReached,
}

impl Form {
    /// All of them.
    pub const ALL: [Form; 7] = [
        Form::DropsOut,
        Form::NeverStarts,
        Form::StartUp,
        Form::AlternatorCarries,
        Form::BandWideEnough,
        Form::RunsOn,
        Form::TailReached,
    ];

    /// The form's margin, in V, A or W: positive on the side without trouble; not a number for [`Form::RunsOn`].
    ///
    /// `out_v`: volts at the unit's output, which decide its input power.
    pub fn margin(self, model: &Model, piece: &Piece, out_v: f64) -> f64 {
        let link = model.link();
        let rule = &link.start_stop;
        let source = SettledSource::of(model, piece);
        let input_a = input_at_turn_off_a(model, out_v);
        let cable_ohm = link.input_cable.resistance_ohm() + piece.input_joint_extra_ohm;
        let droop_ohm = source.droop_ohm;
        match self {
            Form::DropsOut => source.posts_v(input_a) - input_a * cable_ohm - rule.turn_off_v,
            Form::NeverStarts => {
                let standby_a = link.converter.standby_a;
                source.posts_v(standby_a) - standby_a * cable_ohm - rule.turn_on_v
            }
            Form::StartUp => {
                let r0 = model.starter.plain().map(|b| b.r0_ohm);
                let at_once_ohm = r0.map_or(droop_ohm, |r0| parallel_ohm(droop_ohm, r0));
                rule.turn_on_v - rule.turn_off_v - input_a * (cable_ohm + at_once_ohm)
            }
            Form::AlternatorCarries => source.alternator_left_a(input_a),
            Form::BandWideEnough => {
                band_left_v(rule.turn_on_v, rule.turn_off_v, input_a, cable_ohm + source.source_ohm())
            }
            Form::RunsOn => f64::NAN,
            Form::TailReached => tail_load_w(out_v, link.stages.tail_a, 0.0) - piece.house_load_w,
        }
    }
}

/// Input current with the input just at turn-off, A: `P_in/V_off`, or the input limit if that is less.
pub fn input_at_turn_off_a(model: &Model, out_v: f64) -> f64 {
    let link = model.link();
    let input_w = link.converter.loss.input_w(out_v * link.converter.output_limit_a);
    (input_w / link.start_stop.turn_off_v).min(link.converter.input_limit_a)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (c1) Input current of a constant-power unit, A: `I = (V0 − √(V0² − 4 R P)) / 2R`; `None` where no operating point
    /// exists, `P > V0²/4R` (c2).
    ///
    /// `v0_v`: source without the unit; `loop_ohm`: source and run together, above zero; `input_w`: input power.
    fn constant_power_input_a(v0_v: f64, loop_ohm: f64, input_w: f64) -> Option<f64> {
        let root = v0_v * v0_v - 4.0 * loop_ohm * input_w;
        // The stable form of the smaller root.
        (root >= 0.0).then(|| 2.0 * input_w / (v0_v + root.sqrt()))
    }

    /// (c3) Loop resistance at which the unit drops out, Ω: `V_off (V0 − V_off)/P` at its output limit.
    ///
    /// Holds with turn-off at or above half of `v0_v` and the source a straight line: alternator regulating, starter
    /// battery's polarisation as it is.
    fn critical_loop_ohm(off_v: f64, v0_v: f64, input_w: f64) -> f64 {
        off_v * (v0_v - off_v) / input_w
    }

    /// (c3) The same at the input limit, Ω: `(V0 − V_off)/I_in`.
    fn critical_loop_at_input_limit_ohm(off_v: f64, v0_v: f64, input_a: f64) -> f64 {
        (v0_v - off_v) / input_a
    }

    /// (c3) One-way length with that loop resistance, m: `(R* − R_src − R_joints)/2r`, `ohm_per_m` of one leg.
    fn critical_length_m(loop_ohm: f64, source_ohm: f64, joints_ohm: f64, ohm_per_m: f64) -> f64 {
        (loop_ohm - source_ohm - joints_ohm) / (2.0 * ohm_per_m)
    }

    /// (c3) and (c17) are one form in two shapes, worked out here from either end.
    #[test]
    fn the_two_shapes_of_the_critical_run_agree() {
        let source = SettledSource {
            set_v: 14.2,
            droop_ohm: 0.003,
            vehicle_a: 25.0,
            starter: Some((12.7, 0.023)),
            alternator_most_a: 500.0,
        };
        let (off_v, input_w) = (12.8, 600.0);
        let input_a = input_w / off_v;
        let cable_ohm = (source.posts_v(input_a) - off_v) / input_a;
        let loop_ohm = critical_loop_ohm(off_v, source.posts_v(0.0), input_w);
        assert!((loop_ohm - source.source_ohm() - cable_ohm).abs() < 1e-12);
        let at_limit = critical_loop_at_input_limit_ohm(off_v, source.posts_v(0.0), input_a);
        assert!((at_limit - loop_ohm).abs() < 1e-12);
        assert!(
            (critical_length_m(loop_ohm, source.source_ohm(), 0.002, 1e-3) - 500.0 * (cable_ohm - 0.002))
                .abs()
                < 1e-9
        );
        // (c1) at that loop stands exactly at turn-off.
        let i = constant_power_input_a(source.posts_v(0.0), loop_ohm, input_w).expect("an operating point");
        assert!((source.posts_v(0.0) - i * loop_ohm - off_v).abs() < 1e-9);
        assert_eq!(constant_power_input_a(14.0, 0.2, 500.0), None);
    }

    #[test]
    fn the_posts_carry_what_flows() {
        let source = SettledSource {
            set_v: 14.2,
            droop_ohm: 0.003,
            vehicle_a: 25.0,
            starter: Some((12.7, 0.023)),
            alternator_most_a: 150.0,
        };
        let alternator_a = (source.set_v - source.posts_v(40.0)) / source.droop_ohm;
        assert!((alternator_a - 25.0 - 40.0 - source.starter_a(40.0)).abs() < 1e-9);
        assert!((source.alternator_left_a(40.0) - (150.0 - alternator_a)).abs() < 1e-9);
        // At its greatest current what the alternator gives is what is drawn.
        let weak = SettledSource { alternator_most_a: 90.0, ..source };
        assert!(weak.posts_v(40.0) < weak.regulated_v(40.0));
        assert!((weak.starter_a(40.0) - (90.0 - 25.0 - 40.0)).abs() < 1e-9);
    }
}
