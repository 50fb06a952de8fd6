//! Nothing runs on a starter battery that has collapsed: under some volts at the posts, and at a state of charge of nothing,
//! the vehicle's own loads, its starter motor's solenoid and the unit draw nothing, so that an empty battery is not pulled
//! below zero by a current that nobody could draw. They return when the posts are up again and something else than the battery
//! can carry them, so they do not come and go on a battery that recovers at rest.

use super::{Mode, NEARLY_EMPTY_SOC, REST_A, Sight, Timer, Transition};
use crate::mode::asked_a;
use crate::model::{Model, Piece};
use crate::network::Net;
use crate::run_data::event::{Cause, EventKind};
use crate::state::{self, STARTER, Vector};

/// Posts under which there is no supply, whatever the file says, V.
pub(crate) const NO_SUPPLY_V: f64 = 1.0;
/// How long a unit at least stays off whose supply went under it, s; without a delay of its own it would be back at the same
/// instant.
pub(crate) const SPENT_OFF_S: f64 = 10.0;

/// Reads the posts.
pub fn read(mode: &mut Mode, sight: &Sight) -> Option<Transition> {
    if margin(mode, sight.model, sight.piece, sight.y, sight.net) >= 0.0 {
        return None;
    }
    let v = &sight.model.vehicle;
    let posts_v = sight.net.sb_v;
    let threshold_v = if mode.starter_dead { v.return_v } else { drop_out_v(mode, sight.model) };
    let by_volts = (NO_SUPPLY_V..threshold_v).contains(&posts_v);
    let open_v = sight.model.starter.port(&state::starter(sight.y), &mode.starter_hold).emf_v;
    let spent = (!mode.starter_dead && !by_volts).then_some(Cause::Spent { open_v, soc: sight.y[STARTER] });
    // Its supply gone, a unit that is on is the first to drop out, and begins anew with its turn-on delay. Without it the
    // posts may stand again.
    if mode.on {
        super::start_stop::turn_off(mode, sight);
        if mode.timers.left_s(Timer::LeastOff, sight.t) < SPENT_OFF_S {
            mode.timers.start(Timer::LeastOff, sight.t, SPENT_OFF_S);
        }
        let cause = spent.unwrap_or(Cause::Posts { posts_v, threshold_v });
        return Some(Transition { kind: EventKind::UnitOff, cause });
    }
    mode.starter_dead = !mode.starter_dead;
    let kind = EventKind::StarterDead { dead: mode.starter_dead };
    Some(Transition { kind, cause: spent.unwrap_or(Cause::Posts { posts_v, threshold_v }) })
}

/// Distance from the next change, V, A or SOC; negative once it is due.
pub fn margin(mode: &Mode, model: &Model, piece: &Piece, y: &Vector, net: &Net) -> f64 {
    let v = &model.vehicle;
    if !mode.starter_dead {
        let volts = net.sb_v - drop_out_v(mode, model);
        return volts.min(y[STARTER].max(net.starter_a + REST_A));
    }
    let back_a = asked_a(mode, model, piece) + model.link().converter.standby_a + MORE_A;
    // A battery that is next to empty bears nothing while the alternator takes them up.
    let spare_a = if mode.alternator_turns() && y[STARTER] > NEARLY_EMPTY_SOC {
        let a = &model.alternator;
        (a.capability_a(piece.engine_rpm) * a.heat_share(y[state::WINDING_C]) - net.alternator_a).max(0.0)
    } else {
        0.0
    };
    // Until an alternator has picked up, the battery bears them: not so that they fall back at the same instant.
    let r_ohm = model.starter.port(&state::starter(y), &mode.starter_hold).r_ohm;
    let borne_v = v.return_v.max(v.drop_out_v.max(NO_SUPPLY_V) + back_a * r_ohm);
    (borne_v - net.sb_v).max(back_a - net.starter_a - spare_a)
}

/// The posts under which nothing runs, V: half as much while the starter motor turns. Here it takes a constant current; a
/// real one takes less as the volts fall, so a dip that it lives through is shallower than the one computed.
fn drop_out_v(mode: &Mode, model: &Model) -> f64 {
    let share = if mode.cranking() { CRANKING_SHARE } else { 1.0 };
    (share * model.vehicle.drop_out_v).max(NO_SUPPLY_V)
}

/// Share of the posts' threshold that counts while the starter motor turns.
pub(crate) const CRANKING_SHARE: f64 = 0.5;

/// What is to be there beyond what the loads will take, A.
pub(crate) const MORE_A: f64 = 0.01;
