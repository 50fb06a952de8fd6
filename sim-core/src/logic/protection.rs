//! The house battery's own protection against charge: refused when cold, too high in voltage or current. While it refuses
//! charge the unit alone carries the load.

use super::{Mode, Refusal, Sight, Timer, Transition};
use crate::model::Model;
use crate::network::Net;
use crate::network::house_bus::Contact;
use crate::run_data::event::{Cause, EventKind};
use crate::state::{HOUSE_C, Vector};

/// Fires the end of a refusal for over-current, or for volts that a current brought.
pub fn fire(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if !mode.timers.take_expired(Timer::OverCurrent, sight.t) {
        return None;
    }
    Some(allow(mode, Cause::Timer))
}

/// Reads temperature, volts and amps of the battery against the thresholds that count now.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    let p = &sight.model.protection;
    let (temp_c, v, a) = (sight.y[HOUSE_C], sight.net.house_v, sight.net.house_a);
    match mode.refusal {
        None if temp_c < p.cold_c => return Some(refuse(mode, Refusal::Cold, temp_c, p.cold_c)),
        None if v > p.high_v && a > 0.0 => {
            // Current through its resistance has brought the volts, and they are gone with it: released at once, it would
            // refuse again at the same instant.
            if battery_v(sight) < p.high_release_v {
                mode.timers.start(Timer::OverCurrent, sight.t, p.over_release_s);
            }
            return Some(refuse(mode, Refusal::HighVoltage, v, p.high_v));
        }
        None if a > p.over_a => {
            mode.timers.start(Timer::OverCurrent, sight.t, p.over_release_s);
            return Some(refuse(mode, Refusal::OverCurrent, a, p.over_a));
        }
        Some(Refusal::Cold) if temp_c >= p.cold_release_c => {
            return Some(allow(mode, Cause::Protection { value: temp_c, threshold: p.cold_release_c }));
        }
        Some(Refusal::HighVoltage)
            if !mode.timers.runs(Timer::OverCurrent) && battery_v(sight) < p.high_release_v =>
        {
            return Some(allow(
                mode,
                Cause::Protection { value: battery_v(sight), threshold: p.high_release_v },
            ));
        }
        _ => {}
    }
    None
}

/// The battery behind an open charge path shows its own EMF, whatever the bus does.
fn battery_v(sight: &Sight) -> f64 {
    sight.model.house.port(&crate::state::house(sight.y), &sight.mode_house_hold).emf_v
}

fn refuse(mode: &mut Mode, why: Refusal, value: f64, threshold: f64) -> Transition {
    mode.refusal = Some(why);
    mode.contact = contact(mode);
    Transition {
        kind: EventKind::ChargeRefused { why: Some(why) },
        cause: Cause::Protection { value, threshold },
    }
}

fn allow(mode: &mut Mode, cause: Cause) -> Transition {
    mode.refusal = None;
    mode.contact = contact(mode);
    Transition { kind: EventKind::ChargeRefused { why: None }, cause }
}

fn contact(mode: &Mode) -> Contact {
    if mode.refusal.is_some() { Contact::ChargeBlocked } else { Contact::Closed }
}

/// Distance from the next change; negative once it is due.
pub fn margin(mode: &Mode, model: &Model, net: &Net, y: &Vector) -> f64 {
    let p = &model.protection;
    let temp_c = y[HOUSE_C];
    let emf_v = || model.house.port(&crate::state::house(y), &mode.house_hold).emf_v;
    match mode.refusal {
        None => {
            let high = if net.house_a > 0.0 { p.high_v - net.house_v } else { f64::INFINITY };
            (temp_c - p.cold_c).min(high).min(p.over_a - net.house_a)
        }
        Some(Refusal::Cold) => p.cold_release_c - temp_c,
        Some(Refusal::HighVoltage) if mode.timers.runs(Timer::OverCurrent) => f64::INFINITY,
        Some(Refusal::HighVoltage) => emf_v() - p.high_release_v,
        Some(Refusal::OverCurrent) => f64::INFINITY,
    }
}
