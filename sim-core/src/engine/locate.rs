//! Finding the first guard that flips inside a step.
//!
//! Instants are whole nanoseconds, so the search ends on two neighbouring ones and the later, flipped one is taken: the
//! condition that is then read anew really has changed.

use super::dormand_prince::NODES;
use super::guards::{GUARDS, Values};

/// A guard's first flip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Flip {
    /// Which guard.
    pub guard: usize,
    /// Nanoseconds into the step, on the flipped side.
    pub ns: i64,
    /// True when the guard was back at the step's end: found by searching inside.
    pub hidden: bool,
}

/// The first flip in a step of `ns` nanoseconds, if any; `at` evaluates the guards on the continuous states.
///
/// `first` and `last` are the guards' values at the ends; `inner` at the stages, whose states are rough and serve as hints.
pub fn first_flip(
    ns: i64,
    first: &Values,
    inner: &[Values; 4],
    last: &Values,
    mut at: impl FnMut(i64) -> Values,
) -> Option<Flip> {
    let mut found: Option<Flip> = None;
    for guard in 0..GUARDS {
        if first[guard].is_infinite() && last[guard].is_infinite() {
            continue;
        }
        let mut high = found.map_or(ns, |f| f.ns);
        let mut value = if high == ns { last[guard] } else { at(high)[guard] };
        let mut hidden = false;
        if value >= 0.0 {
            let Some(dip) = dip(guard, ns, first, inner, last, &mut at) else { continue };
            if dip >= high {
                continue;
            }
            high = dip;
            value = at(high)[guard];
            hidden = true;
        }
        let flipped = narrow(first[guard], high, value, |ns| at(ns)[guard]);
        found = Some(Flip { guard, ns: flipped, hidden });
    }
    found
}

/// Narrows a sign change between 0 and `high` to one nanosecond; regula falsi in the Illinois way, halving when slow.
fn narrow(first: f64, high: i64, last: f64, mut at: impl FnMut(i64) -> f64) -> i64 {
    let (mut low, mut g_low) = (0, first.max(0.0));
    let (mut high, mut g_high) = (high, last);
    let mut side = 0;
    let mut rounds = 0;
    while high - low > 1 {
        let width = high - low;
        let share = if rounds % 6 == 5 { 0.5 } else { g_low / (g_low - g_high) };
        let mid = (low + (width as f64 * share) as i64).clamp(low + 1, high - 1);
        let g = at(mid);
        if g < 0.0 {
            high = mid;
            g_high = g;
            if side == -1 {
                g_low *= 0.5;
            }
            side = -1;
        } else {
            low = mid;
            g_low = g;
            if side == 1 {
                g_high *= 0.5;
            }
            side = 1;
        }
        rounds += 1;
    }
    high
}

