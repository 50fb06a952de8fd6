//! Numbers of the command line: each has its range, as keys of a scenario have theirs.

use sim_core::scenario::key::{Key, Kind};
use sim_core::scenario::keys_of;

/// Error allowed per step.
pub const TOLERANCE: (f64, f64, &str) = (1e-13, 1e-3, "");

/// Reads a number within a range, both ends included; `unit` is told with it.
pub fn within((least, most, unit): (f64, f64, &'static str)) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |text| {
        // What is no number is within no range.
        let value = text.trim().parse::<f64>().ok().filter(|v| (least..=most).contains(v));
        value.ok_or_else(|| {
            let point = if text.contains(',') { "; decimals take a point" } else { "" };
            let (least, most) = (shown(least), shown(most));
            format!("it takes a number from {least} to {most} {unit}").trim_end().to_owned() + point
        })
    }
}

/// A bound as one would type it.
fn shown(v: f64) -> String {
    if v != 0.0 && v.abs() < 1e-4 { format!("{v:e}") } else { v.to_string() }
}

/// Reads a number that stands for a key, within what the key allows.
pub fn like(section: &'static str, key: &'static str) -> impl Fn(&str) -> Result<f64, String> + Clone {
    move |text| {
        let (least, most, unit) = range_of(section, key).ok_or("no such key")?;
        within((least, most, unit))(text)
    }
}

/// Least and most of a key that takes a number, and its unit.
pub fn range_of(section: &str, key: &str) -> Option<(f64, f64, &'static str)> {
    let keys: Vec<Key> = keys_of(section)?;
    match keys.iter().find(|k| k.name == key)?.spec.kind {
        Kind::Number { unit, least, most } => Some((least, most, unit.symbol())),
        _ => None,
    }
}

/// Reads `from..to` in the range of a key.
pub fn span(section: &'static str, key: &'static str) -> impl Fn(&str) -> Result<(f64, f64), String> + Clone {
    move |text| {
        let wrong = || "write it like 11.5..13.8: two rising numbers with two points between".to_owned();
        let (from, to) = text.split_once("..").ok_or_else(wrong)?;
        let (from, to) = (like(section, key)(from)?, like(section, key)(to)?);
        if from < to { Ok((from, to)) } else { Err(wrong()) }
    }
}

#[cfg(test)]
mod tests {
    use clap::{Arg, Command, CommandFactory};

    const HOSTILE: [&str; 9] = ["nan", "NaN", "-nan", "inf", "-inf", "infinity", "1e999", "-1e999", "1e300"];

    /// The argument by itself, given these texts; its value's type decides what may come of it.
    fn given(arg: &Arg, text: &str) -> Result<clap::ArgMatches, clap::Error> {
        let words = match arg.get_long() {
            Some(long) => vec!["alone".to_owned(), format!("--{long}={text}")],
            None => vec!["alone".to_owned(), "--".to_owned(), text.to_owned()],
        };
        Command::new("alone").arg(arg.clone().required(false)).try_get_matches_from(words)
    }

    /// Every argument of every command that takes a value.
    fn arguments() -> Vec<(String, Arg)> {
        let whole = crate::args::Args::command();
        let of = |command: &Command| {
            let name = command.get_name().to_owned();
            let takes = |a: &&Arg| a.get_action().takes_values();
            command.get_arguments().filter(takes).map(|a| (name.clone(), a.clone())).collect::<Vec<_>>()
        };
        whole.get_subcommands().flat_map(of).collect()
    }

    #[test]
    fn no_number_of_any_command_is_none_or_has_no_end() {
        let (mut numbers, mut spans) = (Vec::new(), 0);
        for (command, arg) in arguments() {
            let (id, whose) = (arg.get_id().as_str(), format!("{command} {}", arg.get_id()));
            let is_number = |text: &str| {
                given(&arg, text).ok().is_some_and(|m| matches!(m.try_get_many::<f64>(id), Ok(Some(_))))
            };
            let is_span = |text: &str| {
                given(&arg, text)
                    .ok()
                    .is_some_and(|m| matches!(m.try_get_many::<(f64, f64)>(id), Ok(Some(_))))
            };
            for text in HOSTILE {
                assert!(!is_number(text), "{whose} takes {text}");
                for span in [format!("{text}..13"), format!("12..{text}")] {
                    assert!(!is_span(&span), "{whose} takes {span}");
                }
            }
            if ["0.00001", "1", "50"].iter().any(|text| is_number(text)) {
                let told = given(&arg, "nan").expect_err("a number").to_string();
                assert!(told.contains("it takes a number from"), "{whose}: {told}");
                let below = format!("--{}", arg.get_long().expect("numbers have names"));
                let alone = Command::new("alone").arg(arg.clone().required(false));
                let told = alone.try_get_matches_from(["alone", &below, "-1e300"]).expect_err("too little");
                assert!(told.to_string().contains("it takes a number from"), "{whose}: {told}");
                numbers.push(whose);
            } else {
                spans += usize::from(is_span("12.5..13"));
            }
        }
        assert!(numbers.len() >= 18 && spans >= 2, "found {spans} spans and {numbers:#?}");
    }
}
