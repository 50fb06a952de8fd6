//! The event lane under the panels: ribbons of states over time, and the row of switch events.
//! Stretches that switch too often to draw are merged into a block of teeth that says so.

use super::events::{Event, EventRow, Signs};
use super::font::{Face, text_width};
use super::key::{KeyItem, KeyMark};
use super::pattern::{self, Pattern};
use super::scene::{Align, Scene, Text};
use super::size::Rect;
use super::theme::{Ink, RibbonInk, Stroke, Theme};
use super::time_axis::TimeScale;

/// Height of a ribbon, logical pixels.
pub const RIBBON_PX: f64 = 14.0;
/// Space between rows of the lane.
pub const ROW_GAP_PX: f64 = 3.0;

/// Segments narrower than this can be part of a merged block.
const NARROW_PX: f64 = 6.0;
/// Fewest neighbouring narrow segments that are merged.
const MERGE_FROM: usize = 12;

/// One state a ribbon can show.
#[derive(Debug, Clone, PartialEq)]
pub struct RibbonState {
    /// Name.
    pub name: String,
    /// Look.
    pub ink: RibbonInk,
    /// Whether the state is the quiet one; a merged block tells the share of the others.
    pub idle: bool,
}

/// A stretch of one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Start, seconds.
    pub start_s: f64,
    /// End, seconds.
    pub end_s: f64,
    /// Index into [`Ribbon::states`].
    pub state: usize,
}

/// One row of states over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Ribbon {
    /// Name of the row.
    pub name: String,
    /// States it can show.
    pub states: Vec<RibbonState>,
    /// Stretches in time order.
    pub segments: Vec<Segment>,
}

/// Ribbons and events that share the panels' time axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Rows of states, top first.
    pub ribbons: Vec<Ribbon>,
    /// Switch events, where they have a row.
    pub events: Option<Vec<Event>>,
}

/// What is drawn of a ribbon at a given scale.
#[derive(Debug, Clone, PartialEq)]
enum Piece {
    Plain {
        x0: f64,
        x1: f64,
        state: usize,
    },
    Merged {
        x0: f64,
        x1: f64,
        /// The busiest state that is not idle, if any, and its share of the block's time.
        active: Option<(usize, f64)>,
    },
}

impl Ribbon {
    fn pieces(&self, time: &TimeScale) -> Vec<Piece> {
        let visible: Vec<(f64, f64, Segment)> = self
            .segments
            .iter()
            .filter(|s| s.end_s > time.from_s && s.start_s < time.to_s && s.state < self.states.len())
            .map(|s| (time.x_clamped(s.start_s), time.x_clamped(s.end_s), *s))
            .collect();
        let mut pieces = Vec::new();
        let mut i = 0;
        while i < visible.len() {
            let run = visible[i..].iter().take_while(|(x0, x1, _)| x1 - x0 < NARROW_PX).count();
            if run >= MERGE_FROM {
                pieces.push(self.merged(&visible[i..i + run]));
                i += run;
            } else {
                for &(x0, x1, s) in &visible[i..i + run.max(1)] {
                    pieces.push(Piece::Plain { x0, x1, state: s.state });
                }
                i += run.max(1);
            }
        }
        pieces
    }

    fn merged(&self, run: &[(f64, f64, Segment)]) -> Piece {
        let mut seconds = vec![0.0; self.states.len()];
        for (_, _, s) in run {
            seconds[s.state] += s.end_s - s.start_s;
        }
        let total: f64 = seconds.iter().sum();
        let active = (0..seconds.len())
            .filter(|&i| !self.states[i].idle && seconds[i] > 0.0)
            .max_by(|&a, &b| seconds[a].total_cmp(&seconds[b]))
            .map(|i| (i, seconds[i] / total.max(f64::MIN_POSITIVE)));
        Piece::Merged { x0: run[0].0, x1: run[run.len() - 1].1, active }
    }

