//! One switching in one sentence.

use super::{Depth, Words, change, kind};
use crate::clock::duration;
use sim_core::explain::{Engine, Switch};
use sim_core::record::Cause;

/// What fired.
fn fired(s: &Switch) -> String {
    match s.cause {
        Cause::InputHeld { input_v, threshold_v, held_s } if s.on => format!(
            "input at or above turn-on ({threshold_v:.2} V) for {} ({input_v:.2} V now)",
            duration(held_s)
        ),
        Cause::InputHeld { input_v, threshold_v, held_s } => format!(
            "input below turn-off ({threshold_v:.2} V) for {} ({} V now)",
            duration(held_s),
            below(input_v, threshold_v)
        ),
        Cause::Signal { live: true } => "the run signal was live".to_owned(),
        Cause::Signal { live: false } => "the run signal went away".to_owned(),
        Cause::Heat { case_c, limit_c } => {
            format!("its case at {case_c:.0} °C, the lock-out at {limit_c:.0} °C")
        }
        Cause::Posts { posts_v, threshold_v } => format!(
            "the starter battery had collapsed: {posts_v:.2} V at its posts, and under {threshold_v:.2} V nothing runs"
        ),
        _ => "its rules said so".to_owned(),
    }
}

/// Volts below a threshold, with as many places as tell the two apart.
fn below(v: f64, threshold_v: f64) -> String {
    let places = (2..5).find(|n| format!("{v:.*}", *n) != format!("{threshold_v:.*}", *n)).unwrap_or(5);
    format!("{v:.places$}")
}

fn engine(e: Engine) -> String {
    match e {
        Engine::Runs { for_s } => format!("engine running for {}", duration(for_s)),
        Engine::Cranks => "engine cranking".to_owned(),
        Engine::Stands { for_s: Some(s) } => format!("engine stopped for {}", duration(s)),
        Engine::Stands { for_s: None } => "engine not run yet".to_owned(),
    }
}

/// The sentence.
pub fn sentence(words: &Words, s: &Switch) -> String {
    let verb = if s.on { "came on" } else { "dropped out" };
    let mut text = format!("{}  {verb}, {}: {}", words.at(s.t), engine(s.engine), fired(s));
    if words.depth == Depth::Engineer
        && let Some(d) = &s.drops
    {
        text.push_str(&format!(
            "; starter posts {:.2} V, input {:.2} V, {:.1} A in",
            d.posts_v, d.input_v, d.input_a
        ));
    }
    if !s.kinds.is_empty() {
        let names: Vec<&str> = s.kinds.iter().map(|k| kind::name(*k)).collect();
        text.push_str(&format!("; {}", names.join(" and ")));
    }
    let told: Vec<String> = s.changed.iter().map(change::words).collect();
    if !told.is_empty() {
        text.push_str(&format!("; {}", told.join("; ")));
    }
    text.push('.');
    text
}
