//! What a study file says: which scenario, what varies and how, how points are chosen, which drives.

use super::sampling::{MOST_DIMENSIONS, Method};
use super::sweep::{Over, Vary};
use crate::scenario::field::{Num, Text};
use crate::scenario::key::{Key, Kind, Unit, choice, number, text};
use crate::scenario::list_path::numbered;
use crate::scenario::node::{Entry, Node, Place, Value};
use crate::scenario::old_names::present_path;
use crate::scenario::section::{Section, section};
use crate::scenario::{FORMAT, Problem, ProblemKind, SECTIONS, keys_of, problem::guess};
use crate::spread::Spread;

section! {
    /// The top of a study file, before the first table.
    StudyHead {
        /// Number of the file format; every file states it.
        format: Option<Num> = number(Unit::One, 1.0, FORMAT),
        /// The scenario file that is studied, its path counted from this file.
        scenario: Option<Text> = text(),
        /// Title of every page and picture.
        name: Option<Text> = text(),
    }
}

section! {
    /// `[sample]`: how points are chosen.
    SampleSpec {
        /// Every combination of the values, or a sample: a Latin hypercube, a Sobol sequence, independent draws.
        method: Text = choice(&["grid", "latin-hypercube", "sobol", "random"]).or_word("grid", "every combination"),
        /// Number of points of a sample.
        runs: Option<Num> = number(Unit::One, 1.0, 1e8),
        /// Number that the sample is drawn from; the same number gives the same points.
        seed: Num = number(Unit::One, 0.0, 9e15).or(1.0, "the same points every time"),
        /// Whether what nobody typed stays, or is drawn too: a default as its key declares, a measured number within its `plus_minus`.
        unknowns: Text = choice(&["stay", "drawn"]).or_word("stay", "what varies is what this file says"),
    }
}

section! {
    /// `[[vary]]`: one key and what it takes, in the unit of the key: `values`, a span, or a distribution.
    VarySpec {
        /// The key, such as "input_cable.length_m".
        key: Option<Text> = text(),
        /// Lower end of a span or a distribution.
        from: Option<Num> = number(Unit::One, -1e12, 1e12),
        /// Upper end of a span or a distribution.
        to: Option<Num> = number(Unit::One, -1e12, 1e12),
        /// Number of values in a span, both ends included.
        points: Option<Num> = number(Unit::One, 2.0, 1e6),
        /// Whether the values of a span are apart by equal steps or by equal ratios.
        spacing: Text = choice(&["linear", "log"]).or_word("linear", "equal steps"),
        /// How the value spreads over a population; `declared`: as its key declares for its default.
        distribution: Option<Text> = choice(&["declared", "uniform", "normal", "triangular"]),
        /// Mean of a normal distribution.
        mean: Option<Num> = number(Unit::One, -1e12, 1e12),
        /// Standard deviation of a normal distribution.
        deviation: Option<Num> = number(Unit::One, 0.0, 1e12),
        /// The likeliest value of a triangular distribution.
        likeliest: Option<Num> = number(Unit::One, -1e12, 1e12),
    }
}

section! {
    /// `[[drive]]`: one drive that every point is run on.
    StudyDrive {
        /// Its name in tables.
        name: Option<Text> = text(),
        /// A scenario file whose drive is driven, its path counted from this file; without it, that of the scenario.
        from: Option<Text> = text(),
    }
}

/// One drive of a study file, with what is changed on it.
#[derive(Debug, Clone, PartialEq)]
pub struct DriveOf {
    /// Its name and file.
    pub spec: StudyDrive,
    /// Keys that differ on this drive, with their values.
    pub set: Vec<(String, Node)>,
}

/// A study file, read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StudyFile {
    /// The top.
    pub head: StudyHead,
    /// How points are chosen.
    pub sample: SampleSpec,
    /// The keys that vary.
    pub vary: Vec<Vary>,
    /// The drives; empty for that of the scenario alone.
    pub drives: Vec<DriveOf>,
}

