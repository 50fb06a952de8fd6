//! One bar per drive: waiting, bulk, absorption, float, on one scale of minutes, with why each ended.

use super::super::font::{Face, fit, wrap};
use super::super::key::{self, KeyItem, KeyMark};
use super::super::lane::{RIBBON_PX, Ribbon, RibbonState, Segment};
use super::super::scale::figure;
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Stroke, Theme};
use super::super::time_axis::TimeScale;
use super::super::x_axis;
use super::sheet::{self, Heading};
use super::timeline::{Span, StageState};

/// What is drawn, for those who do not see it.
const SHOWS: &str = "A bar for each drive: waiting, bulk, absorption, float, in minutes since key-on.";

/// One drive: from key-on until the unit is off after key-off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DriveBar {
    /// Which drive, and when.
    pub name: String,
    /// Stages, in seconds since key-on.
    pub stages: Vec<Span<StageState>>,
    /// Key-off, seconds since key-on; `None` where the run ends first.
    pub key_off_s: Option<f64>,
    /// Changes of stage while driving: seconds since key-on, and why.
    pub changes: Vec<(f64, String)>,
    /// How the drive ended, and drop-outs, in words.
    pub ended: String,
    /// Charge out of the unit while driving, Ah.
    pub output_ah: f64,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StageData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Drives in order.
    pub drives: Vec<DriveBar>,
}

const NAMES_PX: f64 = 108.0;

/// Height of one line of words under a bar.
const LINE_PX: f64 = 15.5;

impl DriveBar {
    fn minutes(&self) -> f64 {
        self.stages.last().map_or(0.0, |s| s.end_s).max(self.key_off_s.unwrap_or(0.0)) / 60.0
    }

    /// Height with every change on a line of its own below the bar.
    fn roomy_px(&self) -> f64 {
        RIBBON_PX + 12.0 + (1 + self.changes.len()) as f64 * LINE_PX + 8.0
    }

    fn outcome(&self) -> String {
        format!("{} Ah out of the unit; {}", figure(self.output_ah, 1), self.ended)
    }
}

/// Most space between two bars, logical pixels.
const MOST_AIR_PX: f64 = 26.0;

/// Builds the picture: few drives with words below their bars, many with words beside them.
#[must_use]
pub fn stages(data: &StageData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, mut body) = sheet::begin(size, theme, &data.heading, SHOWS);
    if data.drives.is_empty() {
        sheet::nothing(&mut scene, theme, body, "no drive: the engine never runs");
        return scene;
    }
    let longest = data.drives.iter().map(DriveBar::minutes).fold(1e-3, f64::max);
    // One line of key is the least; a second one is rare and is paid for below.
    let around_px = 18.0 + 2.0 * key::LINE_PX + x_axis::BELOW_PX + 2.0;
    let needed: f64 = data.drives.iter().map(DriveBar::roomy_px).sum();
    // A few bars on a tall sheet would look like a picture that broke off: the sheet is no taller than they need.
    let spare = body.height() - around_px - needed - MOST_AIR_PX * data.drives.len() as f64;
    if spare > 0.0 {
        let size = FigureSize { height_px: size.height_px - spare, ..size };
        (scene, body) = sheet::begin(size, theme, &data.heading, SHOWS);
    }
    let top = body.y0 + 18.0;
    let room = body.height() - around_px;
    let roomy = needed <= room;
    let words_px = match (roomy, theme.small) {
        (true, _) | (_, true) => 0.20 * body.width(),
        _ => 0.36 * body.width(),
    };
    let names_px = if theme.small { 84.0 } else { NAMES_PX };
    let (x0, x1) = (body.x0 + names_px, body.x1 - words_px - 14.0);
    let scale = TimeScale::new(0.0, longest, x0, x1);
    let items = key_items(theme, data);
    let key_px = key::line_count(&items, theme, body.width()) as f64 * key::LINE_PX;
    let bottom = body.y1 - key_px - x_axis::BELOW_PX - 2.0;

    let most = (((bottom - top) / 20.0).floor() as usize).max(2);
    let shown = pick(data.drives.len(), most);
    let air = if roomy { ((room - needed) / data.drives.len() as f64).min(MOST_AIR_PX) } else { 0.0 };
    let even = ((bottom - top) / shown.len() as f64).min(44.0);
    let height = |index: &Option<usize>| match index {
        Some(i) if roomy => data.drives[*i].roomy_px() + air,
        _ => even,
    };
    let used = top + shown.iter().map(height).sum::<f64>();
    let rows = Rows { theme, scale, body, words_px, names_px };
    rows.text(&mut scene, (body.x0, body.y0 + 10.0), "Drive", Face::Bold, names_px - 8.0);
    rows.text(&mut scene, (x0, body.y0 + 10.0), "What the unit does after key-on", Face::Bold, x1 - x0);
    if !roomy {
        let head = if theme.small { "Out of the unit" } else { "Out of the unit, and why stages ended" };
        rows.text(&mut scene, (x1 + 14.0, body.y0 + 10.0), head, Face::Bold, words_px);
    }
    let ticks = x_axis::round_ticks(&scale, theme.sizes.axis);
    for tick in &ticks {
        let x = scale.x(tick.time_s);
        scene.line((x, top), (x, used), theme.grid);
    }
    let mut y = top;
    for index in &shown {
        match index {
            Some(i) if roomy => rows.drive_and_words_below(&mut scene, &data.drives[*i], y),
            Some(i) => rows.drive_and_words_beside(&mut scene, &data.drives[*i], y, even),
            None => {
                let skipped = data.drives.len() + 1 - shown.len();
                let words = format!("{skipped} drives between are not shown");
                rows.text(&mut scene, (body.x0, y + 14.0), &words, Face::Regular, x1 - body.x0);
            }
        }
        y += height(index);
    }
    x_axis::draw(&mut scene, theme, &scale, &ticks, used, "minutes since key-on");
    key::draw(&mut scene, theme, &items, (body.x0, body.y1 - key_px), body.width());
    scene
}