    pub(super) fn draw(&self, scene: &mut Scene, theme: &Theme, time: &TimeScale, y0: f64) {
        let y1 = y0 + RIBBON_PX;
        let pieces = self.pieces(time);
        // Idle stretches first, so that a short active one is never painted over.
        for idle in [true, false] {
            for piece in &pieces {
                if let Piece::Plain { x0, x1, state } = *piece
                    && self.states[state].idle == idle
                {
                    let shown = Rect::new(x0, y0, x1.max(x0 + 1.0).min(time.x1), y1);
                    fill(scene, shown, self.states[state].ink);
                }
            }
        }
        for piece in &pieces {
            match *piece {
                Piece::Plain { x0, x1, state } => {
                    let state = &self.states[state];
                    if fits(&state.name, theme, x0, x1) {
                        write_on(scene, theme, &state.name, state.ink, x0, x1, y1);
                    }
                }
                Piece::Merged { x0, x1, active } => {
                    let ink = active.map_or(theme.ribbons.idle, |(i, _)| self.states[i].ink);
                    let block = Rect::new(x0, y0, x1.max(x0 + 2.0), y1);
                    comb(scene, theme, block, ink.line.ink);
                    let Some((i, share)) = active else { continue };
                    let percent = share_text(share);
                    let long = format!("{} {percent} of this time", self.states[i].name);
                    if let Some(words) = [long, percent].iter().find(|w| fits(w, theme, x0 + 4.0, x1 - 4.0)) {
                        let half = text_width(words, theme.sizes.axis, Face::Regular) / 2.0 + 4.0;
                        let mid = f64::midpoint(x0, x1);
                        scene.rect(Rect::new(mid - half, y0, mid + half, y1), theme.paper);
                        let on_paper = RibbonInk::plain(theme.paper, theme.ink);
                        write_on(scene, theme, words, on_paper, x0, x1, y1);
                    }
                }
            }
        }
    }
}

/// A share as a whole percentage that never rounds something down to nothing.
fn share_text(share: f64) -> String {
    if share > 0.0 && share < 0.01 { "under 1 %".to_owned() } else { format!("{:.0} %", share * 100.0) }
}

fn fits(words: &str, theme: &Theme, x0: f64, x1: f64) -> bool {
    text_width(words, theme.sizes.axis, Face::Regular) + 6.0 <= x1 - x0
}

fn write_on(scene: &mut Scene, theme: &Theme, words: &str, ink: RibbonInk, x0: f64, x1: f64, y1: f64) {
    let text = Text {
        at: (f64::midpoint(x0, x1), y1 - 3.5),
        align: Align::Center,
        text: words.to_owned(),
        size_px: theme.sizes.axis,
        face: Face::Regular,
        ink: ink.text,
    };
    if ink.pattern != Pattern::Plain {
        let b = text.bounds();
        scene.rect(Rect::new(b.x0 - 3.0, y1 - RIBBON_PX, b.x1 + 3.0, y1), ink.fill);
    }
    scene.text(text);
}

/// Fills a box with the look of a state; one of lines has an outline, or its ends would be lost on paper.
pub(super) fn fill(scene: &mut Scene, r: Rect, ink: RibbonInk) {
    if ink.pattern == Pattern::Plain || r.width() < 3.0 {
        // A sliver has no room for lines: it takes their colour.
        scene.rect(r, if ink.pattern == Pattern::Plain { ink.fill } else { ink.line.ink });
        return;
    }
    pattern::fill(scene, r, ink.fill, ink.pattern, ink.line);
    let corners = [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1), (r.x0, r.y0)];
    for side in corners.windows(2) {
        scene.line(side[0], side[1], Stroke { width_px: 1.0, ..ink.line });
    }
}

/// Upright teeth: switchings too close to draw one by one.
pub(super) fn comb(scene: &mut Scene, theme: &Theme, r: Rect, ink: Ink) {
    pattern::fill(scene, r, theme.ribbons.idle.fill, Pattern::Upright(3.0), Stroke::solid(ink, 1.0));
}

impl Lane {
    /// Height of the lane, logical pixels.
    #[must_use]
    pub fn height_px(&self) -> f64 {
        let events = if self.events.is_some() { super::events::ROW_PX } else { 0.0 };
        self.ribbons.len() as f64 * (RIBBON_PX + ROW_GAP_PX) + events
    }

