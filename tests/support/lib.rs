//! What the tests share: the reference van, a rig of one source and one load, wild vehicles, ways to look at a run.

pub mod agree;
pub mod as_toml;
pub mod balance;
pub mod bisect;
pub mod compare;
pub mod day;
pub mod dice;
pub mod drawn;
pub mod faulty;
pub mod fields;
pub mod fleet;
pub mod full;
pub mod halved;
pub mod look;
pub mod nudge;
pub mod replay;
pub mod rig;
pub mod shipped;
pub mod van;
pub mod vehicles;
pub mod watched;
pub mod wild;
pub mod wild_full;
pub mod wild_log;

/// The plain battery behind a port, to be changed.
///
/// # Panics
/// On a battery of another chemistry.
pub fn plain(battery: &mut sim_core::plant::battery::Battery) -> &mut sim_core::plant::battery::PlainBattery {
    battery.plain_mut().expect("a plain battery")
}