/// Whether a tree is a study file and no scenario: it names the scenario it is about.
pub fn is_study(root: &Node) -> bool {
    root.entries().is_some_and(|entries| entries.iter().any(|e| e.key == "scenario"))
}

/// How points are chosen, where it is no grid.
pub fn method(sample: &SampleSpec) -> Option<Method> {
    match sample.method.value.as_str() {
        "latin-hypercube" => Some(Method::LatinHypercube),
        "sobol" => Some(Method::Sobol),
        "random" => Some(Method::Random),
        _ => None,
    }
}

impl StudyFile {
    /// Reads what can be read, and every problem found.
    pub fn read_all(root: &Node) -> (StudyFile, Vec<Problem>) {
        let mut problems = Vec::new();
        let mut study = StudyFile::default();
        let entries = root.entries().unwrap_or_default();
        study.head = StudyHead::from_entries(entries, "", &mut problems);
        let mut known: Vec<&str> = StudyHead::keys().iter().map(|k| k.name).collect();
        known.extend(["sample", "vary", "drive"]);
        for entry in entries.iter().filter(|e| !known.contains(&e.key.as_str())) {
            problems.push(Problem::unknown("", entry.key_place, &entry.key, &known));
        }
        if study.head.format.is_none() && !entries.iter().any(|e| e.key == "format") {
            let place = Place { end: root.place.start, ..root.place };
            let help = "the first line of a study file is `format = 2`";
            problems.push(missing("format", place, "format", help));
        }
        let find = |name: &str| entries.iter().find(|e| e.key == name).map(|e| &e.node);
        study.sample = SampleSpec::read(find("sample"), "sample", &mut problems);
        for (n, item) in items(find("vary"), "vary", &mut problems).iter().enumerate() {
            study.vary.extend(read_vary(item, &numbered("vary", n), &mut problems));
        }
        for (n, item) in items(find("drive"), "drive", &mut problems).iter().enumerate() {
            study.drives.extend(read_drive(item, &numbered("drive", n), &mut problems));
        }
        let sampled = method(&study.sample).is_some();
        if !sampled && study.sample.unknowns.value == "drawn" {
            let what = "what is not known is drawn by a sample: state `method` and `runs`".to_owned();
            problems.push(Problem::conflict("sample.unknowns", study.sample.unknowns.place(), what));
        }
        if sampled && study.sample.runs.is_none() {
            let place = find("sample").map_or(root.place, |n| n.place);
            problems.push(missing("sample.runs", place, "runs", "the number of points of a sample"));
        }
        if !sampled && let Some(n) = study.vary.iter().position(|v| matches!(v.over, Over::Spread(_))) {
            let what = "a distribution is drawn from by a sample: state [sample] method and runs".to_owned();
            problems.push(Problem::conflict(&numbered("vary", n), find("vary").map(|n| n.place), what));
        }
        if study.vary.len() > MOST_DIMENSIONS {
            let what = format!("more than {MOST_DIMENSIONS} keys vary");
            problems.push(Problem::conflict("vary", find("vary").map(|n| n.place), what));
        }
        problems.sort_by_key(|p| p.place);
        (study, problems)
    }
}

fn missing(path: &str, place: Place, what: &str, help: &str) -> Problem {
    let kind = ProblemKind::Missing { what: what.into() };
    Problem { path: path.into(), place: Some(place), kind, help: Some(help.into()) }
}

fn items<'a>(node: Option<&'a Node>, name: &str, problems: &mut Vec<Problem>) -> &'a [Node] {
    match node {
        Some(Node { value: Value::List(items), .. }) => items,
        Some(other) => {
            let allowed = format!("a list, each entry written [[{name}]]");
            let kind = ProblemKind::WrongKind { found: other.value.kind(), allowed };
            problems.push(Problem { path: name.into(), place: Some(other.place), kind, help: None });
            &[]
        }
        None => &[],
    }
}

