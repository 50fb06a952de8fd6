//! Pieces of a drive by number and by label, under `--set`, `--vary`, in study files: one rule, numbers from 1 as on pages.

mod support;

use sim_cli::Exit;
use support::{Folder, tickover};

const VAN: &str = "format = 2\n\
    [[drive.piece]]\nlabel = \"parked, before\"\nduration_min = 1\nengine_rpm = 0\n\
    [[drive.piece]]\nlabel = \"motorway\"\nduration_min = 20\nengine_rpm = 2200\n\
    [[drive.piece]]\nlabel = \"town\"\nduration_min = 5\nengine_rpm = 1200\n\
    [[drive.piece]]\nlabel = \"town\"\nduration_min = 6\nengine_rpm = 1300\n\
    [[drive.piece]]\nlabel = \"3\"\nduration_min = 7\nengine_rpm = 0\n\
    [[drive.piece]]\nlabel = \"no. 6\"\nduration_min = 8\nengine_rpm = 0\n";

/// Minutes of each piece after `--set drive.piece.WORD.duration_min=99`.
fn minutes(folder: &Folder, word: &str) -> Vec<String> {
    let file = folder.write("van.toml", VAN);
    let printed = tickover(&["model", &file, "--set", &format!("drive.piece.{word}.duration_min=99")]);
    assert_eq!(printed.exit, Exit::Done, "{}", printed.err);
    let lines = printed.out.lines().filter(|l| l.contains(".duration_min "));
    lines.filter_map(|l| l.split_whitespace().nth(1).map(str::to_owned)).collect()
}

fn changed(folder: &Folder, word: &str) -> usize {
    let found = minutes(folder, word);
    assert_eq!(found.len(), 6, "{found:?}");
    let at: Vec<usize> = (0..6).filter(|n| found[*n] == "99").collect();
    assert_eq!(at.len(), 1, "{word}: {found:?}");
    at[0]
}

fn refused(folder: &Folder, word: &str) -> String {
    let file = folder.write("van.toml", VAN);
    let printed = tickover(&["check", &file, "--set", &format!("drive.piece.{word}.duration_min=99")]);
    assert_eq!(printed.exit, Exit::WrongInput, "{word}");
    printed.err
}

#[test]
fn a_piece_is_set_by_its_number_from_1_or_by_its_label() {
    let folder = Folder::new();
    assert_eq!(changed(&folder, "1"), 0);
    assert_eq!(changed(&folder, "6"), 5);
    assert_eq!(changed(&folder, "motorway"), 1);
    assert_eq!(changed(&folder, "parked, before"), 0);
    assert_eq!(changed(&folder, "\"no. 6\""), 5, "a label with a dot stands in quotes");
}

#[test]
fn a_word_that_can_be_mistaken_is_refused_and_says_why() {
    let folder = Folder::new();
    for (word, told) in [
        ("0", "entries are counted from 1; number 0 is none of them"),
        ("7", "there is no number 7; there are 6 entries, numbers 1 to 6"),
        ("town", "numbers 3 and 4 have the label `town`; name one by its number"),
        ("3", "`3` is the number of one entry and the label of number 5"),
        ("motorwy", "did you mean `motorway`?"),
    ] {
        let err = refused(&folder, word);
        assert!(err.contains(told), "{word}: {err}");
    }
}

#[test]
fn keys_that_vary_and_study_files_follow_the_same_rule() {
    let folder = Folder::new();
    let file = folder.write("van.toml", VAN);
    let out = folder.path("t.csv");
    let sweep = |words: &[&str]| {
        let all = [&["sweep", &file][..], words, &["--out", &out, "--quiet"]].concat();
        tickover(&all)
    };
    let columns = |keep: bool| -> Vec<String> {
        let table = std::fs::read_to_string(&out).expect("the table");
        let head = table.lines().next().expect("a head").to_owned();
        assert_eq!(head.contains("motorway"), keep, "{head}");
        table.lines().skip(1).map(str::to_owned).collect()
    };
    let by_label = sweep(&["--vary", "drive.piece.motorway.engine_rpm=900,2200"]);
    assert_eq!(by_label.exit, Exit::Done, "{}", by_label.err);
    let labelled = columns(true);
    let by_number = sweep(&["--vary", "drive.piece.2.engine_rpm=900,2200"]);
    assert_eq!(by_number.exit, Exit::Done, "{}", by_number.err);
    assert_eq!(columns(false), labelled);

    let zero = sweep(&["--vary", "drive.piece.0.engine_rpm=900,2200"]);
    assert!(zero.exit == Exit::WrongInput && zero.err.contains("counted from 1"), "{}", zero.err);
    let twice = sweep(&[
        "--vary",
        "drive.piece.2.engine_rpm=900,2200",
        "--vary",
        "drive.piece.motorway.engine_rpm=900",
    ]);
    assert!(twice.exit == Exit::WrongInput && twice.err.contains("varies twice"), "{}", twice.err);

    let study = |word: &str| {
        let text = format!(
            "format = 2\nscenario = \"van.toml\"\n[[vary]]\nkey = \"drive.piece.motorway.engine_rpm\"\nvalues = [900, 2200]\n\
             [[drive]]\nname = \"longer\"\nset = {{ \"drive.piece.{word}.duration_min\" = 30 }}\n"
        );
        let path = folder.write("study.toml", &text);
        tickover(&["sweep", &path, "--out", &out, "--quiet"])
    };
    let labelled = study("motorway");
    assert_eq!(labelled.exit, Exit::Done, "{}", labelled.err);
    let zero = study("0");
    assert!(zero.exit == Exit::WrongInput && zero.err.contains("counted from 1"), "{}", zero.err);
}

#[test]
fn problems_number_pieces_as_people_count_them() {
    let folder = Folder::new();
    let file = folder.write("van.toml", VAN.replace("engine_rpm = 2200", "engine_rpm = -1"));
    let err = tickover(&["check", &file]).err;
    assert!(err.contains("drive.piece.2.engine_rpm: -1 is out of range"), "{err}");
}
