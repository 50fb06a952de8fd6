//! Drives that the benches share, and the naive loop they are compared with.

pub mod naive;
#[path = "../../sim-cli/tests/support/weeks_log.rs"]
pub mod weeks_log;
pub mod work;
