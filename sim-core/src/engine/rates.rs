//! The right-hand side of the equations, for integrators outside.

use super::trace::Knot;
use crate::model::{Model, Profile};
use crate::plant_view::Held;
use crate::state::Vector;

/// Derivatives of all states `dt_s` seconds after a knot's beginning, in the states' units per second. Piece of the drive,
/// discrete state and network regime are those of the knot, so the derivatives are smooth and go on past its end.
///
/// # Panics
/// On a knot of another profile whose piece is not there.
pub fn rates(model: &Model, profile: &Profile, knot: &Knot, dt_s: f64, y: &Vector) -> Vector {
    let since_on_s = if knot.mode.on { knot.start.since(knot.mode.on_since) } else { 0.0 };
    let piece = profile.pieces().at(knot.piece);
    let held = Held::new(model, &piece, knot.mode, since_on_s);
    held.flow(&held.warm(y), y, &held.net(dt_s, y, knot.regime))
}
