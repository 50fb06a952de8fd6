//! Questions that take many runs: sweeps, maps, cliffs, tuning, populations.

pub mod args;
pub mod command_cliff;
pub mod command_map;
pub mod command_measured;
pub mod command_merge;
pub mod command_size;
pub mod command_sweep;
pub mod command_tune;
mod conditions;
mod journal;
mod part;
mod pool;
mod population;
mod rows_there;
mod table;
