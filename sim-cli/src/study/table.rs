//! A sweep as a table: its columns, a row, and what a whole table says.

use crate::bounds::MOST_SPREAD;
use crate::failure::Failure;
use crate::printable::csv_table;
use sim_core::scenario::node::Value;
use sim_core::study::headlines::Outcome;
use sim_core::study::{HEADLINES, Job, Sweep};
use std::collections::BTreeMap;

/// Names of the columns: the run, its drive where there are several, what varied, what came of it.
pub fn columns(sweep: &Sweep) -> Vec<String> {
    let mut names = vec!["run".to_owned()];
    if sweep.variants.len() > 1 {
        names.push("drive".to_owned());
    }
    names.extend(sweep.vary.iter().map(|v| v.path.clone()));
    names.push("verdict".to_owned());
    names.extend(HEADLINES.iter().map(|h| h.name.to_owned()));
    names.push("reason".to_owned());
    names
}

/// One row; runs are counted from 1.
pub fn row(sweep: &Sweep, job: &Job, outcome: &Outcome) -> Vec<String> {
    let mut cells = vec![(job.number + 1).to_string()];
    if sweep.variants.len() > 1 {
        cells.push(sweep.variants[job.variant].name.clone());
    }
    cells.extend(job.settings.iter().map(written));
    cells.push(outcome.word().to_owned());
    for (n, headline) in HEADLINES.iter().enumerate() {
        let value = outcome.headlines.get(n).copied().flatten();
        cells.push(value.map_or_else(String::new, |v| decimals(v, headline.decimals)));
    }
    cells.push(outcome.reason.clone());
    cells
}

/// A value as one would type it.
pub fn written(value: &Value) -> String {
    match value {
        Value::Number(v) => v.to_string(),
        Value::Text(text) => text.clone(),
        other => other.kind().to_owned(),
    }
}

fn decimals(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let nothing = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    text.strip_prefix('-').filter(|_| nothing).map_or(text.clone(), str::to_owned)
}

/// A row as a line of CSV, its end included. Cells hold no line ends.
///
/// # Errors
/// [`Failure::Output`], which memory never gives.
pub fn line(cells: &[String]) -> Result<String, Failure> {
    let bytes = csv_table([cells.iter().map(|c| c.replace(['\n', '\r'], " "))])?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// What a table says as a whole, row by row.
#[derive(Debug, Default)]
pub struct Tally {
    columns: Vec<String>,
    /// Rows by verdict.
    pub verdicts: BTreeMap<String, u64>,
    /// Rows.
    pub rows: u64,
    /// The row that charges fastest, and that of those without trouble.
    pub best: [Option<(f64, Vec<String>)>; 2],
    /// For a sample: the numbers of [`KEPT`] row by row, then those of the keys that vary. Empty for a grid.
    kept: Vec<Vec<f64>>,
    vary: usize,
}

/// Headlines whose spread a sample tells, with how they are called there.
pub const KEPT: [(&str, &str); 4] = [
    ("least_margin_v", "smallest margin to turn-off, V"),
    ("ah_per_drive_hour", "Ah per drive-hour"),
    ("house_gain_ah", "house battery over the run, Ah"),
    ("starter_low_pct", "lowest starter battery, %"),
];

impl Tally {
    /// One for a table with these columns.
    pub fn new(columns: Vec<String>) -> Tally {
        Tally { columns, ..Tally::default() }
    }

    /// One that also keeps what the spread of a sample is told from.
    pub fn of_sample(columns: Vec<String>, vary: usize) -> Tally {
        Tally { columns, vary, kept: vec![Vec::new(); KEPT.len() + vary], ..Tally::default() }
    }

    /// Values of one of [`KEPT`], rising; without those of runs that have none.
    pub fn spread(&self, n: usize) -> Vec<f64> {
        let mut values: Vec<f64> =
            self.kept.get(n).into_iter().flatten().copied().filter(|v| v.is_finite()).collect();
        values.sort_by(f64::total_cmp);
        values
    }

    /// Pairs of a varied key and the first of [`KEPT`] that is there in nearly all rows.
    pub fn pairs(&self, key: usize) -> (usize, Vec<(f64, f64)>) {
        let there = |n: usize| self.kept[n].iter().filter(|v| v.is_finite()).count() as u64;
        let enough = |n: &usize| 10 * there(*n) >= 9 * self.rows.min(MOST_SPREAD);
        let result = (0..KEPT.len()).find(enough).unwrap_or(1);
        let both = self.kept[KEPT.len() + key].iter().zip(&self.kept[result]).map(|(a, b)| (*a, *b));
        (result, both.filter(|(a, b)| a.is_finite() && b.is_finite()).collect())
    }

    /// Sees a line of the table.
    pub fn see(&mut self, line: &str) {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_bytes());
        let Some(Ok(record)) = reader.records().next() else { return };
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        let cell = |name: &str| self.columns.iter().position(|c| c == name).and_then(|n| cells.get(n));
        let verdict = cell("verdict").cloned().unwrap_or_default();
        let gain = cell("ah_per_drive_hour").and_then(|c| c.parse::<f64>().ok());
        let number = |c: Option<&String>| c.and_then(|c| c.parse::<f64>().ok()).unwrap_or(f64::NAN);
        if !self.kept.is_empty() && self.rows < MOST_SPREAD {
            let first = self.columns.iter().position(|c| c == "verdict").unwrap_or(1) - self.vary;
            let values: Vec<f64> = KEPT
                .iter()
                .map(|(name, _)| number(cell(name)))
                .chain((0..self.vary).map(|k| number(cells.get(first + k))))
                .collect();
            self.kept.iter_mut().zip(values).for_each(|(all, v)| all.push(v));
        }
        self.rows += 1;
        if let Some(gain) = gain {
            let better = |best: &Option<(f64, Vec<String>)>| best.as_ref().is_none_or(|b| gain > b.0);
            if better(&self.best[0]) {
                self.best[0] = Some((gain, cells.clone()));
            }
            if verdict == "good" && better(&self.best[1]) {
                self.best[1] = Some((gain, cells.clone()));
            }
        }
        *self.verdicts.entry(verdict).or_default() += 1;
    }

    /// The first cells of a row, up to the verdict: what was run.
    pub fn settings(&self, row: &[String]) -> String {
        let end = self.columns.iter().position(|c| c == "verdict").unwrap_or(1);
        let pairs = self.columns[1..end].iter().zip(&row[1..]).map(|(c, v)| format!("{c} {v}"));
        pairs.collect::<Vec<_>>().join(", ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zero_has_no_sign_and_cells_stay_on_their_line() {
        assert_eq!((decimals(-0.0001, 3), decimals(-0.25, 1)), ("0.000".into(), "-0.2".into()));
        let cells = ["1".to_owned(), "a,\"b\nc".to_owned()];
        assert_eq!(line(&cells).expect("a line"), "1,\"a,\"\"b c\"\n");
    }
}
