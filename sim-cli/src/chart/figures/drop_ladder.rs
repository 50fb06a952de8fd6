//! Where the volts went at one moment: a stack from the set-point down to the unit's input and its turn-off line.

use super::super::font::{Face, fit, wrap};
use super::super::labels::place_column;
use super::super::pattern::{Pattern, fill};
use super::super::scale::{ValueScale, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Ink, Stroke, Theme};
use super::sheet::{self, Heading};

/// A named level of the stack.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// Name, such as "SB starter posts".
    pub name: String,
    /// Volts there.
    pub volts_v: f64,
}

/// What lies between two rungs.
#[derive(Debug, Clone, PartialEq)]
pub struct Drop {
    /// What takes the volts.
    pub name: String,
    /// How many, V; negative where they rise.
    pub volts_v: f64,
    /// Its resistance, Ω, where it has one.
    pub ohm: Option<f64>,
    /// Heat in it, W, where it is all heat.
    pub heat_w: Option<f64>,
}

/// The threshold that the input is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Goal {
    /// Name, such as "turn-off".
    pub name: String,
    /// Volts.
    pub volts_v: f64,
}

/// Everything the picture shows: `start`, then drops, then `end`; the drops add up to `start − end`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DropLadder {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Named levels from the top.
    pub rungs: Vec<Rung>,
    /// Drops from the top.
    pub drops: Vec<Drop>,
    /// What the input is held against.
    pub goal: Option<Goal>,
    /// Current that flows through the input cable, A.
    pub input_a: f64,
}

const LEFT_NAMES_PX: f64 = 196.0;

/// Builds the picture.
#[must_use]
pub fn drop_ladder(data: &DropLadder, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Where the volts go between the alternator's set-point and the unit's input, step by step.",
    );
    let levels = || data.rungs.iter().map(|r| r.volts_v).chain(data.goal.iter().map(|g| g.volts_v));
    let (low, high) = (levels().fold(f64::INFINITY, f64::min), levels().fold(f64::NEG_INFINITY, f64::max));
    if data.rungs.is_empty() || low > high {
        return scene;
    }
    let pad = (0.05 * (high - low)).max(0.02);
    let axis_px = if theme.small { 2.0 } else { 58.0 };
    let names_px = if theme.small { 158.0 } else { LEFT_NAMES_PX };
    let plot = Rect::new(body.x0 + axis_px, body.y0 + 24.0, body.x1, body.y1 - 22.0);
    let scale = ValueScale { low: low - pad, high: high + pad, y_low: plot.y1, y_high: plot.y0 };
    // A narrow sheet takes width from the stack and the columns before it takes words.
    let squeeze = (size.width_px / 960.0).clamp(0.65, 1.0);
    let stack =
        (plot.x0 + names_px, plot.x0 + names_px + if theme.small { 28.0 } else { 100.0 * squeeze * squeeze });
    let sheet = Stack { theme, scale, plot, stack, squeeze, names_px };
    sheet.axis(&mut scene, body.y0 + 10.0);
    sheet.drops(&mut scene, data);
    sheet.rungs(&mut scene, data);
    scene
}

struct Stack<'t> {
    theme: &'t Theme,
    scale: ValueScale,
    plot: Rect,
    stack: (f64, f64),
    squeeze: f64,
    /// Room for the names of the rungs.
    names_px: f64,
}