    /// Draws ribbons and events with the top at `y`; row names are written left of the plot when asked.
    pub fn draw(&self, scene: &mut Scene, theme: &Theme, time: &TimeScale, y: f64, row_names: bool) {
        let mut top = y;
        let name_row = |scene: &mut Scene, name: &str, baseline: f64| {
            if row_names {
                scene.text(Text {
                    at: (time.x0 - 6.0, baseline),
                    align: Align::Right,
                    text: name.to_owned(),
                    size_px: theme.sizes.axis,
                    face: Face::Regular,
                    ink: theme.ink_soft,
                });
            }
        };
        for ribbon in &self.ribbons {
            name_row(scene, &ribbon.name, top + RIBBON_PX - 3.5);
            ribbon.draw(scene, theme, time, top);
            top += RIBBON_PX + ROW_GAP_PX;
        }
        if let Some(events) = &self.events {
            name_row(scene, "switching", top + 11.0);
            EventRow::new(events, time).draw(scene, theme, time, top, events.is_empty());
        }
    }

    /// Explanations the lane needs where it is drawn at these scales: states whose name finds room in none of them, and
    /// the signs that are drawn in any.
    #[must_use]
    pub fn key(&self, theme: &Theme, scales: &[TimeScale]) -> Vec<KeyItem> {
        let mut items = Vec::new();
        let mut any_merged = false;
        for ribbon in &self.ribbons {
            let mut shown = vec![false; ribbon.states.len()];
            let mut named = vec![false; ribbon.states.len()];
            for piece in scales.iter().flat_map(|time| ribbon.pieces(time)) {
                match piece {
                    Piece::Plain { x0, x1, state } => {
                        shown[state] = true;
                        named[state] |= fits(&ribbon.states[state].name, theme, x0, x1);
                    }
                    Piece::Merged { .. } => any_merged = true,
                }
            }
            for (i, state) in ribbon.states.iter().enumerate() {
                if shown[i] && !named[i] {
                    items.push(KeyItem { mark: KeyMark::State(state.ink), text: state.name.clone() });
                }
            }
        }
        let mut signs = Signs::default();
        let (mut any_block, mut any_short) = (false, false);
        let events: &[Event] = self.events.as_deref().unwrap_or_default();
        for time in scales {
            let row = EventRow::new(events, time);
            row.add_signs(theme, time, &mut signs);
            any_block |= row.has_blocks();
            any_short |= row.counts_are_short(theme, time);
        }
        if any_merged || any_block {
            let count = if any_short { " (9× = on 9 times)" } else { "" };
            items.push(KeyItem {
                mark: KeyMark::Comb,
                text: format!("too many switches to draw{count}; lines there show the band they sweep"),
            });
        }
        items.extend(super::events::key(events, &signs));
        items
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ribbon(segments: Vec<Segment>) -> Ribbon {
        let theme = Theme::light();
        let state = |name: &str, idle| RibbonState { name: name.to_owned(), ink: theme.ribbons.on, idle };
        Ribbon { name: "unit".to_owned(), states: vec![state("off", true), state("on", false)], segments }
    }

    fn hunting(cycles: u32) -> Ribbon {
        let segments = (0..cycles)
            .flat_map(|i| {
                let t = f64::from(i) * 33.0;
                [
                    Segment { start_s: t, end_s: t + 30.0, state: 0 },
                    Segment { start_s: t + 30.0, end_s: t + 33.0, state: 1 },
                ]
            })
            .collect();
        ribbon(segments)
    }

    #[test]
    fn hunting_merges_into_one_block_with_its_share() {
        let time = TimeScale::new(0.0, 6600.0, 0.0, 700.0);
        let pieces = hunting(79).pieces(&time);
        assert_eq!(pieces.len(), 1);
        let Piece::Merged { active: Some((state, share)), .. } = pieces[0] else {
            panic!("not merged: {pieces:?}");
        };
        assert_eq!(state, 1);
        assert!((share - 3.0 / 33.0).abs() < 1e-9);
    }

    #[test]
    fn the_same_hunting_is_drawn_out_when_enlarged() {
        let time = TimeScale::new(0.0, 150.0, 0.0, 700.0);
        assert!(hunting(79).pieces(&time).iter().all(|p| matches!(p, Piece::Plain { .. })));
    }

    #[test]
    fn an_unknown_state_or_empty_ribbon_is_harmless() {
        let time = TimeScale::new(0.0, 10.0, 0.0, 100.0);
        assert!(ribbon(vec![]).pieces(&time).is_empty());
        let odd = Segment { start_s: 0.0, end_s: 5.0, state: 9 };
        assert!(ribbon(vec![odd]).pieces(&time).is_empty());
    }
}
