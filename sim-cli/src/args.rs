//! The command line.

use clap::{Args as ClapArgs, Parser, Subcommand};
use std::path::PathBuf;

/// Predicts, second by second, what happens between a vehicle's alternator and its house battery.
#[derive(Debug, Parser)]
#[command(
    name = "tickover",
    version,
    after_help = "Exit codes: 0 done, 1 failed, 2 wrong input, 3 a limit that the scenario sets is broken.\n\
                  A calculation is not an installation approval; verify by measurement."
)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run a scenario: one page, a summary, tables and pictures
    #[command(after_help = "Examples:\n  tickover run scenarios/reference-van.toml\n  \
        tickover run van.toml --set input_run.length_m=12 --out thin\n  \
        tickover run van.toml --set drive.piece.1.engine_rpm=900\n  \
        tickover run van.toml --plot all --svg\n  \
        tickover run van.toml --plot ladder,headroom --dark --size 800x450")]
    Run(RunArgs),
    /// Print every number of the resolved model in SI, with where it came from
    #[command(after_help = "Examples:\n  tickover model scenarios/reference-van.toml\n  \
        tickover model van.toml --set converter.output_limit_a=30")]
    Model(ModelArgs),
    /// Write a stretch of a run as a netlist for a circuit simulator, with what this program says of it
    Netlist(NetlistArgs),
}

/// A scenario and what is changed in it.
#[derive(Debug, ClapArgs)]
pub struct ScenarioArgs {
    /// Scenario file (TOML)
    pub file: PathBuf,
    /// Replace or add a value: path.to.key=value
    #[arg(long = "set", value_name = "KEY=VALUE")]
    pub set: Vec<String>,
}

/// Arguments of `run`.
#[derive(Debug, ClapArgs)]
pub struct RunArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Folder for the outputs; without it, a folder named after the scenario, here
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Error allowed per step, in SOC and volts
    #[arg(long, value_name = "NUMBER", default_value_t = 1e-8)]
    pub tolerance: f64,
    /// Seconds between the rows of trace.csv; both sides of every switching are added
    #[arg(long, value_name = "SECONDS", default_value_t = 10.0)]
    pub every_s: f64,
    /// The pictures.
    #[command(flatten)]
    pub plot: crate::plot_args::PlotArgs,
}

/// Arguments of `model`.
#[derive(Debug, ClapArgs)]
pub struct ModelArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
}

/// Arguments of `netlist`.
#[derive(Debug, ClapArgs)]
pub struct NetlistArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Beginning of the stretch, seconds into the run; the unit may not switch within it
    #[arg(long, value_name = "SECONDS")]
    pub from_s: f64,
    /// End of the stretch
    #[arg(long, value_name = "SECONDS")]
    pub to_s: f64,
    /// Folder for vehicle.cir and vehicle.csv
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_command_line_is_consistent() {
        use clap::CommandFactory;
        super::Args::command().debug_assert();
    }
}
