//! Finished figures, each from one plain data struct to one scene.

pub mod charge_bars;
#[cfg(test)]
pub(crate) mod checks;
pub mod cliff;
pub mod distance_bars;
pub mod drop_ladder;
pub mod glass;
pub mod headroom;
pub mod key_off;
pub mod ladder;
pub mod load_line;
pub mod overview;
pub mod population;
mod sheet;
pub mod side_by_side;
pub mod stages;
pub mod starter_balance;
pub mod temperatures;
pub mod threshold_map;
pub mod timeline;
pub mod trade_off;

pub use sheet::Heading;
pub mod week;
