//! Outputs when the disk is full, when the program is killed half-way, and when two runs write into one folder: a folder holds
//! one whole set, as it was or as it shall be; between the two it says so, and the next run finishes it.
#![cfg(unix)]

mod support;

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::{Folder, SMALL, root, tickover};

type Files = BTreeMap<String, Vec<u8>>;

/// Name and bytes of what lies in a folder; what a killed run left beside is not counted.
fn files(folder: &str) -> Files {
    let Ok(entries) = std::fs::read_dir(folder) else { return Files::new() };
    entries
        .map(|e| e.expect("an entry"))
        .map(|e| (e.file_name().into_string().expect("a name"), e.path()))
        .filter(|(name, _)| !name.starts_with('.'))
        .map(|(name, path)| (name, std::fs::read(path).expect("a file")))
        .collect()
}

/// What lies beside: hidden folders of sets that are not finished.
fn parts(folder: &str) -> usize {
    let hidden = |e: &std::fs::DirEntry| e.file_name().to_string_lossy().starts_with('.');
    std::fs::read_dir(folder).map_or(0, |entries| entries.flatten().filter(hidden).count())
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

/// Room for some of the files and not for the largest of the others, wherever the border lies.
#[test]
fn a_disk_that_is_full_at_any_of_the_files_leaves_the_last_outputs() {
    let folder = Folder::new();
    let (file, out) = (folder.write("van.toml", SMALL), folder.path("out"));
    tickover(&["run", &file, "--out", &out, "--quiet"]);
    let before = files(&out);
    assert_eq!(before.len(), 6);
    // With the signal ignored a write beyond the limit fails, as on a full disk; it counts in blocks of 512 bytes.
    let script = "trap '' XFSZ; ulimit -f $3; exec \"$0\" run \"$1\" --out \"$2\" --set house.load_w=300";
    for bytes in before.values() {
        let blocks = ((bytes.len() - 1) / 512).to_string();
        let done = Command::new("sh")
            .args(["-c", script, env!("CARGO_BIN_EXE_tickover"), &file, &out, &blocks])
            .output()
            .expect("a shell");
        let said = String::from_utf8_lossy(&done.stderr);
        assert_eq!(
            (done.status.code(), done.stdout.len()),
            (Some(1), 0),
            "no page without its files: {said}"
        );
        assert!(said.contains("cannot be written"), "{said}");
        assert_eq!((files(&out), parts(&out)), (before.clone(), 0), "{blocks} blocks");
    }
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
    assert_eq!((files(&out).len(), parts(&out)), (0, 1), "nothing under its own name");
    assert!(program(&out, 60).status().expect("the program runs").success());
    assert_eq!((files(&out), parts(&out)), (whole, 0), "what lay beside is swept up");
}

/// How often the program is killed in each of the two tests: `TICKOVER_KILLS` says it, else a few times.
fn kills() -> u32 {
    std::env::var("TICKOVER_KILLS").ok().and_then(|n| n.parse().ok()).unwrap_or(12)
}

/// When a process is killed.
#[derive(Debug, Clone, Copy)]
enum Moment {
    /// At this share of the time that it takes.
    Share(f64),
    /// So long after it began to write its set.
    Writing(Duration),
}

/// Moments without order, spread evenly; every second one while it writes, which is a small part of the time.
fn moments(count: u32) -> impl Iterator<Item = Moment> {
    let golden = |n: u32| (f64::from(n) * 0.618_033_988_75).fract();
    (0..count).map(move |n| match n % 2 {
        0 => Moment::Share(1.1 * golden(n)),
        _ => Moment::Writing(Duration::from_secs_f64(0.02 * golden(n).powi(2))),
    })
}

/// Kills a process that writes into a folder, or lets it end; whether it was killed.
fn kill_at(mut command: Command, folder: &str, takes: Duration, moment: Moment) -> bool {
    let mut child = command.spawn().expect("the program runs");
    match moment {
        Moment::Share(share) => std::thread::sleep(takes.mul_f64(share).min(Duration::from_secs(20))),
        Moment::Writing(after) => {
            while parts(folder) == 0 && child.try_wait().expect("it can be asked").is_none() {
                std::thread::sleep(Duration::from_micros(50));
            }
            std::thread::sleep(after);
        }
    }
    let _ = child.kill();
    child.wait_with_output().expect("it ends").status.code().is_none()
}

/// Whether the list in a folder is of the files there: what `sha256sum -c` checks.
fn list_fits(found: &Files, list: &str) -> bool {
    use sha2::{Digest, Sha256};
    let text = String::from_utf8(found[list].clone()).expect("text");
    let entries: Vec<_> = text.lines().filter_map(|l| l.split_once("  ")).collect();
    assert!(!entries.is_empty() && text.starts_with("# tickover "), "{text}");
    entries.iter().all(|(hash, name)| {
        let bytes = found.get(*name).map(Sha256::digest);
        bytes.is_some_and(|b| b.iter().map(|byte| format!("{byte:02x}")).collect::<String>() == **hash)
    })
}

/// What a folder holds after a kill.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Old,
    New,
    /// Between the two, and the folder says so.
    Half,
}

