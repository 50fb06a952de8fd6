//! What is taken on is bounded, and what is beyond is said: memory follows what is done, not what is typed.

mod support;

use sim_cli::bounds as files;
use sim_core::bounds as runs;
use std::fmt::Write;
use std::process::{Command, Output};
use support::{Folder, root};

/// Checks a scenario in a process that may not take more than so many MB of addresses.
#[cfg(target_os = "linux")]
fn check_within(mb: u64, file: &str) -> (Option<i32>, String) {
    let limited = format!("ulimit -v {} && exec \"$0\" check \"$1\"", mb << 10);
    let Output { status, stderr, .. } = Command::new("sh")
        .args(["-c", &limited, env!("CARGO_BIN_EXE_tickover"), file])
        .output()
        .expect("the program runs");
    (status.code(), String::from_utf8_lossy(&stderr).into_owned())
}

/// Ten years of fifty schedules a day: 250 million rows, of which four million make pieces before it is refused.
#[cfg(target_os = "linux")]
#[test]
fn a_calendar_holds_what_it_lays_and_not_what_it_asks_for() {
    let folder = Folder::new();
    let schedule = root().join("scenarios/drives/udds.csv");
    let day = format!(
        "[[calendar.day]]\nname = \"a\"\n[[calendar.day.drive]]\nat = \"00:01\"\nfile = \"{}\"\ntimes = 50\nevery_min = 25\n",
        schedule.display()
    );
    let file =
        folder.write("years.toml", format!("format = 2\n[calendar]\nevery_day = \"a\"\ndays = 3660\n{day}"));
    let (code, told) = check_within(500, &file);
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("calendar.day.1.drive.1.times: this asks for more than 4000000 pieces"), "{told}");
    assert!(told.contains("years.toml:10"), "{told}");
    let file = folder.write(
        "more.toml",
        format!("format = 2\n[calendar]\nevery_day = \"a\"\ndays = 3660\n{day}{}", day_of_constant(&folder)),
    );
    let (code, told) = check_within(500, &file);
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("more than 400000000 rows of drive files"), "{told}");
    // The same fortnight is a calendar like any other.
    let file = folder
        .write("fortnight.toml", format!("format = 2\n[calendar]\nevery_day = \"a\"\ndays = 14\n{day}"));
    let (code, told) = check_within(500, &file);
    assert_eq!(code, Some(0), "{told}");
}

/// Another drive of the same day with a file in which every row says the same.
fn day_of_constant(folder: &Folder) -> String {
    let rows = (0..60_000).fold(String::new(), |mut text, n| {
        let _ = writeln!(text, "{},900", f64::from(n) / 1000.0);
        text
    });
    let file = folder.write("still.csv", format!("time_s,engine_rpm\n{rows}"));
    format!("[[calendar.day.drive]]\nat = \"21:00\"\nfile = \"{file}\"\ntimes = 150\nevery_min = 1\n")
}

/// Ten years of sun by the minute.
#[cfg(target_os = "linux")]
#[test]
fn the_sun_by_the_minute_is_refused_by_its_step() {
    let folder = Folder::new();
    let season = "[[calendar.season]]\nname = \"s\"\nsunrise = \"00:00\"\nsunset = \"24:00\"\nnoon_w = 300\n";
    let calendar = |days: u32| {
        format!(
            "format = 2\n[calendar]\ndays = {days}\nstart_date = \"2024-01-01\"\nsun_step_min = 1\nhold_season = \"s\"\n{season}"
        )
    };
    let (code, told) = check_within(500, &folder.write("sun.toml", calendar(3660)));
    assert_eq!(code, Some(2), "{told}");
    let what = "calendar.sun_step_min: this asks for more than 4000000 pieces, the most that are taken; 5270400 come from here";
    assert!(told.contains(what), "{told}");
    assert_eq!(check_within(500, &folder.write("days.toml", calendar(60))).0, Some(0));
}

