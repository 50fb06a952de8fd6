//! What the tests share: the reference van, a rig of one source and one load, wild vehicles, ways to look at a run.

pub mod bisect;
pub mod compare;
pub mod day;
pub mod dice;
pub mod full;
pub mod look;
pub mod rig;
pub mod van;
pub mod wild;

/// The plain battery behind a port, to be changed.
///
/// # Panics
/// On a battery of another chemistry.
pub fn plain(battery: &mut sim_core::plant::battery::Battery) -> &mut sim_core::plant::battery::PlainBattery {
    battery.plain_mut().expect("a plain battery")
}
