//! Where outputs go, and what they never replace: links, devices, what is read, and files of somebody else.

mod support;

use sim_cli::Exit;
use std::path::Path;
use support::{Folder, Printed, SMALL, tickover};

fn read(path: &str) -> String {
    String::from_utf8_lossy(&std::fs::read(path).expect("a file")).into_owned()
}

fn refused(printed: &Printed, words: &str) {
    assert_eq!(printed.exit, Exit::WrongInput, "{printed:?}");
    assert!(printed.err.contains(words), "{words}: {}", printed.err);
    assert_eq!(printed.out, "");
}

#[test]
fn files_of_somebody_else_are_replaced_when_asked_only() {
    let folder = Folder::new();
    let (file, out) = (folder.write("van.toml", SMALL), folder.path("out"));
    let mine = folder.write("out/trace.csv", "my own trace");
    let run = ["run", &file, "--out", &out, "--quiet"];
    refused(&tickover(&run), "out/trace.csv is there already, and is not as this program wrote it");
    assert_eq!(
        (read(&mine).as_str(), std::fs::read_dir(&out).expect("the folder").count()),
        ("my own trace", 1)
    );
    let asked: Vec<&str> = run.iter().copied().chain(["--replace"]).collect();
    assert_eq!(tickover(&asked).exit, Exit::Done);
    assert!(read(&mine).starts_with("time_s,"));
    // What the program wrote is replaced, until somebody changes it.
    assert_eq!(tickover(&run).exit, Exit::Done);
    std::fs::write(&mine, read(&mine) + "a note\n").expect("written");
    refused(&tickover(&run), "--replace");
    assert!(read(&mine).ends_with("a note\n"));
    // A list of the same name that is not ours.
    let list = folder.write("other/files.sha256", "0000  holiday.jpg\n");
    let other = folder.path("other");
    refused(&tickover(&["run", &file, "--out", &other, "--quiet"]), "other/files.sha256 is there already");
    assert!(read(&list).contains("holiday"));
}

#[test]
fn tables_of_somebody_else_stay_too() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let table = folder.write("table.csv", "my own table");
    let sweep = |more: &[&str]| {
        let words = ["sweep", &file, "--vary", "input_cable.length_m=2,3", "--quiet", "--out", &table];
        tickover(&words.iter().chain(more).copied().collect::<Vec<_>>())
    };
    refused(&sweep(&[]), "table.csv is there already");
    assert_eq!(folder.names(), ["table.csv", "van.toml"], "no journal of what is refused");
    assert_eq!(sweep(&["--replace"]).exit, Exit::Done);
    assert_eq!(sweep(&[]).exit, Exit::Done);
    assert_eq!(folder.names(), ["table.csv", "table.csv.sha256", "van.toml"]);
    // A file that is no journal is in nobody's way for good: not even --restart takes it.
    let journal = folder.write("table.csv.journal", "dear diary\n");
    refused(&sweep(&[]), "is no journal of a sweep");
    refused(&sweep(&["--restart"]), "is no journal of a sweep");
    assert_eq!(read(&journal), "dear diary\n");
}

#[test]
fn what_is_read_is_not_written() {
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let vary = ["--vary", "input_cable.length_m=2,3", "--quiet", "--replace", "--out"];
    let sweep = |file: &str, out: &str| tickover(&[&["sweep", file][..], &vary, &[out]].concat());
    refused(&sweep(&file, &file), "van.toml is read by this command");
    // By another name, and by another way.
    std::fs::hard_link(&file, folder.path("same.toml")).expect("a link");
    refused(&sweep(&file, &folder.path("same.toml")), "same.toml is read by this command");
    std::fs::create_dir(folder.path("a")).expect("a folder");
    refused(&sweep(&file, &folder.path("a/../van.toml")), "van.toml is read by this command");
    // A drive file, what is built on, and the scenario of a study.
    folder.write("out/trace.csv", "time_s,speed_kmh\n0,0\n10,30.5\n20,0\n");
    let by_log = folder.write("log.toml", "format = 2\n[[drive.piece]]\nfile = \"out/trace.csv\"\n");
    let out = folder.path("out");
    let printed = tickover(&["run", &by_log, "--out", &out, "--replace", "--quiet"]);
    refused(&printed, "out/trace.csv is read by this command");
    let above = folder.write("above.toml", "format = 2\nbuild_on = \"van.toml\"\n");
    refused(&sweep(&above, &file), "van.toml is read by this command");
    let study = "format = 2\nscenario = \"van.toml\"\n[[drive]]\nname = \"a\"\nfrom = \"above.toml\"\n";
    let study = folder.write("study.toml", study);
    for input in [&study, &file, &above] {
        refused(&sweep(&study, input), "is read by this command");
    }
    // Parts.
    let part = |k: &str| {
        let out = folder.path(&format!("{k}.csv"));
        let shard = format!("{k}/2");
        let words = [
            "sweep",
            &file,
            "--vary",
            "input_cable.length_m=2,3",
            "--quiet",
            "--shard",
            &shard,
            "--out",
            &out,
        ];
        assert_eq!(tickover(&words).exit, Exit::Done);
        out
    };
    let parts = [part("1"), part("2")];
    let printed = tickover(&["merge", &parts[0], &parts[1], "--out", &parts[0], "--replace"]);
    refused(&printed, "1.csv is read by this command");
    assert_eq!(read(&file), SMALL);
}

