//! Outputs when something gets in the way: a full disk, a kill half-way, two runs into one folder. A file is whole or not
//! there, and what stood there before stays.

mod support;

use sim_cli::Exit;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;
use support::{Folder, SMALL, tickover};

/// Every file of a folder but those being written.
fn files(folder: &str) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).expect("the folder").map(|e| e.expect("an entry"));
    entries
        .map(|e| (e.file_name().to_string_lossy().into_owned(), e.path()))
        .filter(|(name, _)| !name.starts_with('.'))
        .map(|(name, path)| (name, std::fs::read(path).expect("a file")))
        .collect()
}

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tickover"));
    command.args(words).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// Both versions of the outputs of one scenario: as it stands, and with another load.
fn two_versions(folder: &Folder, file: &str) -> [BTreeMap<String, Vec<u8>>; 2] {
    ["60", "90"].map(|load| {
        let out = folder.path(&format!("load-{load}"));
        let printed =
            tickover(&["run", file, "--quiet", "--out", &out, "--set", &format!("house.load_w={load}")]);
        assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
        files(&out)
    })
}

/// The device that is always full stands where the last file would be written.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fills_up_leaves_the_last_outputs_alone() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let out = folder.path("out");
    assert_eq!(tickover(&["run", &file, "--quiet", "--out", &out]).exit, Exit::Done);
    let before = files(&out);
    for name in ["summary.json", "trace.csv", "overview.png"] {
        let part = Path::new(&out).join(format!(".{name}.{}.part", std::process::id()));
        std::os::unix::fs::symlink("/dev/full", &part).expect("a link");
        let printed = tickover(&["run", &file, "--out", &out, "--set", "house.load_w=300"]);
        assert_eq!((printed.exit, printed.out.as_str()), (Exit::Failed, ""), "{name}");
        assert!(printed.err.contains("cannot be written"), "{}", printed.err);
        assert_eq!(files(&out), before, "{name}");
        let left = std::fs::read_dir(&out).expect("the folder").count();
        assert_eq!(left, before.len(), "{name}: something is left beside them");
    }
}

#[test]
fn a_run_killed_half_way_leaves_whole_files() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let [old, new] = two_versions(&folder, &file);
    let out = folder.path("load-60");
    for ms in [0, 2, 5, 10, 20, 30, 40, 60, 80, 120, 160, 240] {
        let mut child =
            program(&["run", &file, "--out", &out, "--set", "house.load_w=90"]).spawn().expect("it runs");
        std::thread::sleep(Duration::from_millis(ms));
        let _ = child.kill();
        child.wait().expect("it ends");
        for (name, bytes) in files(&out) {
            assert!(bytes == old[&name] || bytes == new[&name], "{name} is half a file after {ms} ms");
        }
    }
}

#[test]
fn two_runs_into_one_folder_leave_whole_files() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let [one, other] = two_versions(&folder, &file);
    let out = folder.path("both");
    let start = |load: &str| {
        program(&["run", &file, "--out", &out, "--set", &format!("house.load_w={load}")]).spawn()
    };
    for _ in 0..3 {
        let running = ["60", "90", "60", "90"].map(|load| start(load).expect("it runs"));
        for mut child in running {
            assert!(child.wait().expect("it ends").success());
        }
        let left = files(&out);
        assert_eq!(left.len(), one.len());
        for (name, bytes) in left {
            assert!(bytes == one[&name] || bytes == other[&name], "{name} is of neither run");
        }
        let all = std::fs::read_dir(&out).expect("the folder").count();
        assert_eq!(all, one.len(), "something is left beside them");
    }
}

/// One number in a file must not ask for gigabytes: the table's rows are counted before they are made.
#[test]
fn ten_years_of_rows_are_refused_with_a_way_on() {
    let folder = Folder::new();
    let text = "format = 1\n[[drive.piece]]\nduration_h = 87000\nengine_rpm = 0\n";
    let file = folder.write("lay-up.toml", text);
    let out = folder.path("out");
    let printed = tickover(&["run", &file, "--out", &out]);
    assert_eq!(printed.exit, Exit::WrongInput);
    assert!(printed.err.contains("--every-s 157"), "{}", printed.err);
    assert!(!Path::new(&out).exists());
    assert_eq!(tickover(&["run", &file, "--quiet", "--out", &out, "--every-s", "36000"]).exit, Exit::Done);
}
