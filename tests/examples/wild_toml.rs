//! Writes random plain vehicles as scenario files: `cargo run --release -p sim-tests --example wild_toml -- FOLDER FROM NUMBER`.

use sim_tests::as_toml::as_toml;
use sim_tests::wild::wild_expressible;
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [folder, from, number] = words.as_slice() else { return wrong("FOLDER FROM NUMBER are wanted") };
    let (Ok(from), Ok(number)) = (from.parse::<u64>(), number.parse::<u64>()) else {
        return wrong("FROM and NUMBER are whole numbers");
    };
    for seed in from..from + number {
        let (m, p) = wild_expressible(seed);
        let text = as_toml(&format!("wild {seed}"), &m, &p).expect("made to be expressible");
        if let Err(e) = std::fs::write(PathBuf::from(folder).join(format!("wild-{seed}.toml")), text) {
            return wrong(&format!("{folder}: {e}"));
        }
    }
    ExitCode::SUCCESS
}

fn wrong(what: &str) -> ExitCode {
    eprintln!("{what}");
    ExitCode::from(2)
}
