//! Where the ampere-hours went: each block is one stacked bar spread over rows, so that every part has its name.

use super::super::font::{Face, fit, text_width};
use super::super::pattern::{self, Pattern};
use super::super::scale::{figure, round_step};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Ink, Stroke, Theme};
use super::sheet::{self, Heading};

/// What a part of a bar is to the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartKind {
    /// Charge that arrived where it was wanted.
    Kept,
    /// Charge that went to a load.
    Used,
    /// Charge that was on offer and never came, or was lost.
    Missed,
}

/// One part of a bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name.
    pub name: String,
    /// Charge, Ah.
    pub ah: f64,
    /// What it is.
    pub kind: PartKind,
}

/// A whole and its parts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Block {
    /// What is divided.
    pub title: String,
    /// The whole, Ah; worked out apart from the parts.
    pub whole_ah: f64,
    /// Name of the whole.
    pub whole: String,
    /// The parts, the one that starts at zero last.
    pub parts: Vec<Part>,
}

impl Block {
    /// Sum of the parts, Ah.
    #[must_use]
    pub fn sum_ah(&self) -> f64 {
        self.parts.iter().map(|p| p.ah).sum()
    }
}

/// Everything the charge bars show.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChargeBars {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Blocks, top first; all on one scale.
    pub blocks: Vec<Block>,
}

/// Parts smaller than this are left out of the rows and named below their block, Ah.
const NOTHING_AH: f64 = 5e-4;
const FIGURES_PX: f64 = 112.0;
/// Type of a row, as a share of its height.
const ROW_SHARE: f64 = 0.72;

/// Builds the charge bars.
#[must_use]
pub fn charge_bars(data: &ChargeBars, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Where the ampere-hours went, each bus as a stack of parts.",
    );
    let shown = |b: &Block| b.parts.iter().filter(|p| p.ah.abs() >= NOTHING_AH).count();
    // Each block: a title, the whole, its parts, the sum, and air.
    let lines = |blocks: &[Block]| blocks.iter().map(|b| 3.0 + shown(b) as f64 + 0.45).sum::<f64>() + 1.6;
    // Type no smaller than that of the axis: a small sheet has room for the first blocks only.
    let room = |n: &usize| body.height() / lines(&data.blocks[..*n]) * ROW_SHARE >= theme.sizes.axis;
    let fits = (1..=data.blocks.len()).rev().find(room).unwrap_or(1).min(data.blocks.len());
    let blocks = if theme.small { &data.blocks[..fits] } else { &data.blocks[..] };
    let lines = lines(blocks);
    let row_px = (body.height() / lines.max(1.0)).min(24.0);
    let names_px = if theme.small { 0.40 * body.width() } else { (body.width() * 0.30).max(250.0) };
    let (x0, x1) = (body.x0 + names_px, body.x1 - FIGURES_PX);
    let most_ah = blocks.iter().map(|b| b.whole_ah.max(b.sum_ah())).fold(0.0, f64::max).max(1e-3);
    let bars = Bars { theme, x0, x1, most_ah, names_x: body.x0 + 10.0, figures_x: body.x1, row_px };
    let mut y = body.y0;
    bars.grid(&mut scene, body.y0 + 2.0, body.y0 + row_px * (lines - 1.6));
    for block in blocks {
        y = bars.block(&mut scene, block, body.x0, y) + 0.45 * row_px;
    }
    scene
}

struct Bars<'t> {
    theme: &'t Theme,
    x0: f64,
    x1: f64,
    most_ah: f64,
    names_x: f64,
    figures_x: f64,
    row_px: f64,
}

