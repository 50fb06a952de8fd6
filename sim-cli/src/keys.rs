//! `tickover keys`: the key reference, as text for a terminal and as the page kept beside the scenarios.

use crate::Exit;
use crate::args::KeysArgs;
use crate::failure::Failure;
use crate::paragraph::indented;
use sim_core::scenario::key::{Fallback, Key, Kind, Unit};
use sim_core::scenario::problem::guess;
use sim_core::scenario::{DRIVE_SECTIONS, SECTIONS, doc_of, keys_of};
use std::io::{self, Write};

/// How a section is written in a file; the head has no name.
pub fn written(section: &str) -> String {
    match section {
        "" => "(top of the file)".to_owned(),
        name if is_list(name) => format!("[[{name}]]"),
        name => format!("[{name}]"),
    }
}

/// Whether a section is a list of tables.
pub fn is_list(section: &str) -> bool {
    section.contains('.')
}

/// Every section, in the order of the reference.
pub fn sections() -> impl Iterator<Item = &'static str> {
    [""].into_iter().chain(SECTIONS.iter().copied()).chain(DRIVE_SECTIONS.iter().copied())
}

/// What a section describes, without its name in front.
pub fn section_doc(section: &str) -> String {
    let doc = doc_of(section).unwrap_or_default();
    let text = doc.rsplit_once("]`: ").map_or(doc, |(_, text)| text);
    let mut letters = text.chars();
    letters.next().map(|c| c.to_uppercase().collect::<String>() + letters.as_str()).unwrap_or_default()
}

/// What a key takes, with its unit.
pub fn takes(key: &Key) -> String {
    let span = |unit: Unit, least: f64, most: f64| {
        if least == most {
            return format!("{least}");
        }
        format!("{least} to {most} {}", unit.symbol()).trim_end().to_owned()
    };
    match key.spec.kind {
        Kind::Number { unit, least, most } => span(unit, least, most),
        Kind::Numbers { unit, least, most } => format!("list, each {}", span(unit, least, most)),
        Kind::Choice(words) => words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(" or "),
        Kind::Text => "text".to_owned(),
    }
}

/// A default as it would be written in a file, and its source.
pub fn default_of(key: &Key) -> Option<(String, &'static str)> {
    match key.spec.fallback {
        Fallback::Number(value, source) => Some((figure(value), source)),
        Fallback::Word(word, source) => Some((format!("\"{word}\""), source)),
        Fallback::Numbers(values, source) => {
            Some((format!("[{}]", values.iter().map(|v| figure(*v)).collect::<Vec<_>>().join(", ")), source))
        }
        Fallback::Nothing => None,
    }
}

/// How a default spreads over vehicles, and how that is known.
pub fn spread_of(key: &Key) -> Option<String> {
    let (spread, source) = key.spec.spread?;
    let at = |share: f64| figure((spread.quantile(share) * 1e3).round() / 1e3);
    Some(format!("from {} to {}, half of it from {} to {}: {source}", at(0.0), at(1.0), at(0.25), at(0.75)))
}

fn figure(value: f64) -> String {
    if value != 0.0 && value.abs() < 1e-3 { format!("{value:e}") } else { value.to_string() }
}

/// Runs the command.
pub fn run(args: &KeysArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    if args.markdown {
        out.write_all(page().as_bytes())?;
        return Ok(Exit::Done);
    }
    let known: Vec<&str> = sections().filter(|s| !s.is_empty()).collect();
    // A section and, where a key was asked for, the key.
    let mut wanted: Vec<(&str, Option<Key>)> = Vec::new();
    for name in &args.sections {
        let name = name.trim_matches(['[', ']']);
        if let Some(section) = known.iter().find(|s| **s == name) {
            wanted.push((section, None));
            continue;
        }
        let found = keys_called(name);
        if found.is_empty() {
            let names: Vec<&str> =
                sections().flat_map(|s| keys_of(s).unwrap_or_default()).map(|k| k.name).collect();
            let meant = guess(name, &[&known[..], &names].concat());
            let meant = meant.map(|g| format!(" (did you mean `{g}`?)")).unwrap_or_default();
            let what =
                format!("there is no section or key `{name}`{meant}; sections are {}", known.join(", "));
            return Err(Failure::Usage(what));
        }
        wanted.extend(found.into_iter().map(|(section, key)| (section, Some(key))));
    }
    if wanted.is_empty() {
        wanted = sections().map(|s| (s, None)).collect();
        writeln!(
            out,
            "What a scenario can say. A number may be written  key = 12.5  or, when somebody measured it,\n\
             key = {{ measured = 12.5, plus_minus = 0.2 }}. What is not written has the default shown.\n"
        )?;
    }
    for (section, key) in wanted {
        text(section, key, out)?;
    }
    Ok(Exit::Done)
}

/// The keys of a name such as `turn_off_v` or `start_stop.turn_off_v`, in every section that has one.
fn keys_called(name: &str) -> Vec<(&'static str, Key)> {
    let (of, name) = name.rsplit_once('.').map_or((None, name), |(section, key)| (Some(section), key));
    // `drive.piece.2.engine_rpm` asks for the key of any piece.
    let of = of.map(|s| if s.starts_with("drive.piece.") { "drive.piece" } else { s });
    let within = sections().filter(|s| of.is_none_or(|of| of == *s));
    let keys = within.flat_map(|s| keys_of(s).unwrap_or_default().into_iter().map(move |k| (s, k)));
    keys.filter(|(_, k)| k.name == name).collect()
}

fn text(section: &str, only: Option<Key>, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}  {}", written(section), section_doc(section))?;
    for key in only.map_or_else(|| keys_of(section).unwrap_or_default(), |key| vec![key]) {
        writeln!(out, "  {}  {}", key.name, takes(&key))?;
        wrapped(out, key.doc.trim())?;
        if let Some((value, source)) = default_of(&key) {
            wrapped(out, &format!("Default {value}: {source}."))?;
        }
        if let Some(spread) = spread_of(&key) {
            wrapped(out, &format!("It spreads {spread}."))?;
        }
    }
    writeln!(out)
}

fn wrapped(out: &mut dyn Write, text: &str) -> io::Result<()> {
    indented(out, text, "      ", "      ")
}

/// The reference as a page in Markdown.
fn page() -> String {
    let mut page = String::from(
        "# Keys of a scenario\n\n\
         This page is generated from the program (`tickover keys` prints the same); a test keeps it current. A number may be \
         written `key = 12.5` or, when somebody measured it, `key = { measured = 12.5, plus_minus = 0.2 }`. What is not \
         written has the default shown; where no default stands, the effect is absent or the value follows from others. A \
         file that builds on another (`build_on`) states only what differs.\n",
    );
    for section in sections() {
        let title =
            if section.is_empty() { "Top of the file".to_owned() } else { format!("`{}`", written(section)) };
        page.push_str(&format!(
            "\n## {title}\n\n{}\n\n| key | takes | default | its source | meaning |\n|---|---|---|---|---|\n",
            section_doc(section)
        ));
        for key in keys_of(section).unwrap_or_default() {
            let (value, source) =
                default_of(&key).map_or_else(Default::default, |(v, s)| (format!("`{v}`"), s.to_owned()));
            let source =
                spread_of(&key).map_or(source.clone(), |spread| format!("{source}; it spreads {spread}"));
            page.push_str(&format!(
                "| `{}` | {} | {value} | {source} | {} |\n",
                key.name,
                takes(&key),
                key.doc.trim()
            ));
        }
    }
    page
}
