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

/// A number with so many decimals; what rounds to nothing has no sign.
pub fn plain(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// A value and the limit that it is held against, with as many decimals as tell them apart: this many, up to six.
pub fn apart(value: f64, limit: f64, places: usize) -> (String, String) {
    let both = |places| (plain(value, places), plain(limit, places));
    (places..6).map(both).find(|(a, b)| a != b).unwrap_or_else(|| both(6))
}

/// What was met, ready to stand behind its limit: `before` and the value with its unit; nothing where it reads like the
/// limit, since an event is found where it passes it.
pub fn beside(before: &str, value: f64, limit: f64, places: usize, unit: &str) -> String {
    let (value, limit) = (plain(value, places), plain(limit, places));
    if value == limit { String::new() } else { format!("{before}{value} {unit}") }
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

    #[test]
    fn a_value_and_its_limit_never_read_alike() {
        let both = |a, b, places| super::apart(a, b, places);
        assert_eq!(both(12.04, 12.8, 2), ("12.04".into(), "12.80".into()));
        assert_eq!(both(12.7996, 12.8, 2), ("12.7996".into(), "12.8000".into()));
        assert_eq!(both(81.2, 80.9, 0), ("81.2".into(), "80.9".into()));
        assert_eq!(super::beside(", now ", 10.399_999_9, 10.4, 2, "V"), "");
        assert_eq!(super::beside(", now ", 10.39, 10.4, 2, "V"), ", now 10.39 V");
        assert_eq!(super::plain(-0.001, 2), "0.00");
        assert_eq!(super::plain(-0.01, 2), "-0.01");
    }

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