/// A log whose rows come at uneven times holds its numbers: at 136 bytes a row for what is odd these took 340 MB.
#[cfg(target_os = "linux")]
#[test]
fn a_log_costs_its_columns() {
    let folder = Folder::new();
    let rows = (0..1_500_000_u32).fold(String::from("time_s,engine_rpm\n"), |mut text, n| {
        let _ = writeln!(text, "{}.{},900", 2 * n, n * 7 % 10);
        text
    });
    folder.write("log.csv", rows);
    let file = folder.write("log.toml", "format = 2\n[[drive.piece]]\nfile = \"log.csv\"\n");
    let (code, told) = check_within(200, &file);
    assert_eq!(code, Some(0), "{told}");
}

/// What is wrong is shown in its own file, however many there are.
#[test]
fn the_seventy_thousandth_drive_file_is_itself() {
    let folder = Folder::new();
    let mut scenario = String::from("format = 2\n");
    for n in 0..66_000 {
        let wrong = if n == 65_990 { "oops" } else { "900" };
        folder.write(&format!("{n}.csv"), format!("time_s,engine_rpm\n0,{wrong}\n1,0\n"));
        let _ = writeln!(scenario, "[[drive.piece]]\nfile = \"{n}.csv\"");
    }
    let file = folder.write("many.toml", scenario);
    let printed = support::tickover(&["check", &file]);
    assert!(printed.err.contains("engine_rpm is `oops`"), "{}", printed.err);
    assert!(printed.err.contains("65990.csv:2"), "{}", printed.err);
    assert_eq!(printed.err.matches("error").count(), 1, "{}", printed.err);
}

#[test]
fn files_that_build_on_each_other_share_their_bound() {
    let folder = Folder::new();
    let filler = format!("# {}\n", "x".repeat(998)).repeat(3000);
    folder.write("a.toml", format!("format = 2\n{filler}"));
    folder.write("b.toml", format!("format = 2\nbuild_on = \"a.toml\"\n{filler}"));
    let top = folder.write("c.toml", format!("format = 2\nbuild_on = \"b.toml\"\n{filler}"));
    let printed = support::tickover(&["check", &top]);
    assert!(
        printed.err.contains("a.toml the files of this scenario are larger than 8 MB together"),
        "{}",
        printed.err
    );
}

/// The README's table says the numbers that hold.
#[test]
fn the_readme_tells_the_bounds() {
    let readme = std::fs::read_to_string(root().join("README.md")).expect("the README");
    let table: String =
        readme.split("| bound |").nth(1).and_then(|t| t.split("\n\n").next()).expect("the table").into();
    let told: Vec<&str> =
        table.lines().skip(2).map(|row| row.split('|').nth(2).unwrap_or_default().trim()).collect();
    let grouped = |n: f64| {
        let digits = format!("{n:.0}");
        let cut = |(at, c): (usize, char)| {
            let comma = at > 0 && (digits.len() - at).is_multiple_of(3);
            format!("{}{c}", if comma { "," } else { "" })
        };
        digits.char_indices().map(cut).collect::<String>()
    };
    let mb = |bytes: u64| format!("{} MB", bytes >> 20);
    let holds = [
        format!("{}, {} files", mb(files::LARGEST_SCENARIO), files::MOST_LAYERS),
        mb(files::LARGEST_STUDY),
        format!(
            "{}, {} rows, any number of files",
            mb(files::LARGEST_DRIVE),
            grouped(files::MOST_ROWS as f64)
        ),
        format!("{} days", grouped(runs::MOST_DAYS)),
        grouped(runs::MOST_PIECES as f64),
        grouped(runs::MOST_ROWS_DRIVEN as f64),
        grouped(runs::MOST_EVENTS as f64),
        grouped(runs::MOST_STEPS as f64),
        grouped(runs::MOST_STEPS_KEPT as f64),
        grouped(files::MOST_TRACE_ROWS),
        grouped(files::MOST_SAMPLES as f64),
        grouped(runs::MOST_RUNS as f64),
        grouped(files::MOST_SPREAD as f64),
    ];
    assert_eq!(told, holds);
}
