//! What a sample says of the population it was drawn from, in words and as a picture.

use super::table::{KEPT, Tally};
use crate::bounds::MOST_SPREAD;
use crate::chart::figures::Heading;
use crate::chart::figures::population::{Mover, PopulationData};
use crate::failure::Failure;
use crate::load::LoadedStudy;
use crate::printable::printable;
use sim_core::scenario::field::Origin;
use sim_core::study::population::{moves, quantile, share_between};
use std::io::Write;

/// Points of the drawn spread.
const POINTS: usize = 400;

/// Everything that is told of a sample.
pub struct Population {
    rows: u64,
    answered: u64,
    trouble: f64,
    between: (f64, f64),
    /// Which of [`KEPT`] the keys are held against.
    result: usize,
    /// Keys by how much they move it, the strongest first.
    movers: Vec<Mover>,
    /// All of [`KEPT`], each rising.
    spreads: Vec<Vec<f64>>,
    /// Share of the runs after which the house battery is emptier than before: no trouble by itself, and no charge either.
    emptier: f64,
}

impl Population {
    /// Reads it off the rows.
    pub fn of(study: &LoadedStudy, tally: &Tally) -> Population {
        let count = |word: &str| tally.verdicts.get(word).copied().unwrap_or(0);
        let answered = tally.rows - count("failed");
        let trouble = answered - count("good");
        let spreads: Vec<Vec<f64>> = (0..KEPT.len()).map(|n| tally.spread(n)).collect();
        let gains: &[f64] =
            KEPT.iter().zip(&spreads).find(|(k, _)| k.0 == "house_gain_ah").map_or(&[], |(_, s)| s);
        let mut defaults = Vec::new();
        study.base.scenario.each_number(&mut |path, _, num| {
            if matches!(num.origin, Origin::Default(_)) {
                defaults.push(path);
            }
        });
        let (mut movers, mut result) = (Vec::new(), 0);
        for (k, vary) in study.sweep.vary.iter().enumerate() {
            let (n, pairs) = tally.pairs(k);
            result = n;
            let default = defaults.contains(&vary.path);
            movers.extend(moves(pairs).map(|by| Mover { name: vary.path.clone(), by, default }));
        }
        movers.sort_by(|a, b| b.by.abs().total_cmp(&a.by.abs()));
        Population {
            rows: tally.rows,
            answered,
            trouble: trouble as f64 / answered.max(1) as f64,
            between: share_between(trouble, answered),
            result,
            movers,
            emptier: gains.iter().filter(|g| **g < 0.0).count() as f64 / gains.len().max(1) as f64,
            spreads,
        }
    }

    fn share(&self) -> String {
        let (low, high) = self.between;
        format!(
            "{:.2} % of the population; {:.2} to {:.2} % as far as {} runs can tell (19 times in 20)",
            100.0 * self.trouble,
            100.0 * low,
            100.0 * high,
            self.answered
        )
    }

    /// Prints it.
    pub fn print(&self, out: &mut dyn Write) -> Result<(), Failure> {
        writeln!(out, "\nTROUBLE   {}", self.share())?;
        writeln!(
            out,
            "EMPTIER   {:.2} % end with less in the house battery than they began with",
            100.0 * self.emptier
        )?;
        writeln!(out, "\nSPREAD                                     P10        P50        P90       runs")?;
        for ((_, words), sorted) in KEPT.iter().zip(&self.spreads) {
            let at = |u| quantile(sorted, u).map_or_else(|| "-".to_owned(), |v| format!("{v:.3}"));
            writeln!(
                out,
                "   {words:<34} {:>9}  {:>9}  {:>9}  {:>9}",
                at(0.1),
                at(0.5),
                at(0.9),
                sorted.len()
            )?;
        }
        if self.rows > MOST_SPREAD {
            writeln!(
                out,
                "   told from the first {MOST_SPREAD} of {} runs, and so is what follows",
                self.rows
            )?;
        }
        let most = self.movers.first().map_or(1.0, |m| m.by.abs().max(1e-12));
        let result = KEPT[self.result].1;
        writeln!(out, "\nWHAT MOVES IT MOST: {result}, from the lowest fifth of a key to the highest")?;
        for Mover { name, by, default } in &self.movers {
            let bar = "#".repeat((20.0 * by.abs() / most).round() as usize);
            let mark = if *default { "o" } else { " " };
            writeln!(out, " {mark} {:<38} {by:>+9.3}  {bar}", printable(name))?;
        }
        if self.movers.iter().any(|m| m.default) {
            writeln!(out, " o  nobody said what it is in the scenario: a default stands there")?;
        }
        Ok(())
    }

    /// What the picture shows.
    pub fn picture(&self, study: &LoadedStudy) -> PopulationData {
        let (key, result) = KEPT[self.result];
        let most = match self.movers.first() {
            Some(m) => format!(" What moves it most: {}.", printable(&m.name)),
            None => String::new(),
        };
        let at = |n: usize| quantile(&self.spreads[self.result], n as f64 / POINTS as f64);
        PopulationData {
            heading: Heading {
                title: format!("{}: {result}", printable(&study.name)),
                answer: format!(
                    "Trouble in {}; {:.1} % end with less in the house battery.{most}",
                    self.share(),
                    100.0 * self.emptier
                ),
                footer: "Trouble is what the verdict of each run says, limits of the scenario among it. Predicted for these \
                         inputs and spreads. Not validated on vehicles: check with a meter."
                    .into(),
            },
            result: result.into(),
            movers: self.movers.clone(),
            spread: (0..=POINTS).filter_map(at).collect(),
            is_margin: key == "least_margin_v",
        }
    }
}
