//! The command line of the studies.

use crate::args::ScenarioArgs;
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Examples of `sweep`.
pub const SWEEP_HELP: &str = "Examples:\n  \
    tickover sweep van.toml --vary input_run.length_m=2..12:11\n  \
    tickover sweep van.toml --vary converter.output_limit_a=20,30,40 --vary input_run.length_m=1..30:30:log\n  \
    tickover sweep study.toml                          ranges, distributions, several drives from a file\n  \
    tickover sweep study.toml --shard 2/4              the second of four parts, for `merge`\n\n\
    A row a run: what was varied, what came of it, the verdict. A sweep that was interrupted goes on where it stopped.";

/// Examples of `merge`.
pub const MERGE_HELP: &str = "Examples:\n  \
    tickover merge study-sweep.*-of-4.csv --out study-sweep.csv\n\n\
    Refuses parts that do not belong together and sets that are not complete. The result is the file that one \
    undivided sweep writes.";

/// What every study takes.
#[derive(Debug, Clone, ClapArgs)]
pub struct StudyArgs {
    /// Threads; without it, one for each core. The outputs are the same whatever their number
    #[arg(long, value_name = "N")]
    pub threads: Option<usize>,
    /// Error allowed per step, in SOC and volts
    #[arg(long, value_name = "NUMBER", default_value_t = 1e-8)]
    pub tolerance: f64,
    /// No page; problems are still told
    #[arg(long)]
    pub quiet: bool,
}

/// Arguments of `sweep`.
#[derive(Debug, ClapArgs)]
pub struct SweepArgs {
    /// A scenario, or a study file.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Vary a key: key=from..to:n, both ends included, with :log behind it for equal ratios; or key=a,b,c
    #[arg(long = "vary", value_name = "KEY=VALUES")]
    pub vary: Vec<String>,
    /// Run one of several parts
    #[arg(long, value_name = "K/N")]
    pub shard: Option<String>,
    /// The table; without it, a file named after the scenario, here
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Begin anew where an unfinished sweep is in the way
    #[arg(long)]
    pub restart: bool,
    /// What every study takes.
    #[command(flatten)]
    pub study: StudyArgs,
}

/// Arguments of `merge`.
#[derive(Debug, ClapArgs)]
pub struct MergeArgs {
    /// The parts, in any order
    #[arg(required = true, value_name = "FILE")]
    pub parts: Vec<PathBuf>,
    /// The whole table
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// Print nothing
    #[arg(long)]
    pub quiet: bool,
}
