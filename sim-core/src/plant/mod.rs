//! One file per physical thing. Parts hold no numbers of their own: values come resolved from a scenario.

pub mod alternator;
pub mod battery;
pub mod bears;
pub mod cable;
pub mod conductor;
pub mod converter;
pub mod fuse;
pub mod laying;
pub mod set_point_rule;