fn holds(folder: &str, list: &str, old: &Files, new: &Files) -> Holds {
    let found = files(folder);
    // The list is the last that is moved over.
    if Path::new(folder).join(format!(".{list}.swap/{list}")).is_file() {
        for (name, bytes) in &found {
            assert!(old.get(name) == Some(bytes) || new.get(name) == Some(bytes), "{name} is neither");
        }
        return Holds::Half;
    }
    assert!(list_fits(&found, list), "the list is not of the files that are there");
    if found == *old {
        return Holds::Old;
    }
    assert!(found == *new, "neither the old set nor the new one: {:?}", found.keys());
    Holds::New
}

/// `run` with several outputs, killed again and again over the outputs of another run.
#[test]
fn killed_half_way_a_folder_holds_the_old_set_or_the_new() {
    let folder = Folder::new();
    let out = folder.path("out");
    let (old, new) = (undisturbed(&folder, 20), undisturbed(&folder, 200));
    let began = Instant::now();
    program(&out, 20).status().expect("the program runs");
    let takes = began.elapsed();
    let (mut died, mut left, mut seen) = (0, 0, [0, 0, 0]);
    for moment in moments(kills()) {
        died += u32::from(kill_at(program(&out, 200), &out, takes, moment));
        let which = holds(&out, "files.sha256", &old, &new);
        left += u32::from(parts(&out) > 0);
        // The next run says what it mended, and leaves the folder as if nothing had been.
        let done = program(&out, 20).output().expect("the program runs");
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{said}");
        assert_eq!(said.contains("cut off half-way"), which == Holds::Half, "{said}");
        assert_eq!((files(&out), parts(&out)), (old.clone(), 0), "a run after it is whole");
        seen[which as usize] += 1;
    }
    println!("{died} killed; old, new, half-way: {seen:?}; {left} left something beside");
    assert!(died > 0 && seen[0] > 0, "{died} were killed, {seen:?}: the test says little");
}

/// `sweep` of a sample, whose table and picture are one set: killed, it goes on where it stopped.
#[test]
fn a_killed_sweep_goes_on_and_its_table_and_picture_are_one_set() {
    let folder = Folder::new();
    folder.write("van.toml", SMALL);
    let study = |runs: u32| {
        let text = format!(
            "format = 2\nscenario = \"van.toml\"\n[sample]\nmethod = \"sobol\"\nruns = {runs}\n[[vary]]\n\
             key = \"input_cable.length_m\"\nfrom = 2\nto = 6\ndistribution = \"uniform\"\n"
        );
        folder.write(&format!("study-{runs}.toml"), text)
    };
    let (few, many) = (study(64), study(512));
    let sweep = |study: &str, out: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tickover"));
        command.args(["sweep", study, "--quiet", "--out", &format!("{out}/table.csv")]);
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
        command
    };
    let made = |study: &str, name: &str| {
        let out = folder.path(name);
        std::fs::create_dir(&out).expect("a folder");
        let began = Instant::now();
        let done = sweep(study, &out).output().expect("the program runs");
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        (files(&out), began.elapsed())
    };
    let ((old, _), (new, takes)) = (made(&few, "few"), made(&many, "many"));
    assert_eq!(
        old.keys().map(String::as_str).collect::<Vec<_>>(),
        ["table.csv", "table.csv.sha256", "table.png"]
    );
    let (mut died, mut went_on, mut seen) = (0, 0, [0, 0, 0]);
    for (n, moment) in moments(kills()).enumerate() {
        let out = folder.path(&format!("killed-{n}"));
        std::fs::create_dir(&out).expect("a folder");
        for (name, bytes) in &old {
            std::fs::write(format!("{out}/{name}"), bytes).expect("a file");
        }
        died += u32::from(kill_at(sweep(&many, &out), &out, takes, moment));
        let journal = format!("{out}/table.csv.journal");
        let kept = std::fs::read(&journal).ok();
        let _ = std::fs::remove_file(&journal);
        let which = holds(&out, "table.csv.sha256", &old, &new);
        seen[which as usize] += 1;
        if let Some(kept) = kept {
            std::fs::write(&journal, kept).expect("put back");
            went_on += 1;
        }
        let done = sweep(&many, &out).output().expect("the program runs");
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{said}");
        assert_eq!(said.contains("cut off half-way"), which == Holds::Half, "{said}");
        assert_eq!((files(&out), parts(&out)), (new.clone(), 0));
    }
    println!("{died} killed; old, new, half-way: {seen:?}; {went_on} went on with a journal");
    assert!(died > 0 && went_on > 0, "{died} were killed, {went_on} went on: the test says little");
}

/// Eight runs of two kinds into one folder at once: what is there in the end is one whole set.
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
    assert!(kinds.contains(&found), "a mixture of two runs");
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
