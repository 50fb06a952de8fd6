//! Draws a scenario from the declarations of the keys.

use super::log::Log;
use super::text::{Section, Text, path_of};
use sim_core::plant::conductor::{areas_mm2, awg_sizes, sae_sizes};
use sim_core::scenario::calendar::WEEKDAYS;
use sim_core::scenario::key::{Fallback, Key, Kind, Unit};
use sim_core::scenario::{DRIVE_SECTIONS, SECTIONS, keys_of};
use sim_tests::dice::Dice;

/// How one scenario is drawn: how many of its keys are written, and how many of those lie far from their defaults.
struct Style {
    written: f64,
    far: f64,
    /// Volts of the vehicle over twelve.
    twelves: f64,
    days: Vec<String>,
    seasons: Vec<String>,
    logs: Vec<Log>,
}

/// Paths of all keys that a scenario may write, numbers of lists left out.
pub fn all_paths() -> Vec<String> {
    let of = |section: &&str| {
        let keys = keys_of(section).expect("a declared section");
        keys.iter()
            .map(|k| if section.is_empty() { k.name.to_owned() } else { format!("{section}.{}", k.name) })
            .collect::<Vec<_>>()
    };
    // A file that builds on another is two files: `tests/fuzz/scenario.rs` takes those.
    [""].iter().chain(SECTIONS).chain(DRIVE_SECTIONS).flat_map(of).filter(|p| p != "build_on").collect()
}

/// A whole scenario.
pub fn scenario(d: &mut Dice) -> Text {
    let mut style = Style {
        written: [0.03, 0.1, 0.3, 0.8][d.below(4)],
        far: [0.05, 0.2, 0.6][d.below(3)],
        twelves: [1.0, 1.0, 1.0, 1.0, 2.0, 4.0][d.below(6)],
        days: ["a", "b", "c"].iter().take(1 + d.below(3)).map(|s| (*s).to_owned()).collect(),
        seasons: ["warm", "cold"].iter().take(1 + d.below(2)).map(|s| (*s).to_owned()).collect(),
        logs: Vec::new(),
    };
    let mut head = section("", false, &mut style, d);
    head.keys.retain(|k| k.0 != "format" && k.0 != "build_on");
    head.keys.insert(0, ("format".into(), "2".into()));
    let mut sections = vec![head];
    for name in SECTIONS {
        let mut drawn = section(name, false, &mut style, d);
        fit_volts(&mut drawn, &style, d);
        if !drawn.keys.is_empty() {
            sections.push(drawn);
        }
    }
    sections.push(section("drive", false, &mut style, d));
    if d.chance(0.75) {
        pieces(&mut sections, &mut style, d);
    } else {
        calendar(&mut sections, &mut style, d);
    }
    Text { sections, logs: style.logs }
}

fn section(name: &str, listed: bool, style: &mut Style, d: &mut Dice) -> Section {
    let keys = keys_of(name).expect("a declared section");
    // Lists of one section go together.
    let (points, order) = (2 + d.below(4), d.below(10));
    let mut out = Vec::new();
    let all = d.chance(0.5);
    for key in &keys {
        let list = matches!(key.spec.kind, Kind::Numbers { .. });
        if d.chance(if list { style.written.max(0.2) } else { style.written }) && (all || d.chance(0.5)) {
            out.push((key.name.to_owned(), value(key, (points, order), style, d)));
        }
    }
    Section { name: name.to_owned(), listed, keys: out }
}

/// Another vehicle than one of 12 V: what is left to a default goes with its volts.
fn fit_volts(s: &mut Section, style: &Style, d: &mut Dice) {
    if style.twelves == 1.0 {
        return;
    }
    for key in keys_of(&s.name).expect("a declared section") {
        if s.keys.iter().any(|k| k.0 == key.name) {
            continue;
        }
        let cells = key.name == "cells";
        if let (Kind::Number { unit, least, most }, Fallback::Number(v, _)) =
            (key.spec.kind, key.spec.fallback)
            && (cells || (unit == Unit::V && v > 0.0))
            && !d.once_in(40)
        {
            let v = (v * style.twelves).clamp(least, most);
            s.keys.push((key.name.to_owned(), v.to_string()));
        }
    }
}

