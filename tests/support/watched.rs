//! What an event's condition watches, and what a microvolt of it is worth in time.

use sim_core::logic::start_stop::seen_v;
use sim_core::network::{Limit, Sense};
use sim_core::record::{Bound, Cause, Event, EventKind, Sample, Side};
use sim_core::state::{self, CASE_C, HOUSE, HOUSE_C, STARTER};
use sim_core::{Instant, Model, Profile, Run};

/// A microvolt; a microampere and a microkelvin where currents and temperatures are watched.
const MICRO: f64 = 1e-6;
/// Just before the crossing, ns.
const BEFORE_NS: i64 = 1_000;
/// See above.
const APART_NS: i64 = 100_000;
/// A change of the watched quantity over the crossing that counts as a jump: a jump happens when it happens.
const JUMP: f64 = 1e-5;

/// Seconds that a microvolt of the watched quantity is worth at the crossing behind an event; 0 for what is no crossing.
pub fn worth_s(run: &Run, model: &Model, profile: &Profile, event: &Event) -> f64 {
    let held_s = match event.cause {
        Cause::InputHeld { held_s, .. }
        | Cause::OutputLow { held_s, .. }
        | Cause::TailCurrent { held_s, .. } => held_s,
        Cause::Drive | Cause::Timer | Cause::AbsorptionCap { .. } | Cause::Signal { .. } => return 0.0,
        // Volts that jump were carried over by something else.
        Cause::Network if jumped(event) => return 0.0,
        _ => 0.0,
    };
    let crossed = event.t.plus_s(-held_s);
    let look = |t: Instant| watched(model, event, &run.trace.at(model, profile, t)?);
    let slope = || {
        let (late, early) =
            (look(crossed.plus_ns(-BEFORE_NS))?, look(crossed.plus_ns(-BEFORE_NS - APART_NS))?);
        let jumps = held_s > 0.0 && (look(crossed.plus_ns(BEFORE_NS))? - late).abs() > JUMP;
        (!jumps).then_some((late - early).abs() / (APART_NS as f64 * 1e-9))
    };
    slope().filter(|s| *s > 0.0).map_or(0.0, |s| MICRO / s)
}

fn jumped(event: &Event) -> bool {
    let (b, a) = (&event.before, &event.after);
    [(b.sb_v, a.sb_v), (b.house_v, a.house_v), (b.in_v, a.in_v)].iter().any(|(x, y)| (x - y).abs() > JUMP)
}

/// The quantity whose crossing makes the event.
fn watched(model: &Model, event: &Event, s: &Sample) -> Option<f64> {
    let net = &s.net;
    let sensed_v = match model.link().converter.sense {
        Sense::Terminals => net.out_v,
        Sense::HousePosts => net.house_v,
    };
    Some(match (event.cause, event.kind) {
        (Cause::InputHeld { .. }, _) => seen_v(model, &s.state, net),
        (Cause::OutputLow { .. }, _) => net.out_v,
        (Cause::TargetReached { .. }, _) => sensed_v,
        (Cause::TailCurrent { .. }, _) => net.output_a,
        (Cause::Heat { .. }, _) => s.state[CASE_C],
        (Cause::Protection { threshold, .. }, _) => {
            let p = &model.protection;
            if threshold == p.cold_c || threshold == p.cold_release_c {
                s.state[HOUSE_C]
            } else if threshold == p.over_a {
                net.house_a
            } else if threshold == p.high_release_v {
                model.house.port(&state::house(&s.state), &s.mode.house_hold).emf_v
            } else {
                net.house_v
            }
        }
        (Cause::Spent { .. }, EventKind::LoadsShed { .. }) => s.state[HOUSE],
        (Cause::Spent { .. }, _) => s.state[STARTER],
        // Loads come back over volts, or where a little charge is in an empty battery again.
        (Cause::Posts { .. }, EventKind::LoadsShed { shed: false }) if s.state[HOUSE] < 0.010_001 => {
            s.state[HOUSE]
        }
        (Cause::Posts { .. }, EventKind::LoadsShed { .. }) => net.house_v,
        (Cause::Posts { .. }, _) => net.sb_v,
        (_, EventKind::AlternatorFull { .. }) => net.sb_v,
        (_, EventKind::Bound { side, at }) => {
            let (battery, x, a, hold) = match side {
                Side::Starter => {
                    (&model.starter, state::starter(&s.state), net.starter_a, s.mode.starter_hold)
                }
                Side::House => (&model.house, state::house(&s.state), net.house_a, s.mode.house_hold),
            };
            // A battery is full where its charge is, and leaves that end as its current turns.
            if at == Bound::Within { a * battery.port(&x, &hold).r_ohm } else { x.soc }
        }
        (_, EventKind::Limit { from, to }) => match (from, to) {
            (_, Limit::OutputCurrent) => net.output_a,
            (_, Limit::Voltage | Limit::Idle) => sensed_v,
            (_, Limit::InputCurrent) => net.input_a,
            _ => net.in_v,
        },
        _ => return None,
    })
}
