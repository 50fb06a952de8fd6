//! Logs of one vehicle: where they are, how they are read, how a run is laid beside them.

use sim_cli::load::load_from;
use sim_core::record::Sample;
use sim_core::{Instant, Options, simulate};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// A row of a log.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    pub t_s: f64,
    pub rpm: f64,
    pub speed_kmh: f64,
    pub load_pct: f64,
    pub volts: f64,
}

/// A log, and when its engine passes 400 rpm.
#[derive(Debug, Clone)]
pub struct Log {
    pub name: &'static str,
    pub rows: Vec<Row>,
    pub starts_s: f64,
}

/// Logs of the hatchback; those of a cold engine first.
pub const HATCHBACK: [&str; 5] = ["cold_idle", "cold_commute", "cold_long", "hot_commute", "hot_motorway"];

fn folder() -> Option<PathBuf> {
    let Some(folder) = std::env::var_os("TICKOVER_MEASURED") else {
        println!("skipped: TICKOVER_MEASURED names no folder of logs");
        return None;
    };
    let folder = PathBuf::from(folder);
    assert!(folder.is_absolute(), "TICKOVER_MEASURED is a whole path; {} is none", folder.display());
    Some(folder)
}

/// A log of the hatchback; `None` where there is no folder of logs. A folder without it is an error.
pub fn hatchback(name: &'static str) -> Option<Log> {
    let path = folder()?.join(format!("hatchback_{name}.csv"));
    let log = read(name, &path);
    println!("read {}: {} rows", path.file_name().unwrap_or_default().to_string_lossy(), log.rows.len());
    Some(log)
}

fn read(name: &'static str, path: &Path) -> Log {
    let text = std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().expect("a header").split(',').collect();
    let place =
        |key: &str| header.iter().position(|h| *h == key).unwrap_or_else(|| panic!("no column {key}"));
    let places = ["time_s", "engine_rpm", "speed_kmh", "load_pct", "volts"].map(place);
    let row = |line: &str| {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap_or(f64::NAN)).collect();
        let [t_s, rpm, speed_kmh, load_pct, volts] = places.map(|n| cells[n]);
        Row { t_s, rpm, speed_kmh, load_pct, volts }
    };
    let rows: Vec<Row> = lines.map(row).collect();
    assert!(rows.iter().all(|r| r.volts.is_finite() && r.t_s.is_finite()), "{name}: gaps");
    let starts_s = rows.iter().find(|r| r.rpm > 400.0).expect("an engine start").t_s;
    Log { name, rows, starts_s }
}

/// A run of a scenario over a log's drive.
pub struct Beside {
    loaded: sim_cli::load::Loaded,
    run: sim_core::Run,
}

impl Log {
    pub fn is_hot(&self) -> bool {
        self.name.starts_with("hot")
    }

    /// The log as a drive file of the program, in a scenario with this head.
    pub fn run(&self, head: &str, columns: &[&str]) -> Beside {
        let mut csv = format!("time_s,{}\n", columns.join(","));
        for r in &self.rows {
            let cell = |c: &&str| match *c {
                "engine_rpm" => r.rpm,
                "speed_kmh" => r.speed_kmh,
                "load_pct" => r.load_pct,
                "volts" => r.volts,
                other => panic!("no column {other}"),
            };
            let cells: Vec<String> = columns.iter().map(|c| cell(c).to_string()).collect();
            let _ = writeln!(csv, "{},{}", r.t_s, cells.join(","));
        }
        let folder = std::env::temp_dir().join(format!("tickover-measured-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder for the drive file");
        let thread = format!("{:?}", std::thread::current().id()).replace(['(', ')'], "-");
        let path = folder.join(format!("{}-{thread}.csv", self.name));
        std::fs::write(&path, csv).expect("a drive file");
        let text = format!("format = 2\n{head}\n[[drive.piece]]\nfile = {:?}\n", path.display().to_string());
        let mut input = text.as_bytes();
        let loaded =
            load_from(Path::new("-"), &[], &mut input).unwrap_or_else(|e| panic!("{}", e.told(false).0));
        let _ = std::fs::remove_file(&path);
        let options = Options { tolerance: 1e-5, ..Options::default() };
        let run = simulate(&loaded.resolved.model, &loaded.resolved.profile, &options).expect("a run");
        Beside { loaded, run }
    }

    /// Times since the engine's start, with measured volts, of all rows with a running engine from `from_s` on.
    pub fn running(&self, from_s: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.rows
            .iter()
            .filter(move |r| r.rpm > 0.0 && r.t_s - self.starts_s >= from_s)
            .map(|r| (r.t_s - self.starts_s, r.volts))
    }
}

impl Beside {
    /// Everything at a time of the log, s.
    pub fn at(&self, log: &Log, t_s: f64) -> Sample {
        let (first, last) = (log.rows[0].t_s, log.rows[log.rows.len() - 1].t_s);
        let at = Instant::from_s((t_s - first).clamp(0.0, last - first - 1e-6));
        let r = &self.loaded.resolved;
        self.run.trace.at(&r.model, &r.profile, at).expect("within the run")
    }

    /// Volts at the starter posts at a time since the engine's start, s.
    pub fn posts_v(&self, log: &Log, since_start_s: f64) -> f64 {
        self.at(log, log.starts_s + since_start_s).net.sb_v
    }

    pub fn events(&self) -> &[sim_core::record::Event] {
        &self.run.events
    }
}

/// Median of what lies within `half_s` of each point.
pub fn running_median(points: &[(f64, f64)], half_s: f64) -> Vec<(f64, f64)> {
    let mut from = 0;
    let mut out = Vec::with_capacity(points.len());
    for (n, &(t, _)) in points.iter().enumerate() {
        while points[from].0 < t - half_s {
            from += 1;
        }
        let to = n + points[n..].iter().take_while(|p| p.0 <= t + half_s).count();
        out.push((t, median(points[from..to].iter().map(|p| p.1))));
    }
    out
}

pub fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.collect();
    all.sort_by(f64::total_cmp);
    let n = all.len();
    assert!(n > 0, "nothing to take the median of");
    f64::midpoint(all[(n - 1) / 2], all[n / 2])
}

pub fn rms(errors: impl Iterator<Item = f64>) -> f64 {
    let (n, sum) = errors.fold((0.0, 0.0), |(n, sum), e| (n + 1.0, sum + e * e));
    f64::sqrt(sum / n)
}