fn without<'a>(node: &'a Node, key: &str) -> (Node, Option<&'a Entry>) {
    let entries = node.entries().unwrap_or_default();
    let rest = entries.iter().filter(|e| e.key != key).cloned().collect();
    let value = if node.entries().is_some() { Value::Table(rest) } else { node.value.clone() };
    (Node { place: node.place, value }, entries.iter().find(|e| e.key == key))
}

fn read_vary(node: &Node, path: &str, problems: &mut Vec<Problem>) -> Option<Vary> {
    let (rest, values) = without(node, "values");
    let before = problems.len();
    let spec = VarySpec::read(Some(&rest), path, problems);
    let Some(key) = &spec.key else {
        if problems.len() == before {
            problems.push(missing(&format!("{path}.key"), node.place, "key", "the key that varies"));
        }
        return None;
    };
    let key_place = key.place().unwrap_or(node.place);
    let key = present_path(&key.value);
    let known = known_key(&key, path, key_place, problems)?;
    let list = values.map(|e| list(&e.node, path, problems));
    if problems.len() > before {
        return None;
    }
    match over(&spec, list, &known) {
        Ok(over) => {
            check(&over, &known, path, node.place, problems);
            (problems.len() == before).then_some(Vary { path: key, over })
        }
        Err(what) => {
            problems.push(Problem::conflict(path, Some(node.place), what));
            None
        }
    }
}

fn list(node: &Node, path: &str, problems: &mut Vec<Problem>) -> Vec<Value> {
    let wrong = |node: &Node| Problem {
        path: format!("{path}.values"),
        place: Some(node.place),
        kind: ProblemKind::WrongKind {
            found: node.value.kind(),
            allowed: "a list of numbers, or of texts".into(),
        },
        help: None,
    };
    let Value::List(items) = &node.value else {
        problems.push(wrong(node));
        return Vec::new();
    };
    let plain = |n: &Node| matches!(n.value, Value::Number(_) | Value::Text(_));
    problems.extend(items.iter().filter(|n| !plain(n)).map(wrong));
    items.iter().map(|n| n.value.clone()).collect()
}

/// What a key takes, from its parts.
fn over(spec: &VarySpec, list: Option<Vec<Value>>, key: &Key) -> Result<Over, String> {
    let (from, to) = (spec.from.as_ref().map(|n| n.value), spec.to.as_ref().map(|n| n.value));
    let log = spec.spacing.value == "log";
    let (least, most) = match key.spec.kind {
        Kind::Number { least, most, .. } => (least, most),
        _ => (f64::NEG_INFINITY, f64::INFINITY),
    };
    if let Some(values) = list {
        let alone = from.is_none() && to.is_none() && spec.points.is_none() && spec.distribution.is_none();
        return match (alone, values.is_empty()) {
            (false, _) => Err("`values` stands alone: no span and no distribution beside it".into()),
            (_, true) => Err("`values` is empty".into()),
            _ => Ok(Over::Values(values)),
        };
    }
    let both = || from.zip(to).ok_or("`from` and `to` are needed here, or `values`".to_owned());
    let spread = match spec.distribution.as_ref().map(|t| t.value.as_str()) {
        None => {
            let (from, to) = both()?;
            let Some(points) = &spec.points else {
                return Err("a span has its number of `points`; or state a `distribution`".into());
            };
            if log && (from <= 0.0 || to <= 0.0) {
                return Err("equal ratios need both ends above zero".into());
            }
            return Ok(Over::span(from, to, points.value as usize, log));
        }
        Some(_) if spec.points.is_some() => {
            return Err("`points` is for a span; a sample states its number of runs in [sample]".into());
        }
        Some("declared") => {
            let (spread, _) = key.spec.spread.ok_or("this key declares no spread of its default")?;
            return match (from, to, &spec.mean, &spec.likeliest, &spec.deviation) {
                (None, None, None, None, None) => Ok(Over::Spread(spread)),
                _ => Err("a declared spread stands alone: no ends and no middle beside it".into()),
            };
        }
        Some("normal") => {
            let mean = spec.mean.as_ref().ok_or("a normal distribution has its `mean`")?.value;
            let deviation = spec.deviation.as_ref().ok_or("a normal distribution has its `deviation`")?.value;
            let (from, to) = (from.unwrap_or(mean - 8.0 * deviation), to.unwrap_or(mean + 8.0 * deviation));
            Spread::Normal { mean, deviation, from: from.max(least), to: to.min(most) }
        }
        Some("triangular") => {
            let (from, to) = both()?;
            let likeliest =
                spec.likeliest.as_ref().ok_or("a triangular distribution has its `likeliest`")?.value;
            Spread::Triangular { from, likeliest, to }
        }
        Some(_) => {
            let (from, to) = both()?;
            if log { Spread::LogUniform { from, to } } else { Spread::Uniform { from, to } }
        }
    };
    spread.fault().map_or(Ok(Over::Spread(spread)), |fault| Err(fault.to_owned()))
}