/// Which drives are shown: all, or the first and the last with a gap between.
fn pick(count: usize, most: usize) -> Vec<Option<usize>> {
    if count <= most {
        return (0..count).map(Some).collect();
    }
    let tail = (most - 1) / 2;
    let head = most - 1 - tail;
    (0..head).map(Some).chain([None]).chain((count - tail..count).map(Some)).collect()
}

struct Rows<'t> {
    theme: &'t Theme,
    scale: TimeScale,
    body: Rect,
    words_px: f64,
    names_px: f64,
}

impl Rows<'_> {
    fn text(&self, scene: &mut Scene, at: (f64, f64), words: &str, face: Face, width: f64) {
        let sizes = &self.theme.sizes;
        let size_px = if face == Face::Bold { sizes.panel } else { sizes.axis };
        let text = fit(words, size_px, face, width);
        scene.text(Text { at, align: Align::Left, text, size_px, face, ink: self.theme.ink });
    }

    /// The bar with its name and its key-off; returns the top of the bar and the baseline beside it.
    fn bar(&self, scene: &mut Scene, drive: &DriveBar, y: f64) -> (f64, f64) {
        let theme = self.theme;
        let (top, base) = (y + 5.0, y + 5.0 + RIBBON_PX - 3.5);
        self.text(scene, (self.body.x0, base), &drive.name, Face::Regular, self.names_px - 8.0);
        ribbon(theme, drive).draw(scene, theme, &self.scale, top);
        if let Some(key_off_s) = drive.key_off_s {
            let x = self.scale.x_clamped(key_off_s / 60.0);
            scene.line((x, top - 3.0), (x, top + RIBBON_PX + 3.0), Stroke::solid(theme.ink, 1.8));
        }
        (top, base)
    }

    fn drive_and_words_beside(&self, scene: &mut Scene, drive: &DriveBar, y: f64, pitch: f64) {
        let (_, base) = self.bar(scene, drive, y);
        let size_px = self.theme.sizes.axis;
        let changes = drive.changes.iter().map(|c| format!("; {}", c.1)).collect::<String>();
        let words = match self.theme.small {
            true => format!("{} Ah", figure(drive.output_ah, 1)),
            false => format!("{} Ah{changes}; {}", figure(drive.output_ah, 1), drive.ended),
        };
        let lines = ((pitch - 5.0) / (1.25 * size_px)).floor().clamp(1.0, 3.0) as usize;
        for (n, line) in wrap(&words, size_px, Face::Regular, self.words_px, lines).iter().enumerate() {
            let at = (self.scale.x1 + 14.0, base + n as f64 * 1.25 * size_px);
            self.text(scene, at, line, Face::Regular, self.words_px);
        }
    }

    /// The last change is on the first line and the first on the last: no leader crosses words.
    fn drive_and_words_below(&self, scene: &mut Scene, drive: &DriveBar, y: f64) {
        let theme = self.theme;
        let (top, _) = self.bar(scene, drive, y);
        let mut base = top + RIBBON_PX + 15.0;
        for (at_s, words) in drive.changes.iter().rev() {
            let x = self.scale.x_clamped(at_s / 60.0);
            scene.line((x, top + RIBBON_PX), (x, base + 2.0), theme.leader);
            self.patch(scene, (x + 3.0, base), words);
            base += LINE_PX;
        }
        self.patch(scene, (self.scale.x0, base), &drive.outcome());
    }

    /// Words on paper of their own: grid lines pass behind them.
    fn patch(&self, scene: &mut Scene, at: (f64, f64), words: &str) {
        let size_px = self.theme.sizes.label;
        // The last part goes first where not all has room.
        let wide = |text: &str| super::super::font::text_width(text, size_px, Face::Regular);
        let mut words = words;
        while wide(words) > self.body.x1 - at.0
            && let Some((rest, _)) = words.rsplit_once([';', ','])
        {
            words = rest;
        }
        let text = fit(words, size_px, Face::Regular, self.body.x1 - at.0);
        let text = Text { at, align: Align::Left, text, size_px, face: Face::Regular, ink: self.theme.ink };
        scene.rect(text.bounds().grown(1.5), self.theme.halo);
        scene.text(text);
    }
}

