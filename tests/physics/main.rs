//! What must hold for any vehicle, whatever its numbers.

mod determinism;
mod effects;
mod events;
mod guards_fire;
mod hidden_crossings;
mod ledgers;
mod monotone;
mod run_errors;
mod shift;
mod signs_bounds;
mod splitting;
mod steppers;
mod tolerance;