/// The key of a path; what is wrong with the path is reported.
fn known_key(path: &str, at: &str, place: Place, problems: &mut Vec<Problem>) -> Option<Key> {
    let found = key_at(path);
    if found.is_none() {
        let all: Vec<String> = every_path();
        let kind =
            ProblemKind::UnknownKey { key: path.to_owned(), guess: guess(path, &all), allowed: Vec::new() };
        let help =
            Some("a key with its section, such as input_cable.length_m, drive.piece.1.engine_rpm or drive.piece.motorway.engine_rpm".into());
        problems.push(Problem { path: format!("{at}.key"), place: Some(place), kind, help });
    }
    found
}

/// The key that a path such as `converter.output_limit_a` or `drive.piece.1.engine_rpm` names. Which pieces there are, and
/// their labels, is known only where there is a scenario: any piece will do here.
pub fn key_at(path: &str) -> Option<Key> {
    let (section, name) = path.rsplit_once('.')?;
    let section = match section.strip_prefix("drive.piece.") {
        Some(entry) => (!entry.is_empty()).then_some("drive.piece")?,
        None => section,
    };
    keys_of(section)?.into_iter().find(|k| k.name == name)
}

fn every_path() -> Vec<String> {
    let sections = SECTIONS.iter().map(|s| (*s, (*s).to_owned()));
    let drive = [("drive", "drive".to_owned()), ("drive.piece", numbered("drive.piece", 0))];
    sections
        .chain(drive)
        .flat_map(|(section, shown)| {
            keys_of(section).unwrap_or_default().into_iter().map(move |k| format!("{shown}.{}", k.name))
        })
        .collect()
}

/// Reports values that the key does not take.
fn check(over: &Over, key: &Key, path: &str, place: Place, problems: &mut Vec<Problem>) {
    let ends = match over {
        Over::Values(values) => values.clone(),
        spread => vec![spread.at(0.0), spread.at(1.0)],
    };
    for value in ends {
        let kind = match (&value, key.spec.kind) {
            (Value::Number(v), Kind::Number { least, most, .. }) if !(least..=most).contains(v) => {
                ProblemKind::OutOfRange { value: *v, allowed: key.spec.allowed() }
            }
            (Value::Text(word), Kind::Choice(words)) if !words.contains(&word.as_str()) => {
                let guess = guess(word, words);
                ProblemKind::BadChoice { value: word.clone(), allowed: key.spec.allowed(), guess }
            }
            (Value::Number(_), Kind::Number { .. }) | (Value::Text(_), Kind::Choice(_) | Kind::Text) => {
                continue;
            }
            (other, _) => ProblemKind::WrongKind { found: other.kind(), allowed: key.spec.allowed() },
        };
        let help = Some(key.doc.trim().to_owned());
        problems.push(Problem { path: path.to_owned(), place: Some(place), kind, help });
        return;
    }
}