/// Whether a guard that stands at both ends fell below zero between them; where, if so.
///
/// The stages' rough values show whether it comes near; the continuous states at the nodes then show a dip, and where the
/// chords between them leave room for one it is searched.
fn dip(
    guard: usize,
    ns: i64,
    first: &Values,
    inner: &[Values; 4],
    last: &Values,
    at: &mut impl FnMut(i64) -> Values,
) -> Option<i64> {
    if ns < 4 {
        return None;
    }
    let nodes = &NODES[..6];
    let place = |share: f64| ((share * ns as f64) as i64).clamp(1, ns - 1);
    let mut g =
        [first[guard], inner[0][guard], inner[1][guard], inner[2][guard], inner[3][guard], last[guard]];
    let (low, high) = g.iter().fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(*v), h.max(*v)));
    // Far from zero next to how much it moves; the stages' roughness allowed for.
    if low > (high - low).max(0.02 * high) {
        return None;
    }
    // A course that goes one way at a fairly even rate does not turn, unless it comes from next to nothing, or ends there.
    let rates = [0, 1, 2, 3, 4].map(|n| (g[n + 1] - g[n]) / (nodes[n + 1] - nodes[n]));
    let (slow, fast) =
        rates.iter().fold((f64::INFINITY, 0.0f64), |(l, h), v| (l.min(v.abs()), h.max(v.abs())));
    let beyond_end = if rates[0] > 0.0 {
        g[1] - rates[1] * (nodes[1] - nodes[0])
    } else {
        g[4] + rates[3] * (nodes[5] - nodes[4])
    };
    if 4.0 * slow > fast && rates.iter().all(|r| *r * rates[0] > 0.0) && beyond_end > 0.0 {
        return None;
    }
    for n in 1..5 {
        g[n] = at(place(nodes[n]))[guard];
        if g[n] < 0.0 {
            return Some(place(nodes[n]));
        }
    }
    // A convex course stays above its chords continued: an interval is searched where those leave room below zero, beside
    // the lowest node and in the wide gap between 0.3 and 0.8.
    let slope = |n: usize| (g[n + 1] - g[n]) / (nodes[n + 1] - nodes[n]);
    let room = |n: usize| {
        let (from, to) = (nodes[n], nodes[n + 1]);
        let falls = if n > 0 { slope(n - 1).min(0.0) } else { f64::NEG_INFINITY };
        let rises = if n < 4 { slope(n + 1).max(0.0) } else { f64::INFINITY };
        let lowest = if n == 0 {
            g[1] - rises * (to - from)
        } else if n == 4 || rises == falls {
            g[n] + falls * (to - from)
        } else {
            let x = (g[n] - g[n + 1] - falls * from + rises * to) / (rises - falls);
            g[n] + falls * (x.clamp(from, to) - from)
        };
        lowest <= 0.0
    };
    let lowest = (0..6).min_by(|&a, &b| g[a].total_cmp(&g[b]))?;
    let beside = [lowest.checked_sub(1), (lowest < 5).then_some(lowest)];
    let gap = (slope(1) < 0.0 && slope(3) > 0.0 && !beside.contains(&Some(2))).then_some(2);
    beside
        .into_iter()
        .chain([gap])
        .flatten()
        .filter(|n| room(*n))
        .find_map(|n| below_zero(guard, place(nodes[n]), place(nodes[n + 1]), at))
}

/// A point between `a` and `b` where the guard is below zero, by golden section; any such point ends the search at once.
fn below_zero(guard: usize, mut a: i64, mut b: i64, at: &mut impl FnMut(i64) -> Values) -> Option<i64> {
    const SHARE: f64 = 0.381_966_011_250_105;
    let mut c = a + ((b - a) as f64 * SHARE) as i64;
    let mut d = b - ((b - a) as f64 * SHARE) as i64;
    let (mut g_c, mut g_d) = (at(c)[guard], at(d)[guard]);
    for _ in 0..24 {
        if g_c < 0.0 {
            return Some(c);
        }
        if g_d < 0.0 {
            return Some(d);
        }
        if b - a < 8 {
            break;
        }
        if g_c < g_d {
            b = d;
            d = c;
            g_d = g_c;
            c = a + ((b - a) as f64 * SHARE) as i64;
            g_c = at(c)[guard];
        } else {
            a = c;
            c = d;
            g_c = g_d;
            d = b - ((b - a) as f64 * SHARE) as i64;
            g_d = at(d)[guard];
        }
    }
    None
}

#[cfg(test)]
#[path = "locate_dips.rs"]
mod dips;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn narrows_to_the_nanosecond_after_the_crossing() {
        let root = 1.234_567_890_123e9;
        for shape in [1.0, 3.0, 0.2] {
            let g = |ns: i64| -(ns as f64 - root).signum() * (ns as f64 / root - 1.0).abs().powf(shape);
            let mut count = 0;
            let found = narrow(g(0), 5_000_000_000, g(5_000_000_000), |ns| {
                count += 1;
                g(ns)
            });
            assert_eq!(found, root as i64 + 1, "shape {shape}");
            assert!(count < 220, "shape {shape}: {count}");
        }
    }
}
