//! How far to trouble: a bar for each thing that can be changed, over the span that was looked at, parted where the outcome
//! changes, with its value now and the closed form's border as a tick.

use super::super::font::{Face, fit, text_width};
use super::super::pattern::{Pattern, fill};
use super::super::scale::figure;
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Stroke, Theme};
use super::sheet::{self, Heading};

/// What a stretch of a bar comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// No trouble.
    Good,
    /// A band over which the outcomes on both sides take turns.
    Turns,
    /// Drops out at first.
    AtFirst,
    /// Keeps dropping out.
    Keeps,
    /// Never comes on.
    Never,
    /// Runs on after key-off.
    RunsOn,
    /// Another trouble; the table beside the picture names it.
    Other,
    /// Something that can hurt somebody.
    Danger,
}

impl Tone {
    const ALL: [Tone; 8] = [
        Tone::Good,
        Tone::Turns,
        Tone::AtFirst,
        Tone::Keeps,
        Tone::Never,
        Tone::RunsOn,
        Tone::Other,
        Tone::Danger,
    ];

    fn name(self) -> &'static str {
        match self {
            Tone::Good => "good",
            Tone::Turns => "by turns",
            Tone::AtFirst => "drops out at first",
            Tone::Keeps => "keeps dropping out",
            Tone::Never => "never comes on",
            Tone::RunsOn => "runs on after key-off",
            Tone::Other => "other trouble",
            Tone::Danger => "danger",
        }
    }

    /// Fills a rectangle: lines over the ground tell tones apart in grey print too.
    fn fill(self, scene: &mut Scene, theme: &Theme, r: Rect) {
        let (bulk, cranking) = (theme.ribbons.bulk.fill, theme.fault);
        let idle = theme.ribbons.idle.fill;
        let (ground, pattern, ink, width_px) = match self {
            Tone::Good => (theme.roles.output.ink.at(0.28), Pattern::Plain, theme.ink, 0.0),
            Tone::Turns => (theme.gap, Pattern::Upright(4.0), theme.ink_soft, 0.8),
            Tone::AtFirst => (theme.gap, Pattern::Rising(8.0), theme.ink_soft, 0.8),
            Tone::Keeps => (theme.shortfall, Pattern::Plain, theme.ink, 0.0),
            Tone::Never => (idle, Pattern::Falling(4.0), bulk, 1.8),
            Tone::RunsOn => (idle, Pattern::Level(4.0), cranking, 1.8),
            Tone::Other => (theme.ribbons.running.fill, Pattern::Crossed(6.0), theme.ink_soft, 0.8),
            Tone::Danger => (theme.fault, Pattern::Crossed(6.0), theme.paper, 1.4),
        };
        fill(scene, r, ground, pattern, Stroke::solid(ink, width_px));
    }
}

/// One thing that can be changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// Name.
    pub name: String,
    /// Unit of its values.
    pub unit: String,
    /// Its value now.
    pub now: f64,
    /// Stretches: from, to, what they come to; rising and touching.
    pub stretches: Vec<(f64, f64, Tone)>,
    /// What is written at each border: where two stretches meet, or over a band.
    pub ends: Vec<String>,
    /// The closed form's borders.
    pub forms: Vec<f64>,
    /// Smallest value told apart on a logarithmic scale; `None`: the scale is even.
    pub log_from: Option<f64>,
}

