//! Rows of a log that change nothing that acts: a hold goes on over them.
//!
//! While the alternator regulates, or idles above its set-point, engine speed moves no current. So a hold runs on over rows that
//! differ in speed alone, as far as the slowest of them can give the present current with room to spare; its conditions are those
//! of that slowest row, so that the guards on the source watch the ceiling at any temperature of the winding. A guard that was
//! too careful settles to nothing, and the rest of its row is held by itself.

use crate::model::pieces::Pieces;
use crate::model::{Model, Piece};
use crate::network::source::SourceState;
use crate::network::{Limit, Net, Regime};
use crate::plant_view::Held;
use crate::state::{self, Vector};

/// Most rows that one look goes over: what a switching cuts off is looked at again.
const MOST_ROWS: usize = 128;
/// Room that the slowest row must leave over the present current: a share of it, and amperes.
const ROOM: (f64, f64) = (1.02, 0.5);

/// The conditions over the rows from number `at` on that change nothing that acts; `None` where the next one does.
pub(super) fn look(
    model: &Model,
    pieces: &Pieces,
    at: usize,
    held: &Held,
    (y, net, regime): (&Vector, &Net, Regime),
) -> Option<Piece> {
    let now = held.piece;
    let least_rpm = speed_rests_from(model, held, y, net, regime)?;
    let mut over = *now;
    if over.engine_rpm <= least_rpm {
        return None;
    }
    for n in at + 1..pieces.len().min(at + MOST_ROWS) {
        let row = pieces.at(n);
        let phase = if model.alternator.rule.is_some() { now.phase } else { row.phase };
        let alike = Piece { start: row.start, end: row.end, engine_rpm: row.engine_rpm, phase, ..*now };
        if row.engine_rpm <= least_rpm || row != alike {
            break;
        }
        (over.end, over.engine_rpm) = (row.end, over.engine_rpm.min(row.engine_rpm));
    }
    (over.end > now.end).then_some(over)
}

/// Above which engine speed speed moves no current now, rpm; `None` where it does at any.
fn speed_rests_from(model: &Model, held: &Held, y: &Vector, net: &Net, regime: Regime) -> Option<f64> {
    let mode = &held.mode;
    // A unit at the alternator's own kink hangs on its ceiling; a collapsed side asks what the alternator could give.
    if !mode.alternator_turns() || mode.starter_dead || mode.slewing || regime.limit == Limit::SourceKink {
        return None;
    }
    let source = held.regulator(y);
    let state = if held.follows_regulator() { source.state_at(net.sb_v) } else { regime.starter[0] };
    if !matches!(state, SourceState::Regulating | SourceState::Idle) {
        return None;
    }
    let share = model.alternator.heat_share(y[state::WINDING_C]);
    model.alternator.lowest_engine_rpm((ROOM.0 * net.alternator_a.max(0.0) + ROOM.1) / share)
}
