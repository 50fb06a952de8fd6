//! Finished figures, each from one plain data struct to one scene.

#[cfg(test)]
mod checks;
pub mod ladder;
pub mod overview;
mod sheet;
pub mod timeline;

pub use sheet::Heading;
