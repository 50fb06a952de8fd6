//! Outputs when the disk is full, when the program is killed half-way, and when two runs write into one folder: each file is
//! there whole, as it was or as it shall be, or not at all.
#![cfg(unix)]

mod support;

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::{Folder, SMALL, root, tickover};

type Files = BTreeMap<String, Vec<u8>>;

/// Name and bytes of what lies in a folder; what a killed run left beside its place is not counted.
fn files(folder: &str) -> Files {
    let Ok(entries) = std::fs::read_dir(folder) else { return Files::new() };
    entries
        .map(|e| e.expect("an entry"))
        .map(|e| (e.file_name().into_string().expect("a name"), e.path()))
        .filter(|(name, _)| !(name.starts_with('.') && name.ends_with(".part")))
        .map(|(name, path)| (name, std::fs::read(path).expect("a file")))
        .collect()
}

/// What lies beside: hidden files that are not finished.
fn parts(folder: &str) -> usize {
    std::fs::read_dir(folder).map_or(0, |entries| entries.count()) - files(folder).len()
}

fn scenario() -> String {
    root().join("scenarios/thin-run.toml").to_str().expect("a plain path").to_owned()
}

fn program(out: &str, load_w: u32) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tickover"));
    command.args(["run", &scenario(), "--out", out, "--quiet", "--set", &format!("house.load_w={load_w}")]);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

/// The outputs of a run that nothing disturbs.
fn undisturbed(folder: &Folder, load_w: u32) -> Files {
    let out = folder.path(&format!("undisturbed-{load_w}"));
    let done = program(&out, load_w).output().expect("the program runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let whole = files(&out);
    assert!(whole.len() >= 5 && whole.values().all(|bytes| !bytes.is_empty()));
    whole
}

/// The device that is always full stands where one of the files is made, one after the other.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_is_full_at_any_of_the_files_leaves_the_last_outputs() {
    let folder = Folder::new();
    let (file, out) = (folder.write("van.toml", SMALL), folder.path("out"));
    tickover(&["run", &file, "--out", &out, "--quiet"]);
    let before = files(&out);
    assert_eq!(before.len(), 5);
    for name in before.keys() {
        // In this process the number of the run is known beforehand.
        let part = Path::new(&out).join(format!(".{name}.{}.part", std::process::id()));
        std::os::unix::fs::symlink("/dev/full", &part).expect("a link");
        let printed = tickover(&["run", &file, "--out", &out, "--set", "house.load_w=300"]);
        assert_eq!(printed.exit, sim_cli::Exit::Failed, "{name}");
        assert_eq!(printed.out, "", "no page of a run whose files could not be written");
        assert!(printed.err.contains("cannot be written") && printed.err.contains(name), "{}", printed.err);
        assert_eq!((files(&out), parts(&out)), (before.clone(), 0), "{name}");
    }
    assert!(Path::new("/dev/full").exists());
}

/// No file may be longer than 8 blocks: with the signal ignored the write fails, as on a full disk.
#[test]
fn a_process_that_runs_out_of_room_says_so_and_leaves_nothing() {
    let folder = Folder::new();
    let out = folder.path("out");
    let script = "trap '' XFSZ; ulimit -f 8; exec \"$0\" run \"$1\" --out \"$2\" --quiet";
    let done = Command::new("sh")
        .args(["-c", script, env!("CARGO_BIN_EXE_tickover"), &scenario(), &out])
        .output()
        .expect("a shell");
    let said = String::from_utf8_lossy(&done.stderr);
    assert_eq!(done.status.code(), Some(1), "{said}");
    assert!(said.contains("cannot be written"), "{said}");
    assert_eq!((files(&out).len(), parts(&out)), (0, 0));
}

/// The same with the signal at work: the process dies in the middle of a file.
#[test]
fn a_process_that_dies_in_the_middle_of_a_file_leaves_none_of_it() {
    let folder = Folder::new();
    let out = folder.path("out");
    let whole = undisturbed(&folder, 60);
    let done = Command::new("sh")
        .args(["-c", "ulimit -f 8; exec \"$0\" run \"$1\" --out \"$2\" --quiet"])
        .args([env!("CARGO_BIN_EXE_tickover"), &scenario(), &out])
        .output()
        .expect("a shell");
    assert_eq!(done.status.code(), None, "it was killed");
    assert_eq!(files(&out).len(), 0, "nothing under its own name");
    assert!(
        program(&out, 60).status().expect("the program runs").success(),
        "what lies beside is in nobody's way"
    );
    assert_eq!(files(&out), whole);
}

/// Killed at twenty moments spread over the time that a run takes here, the last outputs being those of another run.
#[test]
fn killed_half_way_each_file_is_the_old_or_the_new() {
    let folder = Folder::new();
    let out = folder.path("out");
    let (old, new) = (undisturbed(&folder, 20), undisturbed(&folder, 200));
    let began = Instant::now();
    program(&out, 20).status().expect("the program runs");
    let takes = began.elapsed();
    let (mut kept, mut died) = (0, 0);
    for n in 0..20_u32 {
        let mut child = program(&out, 200).spawn().expect("the program runs");
        std::thread::sleep(takes.mul_f64(f64::from(n) / 18.0).min(Duration::from_secs(20)));
        let _ = child.kill();
        died += u32::from(child.wait().expect("it ends").code().is_none());
        let found = files(&out);
        assert_eq!(found.len(), old.len(), "{:?}", found.keys());
        for (name, bytes) in &found {
            assert!(*bytes == old[name] || *bytes == new[name], "{name} is neither the old nor the new");
            kept += usize::from(*bytes == old[name]);
        }
        assert!(program(&out, 20).status().expect("the program runs").success());
        assert_eq!(files(&out), old, "a run after it is whole");
    }
    assert!(died > 0 && kept > 0, "{died} were killed, {kept} files left as they were: the test says little");
}

/// Eight runs of two kinds into one folder at once: every file is one of a whole run.
#[test]
fn runs_into_one_folder_at_once() {
    let folder = Folder::new();
    let out = folder.path("out");
    let kinds = [undisturbed(&folder, 20), undisturbed(&folder, 200)];
    let children: Vec<_> =
        (0..8).map(|n| program(&out, [20, 200][n % 2]).spawn().expect("the program runs")).collect();
    for child in children {
        let done = child.wait_with_output().expect("it ends");
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    }
    let found = files(&out);
    assert_eq!((found.len(), parts(&out)), (kinds[0].len(), 0));
    for (name, bytes) in &found {
        assert!(kinds.iter().any(|kind| kind[name] == *bytes), "{name} is of no run");
    }
}

/// One number in a file must not ask for gigabytes: the table's rows are counted before they are made.
#[test]
fn ten_years_of_rows_are_refused_with_a_way_on() {
    let folder = Folder::new();
    let text = "format = 2\n[[drive.piece]]\nduration_h = 87000\nengine_rpm = 0\n";
    let file = folder.write("lay-up.toml", text);
    let out = folder.path("out");
    let printed = tickover(&["run", &file, "--out", &out, "--every-s", "10"]);
    assert_eq!(printed.exit, sim_cli::Exit::WrongInput);
    assert!(printed.err.contains("--every-s 157"), "{}", printed.err);
    assert!(!Path::new(&out).exists());
    assert_eq!(
        tickover(&["run", &file, "--quiet", "--out", &out, "--every-s", "36000"]).exit,
        sim_cli::Exit::Done
    );
}