fn value(key: &Key, (points, order): (usize, usize), style: &mut Style, d: &mut Dice) -> String {
    match key.spec.kind {
        Kind::Number { unit, least, most } => {
            let usual = match key.spec.fallback {
                Fallback::Number(v, _) => Some(if unit == Unit::V { v * style.twelves } else { v }),
                _ => usual(key.name),
            };
            let v = one_number(key.name, (least, most), usual, style.far, d);
            if d.once_in(20) {
                let off = d.log_between(1e-3, 1.0) * v.abs();
                return match d.once_in(2) {
                    true => format!("{{ measured = {v} }}"),
                    false => format!("{{ measured = {v}, plus_minus = {off} }}"),
                };
            }
            v.to_string()
        }
        Kind::Numbers { least, most, .. } => {
            let mut all: Vec<f64> = (0..points)
                .map(|_| one_number(key.name, (least, most), usual(key.name), style.far, d))
                .collect();
            match order {
                0 => {}
                1..=5 => all.sort_by(f64::total_cmp),
                // A fuse opens the sooner the more it carries.
                _ if key.name.ends_with("_s") => all.sort_by(|a, b| b.total_cmp(a)),
                _ => all.sort_by(f64::total_cmp),
            }
            format!("{all:?}")
        }
        Kind::Choice(words) => quoted(words[d.below(words.len())]),
        Kind::Text => quoted(&words(key.name, style, d)),
    }
}

/// What a key without a default is most often about.
fn usual(name: &str) -> Option<f64> {
    Some(match name {
        "engine_rpm" => 1800.0,
        "air_c" => 15.0,
        "set_point_v" | "high_v" => 14.2,
        "high_release_v" => 13.7,
        "low_v" => 10.5,
        "low_release_v" => 12.3,
        "vehicle_load_a" | "parked_load_a" | "between_load_a" => 10.0,
        "house_load_w" | "house_solar_w" | "noon_w" | "starter_solar_w" => 80.0,
        "house_mains_a" | "over_a" => 20.0,
        "fuse_a" => 60.0,
        "fuse_times_rating" => 2.0,
        "fuse_opens_s" => 20.0,
        "idle_a" => 60.0,
        "rated_a" => 140.0,
        "cranking_label_a" => 700.0,
        "table_pct" => 50.0,
        "table_v" => 12.5,
        "kmh_per_1000rpm" => 20.0,
        "weeks" => 1.0,
        "days" => 3.0,
        "from_day" => 2.0,
        "every_min" => 60.0,
        "input_joint_extra_mohm" => 5.0,
        _ => return None,
    })
}

/// Names of numbers that come whole.
const WHOLE: [&str; 7] = ["cells", "repeat", "times", "weeks", "days", "from_day", "most_drop_outs"];

fn one_number(name: &str, (least, most): (f64, f64), usual: Option<f64>, far: f64, d: &mut Dice) -> f64 {
    let drawn_far = d.chance(far);
    let v = match usual {
        Some(v) if !drawn_far => match d.below(4) {
            0 => v,
            1 => v * d.between(0.97, 1.03),
            2 => v * d.log_between(0.7, 1.4),
            _ if v == 0.0 => d.log_between((most * 1e-6).max(1e-9), (most * 0.1).max(2e-9)),
            _ => v * d.log_between(0.25, 4.0),
        },
        _ => match d.below(8) {
            0 => least,
            1 => most,
            2 if least <= 0.0 && most >= 0.0 => 0.0,
            2 | 3 => d.between(least, most),
            // Over all sizes, either sign.
            4 if least < 0.0 => -d.log_between((-least * 1e-6).max(1e-9), -least),
            _ if most > 0.0 => d.log_between(least.max(most * 1e-9).max(1e-9), most),
            _ => d.between(least, most),
        },
    };
    let v = v.clamp(least, most);
    if name == "area_mm2" && !d.once_in(4) {
        let sizes: Vec<f64> = areas_mm2().collect();
        return sizes[d.below(sizes.len())];
    }
    // Few digits, as one types them, or all.
    let v = if d.once_in(3) { v } else { round(v).clamp(least, most) };
    if WHOLE.contains(&name) && !d.once_in(50) { v.round() } else { v }
}

fn round(v: f64) -> f64 {
    format!("{v:.2e}").parse().expect("a number that was one")
}

fn quoted(s: &str) -> String {
    format!("{s:?}")
}

fn clock(d: &mut Dice) -> String {
    match d.below(12) {
        0 => "00:00".into(),
        1 => "24:00".into(),
        2 => format!("{:02}:{:02}:{:02}", d.below(24), d.below(60), d.below(60)),
        _ => format!("{:02}:{:02}", d.below(24), d.below(60)),
    }
}

fn words(name: &str, style: &mut Style, d: &mut Dice) -> String {
    let mut any = |all: &[String]| {
        if d.once_in(40) { "nothing so called".to_owned() } else { all[d.below(all.len())].clone() }
    };
    match name {
        "awg" => any(&awg_sizes().map(str::to_owned).collect::<Vec<_>>()),
        "sae" => any(&sae_sizes().map(str::to_owned).collect::<Vec<_>>()),
        "hold_season" => any(&style.seasons),
        name if name.ends_with("day")
            || ["workdays", "weekend", "every_day"].contains(&name)
            || WEEKDAYS.contains(&name) =>
        {
            any(&style.days)
        }
        "start_clock" | "at" | "to" | "sunrise" | "sunset" => clock(d),
        "start_date" => format!("20{:02}-{:02}-{:02}", d.below(40), 1 + d.below(12), 1 + d.below(28)),
        "from" => clock(d),
        "zone" => any(&["+01:00", "-11:30", "Z", "Europe/Berlin"].map(str::to_owned)),
        "file" => {
            style.logs.push(Log::drawn(d));
            path_of(style.logs.len() - 1).display().to_string()
        }
        _ => d.of(&["a van", "été", "x", "two words, and more"]).to_owned(),
    }
}