impl Bars<'_> {
    fn x(&self, ah: f64) -> f64 {
        self.x0 + ah / self.most_ah * (self.x1 - self.x0)
    }

    fn text(&self, scene: &mut Scene, at: (f64, f64), align: Align, words: &str, face: Face, ink: Ink) {
        // Narrow rows take smaller type rather than touch.
        let size_px = self.theme.sizes.label.min(self.row_px * ROW_SHARE);
        scene.text(Text { at, align, text: words.to_owned(), size_px, face, ink });
    }

    fn grid(&self, scene: &mut Scene, top: f64, bottom: f64) {
        let step = round_step(self.most_ah / ((self.x1 - self.x0) / 70.0).max(1.0));
        let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize;
        for i in 0..=(self.most_ah / step + 1e-9).floor() as i64 {
            let x = self.x(i as f64 * step);
            scene.line((x, top), (x, bottom), if i == 0 { self.theme.axis } else { self.theme.grid });
            let words = if i == 0 { "0 Ah".to_owned() } else { figure(i as f64 * step, decimals) };
            scene.text(Text {
                at: (x, bottom + 13.0),
                align: Align::Center,
                text: words,
                size_px: self.theme.sizes.axis,
                face: Face::Regular,
                ink: self.theme.ink_soft,
            });
        }
    }

    /// Draws a block with its top at `y` and returns its bottom.
    fn block(&self, scene: &mut Scene, block: &Block, left: f64, y: f64) -> f64 {
        let theme = self.theme;
        let mut row = y;
        let size_px = theme.sizes.label.min(self.row_px * ROW_SHARE);
        let title = fit(&block.title, size_px, Face::Bold, self.figures_x - left);
        // The title stands on paper of its own: grid lines pass behind it.
        let width = text_width(&title, size_px, Face::Bold);
        scene.rect(Rect::new(left, row + 1.0, left + width + 6.0, row + self.row_px - 2.0), theme.paper);
        self.text(scene, (left, row + 0.72 * self.row_px), Align::Left, &title, Face::Bold, theme.ink);
        row += self.row_px;
        let whole = (block.whole.as_str(), Face::Bold);
        self.row(scene, row, whole, (0.0, block.whole_ah), None, block.whole_ah);
        let mut right_ah = block.whole_ah;
        for part in block.parts.iter().filter(|p| p.ah.abs() >= NOTHING_AH) {
            row += self.row_px;
            let left_ah = right_ah - part.ah;
            let x = self.x(right_ah);
            scene.line((x, row - 3.0), (x, row + 3.0), Stroke::dashed(theme.ink_soft, 0.75, Dash::Dot));
            let span = (left_ah.min(right_ah), left_ah.max(right_ah));
            self.row(scene, row, (&part.name, Face::Regular), span, Some(part), block.whole_ah);
            right_ah = left_ah;
        }
        row += self.row_px;
        let base = row + 0.72 * self.row_px;
        let rule = row + 1.0;
        scene.line((self.x1 + 12.0, rule), (self.figures_x, rule), theme.axis);
        let sum = format!("{} Ah", figure(block.sum_ah(), 2));
        self.text(scene, (self.figures_x - 42.0, base), Align::Right, &sum, Face::Regular, theme.ink_soft);
        let nothing: Vec<&str> =
            block.parts.iter().filter(|p| p.ah.abs() < NOTHING_AH).map(|p| p.name.as_str()).collect();
        let room = self.x1 - self.names_x;
        let sum = "sum of the parts";
        let long = format!("{sum}; nothing to: {}", nothing.join(", "));
        let words = match nothing.len() {
            0 => sum.to_owned(),
            _ if text_width(&long, size_px, Face::Regular) <= room => long,
            _ => format!("{sum}; nothing to any other cause"),
        };
        let width = text_width(&words, size_px, Face::Regular);
        let patch = Rect::new(self.names_x, row + 2.0, self.names_x + width + 4.0, row + self.row_px - 1.0);
        scene.rect(patch, theme.paper);
        self.text(scene, (self.names_x, base), Align::Left, &words, Face::Regular, theme.ink_soft);
        row + self.row_px
    }

    fn row(
        &self,
        scene: &mut Scene,
        y: f64,
        (name, face): (&str, Face),
        (from_ah, to_ah): (f64, f64),
        part: Option<&Part>,
        whole_ah: f64,
    ) {
        let theme = self.theme;
        let base = y + 0.72 * self.row_px;
        let size_px = theme.sizes.label.min(self.row_px * ROW_SHARE);
        let name = fit(name, size_px, face, self.x0 - self.names_x - 8.0);
        self.text(scene, (self.names_x, base), Align::Left, &name, face, theme.ink);
        let (a, b) = (self.x(from_ah), self.x(to_ah));
        let bar = Rect::new(a, y + 0.14 * self.row_px, b.max(a + 1.0), y + 0.86 * self.row_px);
        match part.map(|p| p.kind) {
            None => scene.rect(bar, theme.ribbons.running.fill),
            Some(PartKind::Kept) => scene.rect(bar, theme.ribbons.on.fill),
            Some(PartKind::Used) => {
                let line = Stroke::solid(theme.roles.house.ink, 1.1);
                pattern::fill(scene, bar, theme.ribbons.idle.fill, Pattern::Level(3.4), line);
            }
            // Stripes tell what never came from what did, in grey print too; a sliver has no room for them.
            Some(PartKind::Missed) if bar.width() > 8.0 => {
                let line = Stroke::solid(theme.fault, 2.2);
                pattern::fill(scene, bar, theme.ribbons.idle.fill, Pattern::Rising(4.0), line);
            }
            Some(PartKind::Missed) => scene.rect(bar, theme.fault),
        }
        let ah = part.map_or(whole_ah, |p| p.ah);
        let words = format!("{} Ah", figure(ah, 2));
        self.text(scene, (self.figures_x - 42.0, base), Align::Right, &words, face, theme.ink);
        if part.is_some() && whole_ah > NOTHING_AH {
            let percent = figure(ah / whole_ah * 100.0, 0);
            let words =
                if ah > 0.0 && ah / whole_ah < 0.005 { "< 1 %".to_owned() } else { format!("{percent} %") };
            self.text(scene, (self.figures_x, base), Align::Right, &words, face, theme.ink_soft);
        }
    }
}
