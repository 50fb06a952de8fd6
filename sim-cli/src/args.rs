//! The command line.

use crate::numbers::{TOLERANCE, like, within};
use crate::study::args as study;
use clap::{Args as ClapArgs, Parser, Subcommand};
use std::path::PathBuf;

/// An instant of a run, s: no run is longer than ten years and a day.
const INSTANT: (f64, f64, &str) = (0.0, 3661.0 * 86_400.0, "s");

/// Predicts, second by second, what happens between a vehicle's alternator and its house battery.
#[derive(Debug, Parser)]
#[command(
    name = "tickover",
    version,
    after_help = "Begin here:\n  \
        tickover new                     a few questions, and a scenario that runs at once\n  \
        tickover run van.toml            the answer on one page; tables and pictures in a folder\n  \
        tickover check van.toml          everything that is wrong with it, each at its place\n  \
        tickover keys converter          what [converter] takes, with units, ranges and defaults\n\n\
        Change one thing and look again:\n  \
        tickover run van.toml --set input_cable.length_m=12 --out far\n\n\
        Exit codes: 0 done, 1 failed, 2 wrong input, 3 a limit that the scenario sets is broken.\n\
        A calculation is not an installation approval: see `tickover cautions`."
)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do, in the order in which people need it; what serves other programs stands last.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write a new scenario from a few facts: asks for them, or takes them as flags
    #[command(after_help = "Examples:\n  \
        tickover new                                       asks what it needs, writes van.toml\n  \
        tickover new --unit-a 30 --cable-m 6 --cable 16 --house-ah 100 --out camper.toml\n  \
        tickover new --cable \"6 AWG\" --chemistry agm --alternator-a 120 --defaults --out -\n  \
        tickover new --alternator variable --drive long    the set-point changes while driving\n  \
        tickover new --out - | tickover run -              straight into a run\n\n\
        Facts that are not given are asked for on a terminal; elsewhere they are assumed, and the file says so.")]
    New(NewArgs),
    /// Run a scenario: one page, a summary, tables and pictures
    #[command(after_help = "Examples:\n  \
        tickover run van.toml                              the page here, the files in the folder van\n  \
        tickover run van.toml --set input_cable.length_m=12 --out far\n  \
        tickover run van.toml --set drive.piece.2.engine_rpm=900     the second piece of the drive\n  \
        tickover run van.toml --set drive.piece.motorway.engine_rpm=2400  the one with this label\n  \
        tickover run van.toml --plot all --svg             every picture, as SVG too\n  \
        tickover run van.toml --plot ladder --dark --size 800x450\n  \
        tickover run van.toml --json | jq .summary         the summary for a script\n  \
        tickover new --drive long --out - | tickover run -  a scenario from a pipe")]
    Run(RunArgs),
    /// Read scenarios and tell everything that is wrong, without running them
    #[command(after_help = "Examples:\n  \
        tickover check van.toml\n  \
        tickover check fleet/*.toml --quiet && echo all good\n\n\
        Exit code 2 if there is a problem in any file; a warning is no problem.")]
    Check(CheckArgs),
    /// Explain what goes wrong in a run, why, and what helps
    #[command(after_help = "Examples:\n  \
        tickover why van.toml                              what happened, where the volts went, what would help\n  \
        tickover why van.toml --depth customer             the same in a few plain sentences\n  \
        tickover why van.toml --depth engineer             every number that speaks for it, every switching\n  \
        tickover why van.toml --set input_cable.length_m=12  with one thing changed")]
    Why(WhyArgs),
    /// Find the smallest single change that gives a margin above turn-off, and what each change costs
    #[command(after_help = "Examples:\n  \
        tickover mend van.toml --margin-v 0.3\n  \
        tickover mend van.toml --margin-v 0.3 --cable-share-pct 60    where the cable has been measured and is good")]
    Mend(MendArgs),
    /// Find the smallest conductors and fuses that meet every rule together, for both cables, and what a size less would do
    #[command(after_help = "Examples:\n  \
        tickover size van.toml\n  \
        tickover size van.toml --margin-v 0.3 --out sized.toml    writes the choice as a scenario\n  \
        tickover size van.toml --price-per-m 16=4.20,25=6.10      with what the copper costs")]
    Size(SizeArgs),
    /// Tell how near a run comes to each of its limits, when and under which conditions
    #[command(after_help = "Examples:\n  \
        tickover margins van.toml\n  \
        tickover margins van.toml --insulation-c 90 --crank-reserve-pct 60\n  \
        tickover margins van.toml --json")]
    Margins(MarginsArgs),
    /// Tell how far a scenario is from trouble: where the outcome changes, one change at a time
    #[command(after_help = "Examples:\n  \
        tickover distance van.toml                         a table, and the picture distance.png in the folder van\n  \
        tickover distance van.toml --set converter.output_limit_a=30 --out gentle")]
    Distance(DistanceArgs),
    /// Put set-ups side by side: one table, one picture, and which difference does what
    #[command(after_help = "Examples:\n  \
        tickover compare van.toml other.toml\n  \
        tickover compare van.toml --with input_cable.area_mm2=25 --with converter.output_limit_a=30\n  \
        tickover compare van.toml --with \"input_cable.area_mm2=25 start_stop.turn_off_v=12.6\"")]
    Compare(CompareArgs),
    /// How a calendar goes on: flat or full when, how much driving breaks even, which trips pay
    #[command(after_help = "Examples:\n  \
        tickover week scenarios/patterns/farrier.toml\n  \
        tickover week van.toml --set house.load_w=40\n  \
        tickover week van.toml --json | jq .outlook\n\n\
        Each answer is found by running the calendar, many times: none is an average.")]
    Week(WeekArgs),
    /// Print what a scenario can say: keys, units, ranges, defaults and their sources
    #[command(after_help = "Examples:\n  \
        tickover keys                      all of them\n  \
        tickover keys start_stop stages    of two sections\n  \
        tickover keys drive.piece\n  \
        tickover keys turn_off_v           one key, wherever it stands")]
    Keys(KeysArgs),
    /// Print every number of the resolved model in SI, with where it came from
    #[command(after_help = "Examples:\n  \
        tickover model van.toml\n  \
        tickover model van.toml --set converter.output_limit_a=30\n  \
        tickover model van.toml | grep default             what nobody said\n  \
        tickover model van.toml --json                     the same and the drive, for a program\n\n\
        Where files build on others (`build_on = \"base.toml\"`), each value shows its file and line.")]
    Model(ModelArgs),
    /// Say what a word means that a page uses; all of them without one
    #[command(after_help = "Examples:\n  \
        tickover glossary droop\n  \
        tickover glossary | less")]
    Glossary(GlossaryArgs),
    /// Print the cautions that go with every result
    Cautions,
    /// Run a scenario many times with keys that vary: a table, a row a run
    #[command(after_help = study::SWEEP_HELP)]
    Sweep(study::SweepArgs),
    /// Map what the unit does for every pair of thresholds
    #[command(after_help = study::MAP_HELP)]
    Map(study::MapArgs),
    /// Chart what a drive delivers over the resistance of the loop: the cliff
    #[command(after_help = study::CLIFF_HELP)]
    Cliff(study::CliffArgs),
    /// Find the settings that deliver most in the worst case, within limits
    #[command(after_help = study::TUNE_HELP)]
    Tune(study::TuneArgs),
    /// Ask the thresholds of a scenario against the volts of measured cars, and against logs of your own
    #[command(after_help = study::MEASURED_HELP)]
    Measured(study::MeasuredArgs),
    /// Write a stretch of a run as a netlist for a circuit simulator, with what this program says of it
    #[command(after_help = "Examples:\n  \
        tickover netlist van.toml --from-s 200 --to-s 260 --out net")]
    Netlist(NetlistArgs),
    /// Print the JSON Schema of a scenario, for editors to complete and check by
    #[command(after_help = "Examples:\n  \
        tickover schema > scenario.schema.json\n\n\
        With the line  #:schema scenario.schema.json  at the top of a scenario, a TOML editor completes keys and\n\
        shows what they mean.")]
    Schema,
    /// Put the parts of a sweep together
    #[command(after_help = study::MERGE_HELP)]
    Merge(study::MergeArgs),
    /// Print a completion script for a shell
    #[command(after_help = "Examples:\n  \
        tickover completions bash > ~/.local/share/bash-completion/completions/tickover\n  \
        tickover completions zsh > \"${fpath[1]}/_tickover\"\n  \
        tickover completions fish > ~/.config/fish/completions/tickover.fish")]
    Completions(CompletionsArgs),
    /// Print a man page: of the program, or of one command
    #[command(after_help = "Examples:\n  \
        tickover man > tickover.1\n  \
        tickover man run | man -l -")]
    Man(ManArgs),
}

/// A scenario and what is changed in it.
#[derive(Debug, ClapArgs)]
pub struct ScenarioArgs {
    /// Scenario file (TOML); `-` reads it from standard input
    pub file: PathBuf,
    /// Replace or add a value: path.to.key=value
    #[arg(long = "set", value_name = "KEY=VALUE")]
    pub set: Vec<String>,
}

/// What may be replaced.
#[derive(Debug, Clone, ClapArgs)]
pub struct ReplaceArgs {
    /// Replace files of the same name that this program did not write, or that were changed since
    #[arg(long)]
    pub replace: bool,
}

/// Where the outputs go.
#[derive(Debug, Clone, ClapArgs)]
pub struct FolderArgs {
    /// Folder for the outputs; without it, one named after the scenario, here
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// What may be replaced.
    #[command(flatten)]
    pub replace: ReplaceArgs,
}

/// Arguments of `new`.
#[derive(Debug, ClapArgs)]
pub struct NewArgs {
    /// Current on the unit's label, A
    #[arg(long, value_name = "AMPS", allow_hyphen_values = true)]
    pub unit_a: Option<String>,
    /// Length of the cable from starter battery to unit, one way, m
    #[arg(long, value_name = "METRES", allow_hyphen_values = true, alias = "run-m")]
    pub cable_m: Option<String>,
    /// Its conductor: mm² such as 16, or AWG such as "6 AWG"
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true, alias = "run-mm2")]
    pub cable: Option<String>,
    /// Capacity of the house battery, Ah
    #[arg(long, value_name = "AH", allow_hyphen_values = true)]
    pub house_ah: Option<String>,
    /// Its chemistry: lfp, agm, gel or flooded
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub chemistry: Option<String>,
    /// What the house side draws while driving, W
    #[arg(long, value_name = "WATTS", allow_hyphen_values = true)]
    pub house_load_w: Option<String>,
    /// Current on the alternator's label, A
    #[arg(long, value_name = "AMPS", allow_hyphen_values = true)]
    pub alternator_a: Option<String>,
    /// Whether the alternator's voltage stays put or changes while driving: fixed or variable
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub alternator: Option<String>,
    /// What the vehicle itself draws with the engine running, A
    #[arg(long, value_name = "AMPS", allow_hyphen_values = true)]
    pub vehicle_load_a: Option<String>,
    /// Volts at which the unit comes on, V
    #[arg(long, value_name = "VOLTS", allow_hyphen_values = true)]
    pub turn_on_v: Option<String>,
    /// Volts below which it drops out, V
    #[arg(long, value_name = "VOLTS", allow_hyphen_values = true)]
    pub turn_off_v: Option<String>,
    /// What a run signal does: none, required, either or second-pair
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub signal: Option<String>,
    /// The usual drive: short, town or long
    #[arg(long, value_name = "WORD", allow_hyphen_values = true)]
    pub drive: Option<String>,
    /// Write every default too, as a comment with its source
    #[arg(long)]
    pub defaults: bool,
    /// File to write; `-` prints it
    #[arg(long, value_name = "FILE", default_value = "van.toml")]
    pub out: PathBuf,
    /// Replace the file if it is there
    #[arg(long, alias = "force")]
    pub replace: bool,
}

/// Arguments of `run`.
#[derive(Debug, ClapArgs)]
pub struct RunArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// Print the whole page: days, events, where volts, charge and heat went, temperatures, what is left out
    #[arg(long)]
    pub full: bool,
    /// Print the summary as JSON in place of the page; the files are written all the same
    #[arg(long)]
    pub json: bool,
    /// No page and no warnings; problems are still told
    #[arg(long)]
    pub quiet: bool,
    /// Error allowed per step, in SOC and volts. Without it 0.00000001, and 0.00001 for logs of more than 5,000 different rows
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true, value_parser = within(TOLERANCE))]
    pub tolerance: Option<f64>,
    /// Seconds between the rows of trace.csv; both sides of every switching are added. Without it 10, and more for runs of
    /// days
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true, value_parser = within((0.001, 1e6, "s")))]
    pub every_s: Option<f64>,
    /// Tell how far it is from trouble too, by some hundred runs: a second or so, a minute for drives by road speed
    #[arg(long)]
    pub distance: bool,
    /// The pictures.
    #[command(flatten)]
    pub plot: crate::plot_args::PlotArgs,
}

/// Arguments of `week`.
#[derive(Debug, ClapArgs)]
pub struct WeekArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Most days for which the calendar is repeated
    #[arg(long, value_name = "DAYS", default_value_t = 364, value_parser = clap::value_parser!(u32).range(1..=3660))]
    pub days: u32,
    /// Print the answers as JSON
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `margins`.
#[derive(Debug, ClapArgs)]
pub struct MarginsArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Temperature that the insulation of both cables bears, °C, in place of input_cable.insulation_c and
    /// output_cable.insulation_c
    #[arg(long, value_name = "CELSIUS", allow_negative_numbers = true, value_parser = like("input_cable", "insulation_c"))]
    pub insulation_c: Option<f64>,
    /// State of charge that the starter battery must keep to crank, %, in place of limits.crank_reserve_pct; without
    /// either 50
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true, value_parser = like("limits", "crank_reserve_pct"))]
    pub crank_reserve_pct: Option<f64>,
    /// Print them as JSON
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `why`.
#[derive(Debug, ClapArgs)]
pub struct WhyArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// For whom
    #[arg(long, value_enum, default_value = "apprentice")]
    pub depth: crate::report::why::Depth,
}

/// Arguments of `glossary`.
#[derive(Debug, ClapArgs)]
pub struct GlossaryArgs {
    /// A word, or the beginning of one
    pub term: Vec<String>,
}

/// Arguments of `distance`.
#[derive(Debug, ClapArgs)]
pub struct DistanceArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// The picture.
    #[command(flatten)]
    pub sheet: crate::plot_args::SheetArgs,
}

/// Arguments of `mend`.
#[derive(Debug, ClapArgs)]
pub struct MendArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Margin to turn-off that is asked for, V
    #[arg(long, value_name = "VOLTS", default_value_t = 0.3, allow_negative_numbers = true, value_parser = within((0.0, 10.0, "V")))]
    pub margin_v: f64,
    /// Share of the drop that the input cable may take for a lower turn-off to be offered, %
    #[arg(long, value_name = "PERCENT", default_value_t = 50.0, allow_negative_numbers = true, value_parser = within((0.0, 100.0, "%")))]
    pub cable_share_pct: f64,
}

/// Arguments of `size`.
#[derive(Debug, ClapArgs)]
pub struct SizeArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Share of the nominal volts that the input cable may take at full current, % (common practice, no source)
    #[arg(long, value_name = "PERCENT", default_value_t = 5.0, allow_negative_numbers = true, value_parser = within((0.1, 50.0, "%")))]
    pub input_drop_pct: f64,
    /// The same for the output cable, %
    #[arg(long, value_name = "PERCENT", default_value_t = 3.0, allow_negative_numbers = true, value_parser = within((0.1, 50.0, "%")))]
    pub output_drop_pct: f64,
    /// Least margin to turn-off at every corner, V
    #[arg(long, value_name = "VOLTS", default_value_t = 0.0, allow_negative_numbers = true, value_parser = within((0.0, 10.0, "V")))]
    pub margin_v: f64,
    /// What conductors are to carry beyond the load, %
    #[arg(long, value_name = "PERCENT", default_value_t = 0.0, allow_negative_numbers = true, value_parser = within((0.0, 300.0, "%")))]
    pub spare_pct: f64,
    /// Prices a metre of one conductor, by size: SIZE=PRICE,…
    #[arg(long, value_name = "LIST")]
    pub price_per_m: Option<String>,
    /// File to write the choice to, as a scenario that builds on the first
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Replace that file
    #[arg(long, requires = "out")]
    pub replace: bool,
}

/// Arguments of `compare`.
#[derive(Debug, ClapArgs)]
pub struct CompareArgs {
    /// Scenario files (TOML); the first is what the others are held against
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// The first file with changes, as one more set-up: "key=value key=value"
    #[arg(long, value_name = "CHANGES")]
    pub with: Vec<String>,
    /// Where the outputs go.
    #[command(flatten)]
    pub folder: FolderArgs,
    /// The picture.
    #[command(flatten)]
    pub sheet: crate::plot_args::SheetArgs,
}

/// Arguments of `check`.
#[derive(Debug, ClapArgs)]
pub struct CheckArgs {
    /// Scenario files (TOML); `-` reads one from standard input
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Replace or add a value: path.to.key=value
    #[arg(long = "set", value_name = "KEY=VALUE")]
    pub set: Vec<String>,
    /// Print problems alone
    #[arg(long)]
    pub quiet: bool,
}

/// Arguments of `model`.
#[derive(Debug, ClapArgs)]
pub struct ModelArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Print the model, the drive piece by piece and where each number came from as JSON: all that a program of the same
    /// equations needs
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `keys`.
#[derive(Debug, ClapArgs)]
pub struct KeysArgs {
    /// Sections to print, such as start_stop or drive.piece, or keys, such as turn_off_v; all without
    #[arg(value_name = "SECTION|KEY")]
    pub sections: Vec<String>,
    /// Print the reference page in Markdown
    #[arg(long, conflicts_with = "sections")]
    pub markdown: bool,
}

/// Arguments of `netlist`.
#[derive(Debug, ClapArgs)]
pub struct NetlistArgs {
    /// The scenario.
    #[command(flatten)]
    pub scenario: ScenarioArgs,
    /// Beginning of the stretch, seconds into the run; within it the unit is held, or switched when the run switched it
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true, value_parser = within(INSTANT))]
    pub from_s: f64,
    /// End of the stretch
    #[arg(long, value_name = "SECONDS", allow_negative_numbers = true, value_parser = within(INSTANT))]
    pub to_s: f64,
    /// Folder for vehicle.cir and vehicle.csv
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// What may be replaced.
    #[command(flatten)]
    pub replace: ReplaceArgs,
}

/// Arguments of `completions`.
#[derive(Debug, ClapArgs)]
pub struct CompletionsArgs {
    /// The shell
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}

/// Arguments of `man`.
#[derive(Debug, ClapArgs)]
pub struct ManArgs {
    /// A command, such as run; the whole program without
    pub command: Option<String>,
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_command_line_is_consistent() {
        use clap::CommandFactory;
        super::Args::command().debug_assert();
    }
}
