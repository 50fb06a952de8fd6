//! Times the program as a process, from its start until its files stand: medians of twenty, or of five that take long.

use sim_benches::weeks_log::{ITS_SCENARIO, weeks_log};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

/// The program, built as the README builds it.
fn program() -> PathBuf {
    let built = Command::new(env!("CARGO"))
        .args(["build", "--release", "--quiet", "-p", "sim-cli"])
        .status()
        .expect("cargo starts");
    assert!(built.success(), "the program does not build");
    let here = std::env::current_exe().expect("a path");
    here.ancestors().nth(2).expect("deps lies in the folder of the profile").join("tickover")
}

fn row(name: &str, times: usize, program: &Path, out: &Path, args: &[&str]) {
    let mut ms: Vec<f64> = (0..times)
        .map(|_| {
            let _ = std::fs::remove_dir_all(out);
            let at = Instant::now();
            let done = Command::new(program)
                .args(args)
                .arg("--out")
                .arg(out)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status()
                .expect("the program starts");
            assert!(done.success(), "{name}: it failed");
            at.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    ms.sort_by(f64::total_cmp);
    println!("| {name} | {:.0} ms | {:.0} to {:.0} ms |", ms[times / 2], ms[0], ms[times - 1]);
}

fn main() {
    let program = program();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let folder = std::env::temp_dir().join(format!("tickover-bench-{}", std::process::id()));
    let out = folder.join("out");
    std::fs::create_dir_all(&folder).expect("a folder");
    let (log, rows) = weeks_log(&root.join("scenarios/drives/udds.csv"));
    std::fs::write(folder.join("log.csv"), log).expect("a file");
    let week = folder.join("log.toml");
    std::fs::write(&week, ITS_SCENARIO).expect("a file");
    let (week, scenarios) = (week.display().to_string(), root.join("scenarios"));
    let at = |name: &str| scenarios.join(name).display().to_string();
    println!("| process, start to files | median | span |\n|---|---|---|");
    for (name, file) in [
        ("plain day", "reference-van.toml"),
        ("full day", "reference-van-full.toml"),
        ("cycling day", "thin-run.toml"),
    ] {
        let file = at(file);
        row(&format!("{name}, one picture"), 20, &program, &out, &["run", &file, "--plot", "overview"]);
        row(&format!("{name}, all its pictures"), 20, &program, &out, &["run", &file]);
    }
    let name = format!("week's log of {rows} rows");
    row(&format!("{name}, one picture"), 5, &program, &out, &["run", &week, "--plot", "week"]);
    row(&format!("{name}, all its pictures"), 5, &program, &out, &["run", &week]);
    let _ = std::fs::remove_dir_all(&folder);
}
