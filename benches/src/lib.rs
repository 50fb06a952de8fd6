//! Drives that the benches share, and the naive loop they are compared with.

pub mod naive;
pub mod work;