impl Stack<'_> {
    fn text(&self, scene: &mut Scene, at: (f64, f64), align: Align, words: &str, face: Face, ink: Ink) {
        let size_px = self.theme.sizes.label;
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    }

    fn axis(&self, scene: &mut Scene, title_y: f64) {
        let theme = self.theme;
        if theme.small {
            return;
        }
        self.text(scene, (self.plot.x0 - 40.0, title_y), Align::Left, "Volts, V", Face::Bold, theme.ink);
        let (values, decimals) = self.scale.ticks(26.0);
        for v in values {
            let y = self.scale.y(v);
            scene.line((self.plot.x0, y), (self.stack.1 + 24.0, y), theme.grid);
            scene.text(Text {
                at: (self.plot.x0 - 6.0, y + 0.36 * theme.sizes.axis),
                align: Align::Right,
                text: figure(v, decimals),
                size_px: theme.sizes.axis,
                face: Face::Regular,
                ink: theme.ink_soft,
            });
        }
    }

    /// Right edges of the columns of figures, and the left edge of the words.
    fn columns(&self) -> (Vec<f64>, f64) {
        let x = self.stack.1 + 40.0;
        let columns = if self.theme.small { 1 } else { 3 };
        let at: Vec<f64> = (1..=columns).map(|n| x + f64::from(n) * 64.0 * self.squeeze).collect();
        let words_x = at.last().copied().unwrap_or(x) + 16.0 * self.squeeze;
        (at, words_x)
    }

    fn drops(&self, scene: &mut Scene, data: &DropLadder) {
        let theme = self.theme;
        let (figures, words_x) = self.columns();
        for (x, head) in figures.iter().zip(["mV", "mΩ", "W"]) {
            self.text(scene, (*x, self.plot.y0 - 14.0), Align::Right, head, Face::Bold, theme.ink);
        }
        self.text(scene, (words_x, self.plot.y0 - 14.0), Align::Left, "taken by", Face::Bold, theme.ink);

        let mut rows: Vec<(f64, f64, Ink, [String; 3], String, Face)> = Vec::new();
        let inks = [
            theme.roles.alternator.ink,
            theme.roles.starter.ink,
            theme.roles.output.ink,
            theme.roles.house.ink,
        ];
        let mut top_v = data.rungs[0].volts_v;
        for (drop, ink) in data.drops.iter().zip(inks.into_iter().cycle()) {
            let bottom_v = top_v - drop.volts_v;
            let cells = [
                figure(drop.volts_v * 1e3, 0),
                drop.ohm.map_or_else(|| "–".to_owned(), |o| figure(o * 1e3, 1)),
                drop.heat_w.map_or_else(|| "–".to_owned(), |w| figure(w, 1)),
            ];
            rows.push((top_v, bottom_v, ink.at(0.78), cells, drop.name.clone(), Face::Regular));
            top_v = bottom_v;
        }
        if let Some(goal) = &data.goal {
            let margin_v = top_v - goal.volts_v;
            let (ink, words) = if margin_v >= 0.0 {
                (theme.gap, format!("left above {}", goal.name))
            } else {
                (theme.shortfall, format!("short of {}", goal.name))
            };
            let cells = [figure(margin_v * 1e3, 0), String::new(), String::new()];
            rows.push((top_v, goal.volts_v, ink, cells, words, Face::Bold));
        }
        if let [first, .., last] = data.rungs.as_slice() {
            let all_mv = figure((first.volts_v - last.volts_v) * 1e3, 0);
            let words = format!("in all, {} to {}", first.name, last.name);
            let base = self.plot.y1 + 12.0;
            let rule = base - 14.0;
            scene.line((figures[0] - 40.0, rule), (self.plot.x1, rule), theme.axis);
            self.text(scene, (figures[0], base), Align::Right, &all_mv, Face::Bold, theme.ink);
            let size_px = theme.sizes.axis;
            let text = fit(&words, size_px, Face::Regular, self.plot.x1 - words_x);
            let (at, face, ink) = ((words_x, base), Face::Regular, theme.ink);
            scene.text(Text { at, align: Align::Left, text, size_px, face, ink });
        }
        let pitch = 2.05 * theme.sizes.label;
        let wanted: Vec<f64> =
            rows.iter().map(|r| f64::midpoint(self.scale.y(r.0), self.scale.y(r.1))).collect();
        let placed = place_column(&wanted, pitch, self.plot.y0, self.plot.y1 - 3.0);
        for (n, ((row, middle), y)) in rows.into_iter().zip(wanted).zip(placed).enumerate() {
            let (top_v, bottom_v, ink, cells, words, face) = row;
            let (a, b) = (self.scale.y(top_v.max(bottom_v)), self.scale.y(top_v.min(bottom_v)));
            // What is short overlaps the stack: it stands beside it, as a strip of its own.
            let short = face == Face::Bold && bottom_v > top_v;
            let (x0, x1) = if short { (self.stack.1 + 3.0, self.stack.1 + 12.0) } else { self.stack };
            // Lines and an edge of paper keep neighbours apart in grey print.
            let pattern = match (face, n % 3) {
                (Face::Bold, _) if short => Pattern::Crossed(6.0),
                (Face::Bold, _) | (_, 0) => Pattern::Plain,
                (_, 1) => Pattern::Rising(7.0),
                _ => Pattern::Level(5.0),
            };
            let r = Rect::new(x0, a, x1, b.max(a + 1.0));
            fill(scene, r, ink, pattern, Stroke::solid(theme.paper, 1.2));
            scene.line((x0, b), (x1, b), Stroke::solid(theme.paper, 1.0));
            let Some(y) = y else { continue };
            let knee = self.stack.1 + 28.0;
            scene.path(vec![(x1, middle), (knee, y), (knee + 10.0, y)], theme.leader);
            let base = y + 0.36 * theme.sizes.label;
            for (x, cell) in figures.iter().zip(cells) {
                self.text(scene, (*x, base), Align::Right, &cell, face, theme.ink);
            }
            let lines = wrap(&words, theme.sizes.axis, face, self.plot.x1 - words_x, 2);
            let first = base - 0.5 * 1.05 * theme.sizes.axis * (lines.len() as f64 - 1.0);
            for (n, line) in lines.iter().enumerate() {
                let at = (words_x, first + 1.05 * theme.sizes.axis * n as f64);
                let (size_px, ink) = (theme.sizes.axis, theme.ink);
                scene.text(Text { at, align: Align::Left, text: line.clone(), size_px, face, ink });
            }
        }
    }

    fn rungs(&self, scene: &mut Scene, data: &DropLadder) {
        let theme = self.theme;
        let goal = data
            .goal
            .iter()
            .map(|g| (format!("{} {} V", g.name, figure(g.volts_v, 2)), g.volts_v, theme.roles.turn_off));
        let rung = Stroke::solid(theme.ink, 2.0);
        let marks: Vec<(String, f64, Stroke)> = data
            .rungs
            .iter()
            .map(|r| {
                // A small sheet has no room for the letters that other pictures use.
                let letters = r.name.chars().take_while(char::is_ascii_uppercase).count();
                let (name, decimals) =
                    if theme.small { (r.name[letters..].trim(), 2) } else { (&*r.name, 3) };
                (format!("{name} {} V", figure(r.volts_v, decimals)), r.volts_v, rung)
            })
            .chain(goal)
            .collect();
        let wanted: Vec<f64> = marks.iter().map(|m| self.scale.y(m.1)).collect();
        let placed = place_column(&wanted, 1.35 * theme.sizes.label, self.plot.y0 - 8.0, self.plot.y1 + 8.0);
        for (((words, _, stroke), at), y) in marks.into_iter().zip(wanted).zip(placed) {
            scene.line((self.stack.0 - 6.0, at), (self.stack.1 + 6.0, at), stroke);
            let Some(y) = y else { continue };
            scene.path(
                vec![(self.stack.0 - 6.0, at), (self.stack.0 - 22.0, y), (self.stack.0 - 28.0, y)],
                theme.leader,
            );
            let words = fit(&words, theme.sizes.label, Face::Bold, self.names_px - 34.0);
            let text = Text {
                at: (self.stack.0 - 32.0, y + 0.36 * theme.sizes.label),
                align: Align::Right,
                text: words,
                size_px: theme.sizes.label,
                face: Face::Bold,
                ink: stroke.ink.mixed(theme.ink, 0.15),
            };
            scene.rect(text.bounds().grown(2.0), theme.halo);
            scene.text(text);
        }
    }
}