/// Leaves one duration, or a file.
fn one_duration(s: &mut Section, longest_s: f64, style: &mut Style, d: &mut Dice) {
    let durations = ["duration_s", "duration_min", "duration_h"];
    let kept = d.below(3);
    let file = s.keys.iter().any(|k| k.0 == "file") || d.once_in(6);
    s.keys.retain(|k| !durations.contains(&k.0.as_str()));
    if file {
        if !s.keys.iter().any(|k| k.0 == "file") {
            s.keys.push(("file".into(), quoted(&words("file", style, d))));
        }
        s.keys.retain(|k| k.0 != "engine_rpm" && (k.0 != "zone" || d.once_in(9)));
        return;
    }
    s.keys.retain(|k| k.0 != "zone");
    // Mostly minutes and hours; the ends of the range in one of forty.
    let seconds = match d.below(40) {
        0 => 1e-3,
        1 => longest_s,
        2..5 => d.log_between(1e-3, longest_s),
        _ => d.log_between(20.0, 2e4).min(longest_s),
    };
    let (key, per) = [("duration_s", 1.0), ("duration_min", 60.0), ("duration_h", 3600.0)][kept];
    s.keys.push((key.into(), round(seconds / per).max(if kept == 2 { 1e-4 } else { 1e-3 }).to_string()));
    if !s.keys.iter().any(|k| k.0 == "engine_rpm") {
        let rpm =
            if d.once_in(3) && s.name == "drive.piece" { 0.0 } else { d.between(500.0, 4000.0).round() };
        s.keys.push(("engine_rpm".into(), rpm.to_string()));
    }
}

fn pieces(sections: &mut Vec<Section>, style: &mut Style, d: &mut Dice) {
    for _ in 0..1 + d.below(5) {
        let mut piece = section("drive.piece", true, style, d);
        // Nothing drives longer than ten years.
        one_duration(&mut piece, if d.once_in(10) { 3e8 } else { 1e6 }, style, d);
        sections.push(piece);
    }
    let many = d.once_in(4);
    if let Some(drive) = sections.iter_mut().find(|s| s.name == "drive")
        && !many
    {
        drive.keys.retain(|k| k.0 != "repeat");
    }
}

fn calendar(sections: &mut Vec<Section>, style: &mut Style, d: &mut Dice) {
    let mut head = section("calendar", false, style, d);
    // A year of cycling is no stall, but takes its time.
    head.keys.retain(|k| !["weeks", "days", "drive_factor"].contains(&k.0.as_str()) || d.once_in(3));
    if head.keys.iter().all(|k| !k.0.ends_with("day") && k.0 != "workdays") {
        head.keys.push(("every_day".into(), quoted(&style.days[0].clone())));
    }
    sections.push(head);
    for name in style.days.clone() {
        sections.push(Section {
            name: "calendar.day".into(),
            listed: true,
            keys: vec![("name".into(), quoted(&name))],
        });
        for _ in 0..d.below(3) {
            let mut drive = section("calendar.day.drive", true, style, d);
            one_duration(&mut drive, 40_000.0, style, d);
            if !drive.keys.iter().any(|k| k.0 == "at") {
                drive.keys.push(("at".into(), quoted(&clock(d))));
            }
            if drive.keys.iter().any(|k| k.0 == "times") && !drive.keys.iter().any(|k| k.0 == "every_min") {
                drive.keys.push(("every_min".into(), "30".into()));
            }
            sections.push(drive);
        }
        for _ in 0..d.below(3) {
            let mut during = section("calendar.day.during", true, style, d);
            for key in ["from", "to"] {
                if !during.keys.iter().any(|k| k.0 == key) {
                    during.keys.push((key.into(), quoted(&clock(d))));
                }
            }
            sections.push(during);
        }
    }
    for name in style.seasons.clone() {
        let mut season = section("calendar.season", true, style, d);
        season.keys.retain(|k| k.0 != "name");
        season.keys.push(("name".into(), quoted(&name)));
        for (_, from) in season.keys.iter_mut().filter(|k| k.0 == "from") {
            *from = quoted(&format!("{:02}-{:02}", 1 + d.below(12), 1 + d.below(28)));
        }
        sections.push(season);
    }
    if d.once_in(4) {
        sections.push(section("calendar.lay_up", true, style, d));
    }
}
