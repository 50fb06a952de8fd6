//! The command line of the studies.

use crate::args::{FolderArgs, ReplaceArgs, ScenarioArgs};
use crate::chart::scene::Scene;
use crate::chart::size::FigureSize;
use crate::chart::theme::Theme;
use crate::chart::write;
use crate::failure::Failure;
use crate::numbers::{TOLERANCE, like, span, within};
use crate::outputs::Outputs;
use clap::Args as ClapArgs;
use std::path::PathBuf;

/// Examples of `sweep`.
pub const SWEEP_HELP: &str = "Examples:\n  \
    tickover sweep van.toml --vary input_cable.length_m=2..12:11\n  \
    tickover sweep van.toml --vary converter.output_limit_a=20,30,40 --vary input_cable.length_m=1..30:30:log\n  \
    tickover sweep van.toml --spread 500               what nobody typed, as far as it is known\n  \
    tickover sweep study.toml                          ranges, distributions, several drives from a file\n  \
    tickover sweep study.toml --shard 2/4              the second of four parts, for `merge`\n\n\
    A row a run: what was varied, what came of it, the verdict. A sweep that was interrupted goes on where it stopped. \
    A sample of a study file, run whole, leaves a picture beside its table.";

/// Examples of `merge`.
pub const MERGE_HELP: &str = "Examples:\n  \
    tickover merge study-sweep.*-of-4.csv --out study-sweep.csv\n\n\
    Refuses parts that do not belong together and sets that are not complete. The result is the file that one \
    undivided sweep writes.";

/// What every study takes.
#[derive(Debug, Clone, ClapArgs)]
pub struct StudyArgs {
    /// Threads; without it, one for each core. The outputs are the same whatever their number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Error allowed per step, in SOC and volts; one run takes 0.00000001 unless told otherwise
    #[arg(long, value_name = "NUMBER", default_value_t = sim_core::study::TOLERANCE_OF_MANY, allow_negative_numbers = true, value_parser = within(TOLERANCE))]
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
    /// Draw what nobody typed, RUNS times: defaults as their keys declare that they spread (`tickover keys`), measured numbers
    /// within their `plus_minus`
    #[arg(long, value_name = "RUNS", value_parser = clap::value_parser!(u64).range(2..=sim_core::bounds::MOST_RUNS))]
    pub spread: Option<u64>,
    /// Run one of several parts
    #[arg(long, value_name = "K/N")]
    pub shard: Option<String>,
    /// The table; without it, a file named after the scenario, here
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// What may be replaced.
    #[command(flatten)]
    pub replace: ReplaceArgs,
    /// Begin anew where an unfinished sweep is in the way
    #[arg(long)]
    pub restart: bool,
    /// How the picture is drawn that a sample leaves beside its table.
    #[command(flatten)]
    pub pictures: PictureArgs,
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
    /// What may be replaced.
    #[command(flatten)]
    pub replace: ReplaceArgs,
    /// Print nothing
    #[arg(long)]
    pub quiet: bool,
}

/// Examples of `map`.
pub const MAP_HELP: &str = "Examples:\n  \
    tickover map van.toml                              every pair of thresholds; the setting and the nearest border\n  \
    tickover map van.toml --grid 100 --no-conditions\n  \
    tickover map van.toml --set start_stop.signal=required\n  \
    tickover map van.toml --turn-off 12..13.5 --turn-on 13..14.4";

/// How pictures are drawn.
#[derive(Debug, Clone, ClapArgs)]
#[command(next_help_heading = "Pictures")]
pub struct PictureArgs {
    /// Write each picture as SVG too
    #[arg(long)]
    pub svg: bool,
    /// Size of a picture in points, 720x450 to 2400x1800; a PNG has two pixels to a point. 800x450 is a slide: large type
    #[arg(long, value_name = "WxH", default_value = "960x540", value_parser = crate::plot_args::parse_size)]
    pub size: FigureSize,
    /// Light on dark, for slides
    #[arg(long)]
    pub dark: bool,
}

impl PictureArgs {
    /// The theme asked for.
    pub fn theme(&self) -> Theme {
        if self.dark { Theme::dark() } else { Theme::light() }.on(self.size)
    }