fn read_drive(node: &Node, path: &str, problems: &mut Vec<Problem>) -> Option<DriveOf> {
    let (rest, set) = without(node, "set");
    let spec = StudyDrive::read(Some(&rest), path, problems);
    if spec.name.is_none() {
        problems.push(missing(&format!("{path}.name"), node.place, "name", "the drive's name in tables"));
    }
    let mut changes = Vec::new();
    if let Some(set) = set {
        let Some(entries) = set.node.entries() else {
            let allowed = "a table of keys, such as { \"drive.air_c\" = -10 }".to_owned();
            let kind = ProblemKind::WrongKind { found: set.node.value.kind(), allowed };
            let path = format!("{path}.set");
            problems.push(Problem { path, place: Some(set.node.place), kind, help: None });
            return None;
        };
        flatten(entries, "", &mut changes);
        for (key, node) in &changes {
            known_key(key, &format!("{path}.set"), node.place, problems)?;
        }
    }
    Some(DriveOf { spec, set: changes })
}

/// `"a.b" = 1` and `a = { b = 1 }` say the same.
fn flatten(entries: &[Entry], above: &str, into: &mut Vec<(String, Node)>) {
    for entry in entries {
        let path = if above.is_empty() { entry.key.clone() } else { format!("{above}.{}", entry.key) };
        match entry.node.entries() {
            Some(below) if !below.iter().any(|e| e.key == "measured") => flatten(below, &path, into),
            _ => into.push((present_path(&path), entry.node.clone())),
        }
    }
}

