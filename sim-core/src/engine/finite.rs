//! The one place where numbers that are not finite, and temperatures past all sense, are caught.
//!
//! Every accepted step passes here. An attempt whose error is not finite is first retried shorter; only when the shortest
//! step fails too, or a state went bad, does the run end, with the quantity and the instant.

use super::run::RunError;
use crate::network::Net;
use crate::state::{CASE_C, HOUSE_C, LOCKER_C, NAMES, REGULATOR_C, STARTER_C, Vector};
use crate::time::Instant;

/// Hottest that any part may become, °C: far past what a battery, a cable or a winding survives. Heat that feeds itself, as
/// gassing does in a small overcharged battery, would otherwise shorten the steps without end.
const HOTTEST_C: f64 = 300.0;
/// Hottest that a battery may become, °C: polypropylene, of which cases and separators are made, melts there (from memory), and
/// acid has long boiled. What gasses and discharges itself twice as fast every 10 K does so a hundred million times as fast at 300 °C,
/// which took the volts of a charged battery below nothing.
const HOTTEST_BATTERY_C: f64 = 160.0;

/// Hottest that the part may become whose temperature stands at a place among the states, °C.
fn hottest_c(place: usize) -> f64 {
    if [STARTER_C, HOUSE_C].contains(&place) { HOTTEST_BATTERY_C } else { HOTTEST_C }
}

/// Checks states, volts and amps.
///
/// # Errors
/// [`RunError::NotFinite`] naming the first bad quantity, [`RunError::TooHot`] naming the first part too hot.
pub fn check(t: Instant, y: &Vector, net: &Net) -> Result<(), RunError> {
    let volts_amps = [
        ("starter battery volts", net.sb_v),
        ("unit input volts", net.in_v),
        ("unit output volts", net.out_v),
        ("house battery volts", net.house_v),
        ("alternator current", net.alternator_a),
        ("unit input current", net.input_a),
        ("unit output current", net.output_a),
        ("house load current", net.house_load_a),
    ];
    let states = NAMES.into_iter().zip(y.iter().copied());
    match states.chain(volts_amps).find(|(_, value)| !value.is_finite()) {
        Some((what, _)) => Err(RunError::NotFinite { t, what }),
        None => {
            let mut temperatures = [CASE_C, STARTER_C, HOUSE_C].into_iter().chain(LOCKER_C..=REGULATOR_C);
            match temperatures.find(|n| y[*n] > hottest_c(*n)) {
                Some(n) => Err(RunError::TooHot { t, what: NAMES[n], limit_c: hottest_c(n) }),
                None => Ok(()),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::WINDING_C;

    #[test]
    fn names_the_part_that_is_too_hot() {
        let mut y = [0.0; crate::state::N];
        for (n, what, limit_c) in [
            (STARTER_C, "starter battery temperature", 160.0),
            (WINDING_C, "alternator winding temperature", 300.0),
        ] {
            y[n] = limit_c;
            assert_eq!(check(Instant::ZERO, &y, &Net::default()), Ok(()));
            y[n] = limit_c + 0.1;
            let error = check(Instant::ZERO, &y, &Net::default()).expect_err("too hot");
            assert_eq!(error, RunError::TooHot { t: Instant::ZERO, what, limit_c });
            y[n] = 0.0;
        }
    }

    #[test]
    fn names_the_quantity_that_went_bad() {
        let mut y = [0.0; crate::state::N];
        let net = Net::default();
        assert_eq!(check(Instant::ZERO, &y, &net), Ok(()));
        y[3] = f64::NAN;
        let error = check(Instant::ZERO, &y, &net).expect_err("a NaN must not pass");
        assert_eq!(error, RunError::NotFinite { t: Instant::ZERO, what: "house battery SOC" });
        let net = Net { in_v: f64::INFINITY, ..net };
        let error = check(Instant::ZERO, &[0.0; crate::state::N], &net).expect_err("nor infinity");
        assert_eq!(error, RunError::NotFinite { t: Instant::ZERO, what: "unit input volts" });
    }
}
