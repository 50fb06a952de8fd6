//! What is odd about the rows of a drive file and stops nothing: holes, repeats, jumps, each told by its rows.

use sim_core::scenario::node::Place;
use sim_core::scenario::{Warning, WarningKind};

/// Most rows that are named; the rest is counted.
const NAMED: usize = 5;
/// A step this many usual ones long is a hole.
const USUAL: f64 = 3.0;
/// Change of road speed that no vehicle on wheels makes, m/s²; from memory, hard braking is under 10.
const MOST_M_PER_S2: f64 = 15.0;

/// Rows of one kind.
#[derive(Debug, Default)]
struct Rows {
    count: usize,
    named: Vec<u64>,
    first: Option<(u64, u64)>,
    seconds: f64,
}

impl Rows {
    fn add(&mut self, row: &Row, seconds: f64) {
        self.count += 1;
        self.seconds += seconds;
        self.first.get_or_insert((row.start, row.end));
        if self.named.len() < NAMED {
            self.named.push(row.line);
        }
    }

    fn words(&self) -> String {
        let lines: Vec<String> = self.named.iter().map(u64::to_string).collect();
        let more = self.count - self.named.len();
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let rows = if self.count == 1 { "row" } else { "rows" };
        format!("{rows} {}{more}", lines.join(", "))
    }
}

/// Where a row stands.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// Its line in the file, from 1.
    pub line: u64,
    /// First byte.
    pub start: u64,
    /// One past the last byte.
    pub end: u64,
}

/// Road speed over which a vehicle does not stand, km/h.
const MOVES_KMH: f64 = 5.0;

/// What is odd about a file.
pub struct Oddities {
    longest_sample_s: f64,
    parked: Rows,
    /// Of those, the ones with the vehicle moving before and after.
    moving: Rows,
    repeats: Rows,
    jumps: Rows,
}

impl Oddities {
    /// With the longest step that is still driving.
    pub fn new(longest_sample_s: f64) -> Oddities {
        Oddities {
            longest_sample_s,
            parked: Rows::default(),
            moving: Rows::default(),
            repeats: Rows::default(),
            jumps: Rows::default(),
        }
    }

    /// A row that says the same as the one before it, at the same time.
    pub fn repeat(&mut self, row: &Row) {
        self.repeats.add(row, 0.0);
    }

    /// A row that follows after `seconds`, with the road speed of the one before it and its own.
    pub fn step(&mut self, row: &Row, seconds: f64, kmh: Option<(f64, f64)>) {
        if seconds > self.longest_sample_s {
            let moves = kmh.is_some_and(|(before, now)| before.min(now) > MOVES_KMH);
            let rows = if moves { &mut self.moving } else { &mut self.parked };
            rows.add(row, seconds);
            return;
        }
        let by_kmh = kmh.map(|(before, now)| now - before);
        if by_kmh.is_some_and(|v| (v / 3.6 / seconds).abs() > MOST_M_PER_S2) {
            self.jumps.add(row, seconds);
        }
    }

    /// All of it as warnings. Holes are read off the times, once it is known what is usual; `rows` finds the rows that are
    /// to be named, by their numbers among those kept.
    pub fn warnings(
        self,
        (key, source): (&str, u32),
        time_s: &[f64],
        rows: impl FnOnce(&[usize]) -> Vec<Row>,
        warnings: &mut Vec<Warning>,
    ) {
        let driven = || time_s.windows(2).map(|t| t[1] - t[0]).filter(|s| *s <= self.longest_sample_s);
        let usual_s = middle(driven().collect());
        let hole = |seconds: f64| seconds > USUAL * usual_s && seconds <= self.longest_sample_s;
        let mut holes = Rows {
            count: driven().filter(|s| hole(*s)).count(),
            seconds: driven().filter(|s| hole(*s)).sum(),
            ..Rows::default()
        };
        if holes.count > 0 {
            let steps = time_s.windows(2).enumerate();
            let named: Vec<usize> =
                steps.filter(|(_, t)| hole(t[1] - t[0])).map(|(k, _)| k + 1).take(NAMED).collect();
            let named = rows(&named);
            holes.first = named.first().map(|row| (row.start, row.end));
            holes.named = named.iter().map(|row| row.line).collect();
        }
        let limit_s = self.longest_sample_s;
        let mut tell = |rows: &Rows, kind: &dyn Fn(&Rows) -> WarningKind| {
            if let Some((start, end)) = rows.first {
                let place = Place { source, start: start as u32, end: end as u32 };
                warnings.push(Warning { path: key.to_owned(), place: Some(place), kind: kind(rows) });
            }
        };
        tell(&self.parked, &|r| WarningKind::DriveGapsParked {
            count: r.count,
            hours: r.seconds / 3600.0,
            limit_s,
            rows: r.words(),
        });
        tell(&self.moving, &|r| WarningKind::DriveGapsMoving {
            count: r.count,
            hours: r.seconds / 3600.0,
            limit_s,
            rows: r.words(),
        });
        tell(&holes, &|r| WarningKind::DriveHolesHeld {
            count: r.count,
            seconds: r.seconds,
            usual_s,
            rows: r.words(),
        });
        tell(&self.repeats, &|r| WarningKind::DriveRowsRepeated { count: r.count, rows: r.words() });
        tell(&self.jumps, &|r| WarningKind::DriveSpeedJumps {
            count: r.count,
            most_m_per_s2: MOST_M_PER_S2,
            rows: r.words(),
        });
    }
}

/// The value in the middle of all of them; none is not a number.
fn middle(mut values: Vec<f64>) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(middle, f64::total_cmp).1 }
}
