//! What happens between the alternator and the house battery, second by second.

pub mod engine;
pub mod logic;
pub mod model;
pub mod netlist;
pub mod network;
pub mod pchip;
pub mod plant;
mod plant_view;
pub mod record;
pub mod resolve;
pub mod scenario;
pub mod state;
pub mod time;

pub use engine::{Options, Record, Run, RunError, simulate};
pub use model::{Model, Piece, Profile};
pub use time::Instant;