impl Bar {
    /// Where the borders lie; that of a band in its middle.
    fn borders(&self) -> impl Iterator<Item = f64> {
        let turns = |s: &(f64, f64, Tone)| s.2 == Tone::Turns;
        self.stretches.windows(2).filter_map(move |w| match (turns(&w[0]), turns(&w[1])) {
            (false, true) => Some(f64::midpoint(w[1].0, w[1].1)),
            (true, false) => None,
            _ => Some(w[1].0),
        })
    }
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DistanceBars {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Bars, top first.
    pub bars: Vec<Bar>,
}

/// A number with as many places as it has meaning: three figures or so.
#[must_use]
pub fn short(value: f64) -> String {
    let size = value.abs();
    let decimals = match size {
        s if s >= 100.0 || s == 0.0 => 0,
        s if s >= 20.0 => 1,
        _ => 2,
    };
    let text = figure(value, decimals);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Builds the picture.
#[must_use]
pub fn distance_bars(data: &DistanceBars, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) =
        sheet::begin(size, theme, &data.heading, "How far each input can be changed before trouble begins.");
    if data.bars.is_empty() {
        sheet::nothing(&mut scene, theme, body, "No change within the spans looked at makes any difference.");
        return scene;
    }
    // Rows too low for their type are left out, the last first.
    let least_px = theme.sizes.axis / 0.46;
    let most = ((body.height() - 42.0) / least_px).floor().max(1.0) as usize;
    let bars = &data.bars[..data.bars.len().min(if theme.small { most } else { usize::MAX })];
    let row_px = ((body.height() - 42.0) / bars.len() as f64).min(34.0);
    let small = theme.sizes.axis.min(0.46 * row_px);
    let names_px = 0.30 * body.width();
    let (x0, x1) = (body.x0 + names_px + 66.0, body.x1 - 4.0);
    let text = |scene: &mut Scene, at, align, words: &str, size_px, face, ink| {
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    };
    let head = theme.sizes.axis;
    text(&mut scene, (x0 - 8.0, body.y0 + 8.0), Align::Right, "now", head, Face::Bold, theme.ink);
    for (n, bar) in bars.iter().enumerate() {
        let top = body.y0 + 14.0 + n as f64 * row_px;
        let (y0, y1) = (top + 0.50 * row_px, top + 0.92 * row_px);
        let base = y1 - 0.08 * row_px;
        let name_px = theme.sizes.label.min(0.62 * row_px);
        // What stands behind a comma goes first where a name has no room.
        let whole = text_width(&bar.name, name_px, Face::Regular) <= names_px - 4.0;
        let name = if whole { &bar.name } else { bar.name.split(',').next().unwrap_or(&bar.name) };
        let name = fit(name, name_px, Face::Regular, names_px - 4.0);
        text(&mut scene, (body.x0, base), Align::Left, &name, name_px, Face::Regular, theme.ink);
        let now = format!("{} {}", short(bar.now), bar.unit);
        text(&mut scene, (x0 - 8.0, base), Align::Right, &now, name_px, Face::Bold, theme.ink);
        let (low, high) =
            (bar.stretches.first().map_or(0.0, |s| s.0), bar.stretches.last().map_or(1.0, |s| s.1));
        let place = |v: f64| match bar.log_from {
            Some(from) => (v.max(from) / from).ln() / (high / from).ln(),
            None => (v - low) / (high - low),
        };
        let x = |v: f64| x0 + place(v).clamp(0.0, 1.0) * (x1 - x0);
        for (from, to, tone) in &bar.stretches {
            let r = Rect::new(x(*from), y0, x(*to).max(x(*from) + 1.0), y1);
            tone.fill(&mut scene, theme, r);
        }
        let mut free_from = x0 - 2.0;
        for (from, ..) in bar.stretches.iter().skip(1) {
            scene.line((x(*from), y0 - 2.0), (x(*from), y1), Stroke::solid(theme.ink, 1.4));
        }
        for (at, words) in bar.borders().zip(&bar.ends) {
            let half = 0.5 * text_width(words, small, Face::Bold);
            let centre = x(at).clamp(x0 + half, x1 - half);
            if centre - half > free_from {
                text(&mut scene, (centre, y0 - 3.0), Align::Center, words, small, Face::Bold, theme.ink);
                free_from = centre + half + 4.0;
            }
        }
        for at in bar.forms.iter().filter(|v| (low..=high).contains(*v)) {
            let x = x(*at);
            scene.fill(vec![(x, y1 - 1.0), (x - 3.5, y1 + 4.0), (x + 3.5, y1 + 4.0)], theme.ink_soft);
        }
        let now_x = x(bar.now);
        scene.line((now_x, y0 - 1.0), (now_x, y1 + 1.0), Stroke::solid(theme.paper, 4.5));
        scene.line((now_x, y0 - 1.0), (now_x, y1 + 1.0), Stroke::solid(theme.ink, 2.4));
    }
    legend(&mut scene, theme, body, data);
    scene
}

fn legend(scene: &mut Scene, theme: &Theme, body: Rect, data: &DistanceBars) {
    let size_px = theme.sizes.axis;
    let (mut x, y) = (body.x0, body.y1 - 4.0);
    let used = |tone: Tone| data.bars.iter().any(|b| b.stretches.iter().any(|s| s.2 == tone));
    let words = |scene: &mut Scene, x: &mut f64, text: &str| {
        let at = (*x, y);
        scene.text(Text {
            at,
            align: Align::Left,
            text: text.to_owned(),
            size_px,
            face: Face::Regular,
            ink: theme.ink,
        });
        *x += text_width(text, size_px, Face::Regular) + 10.0;
    };
    for tone in Tone::ALL.into_iter().filter(|t| used(*t)) {
        let width = 22.0 + text_width(tone.name(), size_px, Face::Regular);
        if theme.small && x + width > body.x1 {
            return;
        }
        let r = Rect::new(x, y - 9.0, x + 18.0, y + 2.0);
        tone.fill(scene, theme, r);
        x += 22.0;
        words(scene, &mut x, tone.name());
    }
    if theme.small {
        return;
    }
    scene.line((x + 4.0, y - 9.0), (x + 4.0, y + 1.0), Stroke::solid(theme.ink, 2.4));
    x += 10.0;
    words(scene, &mut x, "now");
    scene.fill(vec![(x + 4.0, y - 6.0), (x + 0.5, y), (x + 7.5, y)], theme.ink_soft);
    x += 12.0;
    words(scene, &mut x, "closed form");
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::figures::checks::assert_legible;

    #[test]
    fn labels_stay_apart_and_stretches_touch() {
        let bar = |n: usize| Bar {
            name: format!("a thing with a name that is rather long, number {n}"),
            unit: "mm²".into(),
            now: 5.0,
            stretches: vec![
                (0.5, 7.4, Tone::Good),
                (7.4, 7.6, Tone::Turns),
                (7.6, 7.8, Tone::AtFirst),
                (7.8, 40.0, Tone::Keeps),
            ],
            ends: vec!["7.4 to 7.6".into(), "7.8".into()],
            forms: vec![7.9],
            log_from: Some(0.5),
        };
        for n in [1, 21] {
            let data = DistanceBars { heading: Heading::default(), bars: (0..n).map(bar).collect() };
            let size = FigureSize::default();
            let scene = distance_bars(&data, &Theme::light(), size);
            assert_legible("distance bars", &scene);
            // The second border is too near to the first for a figure of its own.
            assert_eq!(scene.texts().filter(|t| t.text == "7.4 to 7.6").count(), n);
            assert!(scene.texts().all(|t| t.text != "7.8"));
        }
        assert_eq!((short(12.801), short(830.4), short(0.0)), ("12.8".into(), "830".into(), "0".into()));
    }
}
