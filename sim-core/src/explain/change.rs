//! What changed just before the unit switched.

use super::moment::Moment;
use serde::Serialize;

/// One thing that changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "changed")]
pub enum Change {
    /// Nothing but the unit's own current, which its soft start had just brought up.
    OwnRamp {
        /// Input current reached, A.
        input_a: f64,
    },
    /// The unit's own current had gone, and its drop with it.
    DropGone {
        /// Volts that the input rose by when the unit dropped out.
        by_v: f64,
    },
    /// The alternator's set-point.
    SetPoint {
        /// Before, V.
        from_v: f64,
        /// After, V.
        to_v: f64,
    },
    /// The engine's speed.
    Speed {
        /// Before, rpm.
        from_rpm: f64,
        /// After, rpm.
        to_rpm: f64,
    },
    /// The vehicle's own load.
    VehicleLoad {
        /// Before, A.
        from_a: f64,
        /// After, A.
        to_a: f64,
    },
    /// The house load.
    HouseLoad {
        /// Before, W.
        from_w: f64,
        /// After, W.
        to_w: f64,
    },
    /// A joint of the input cable.
    Joint {
        /// Before, beyond its own resistance, Ω.
        from_ohm: f64,
        /// After, Ω.
        to_ohm: f64,
    },
    /// The input cable opened, as behind a blown fuse.
    CableOpened,
    /// The input cable's conductors warmed.
    CableWarmed {
        /// Before, Ω.
        from_ohm: f64,
        /// After, Ω.
        to_ohm: f64,
    },
    /// Heat took from what the alternator can give.
    AlternatorWarmed {
        /// Before, A.
        from_a: f64,
        /// After, A.
        to_a: f64,
    },
    /// The engine was started.
    KeyOn {
        /// How long ago, s.
        ago_s: f64,
    },
    /// The engine was stopped.
    KeyOff {
        /// How long ago, s.
        ago_s: f64,
    },
    /// The starter motor turned.
    Crank,
    /// The sun, or a maintainer, on the starter battery.
    Sun {
        /// Its current, A.
        amps: f64,
    },
    /// The run signal.
    Signal {
        /// Whether it is live now.
        live: bool,
    },
    /// The unit's case became too hot, or cool enough again.
    Heat {
        /// Case temperature, °C.
        case_c: f64,
    },
}

/// Change of speed, share, from which it counts.
const SPEED: f64 = 0.02;
/// Change of a load that counts, A.
const LOAD_A: f64 = 0.5;
/// Change of the house load that counts, W.
const HOUSE_W: f64 = 1.0;
/// Change of the set-point that counts, V.
const SET_POINT_V: f64 = 0.01;
/// Change of the input cable's resistance, share, from which warmth counts.
const WARM: f64 = 0.02;

/// What differs between two moments, conditions first.
pub(super) fn between(then: &Moment, now: &Moment) -> Vec<Change> {
    let mut found = Vec::new();
    let (a, b) = (&then.piece, &now.piece);
    let open = |m: &Moment| m.piece.input_open || m.mode.open.input();
    if open(now) && !open(then) {
        found.push(Change::CableOpened);
    }
    // Not a number while the alternator stands, and then no change.
    if (now.commanded_v() - then.commanded_v()).abs() > SET_POINT_V {
        found.push(Change::SetPoint { from_v: then.set_point_v, to_v: now.set_point_v });
    }
    if a.engine_runs() && b.engine_runs() && (b.engine_rpm / a.engine_rpm - 1.0).abs() > SPEED {
        found.push(Change::Speed { from_rpm: a.engine_rpm, to_rpm: b.engine_rpm });
    }
    if (b.vehicle_load_a - a.vehicle_load_a).abs() > LOAD_A {
        found.push(Change::VehicleLoad { from_a: a.vehicle_load_a, to_a: b.vehicle_load_a });
    }
    if (b.house_load_w - a.house_load_w).abs() > HOUSE_W {
        found.push(Change::HouseLoad { from_w: a.house_load_w, to_w: b.house_load_w });
    }
    let (joint_a, joint_b) = (a.input_joint_extra_ohm, b.input_joint_extra_ohm);
    if joint_a != joint_b {
        found.push(Change::Joint { from_ohm: joint_a, to_ohm: joint_b });
    }
    let (ohm_a, ohm_b) = (then.cable_ohm() - joint_a, now.cable_ohm() - joint_b);
    if ohm_b > ohm_a * (1.0 + WARM) {
        found.push(Change::CableWarmed { from_ohm: ohm_a, to_ohm: ohm_b });
    }
    let heat = |m: &Moment| m.model.alternator.heat_share(m.y[crate::state::WINDING_C]);
    if heat(now) < heat(then) - WARM && now.mode.alternator_turns() {
        let to_a = now.capability_a();
        found.push(Change::AlternatorWarmed { from_a: to_a * heat(then) / heat(now), to_a });
    }
    found
}