fn looks(theme: &Theme) -> Vec<RibbonState> {
    let r = &theme.ribbons;
    [
        ("waiting", r.idle, true),
        ("bulk", r.bulk, false),
        ("absorption", r.absorption, false),
        ("float", r.float, false),
    ]
    .into_iter()
    .map(|(name, ink, idle)| RibbonState { name: name.to_owned(), ink, idle })
    .collect()
}

fn ribbon(theme: &Theme, drive: &DriveBar) -> Ribbon {
    let index = |s: StageState| match s {
        StageState::Waiting => 0,
        StageState::Bulk => 1,
        StageState::Absorption => 2,
        StageState::Float => 3,
    };
    let segments = drive
        .stages
        .iter()
        .map(|s| Segment { start_s: s.start_s / 60.0, end_s: s.end_s / 60.0, state: index(s.state) })
        .collect();
    Ribbon { name: String::new(), states: looks(theme), segments }
}

/// What each look in the bars means.
fn key_items(theme: &Theme, data: &StageData) -> Vec<KeyItem> {
    let there = |state| data.drives.iter().any(|d| d.stages.iter().any(|s| s.state == state));
    let says = [
        (StageState::Waiting, "waiting: the unit is off"),
        (StageState::Bulk, "bulk: all the current it can give"),
        (StageState::Absorption, "absorption: volts held, current falls"),
        (StageState::Float, "float: full, volts held lower"),
    ];
    // A small sheet has room for the words alone.
    let words = |text: &str| match theme.small {
        true => text.split(':').next().unwrap_or_default().to_owned(),
        false => text.to_owned(),
    };
    let states = says.into_iter().zip(looks(theme)).filter(|((state, _), _)| there(*state));
    let mut items: Vec<KeyItem> = states
        .map(|((_, text), look)| KeyItem { mark: KeyMark::State(look.ink), text: words(text) })
        .collect();
    if data.drives.iter().any(|d| d.key_off_s.is_some()) {
        items.push(KeyItem { mark: KeyMark::Letter('|'), text: "key-off".to_owned() });
    }
    if data.drives.iter().any(|d| d.stages.len() > 12) {
        items.push(KeyItem { mark: KeyMark::Comb, text: "on and off too often to draw".to_owned() });
    }
    items
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_drives_show_the_first_and_the_last() {
        assert_eq!(pick(3, 5), vec![Some(0), Some(1), Some(2)]);
        let shown = pick(100, 5);
        assert_eq!(shown, vec![Some(0), Some(1), None, Some(98), Some(99)]);
    }
}