/// One `--vary` word: `key=from..to:n`, with `:log` behind it for equal ratios, or `key=a,b,c`.
///
/// # Errors
/// What is wrong with it, at `place`.
pub fn vary_word(word: &str, place: Place) -> Result<Vary, Box<Problem>> {
    let wrong = |what: &str| {
        Box::new(Problem {
            path: String::new(),
            place: Some(place),
            kind: ProblemKind::Syntax(what.into()),
            help: Some(
                "write --vary key=from..to:n, key=from..to:n:log, or key=a,b,c, such as \
             --vary input_cable.length_m=2..12:11"
                    .into(),
            ),
        })
    };
    let (path, values) = word.split_once('=').ok_or_else(|| wrong("there is no `=` in it"))?;
    let path = present_path(path.trim());
    let mut problems = Vec::new();
    let Some(key) = known_key(&path, "", place, &mut problems) else {
        let mut problem = problems.remove(0);
        problem.path = String::new();
        return Err(Box::new(problem));
    };
    let number = |text: &str| {
        let value: f64 = text.trim().parse().map_err(|_| wrong("an end of the span is no number"))?;
        if value.is_finite() { Ok(value) } else { Err(wrong("an end of the span is no number")) }
    };
    let over = if let Some((from, rest)) = values.split_once("..") {
        let mut parts = rest.split(':');
        let to = parts.next().unwrap_or_default();
        let count = parts.next().ok_or_else(|| wrong("a span has its number of values behind a colon"))?;
        let count: usize =
            count.trim().parse().map_err(|_| wrong("the number of values is no whole number"))?;
        if !(2..=1_000_000).contains(&count) {
            return Err(wrong("the number of values is not between 2 and 1000000"));
        }
        let log = match parts.next().map(str::trim) {
            None | Some("linear") => false,
            Some("log") => true,
            Some(_) => return Err(wrong("behind the number of values stands `log` or nothing")),
        };
        let (from, to) = (number(from)?, number(to)?);
        if log && (from <= 0.0 || to <= 0.0) {
            return Err(wrong("equal ratios need both ends above zero"));
        }
        Over::span(from, to, count, log)
    } else {
        let one = |text: &str| match text.trim() {
            "" => Err(wrong("a value of the list is empty")),
            // A size such as AWG 4 is a word that looks like a number.
            text if matches!(key.spec.kind, Kind::Text) => Ok(Value::Text(text.to_owned())),
            text => Ok(text.parse::<f64>().map_or_else(|_| Value::Text(text.to_owned()), Value::Number)),
        };
        Over::Values(values.split(',').map(one).collect::<Result<_, _>>()?)
    };
    check(&over, &key, &path, place, &mut problems);
    match problems.pop() {
        Some(problem) => Err(Box::new(problem)),
        None => Ok(Vary { path, over }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: Place = Place { source: 0, start: 0, end: 1 };

    #[test]
    fn what_is_no_number_is_in_no_range() {
        for values in ["1,nan", "inf", "-inf", "2..1e999:3", "nan..3:2", "1,1e999,3"] {
            let word = format!("input_cable.length_m={values}");
            assert!(vary_word(&word, HERE).is_err(), "{word}");
        }
        let told = vary_word("input_cable.length_m=1,nan", HERE).expect_err("no number");
        assert!(matches!(told.kind, ProblemKind::OutOfRange { .. }), "{told:?}");
    }

    #[test]
    fn words_say_spans_and_lists() {
        let vary = vary_word("input_cable.length_m=2..12:3", HERE).expect("a span");
        assert_eq!(vary.over, Over::span(2.0, 12.0, 3, false));
        let vary = vary_word("input_cable.length_m = 1..100:3:log", HERE).expect("ratios");
        assert_eq!(vary.over, Over::span(1.0, 100.0, 3, true));
        let vary = vary_word("start_stop.signal=none,required", HERE).expect("words");
        assert_eq!(vary.over, Over::Values(["none", "required"].map(|w| Value::Text(w.into())).to_vec()));
        assert!(vary_word("drive.piece.1.engine_rpm=800,2000", HERE).is_ok());
    }

    #[test]
    fn declared_spreads_stand_alone_and_only_where_there_is_one() {
        let told = |key: &str, more: &[(&str, f64)]| {
            let text = |s: &str| Node { place: HERE, value: Value::Text(s.into()) };
            let entry = |key: &str, node: Node| Entry { key: key.into(), key_place: HERE, node };
            let mut entries = vec![entry("key", text(key)), entry("distribution", text("declared"))];
            entries
                .extend(more.iter().map(|(k, v)| entry(k, Node { place: HERE, value: Value::Number(*v) })));
            let mut problems = Vec::new();
            let vary =
                read_vary(&Node { place: HERE, value: Value::Table(entries) }, "vary.1", &mut problems);
            (vary, problems)
        };
        let (vary, problems) = told("alternator.build_up_s", &[]);
        let declared = key_at("alternator.build_up_s").and_then(|k| k.spec.spread).expect("declared").0;
        assert_eq!((vary.map(|v| v.over), problems.len()), (Some(Over::Spread(declared)), 0));
        assert_eq!(told("alternator.build_up_s", &[("from", 1.0)]).1.len(), 1);
        assert_eq!(told("input_cable.length_m", &[]).1.len(), 1);
    }

    #[test]
    fn a_wrong_word_says_what_was_meant() {
        let told = |word: &str| vary_word(word, HERE).expect_err(word).kind.to_string();
        assert!(told("input_cable.lenght_m=1..2:3").contains("input_cable.length_m"));
        assert!(told("input_cable.length_m=1..2000:3").contains("from 0 to 100 m"));
        assert!(told("start_stop.signal=none,requird").contains("required"));
        for word in
            ["a", "input_cable.length_m=1..2", "input_cable.length_m=1..x:3", "input_cable.length_m=1..2:1"]
        {
            assert!(vary_word(word, HERE).is_err(), "{word}");
        }
        assert!(vary_word("input_cable.length_m=0..2:3:log", HERE).is_err());
        assert!(vary_word("input_cable.length_m=1,,2", HERE).is_err());
    }
}
