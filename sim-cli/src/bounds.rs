//! How much the program takes on: sizes of files, rows and samples. Those of a run stand in [`sim_core::bounds`]; README.md
//! tells both, and what is said beyond them.

/// Largest scenario, bytes, with all files that it builds on.
pub const LARGEST_SCENARIO: u64 = 8 << 20;
/// Most files that build on each other.
pub const MOST_LAYERS: usize = 16;
/// Largest scenarios of the drives of a study together, bytes.
pub const LARGEST_STUDY: u64 = 2 * LARGEST_SCENARIO;
/// Largest drive files of a scenario, or of the drives of a study, together, bytes.
pub const LARGEST_DRIVE: u64 = 256 << 20;
/// Most rows of the drive files of a scenario together.
pub const MOST_ROWS: usize = 20_000_000;
/// Most rows of the trace that stand `--every-s` apart: all files are made in memory first, some 200 bytes a row.
pub const MOST_TRACE_ROWS: f64 = 2e6;
/// Most samples of a picture that are drawn as they are; more are thinned.
pub const MOST_SAMPLES: usize = 50_000;
/// Most rows of a sample that its spread is told from: the first of any sample are a sample themselves.
pub const MOST_SPREAD: u64 = 1 << 18;
