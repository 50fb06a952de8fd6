//! The catalogue as it is written, and running one row of it.

use serde::Deserialize;
use sim_cli::load::load;
use sim_core::judge::{Facts, Read, Verdict};
use sim_core::model::{Model, Profile};
use sim_core::record::Summary;
use sim_core::{Options, Run, simulate};
use std::path::{Path, PathBuf};

/// The catalogue.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Catalogue {
    /// The healthy vehicle's file.
    pub base: String,
    /// Changes that all rows share.
    pub set: Vec<String>,
    /// The rows; the first is the healthy vehicle.
    pub fault: Vec<Fault>,
}

/// One row.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    /// Its number.
    pub row: String,
    /// What is wrong.
    pub name: String,
    /// What is changed in the healthy vehicle.
    #[serde(default)]
    pub set: Vec<String>,
    /// What shows, in words.
    pub tell: String,
    /// The judge's first finding, in its word for tables.
    pub finds: String,
    /// What must show, checked.
    pub expect: Vec<Expect>,
}

/// Something that must show. One of `swing`, `low`, `high`, `total`, `healthy` is given.
#[derive(Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Expect {
    /// Greatest less smallest value of this quantity.
    pub swing: Option<String>,
    /// Smallest value.
    pub low: Option<String>,
    /// Greatest value.
    pub high: Option<String>,
    /// When.
    pub at: Option<String>,
    /// A figure of the whole run.
    pub total: Option<String>,
    /// Moments at which it reads as the healthy vehicle does.
    pub healthy: Option<Vec<String>>,
    /// The value lies above this.
    pub over: Option<f64>,
    /// The value lies below this.
    pub under: Option<f64>,
}

/// The folder of the shipped scenarios.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scenarios")
}

/// Reads the catalogue.
pub fn read() -> Catalogue {
    let text = std::fs::read_to_string(folder().join("faults.toml")).expect("the catalogue");
    toml::from_str(&text).unwrap_or_else(|e| panic!("{e}"))
}

/// A row that has been run.
pub struct Ran {
    /// The vehicle.
    pub model: Model,
    /// Its drive.
    pub profile: Profile,
    /// What happened.
    pub run: Run,
    /// In a handful of numbers.
    pub summary: Summary,
    /// What the judge found.
    pub verdict: Verdict,
}

impl Catalogue {
    /// Runs a row.
    pub fn run(&self, fault: &Fault) -> Ran {
        let set: Vec<String> = self.set.iter().chain(&fault.set).cloned().collect();
        let loaded = load(&folder().join(&self.base), &set)
            .unwrap_or_else(|e| panic!("row {} cannot be read: {e:?}", fault.row));
        let (model, profile) = (loaded.resolved.model, loaded.resolved.profile);
        let run = simulate(&model, &profile, &Options::default())
            .unwrap_or_else(|e| panic!("row {} cannot be run: {e}", fault.row));
        let Read { timeline, summary } = Read::of(&run, &model, &profile);
        let verdict = Verdict::of(&Facts {
            run: &run,
            model: &model,
            profile: &profile,
            timeline: &timeline,
            summary: &summary,
            limits: &loaded.scenario.limits,
        });
        Ran { model, profile, run, summary, verdict }
    }
}
