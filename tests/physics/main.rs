//! What must hold for any vehicle, whatever its numbers.

mod determinism;
mod effects;
mod events;
mod every_bus;
mod every_extreme;
mod every_loss;
mod every_symmetry;
mod guards_fire;
mod hidden_crossings;
mod ledgers;
mod monotone;
mod off_is_plain;
mod on_alternator;
mod on_batteries;
mod on_heat;
mod on_signal;
mod on_sources;
mod on_unit;
mod regimes;
mod rules;
mod run_errors;
mod shift;
mod signs_bounds;
mod splitting;
mod steppers;
mod tolerance;