    /// Adds a picture to the outputs, as PNG and where asked for as SVG.
    ///
    /// # Errors
    /// [`Failure::Picture`] when it cannot be drawn.
    pub fn add(&self, names: [&'static str; 2], scene: &Scene, outputs: &mut Outputs) -> Result<(), Failure> {
        let failed = |e: write::ChartError| Failure::Picture(e.to_string());
        outputs.add(names[0], write::png(scene, self.size.scale).map_err(failed)?);
        if self.svg {
            outputs.add(names[1], write::svg(scene, self.size.points_per_px()).map_err(failed)?.into_bytes());
        }
        Ok(())
    }
}

/// Arguments of `map`.
#[derive(Debug, ClapArgs)]
pub struct MapArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Turn-off voltages, V
    #[arg(long, value_name = "FROM..TO", default_value = "11.2..13.8", value_parser = span("start_stop", "turn_off_v"))]
    pub turn_off: (f64, f64),
    /// Turn-on voltages, V
    #[arg(long, value_name = "FROM..TO", default_value = "12..15", value_parser = span("start_stop", "turn_on_v"))]
    pub turn_on: (f64, f64),
    /// Points along each side; borders are found to 10 mV whatever their number
    #[arg(long, value_name = "N", default_value_t = 48, value_parser = clap::value_parser!(u32).range(4..=1000))]
    pub grid: u32,
    /// Leave out the small maps of other conditions
    #[arg(long)]
    pub no_conditions: bool,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// What every study takes.
    #[command(flatten)]
    pub study: StudyArgs,
    /// The pictures.
    #[command(flatten)]
    pub pictures: PictureArgs,
}

/// Examples of `measured`.
pub const MEASURED_HELP: &str = "Examples:\n  \
    tickover measured van.toml                         its thresholds against two cars that somebody measured\n  \
    tickover measured van.toml --set start_stop.turn_on_v=14 --set start_stop.turn_on_delay_s=120\n  \
    tickover measured van.toml logs/*.csv --falls 0,0.6    against logs: columns time_s and volts, and engine_rpm\n\n\
    How long a unit would be on, and how often it would drop out, by the volts of a log alone.";

/// Arguments of `measured`.
#[derive(Debug, ClapArgs)]
pub struct MeasuredArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Logs of volts over time (CSV)
    #[arg(value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// By how much the input falls while the unit is on, V, with commas between
    #[arg(long, value_name = "VOLTS", value_delimiter = ',', default_value = "0,0.6", allow_negative_numbers = true, value_parser = within((0.0, 5.0, "V")))]
    pub falls: Vec<f64>,
}

/// Examples of `cliff`.
pub const CLIFF_HELP: &str = "Examples:\n  \
    tickover cliff van.toml                            half, three quarters and all of the unit's current\n  \
    tickover cliff van.toml --current 20,30,40 --set input_cable.area_mm2=25\n  \
    tickover cliff van.toml --uncertain-pct 20         how well the loop's resistance is known";

/// Arguments of `cliff`.
#[derive(Debug, ClapArgs)]
pub struct CliffArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Current settings of the unit, A, with commas between; without them half, three quarters and all of its limit
    #[arg(long, value_name = "AMPS", value_delimiter = ',', allow_negative_numbers = true, value_parser = within((0.1, 1000.0, "A")))]
    pub current: Vec<f64>,
    /// How well the input cable's resistance is known, ± %; without it from `plus_minus` of what was measured, else 15
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true, value_parser = within((0.0, 100.0, "%")))]
    pub uncertain_pct: Option<f64>,
    /// Lengths along the axis; the cliff is found to 0.2 % whatever their number
    #[arg(long, value_name = "N", default_value_t = 40, value_parser = clap::value_parser!(u32).range(4..=2000))]
    pub points: u32,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// What every study takes.
    #[command(flatten)]
    pub study: StudyArgs,
    /// The pictures.
    #[command(flatten)]
    pub pictures: PictureArgs,
}

/// Examples of `tune`.
pub const TUNE_HELP: &str = "Examples:\n  \
    tickover tune van.toml --least-starter-pct 80 --most-switchings 3 --longest-run-on-min 5\n  \
    tickover tune summer.toml winter.toml town.toml    one setting for all of them\n  \
    tickover tune study.toml                           for the population and the drives of a study file\n\n\
    Tunes turn-on, turn-off, both delays and the output current limit. What is delivered is that of the worst case.";

/// Arguments of `tune`.
#[derive(Debug, ClapArgs)]
pub struct TuneArgs {
    /// Scenarios, or study files whose every run is a case
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Replace or add a value in all of them: path.to.key=value
    #[arg(long = "set", value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Lowest state of charge of the starter battery at the end of a drive or a stop, %
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true, value_parser = like("limits", "least_starter_end_pct"))]
    pub least_starter_pct: Option<f64>,
    /// Most times that the unit comes on in a drive
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true, value_parser = like("limits", "most_drop_outs"))]
    pub most_switchings: Option<f64>,
    /// Hottest conductor, °C
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true, value_parser = like("input_cable", "insulation_c"))]
    pub hottest_c: Option<f64>,
    /// Longest time on with the engine stopped, for each stop, min
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true, value_parser = like("limits", "longest_run_on_min"))]
    pub longest_run_on_min: Option<f64>,
    /// Settings tried before the search closes in
    #[arg(long, value_name = "N", default_value_t = 256, value_parser = clap::value_parser!(u64).range(8..=1_000_000))]
    pub candidates: u64,
    /// Number that they are drawn from
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub seed: u64,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// What every study takes.
    #[command(flatten)]
    pub study: StudyArgs,
    /// The pictures.
    #[command(flatten)]
    pub pictures: PictureArgs,
}
