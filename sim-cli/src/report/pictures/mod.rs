//! Pictures of a run: each fills one figure of the chart kit from the run's own events, ledgers and trace.

mod charge;
#[cfg(test)]
mod checks;
mod drop_ladder;
mod glass;
mod headroom;
mod key_off;
mod load_line;
mod moment;
mod over_time;
mod stages;
mod starter_balance;
mod thinned;
mod view;
mod week;

use super::Told;
use crate::chart::figures as f;
use crate::chart::scene::Scene;
use crate::chart::size::FigureSize;
use crate::chart::theme::Theme;
use clap::ValueEnum;
use rayon::prelude::*;
use std::sync::OnceLock;
use view::View;

macro_rules! pictures {
    ($($(#[doc = $doc:literal])+ $variant:ident = $name:literal,)+) => {
        /// A picture that can be asked for.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
        pub enum Picture { $($(#[doc = $doc])+ #[value(name = $name)] $variant,)+ }
        impl Picture {
            /// All of them, in the order of the help.
            pub const ALL: &[Picture] = &[$(Picture::$variant,)+];
            /// Its name on the command line.
            #[cfg(test)]
            pub fn name(self) -> &'static str {
                match self { $(Picture::$variant => $name,)+ }
            }
            /// Its file as a bitmap.
            pub fn png_name(self) -> &'static str {
                match self { $(Picture::$variant => concat!($name, ".png"),)+ }
            }
            /// Its file as a drawing.
            pub fn svg_name(self) -> &'static str {
                match self { $(Picture::$variant => concat!($name, ".svg"),)+ }
            }
        }
    };
}

pictures! {
    /// State of charge, heat and events over the run
    Overview = "overview",
    /// Volts from set-point to house posts, currents and events, with the busiest minutes enlarged
    Ladder = "ladder",
    /// Where every ampere-hour went
    ChargeBars = "charge-bars",
    /// Volts after the last key-off, on a log time axis
    KeyOff = "key-off",
    /// Temperatures, and the heat that drives them
    Temperatures = "temperatures",
    /// What the alternator can give against what is asked, over engine speed
    Headroom = "headroom",
    /// Where the volts went at the most telling moment
    DropLadder = "drop-ladder",
    /// Volts at the input against its current: where the unit can run
    LoadLine = "load-line",
    /// Charge stages of each drive, and why they ended
    Stages = "stages",
    /// Seven days under each other: engine, house current, what came in and went out, both states of charge
    Week = "week",
    /// What came into the starter battery and what went out
    StarterBalance = "starter-balance",
    /// The first turn-on under the glass
    FirstMinutes = "first-minutes",
    /// One period of a unit that cycles, under the glass
    Busiest = "busiest",
}

/// Draws the pictures asked for, in that order.
pub fn draw(told: &Told, wanted: &[Picture], theme: &Theme, size: FigureSize) -> Vec<(Picture, Scene)> {
    // Samples are most of what a log's pictures cost: they are taken once, and not for pictures that show none.
    let sampled = OnceLock::new();
    let view = || sampled.get_or_init(|| View::new(told));
    let one = |picture| match picture {
        Picture::Overview => f::overview::overview(&over_time::overview(view()), theme, size),
        Picture::Ladder => f::ladder::ladder(&over_time::ladder(view()), theme, size),
        Picture::ChargeBars => f::charge_bars::charge_bars(&charge::fill(told), theme, size),
        Picture::KeyOff => f::key_off::key_off(&key_off::fill(view()), theme, size),
        Picture::Temperatures => f::temperatures::temperatures(&over_time::temperatures(view()), theme, size),
        Picture::Headroom => f::headroom::headroom(&headroom::fill(view()), theme, size),
        Picture::DropLadder => f::drop_ladder::drop_ladder(&drop_ladder::fill(told), theme, size),
        Picture::LoadLine => f::load_line::load_line(&load_line::fill(told), theme, size),
        Picture::Stages => f::stages::stages(&stages::fill(told), theme, size),
        Picture::Week => f::week::week(&week::fill(told), theme, size),
        Picture::StarterBalance => {
            f::starter_balance::starter_balance(&starter_balance::fill(view()), theme, size)
        }
        Picture::FirstMinutes => f::glass::glass(&glass::first_minutes(view()), theme, size),
        Picture::Busiest => f::glass::glass(&glass::busiest(view()), theme, size),
    };
    wanted.par_iter().map(|&p| (p, one(p))).collect()
}
