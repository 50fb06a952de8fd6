//! What the engine does, told from a drive's speed: on measured drives of a petrol car with a manual gearbox, whose log has the
//! engine's load beside it.
//!
//! Nothing here was measured with a variable set-point: the shallow rule is run on these drives with the load, then without it and
//! spoilt as loggers spoil, and the volts at the posts are laid side by side. So it shows what telling the phases by less
//! costs, and nothing else. How far slowing down and load agree was looked at on these very logs.

use crate::log::{Log, Row, hatchback, rms};

/// Drives of which a part is on the road.
const DRIVES: [&str; 4] = ["cold_commute", "cold_long", "hot_commute", "hot_motorway"];
/// The hold after the start, which is the same for all, is over by then, s.
const SCORED_S: f64 = 110.0;

/// Volts at the posts under the shallow rule each second, by some columns of a log; at the times of the untouched one.
fn volts(log: &Log, whole: &Log, columns: &[&str]) -> Vec<f64> {
    let head = "[vehicle]\ncrank_s = 0\n[start_stop]\nturn_on_v = 20\n[alternator]\nregulation = \"variable-shallow\"\n";
    let run = log.run(head, columns);
    let times =
        whole.running(SCORED_S).map(|(t, _)| t).filter(|t| *t < log.rows[log.rows.len() - 1].t_s - 20.0);
    times.map(|t| run.posts_v(log, t)).collect()
}

fn mean(of: &[f64]) -> f64 {
    of.iter().sum::<f64>() / of.len() as f64
}

/// Correlation; and RMS of the differences over that of a constant.
fn agreement(here: &[f64], there: &[f64]) -> (f64, f64) {
    let (a, b) = (mean(here), mean(there));
    let spread = |of: &[f64], mean: f64| rms(of.iter().map(|v| v - mean));
    let (own, wanted) = (spread(here, a), spread(there, b));
    let both = mean(&here.iter().zip(there).map(|(x, y)| (x - a) * (y - b)).collect::<Vec<_>>());
    (both / (own * wanted), rms(here.iter().zip(there).map(|(x, y)| x - y)) / wanted)
}

type Spoil = fn(Vec<Row>) -> Vec<Row>;

/// A number from 0 to 1, the same each time for the same row.
fn random(n: usize) -> f64 {
    let x = (n as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    ((x ^ (x >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 11) as f64 / (1_u64 << 53) as f64
}

/// Speeds read off positions: 1 km/h of scatter, never quite still.
fn scatters(mut rows: Vec<Row>) -> Vec<Row> {
    for (n, row) in rows.iter_mut().enumerate() {
        row.speed_kmh = (row.speed_kmh + 3.46 * (random(n) - 0.5)).max(0.0);
    }
    rows
}

/// Every value is read anew every fourth row only.
fn stale(rows: Vec<Row>) -> Vec<Row> {
    let read = |(n, row): (usize, &Row)| Row { t_s: row.t_s, volts: row.volts, ..rows[n - n % 4] };
    rows.iter().enumerate().map(read).collect()
}

/// One row in thirty begins a hole of up to 8 s.
fn holes(mut rows: Vec<Row>) -> Vec<Row> {
    let mut until = 0;
    let mut n = 0;
    rows.retain(|_| {
        n += 1;
        if n > until + 1 && random(n) < 0.033 {
            until = n + (8.0 * random(n + 1_000_000)) as usize;
        }
        n >= until || n < 2
    });
    rows
}

/// A scale of loads that begins at 30 % and is flatter.
fn other_scale(mut rows: Vec<Row>) -> Vec<Row> {
    for row in rows.iter_mut().filter(|r| r.rpm > 0.0) {
        row.load_pct = 30.0 + 0.7 * row.load_pct;
    }
    rows
}

const ALL: [&str; 3] = ["engine_rpm", "speed_kmh", "load_pct"];

/// Told by less, or by what a logger spoilt, the volts still go with those told by engine speed and load, and are nearer to them
/// than a constant. By speed alone, two of the four drives correlate by 0.53 to 0.56 only: this driver rolls with the clutch open
/// for half a minute at a time, which no speed shows.
#[test]
fn phases_by_less_than_the_load() {
    let Some(logs) = DRIVES.map(hatchback).into_iter().collect::<Option<Vec<Log>>>() else { return };
    let wanted: Vec<Vec<f64>> = logs.iter().map(|l| volts(l, l, &ALL)).collect();
    let all_wanted: Vec<f64> = wanted.concat();
    let cases: [(&str, &[&str], Spoil, f64, f64); 9] = [
        ("loads on another scale", &ALL, other_scale, 0.99, 0.1),
        ("all, rows stale", &ALL, stale, 0.85, 0.55),
        ("speed and load", &ALL[1..], |rows| rows, 0.9, 0.4),
        ("speed and engine speed", &ALL[..2], |rows| rows, 0.75, 0.7),
        ("speed and engine speed, scattered", &ALL[..2], scatters, 0.75, 0.7),
        ("speed and engine speed, with holes", &ALL[..2], holes, 0.75, 0.7),
        ("speed alone", &ALL[1..2], |rows| rows, 0.67, 0.8),
        ("speed alone, scattered", &ALL[1..2], scatters, 0.66, 0.82),
        ("speed alone, with holes", &ALL[1..2], holes, 0.65, 0.82),
    ];
    for (what, columns, spoil, least, most) in cases {
        let here: Vec<Vec<f64>> = logs
            .iter()
            .map(|whole| {
                let mut log = whole.clone();
                log.rows = spoil(log.rows);
                volts(&log, whole, columns)
            })
            .collect();
        let each: Vec<f64> = here.iter().zip(&wanted).map(|(h, w)| agreement(h, w).0).collect();
        let (correlation, share) = agreement(&here.concat(), &all_wanted);
        println!(
            "phases by {what}: correlation {correlation:.2} ({each:.2?}), {share:.2} of a constant's RMS"
        );
        assert!(correlation >= least && share <= most, "{what}: {correlation:.2} and {share:.2}");
    }
}
