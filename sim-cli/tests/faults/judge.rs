//! Whether a row shows what it must.

use crate::catalogue::{Expect, Ran};

/// Volts within which two readings are the same.
const SAME_V: f64 = 0.03;
/// Amperes within which two readings are the same.
const SAME_A: f64 = 0.5;

/// What an expectation says against the run, in words; `None` where it is met.
pub fn unmet(expect: &Expect, ran: &Ran, healthy: &Ran) -> Option<String> {
    if let Some(moments) = &expect.healthy {
        return moments.iter().find_map(|m| unlike(m, ran, healthy));
    }
    let (what, value) = measured(expect, ran, healthy);
    assert!(expect.over.is_some() || expect.under.is_some(), "{what}: no bound is given");
    let low = expect.over.is_some_and(|least| value <= least);
    let high = expect.under.is_some_and(|most| value >= most);
    (low || high)
        .then(|| format!("{what} is {value:.4}, wanted over {:?}, under {:?}", expect.over, expect.under))
}

fn measured(expect: &Expect, ran: &Ran, healthy: &Ran) -> (String, f64) {
    if let Some(name) = &expect.total {
        let value = match name.as_str() {
            "delivered_pct" => 100.0 * ran.delivered_ah() / healthy.delivered_ah(),
            _ => ran.total(name),
        };
        return (name.clone(), value);
    }
    let at = expect.at.as_deref().expect("a reading says when");
    let band = |quantity: &String| ran.band(quantity, at);
    match (&expect.swing, &expect.low, &expect.high) {
        (Some(q), None, None) => (format!("swing of {q} at {at}"), band(q).high - band(q).low),
        (None, Some(q), None) => (format!("lowest {q} at {at}"), band(q).low),
        (None, None, Some(q)) => (format!("highest {q} at {at}"), band(q).high),
        _ => panic!("an expectation names one of swing, low, high, total, healthy: {expect:?}"),
    }
}

/// The first reading of a moment that is not the healthy vehicle's.
fn unlike(moment: &str, ran: &Ran, healthy: &Ran) -> Option<String> {
    let readings =
        [("sb_v", SAME_V), ("in_v", SAME_V), ("out_v", SAME_V), ("input_a", SAME_A), ("output_a", SAME_A)];
    readings.iter().find_map(|&(quantity, same)| {
        let (a, b) = (ran.band(quantity, moment), healthy.band(quantity, moment));
        let apart = (a.low - b.low).abs().max((a.high - b.high).abs());
        (apart > same).then(|| format!("{quantity} at {moment}: {a:?} against the healthy {b:?}"))
    })
}
