//! Comparing two runs of one vehicle.

use sim_core::record::{Cause, Event};
use sim_core::{Instant, Model, Profile, Run};

/// What the event's condition watches, per second, when it crossed: V/s or A/s.
pub fn slope(r: &Run, m: &Model, p: &Profile, event: &Event) -> Option<f64> {
    let held_s = match event.cause {
        Cause::InputHeld { held_s, .. }
        | Cause::OutputLow { held_s, .. }
        | Cause::TailCurrent { held_s, .. } => held_s,
        _ => 0.0,
    };
    // Just before the crossing, inside one step.
    let crossed = event.t.plus_s(-held_s);
    let watched = |t: Instant| {
        let net = r.trace.at(m, p, t)?.net;
        Some(match event.cause {
            Cause::OutputLow { .. } | Cause::TargetReached { .. } => net.out_v,
            Cause::TailCurrent { .. } => net.output_a,
            _ => net.in_v,
        })
    };
    Some((watched(crossed.plus_ns(-1_000))? - watched(crossed.plus_ns(-101_000))?).abs() / 1e-4)
}

/// How far an event may move: 10 ms, or what a microvolt (a microampere) is worth where the watched quantity barely moves.
pub fn allowed_s(r: &Run, m: &Model, p: &Profile, event: &Event) -> f64 {
    slope(r, m, p, event).filter(|s| *s > 0.0).map_or(0.01, |s| (1e-6 / s).max(0.01))
}
