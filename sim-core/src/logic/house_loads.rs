//! When the house loads are shed and when they come back: the battery's own protection sheds them at its low voltage, the
//! loads' cut-off at theirs, and where the battery can give no more they are shed whatever was typed. That is so at a state of
//! charge of nothing, and where no volts exist at which a load of constant power could be carried.
//!
//! What is shed stays off for a hold, and comes back over higher volts than those at which it went; on a battery that is next
//! to empty only once what flows into it carries them. A load that is too heavy so goes on and off slowly.
//!
//! A heater mat lives on chargers. It draws while charge is refused for cold and a charger is there that can feed it: the unit
//! on, or sun or mains of no less than its power. With the loads shed it takes nothing from the battery at all.

use super::{Mode, NEARLY_EMPTY_SOC, OpenFuses, REST_A, Refusal, Sight, Timer, Transition};
use crate::model::{Model, Piece};
use crate::network::Net;
use crate::run_data::event::{Cause, EventKind};
use crate::state::{self, HOUSE, HOUSE_C, Vector};

/// Ends the hold of shed loads, which is no event.
pub fn fire(mode: &mut Mode, sight: &Sight) {
    mode.timers.take_expired(Timer::LoadsHold, sight.t);
}

/// Sheds loads for which their bus has no volts at all, before anything reads those.
pub fn collapse(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    (!mode.shed && sight.house_room < 0.0).then(|| shed(mode, sight, spent(sight)))
}

/// Reads whether the loads are to be shed or to come back, and whether a heater mat draws.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if let Some(made) = read_mat(mode, sight) {
        return Some(made);
    }
    if mode.shed {
        if margin(mode, sight.model, sight.piece, sight.y, sight.net) >= 0.0 {
            return None;
        }
        mode.shed = false;
        let (value, threshold) = (own_v(mode, sight.model, sight.y, sight.net), back_v(sight.model));
        let by_protection = sight.model.protection.low_release_v >= sight.model.house_loads.return_v;
        let cause = if by_protection {
            Cause::Protection { value, threshold }
        } else {
            Cause::Posts { posts_v: value, threshold_v: threshold }
        };
        return Some(Transition { kind: EventKind::LoadsShed { shed: false }, cause });
    }
    let cause = why_shed(sight)?;
    Some(shed(mode, sight, cause))
}

fn shed(mode: &mut Mode, sight: &Sight, cause: Cause) -> Transition {
    mode.shed = true;
    mode.timers.start(Timer::LoadsHold, sight.t, sight.model.house_loads.hold_s);
    Transition { kind: EventKind::LoadsShed { shed: true }, cause }
}

fn spent(sight: &Sight) -> Cause {
    let open_v = sight.model.house.port(&state::house(sight.y), &sight.mode_house_hold).emf_v;
    Cause::Spent { open_v, soc: sight.y[HOUSE] }
}

fn why_shed(sight: &Sight) -> Option<Cause> {
    let (m, v) = (sight.model, sight.net.house_v);
    let [protection, cut_off, empty] = room(m, sight.y, sight.net);
    if empty < 0.0 {
        return Some(spent(sight));
    }
    if protection < 0.0 {
        return Some(Cause::Protection { value: v, threshold: m.protection.low_v });
    }
    (cut_off < 0.0).then_some(Cause::Posts { posts_v: v, threshold_v: m.house_loads.stop_v })
}

/// How far the loads are from being shed by the protection, by their cut-off, and by a battery that is empty.
fn room(model: &Model, y: &Vector, net: &Net) -> [f64; 3] {
    [
        net.house_v - model.protection.low_v,
        net.house_v - model.house_loads.stop_v,
        y[HOUSE].max(net.house_a + REST_A),
    ]
}

/// Volts over which shed loads may come back.
fn back_v(model: &Model) -> f64 {
    model.protection.low_release_v.max(model.house_loads.return_v)
}

/// What the battery shows by itself: where charge is refused the posts may be the unit's alone.
fn own_v(mode: &Mode, model: &Model, y: &Vector, net: &Net) -> f64 {
    if mode.refusal.is_some() {
        model.house.port(&state::house(y), &mode.house_hold).emf_v
    } else {
        net.house_v
    }
}

/// Distance from the next change, where none is hidden in the network; negative once it is due.
pub fn margin(mode: &Mode, model: &Model, piece: &Piece, y: &Vector, net: &Net) -> f64 {
    if !mode.shed {
        let [protection, cut_off, spent] = room(model, y, net);
        return protection.min(cut_off).min(spent);
    }
    let mat = if mode.mat { net.house_a + REST_A } else { f64::INFINITY };
    if mode.timers.runs(Timer::LoadsHold) {
        return mat;
    }
    let volts = back_v(model) - own_v(mode, model, y, net);
    let carried = if y[HOUSE] > NEARLY_EMPTY_SOC {
        f64::NEG_INFINITY
    } else {
        piece.house_load_w / net.house_v - net.house_a - REST_A
    };
    mat.min(volts.max(carried))
}

/// Turns a heater mat on and off.
fn read_mat(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if mode.mat && mode.shed && sight.net.house_a + REST_A < 0.0 {
        mode.timers.start(Timer::LoadsHold, sight.t, sight.model.house_loads.hold_s);
    }
    let waits = mode.shed && mode.timers.runs(Timer::LoadsHold);
    let wanted = mode.refusal == Some(Refusal::Cold) && fed(mode, sight.model, sight.piece) && !waits;
    if mode.mat == wanted {
        return None;
    }
    mode.mat = wanted;
    let cause =
        Cause::Protection { value: sight.y[HOUSE_C], threshold: sight.model.protection.cold_release_c };
    Some(Transition { kind: EventKind::HeaterMat { on: wanted }, cause })
}

/// Whether there is a mat, and a charger that can feed it.
fn fed(mode: &Mode, model: &Model, piece: &Piece) -> bool {
    let heater_w = model.protection.heater_w;
    let unit = mode.on && !piece.input_open && mode.open == OpenFuses::default();
    let mains = piece.mains_a * model.house_mains.set_v >= heater_w;
    heater_w > 0.0 && (unit || mains || piece.house_solar_w >= heater_w)
}
