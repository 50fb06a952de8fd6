//! What the tests share: the reference van, a rig of one source and one load, wild vehicles, ways to look at a run.

pub mod bisect;
pub mod day;
pub mod dice;
pub mod look;
pub mod rig;
pub mod van;
pub mod wild;