#[cfg(unix)]
#[test]
fn links_devices_and_folders_are_not_replaced() {
    use std::os::unix::fs::{FileTypeExt, symlink};
    let folder = Folder::new();
    let file = folder.write("van.toml", SMALL);
    let precious = folder.write("precious", "precious");
    let vary = ["--vary", "input_cable.length_m=2,3", "--quiet", "--restart", "--replace", "--out"];
    let sweep = |out: &str| tickover(&[&["sweep", &file][..], &vary, &[out]].concat());
    refused(&sweep("/dev/null"), "/dev/null is no ordinary file");
    assert!(std::fs::metadata("/dev/null").expect("a device").file_type().is_char_device());
    assert!(!Path::new("/dev/null.journal").exists());
    std::fs::create_dir(folder.path("table.csv")).expect("a folder");
    refused(&sweep(&folder.path("table.csv")), "table.csv is a folder");
    refused(&sweep(&folder.path("..")), "does not name a file");
    let link = |name: &str| {
        let at = folder.path(name);
        std::fs::create_dir_all(Path::new(&at).parent().expect("a folder")).expect("a folder");
        symlink(&precious, &at).expect("a link");
        at
    };
    refused(&sweep(&link("linked.csv")), "linked.csv is a link");
    // The journal, the list and the picture beside a table.
    link("a.csv.journal");
    refused(&sweep(&folder.path("a.csv")), "a.csv.journal is in the way: it is a link");
    link("b.csv.sha256");
    refused(&sweep(&folder.path("b.csv")), "b.csv.sha256 is a link");
    let study = "format = 2\nscenario = \"van.toml\"\n[sample]\nmethod = \"sobol\"\nruns = 4\n[[vary]]\n\
                 key = \"input_cable.length_m\"\nfrom = 2\nto = 6\ndistribution = \"uniform\"\n";
    let study = folder.write("study.toml", study);
    link("c.png");
    refused(&tickover(&["sweep", &study, "--out", &folder.path("c.csv"), "--replace"]), "c.png is a link");
    // One of several files in a folder, and the folders in which sets are made.
    link("out/ladder.png");
    let out = folder.path("out");
    refused(&tickover(&["run", &file, "--out", &out, "--replace", "--quiet"]), "ladder.png is a link");
    link("new.toml");
    assert_ne!(tickover(&["new", "--out", &folder.path("new.toml"), "--replace"]).exit, Exit::Done);
    std::fs::create_dir(folder.path("else")).expect("a folder");
    std::fs::write(folder.path("else/a"), "kept").expect("written");
    std::fs::create_dir(folder.path("set")).expect("a folder");
    symlink(folder.path("else"), folder.path("set/.files.sha256.swap")).expect("a link");
    symlink(folder.path("else"), folder.path("set/.files.sha256.77-0.part")).expect("a link");
    let printed = tickover(&["run", &file, "--out", &folder.path("set"), "--quiet"]);
    assert_eq!(printed.exit, Exit::Failed, "{printed:?}");
    assert!(printed.err.contains("in the way"), "{}", printed.err);
    assert_eq!((read(&precious).as_str(), read(&folder.path("else/a")).as_str()), ("precious", "kept"));
    // A folder that is reached by a link was named by the user.
    symlink(folder.path("else"), folder.path("by-link")).expect("a link");
    assert_eq!(tickover(&["run", &file, "--out", &folder.path("by-link"), "--quiet"]).exit, Exit::Done);
}

/// A scenario whose name without its extension is `..`, or that has none: the outputs lie in a folder beside, not above.
#[test]
fn odd_names_of_scenarios_write_into_the_working_folder() {
    let folder = Folder::new();
    std::fs::create_dir(folder.path("here")).expect("a folder");
    for (name, made) in [
        ("...toml", "run"),
        ("..toml", "run"),
        (".toml", "toml"),
        ("-v.toml", "-v"),
        ("a\u{1b}b.toml", "a_b"),
    ] {
        folder.write(&format!("here/{name}"), SMALL);
        let done = std::process::Command::new(env!("CARGO_BIN_EXE_tickover"))
            .args(["run", &format!("./{name}"), "--quiet", "--plot", "none"])
            .current_dir(folder.path("here"))
            .output()
            .expect("the program runs");
        assert!(done.status.success(), "{name:?}: {}", String::from_utf8_lossy(&done.stderr));
        let made = folder.path(&format!("here/{made}"));
        assert!(Path::new(&made).join("summary.json").is_file(), "{name:?}");
        std::fs::remove_dir_all(made).expect("removed");
        std::fs::remove_file(folder.path(&format!("here/{name}"))).expect("removed");
        assert_eq!(folder.names(), ["here"], "{name:?}");
        assert_eq!(std::fs::read_dir(folder.path("here")).expect("the folder").count(), 0, "{name:?}");
    }
    // Without an extension the folder would take the name of the scenario itself.
    let file = folder.write("van", SMALL);
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_tickover"))
        .args(["run", &file, "--quiet"])
        .current_dir(&folder.0)
        .output()
        .expect("the program runs");
    assert_eq!(done.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&done.stderr).contains("van is no folder: name one with --out"));
}
