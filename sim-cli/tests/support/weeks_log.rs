//! A week's log at 1 Hz with stamps and parked gaps, as a logger writes it: three drives in town a day.

use std::fmt::Write;
use std::path::Path;

/// The text of the log, and how many rows it has. `schedule` is a drive file of seconds and speeds.
pub fn weeks_log(schedule: &Path) -> (String, usize) {
    let trace = std::fs::read_to_string(schedule).expect("a schedule");
    let speeds: Vec<&str> = trace
        .lines()
        .filter(|l| l.starts_with(|c: char| c.is_ascii_digit()))
        .filter_map(|l| l.split_once(','))
        .map(|(_, v)| v)
        .collect();
    let mut log = String::from("stamp,speed_kmh\n");
    let mut rows = 0;
    for day in 2..9 {
        for hour in [7, 12, 17] {
            for (k, speed) in speeds.iter().enumerate() {
                let (minute, second) = (k / 60, k % 60);
                writeln!(log, "2026-03-{day:02}T{hour:02}:{minute:02}:{second:02}+01:00,{speed}")
                    .expect("text");
                rows += 1;
            }
        }
    }
    (log, rows)
}

/// A scenario that drives it, the log beside it.
pub const ITS_SCENARIO: &str = "format = 2\nname = \"A week's log\"\n[[drive.piece]]\nfile = \"log.csv\"\n";
