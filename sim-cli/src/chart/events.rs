//! The row of switch events: one tick per switch with the reason as a letter.
//! Letters are thinned where they would touch; dense stretches become a block with their count.

use super::font::{Face, text_width};
use super::key::{KeyItem, KeyMark};
use super::labels::thin_row;
use super::lane::comb;
use super::scene::{Align, Scene, Text};
use super::size::Rect;
use super::theme::{Stroke, Theme};
use super::time_axis::TimeScale;

/// Height of the row, logical pixels.
pub const ROW_PX: f64 = 25.0;

/// Neighbours closer than this belong to one cluster.
const CLUSTER_GAP_PX: f64 = 7.0;
/// Fewest events of a cluster that are drawn as a block.
const BLOCK_FROM: usize = 20;

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventKind {
    /// The unit came on.
    On,
    /// The unit dropped out with the engine running.
    Off,
    /// The unit went off with the engine stopped, as it should.
    Stopped,
    /// Anything else worth a tick, such as a change of stage.
    Mark,
}

/// One switch event.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// When.
    pub time_s: f64,
    /// What.
    pub kind: EventKind,
    /// Letter of the reason, if it has one.
    pub letter: Option<char>,
    /// What the letter stands for, in a few words.
    pub meaning: String,
}

/// Events of one window grouped by how close they fall.
pub(super) struct EventRow<'e> {
    clusters: Vec<Vec<(&'e Event, f64)>>,
}

impl<'e> EventRow<'e> {
    pub(super) fn new(events: &'e [Event], time: &TimeScale) -> Self {
        let mut inside: Vec<(&Event, f64)> = events
            .iter()
            .filter(|e| (time.from_s..=time.to_s).contains(&e.time_s))
            .map(|e| (e, time.x(e.time_s)))
            .collect();
        inside.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut clusters: Vec<Vec<(&Event, f64)>> = Vec::new();
        for (event, x) in inside {
            match clusters.last_mut() {
                Some(c) if c.last().is_some_and(|l| x - l.1 < CLUSTER_GAP_PX) => c.push((event, x)),
                _ => clusters.push(vec![(event, x)]),
            }
        }
        Self { clusters }
    }

    pub(super) fn has_blocks(&self) -> bool {
        self.blocks().next().is_some()
    }

    fn blocks(&self) -> impl Iterator<Item = &Vec<(&'e Event, f64)>> {
        self.clusters.iter().filter(|c| c.len() >= BLOCK_FROM)
    }

    /// Whether the full counts would touch, so that every block says only "9×".
    pub(super) fn counts_are_short(&self, theme: &Theme, time: &TimeScale) -> bool {
        let boxes: Vec<(f64, f64, u32)> = self
            .blocks()
            .map(|c| {
                let width = text_width(&count_text(c), theme.sizes.axis, Face::Bold);
                (slid(middle(c), width, time), width, 0)
            })
            .collect();
        thin_row(&boxes, 2.5).contains(&false)
    }

    pub(super) fn draw(&self, scene: &mut Scene, theme: &Theme, time: &TimeScale, y: f64, none_at_all: bool) {
        let size_px = theme.sizes.axis;
        if none_at_all {
            scene.text(Text {
                at: (time.x0 + 4.0, y + 11.0),
                align: Align::Left,
                text: "no switch events".to_owned(),
                size_px,
                face: Face::Regular,
                ink: theme.ink_soft,
            });
            return;
        }
        scene.line((time.x0, y + 8.0), (time.x1, y + 8.0), theme.grid);
        for cluster in &self.clusters {
            if cluster.len() >= BLOCK_FROM {
                let (x0, x1) = (cluster[0].1, cluster[cluster.len() - 1].1);
                let block = Rect::new(x0 - 1.0, y, x1 + 1.0, y + 10.0);
                comb(scene, theme, block, theme.ink_soft);
                continue;
            }
            for (event, x) in cluster {
                wedge(scene, theme, event.kind, *x, y);
            }
        }
        for label in self.labels(theme, time) {
            scene.text(Text {
                at: (label.x, y + 20.0),
                align: Align::Center,
                text: label.text,
                size_px,
                face: Face::Bold,
                ink: theme.ink,
            });
        }
    }

    /// The letters and counts that find room.
    fn labels(&self, theme: &Theme, time: &TimeScale) -> Vec<Label> {
        let short = self.counts_are_short(theme, time);
        let mut labels = Vec::new();
        let mut boxes: Vec<(f64, f64, u32)> = Vec::new();
        let mut put = |text: String, x: f64, rank: u32, letter: Option<char>| {
            let width = text_width(&text, theme.sizes.axis, Face::Bold);
            let x = if rank == 0 { slid(x, width, time) } else { x };
            boxes.push((x, width, rank));
            labels.push(Label { text, x, letter });
        };
        for cluster in &self.clusters {
            if cluster.len() < BLOCK_FROM {
                for (event, x) in cluster {
                    // A drop-out is what a reader looks for first, then what happened but switching.
                    let rank = match event.kind {
                        EventKind::Off => 1,
                        EventKind::On | EventKind::Stopped => 3,
                        EventKind::Mark => 2,
                    };
                    if let Some(letter) = event.letter {
                        put(letter.to_string(), *x, rank, Some(letter));
                    }
                }
            } else if short {
                let on = count(cluster, EventKind::On).max(count(cluster, EventKind::Off));
                put(format!("{}×", if on == 0 { cluster.len() } else { on }), middle(cluster), 0, None);
            } else {
                put(count_text(cluster), middle(cluster), 0, commonest(cluster));
            }
        }
        let keep = thin_row(&boxes, 2.5);
        labels.into_iter().zip(keep).filter_map(|(label, keep)| keep.then_some(label)).collect()
    }

    /// Adds the signs that a reader meets in this row.
    pub(super) fn add_signs(&self, theme: &Theme, time: &TimeScale, signs: &mut Signs) {
        for (event, _) in self.clusters.iter().filter(|c| c.len() < BLOCK_FROM).flatten() {
            signs.up |= event.kind == EventKind::On;
            signs.down |= event.kind == EventKind::Off;
            signs.stopped |= event.kind == EventKind::Stopped;
        }
        signs.letters.extend(self.labels(theme, time).into_iter().filter_map(|l| l.letter));
    }
}

/// A letter or a count under the row.
struct Label {
    text: String,
    x: f64,
    /// The letter in it.
    letter: Option<char>,
}

/// Signs that are drawn somewhere on a sheet.
#[derive(Debug, Default)]
pub(super) struct Signs {
    up: bool,
    down: bool,
    stopped: bool,
    letters: Vec<char>,
}

fn middle(cluster: &[(&Event, f64)]) -> f64 {
    f64::midpoint(cluster[0].1, cluster[cluster.len() - 1].1)
}

/// A label near the edge slides inwards rather than run into the margin.
fn slid(x: f64, width: f64, time: &TimeScale) -> f64 {
    let (low, high) = (time.x0 + width / 2.0, time.x1 - width / 2.0);
    if low < high { x.clamp(low, high) } else { x }
}

fn count(cluster: &[(&Event, f64)], kind: EventKind) -> usize {
    cluster.iter().filter(|(e, _)| e.kind == kind).count()
}

/// The commonest reason for dropping out, else for going off; for anything where the unit neither comes on nor goes off.
fn commonest(cluster: &[(&Event, f64)]) -> Option<char> {
    let kind =
        [EventKind::Off, EventKind::Stopped, EventKind::On].into_iter().find(|k| count(cluster, *k) > 0);
    let kind = kind.unwrap_or(EventKind::Mark);
    // A few letters, and as many events as a run may have; of two as common the one seen last.
    let mut seen: Vec<(char, usize, usize)> = Vec::new();
    let letters = cluster.iter().filter(|(e, _)| e.kind == kind).filter_map(|(e, _)| e.letter);
    for (n, letter) in letters.enumerate() {
        match seen.iter_mut().find(|s| s.0 == letter) {
            Some((_, count, last)) => (*count, *last) = (*count + 1, n),
            None => seen.push((letter, 1, n)),
        }
    }
    seen.into_iter().max_by_key(|&(_, count, last)| (count, last)).map(|s| s.0)
}

/// "79 on/off (V)": how often, and the commonest reason for going off; "24 changes (R)" where the unit does neither.
fn count_text(cluster: &[(&Event, f64)]) -> String {
    let on = count(cluster, EventKind::On);
    let off = count(cluster, EventKind::Off) + count(cluster, EventKind::Stopped);
    let reason = commonest(cluster).map_or(String::new(), |l| format!(" ({l})"));
    if on + off == 0 {
        return format!("{} changes{reason}", cluster.len());
    }
    if on == off { format!("{on} on/off{reason}") } else { format!("{on} on, {off} off{reason}") }
}

/// The mark of one event: a wedge up for on, a wedge down for a drop-out, a hollow one for a stop without the engine, a
/// bar for the rest.
pub(super) fn wedge(scene: &mut Scene, theme: &Theme, kind: EventKind, x: f64, y: f64) {
    let down = [(x, y + 8.0), (x - 3.4, y), (x + 3.4, y)];
    match kind {
        EventKind::On => {
            scene.fill(vec![(x, y), (x - 3.4, y + 8.0), (x + 3.4, y + 8.0)], theme.ribbons.on.fill);
        }
        EventKind::Off => scene.fill(down.to_vec(), theme.fault),
        EventKind::Stopped => {
            scene.fill(down.to_vec(), theme.paper);
            scene.path(vec![down[0], down[1], down[2], down[0]], Stroke::solid(theme.ink_soft, 1.1));
        }
        EventKind::Mark => scene.line((x, y), (x, y + 8.0), Stroke::solid(theme.ink, 1.5)),
    }
}

/// Key of the signs that are drawn of these events.
pub(super) fn key(events: &[Event], signs: &Signs) -> Vec<KeyItem> {
    let mut items = Vec::new();
    for (drawn, mark, text) in [
        (signs.up, KeyMark::Up, "came on"),
        (signs.down, KeyMark::Down, "dropped out"),
        (signs.stopped, KeyMark::Stopped, "went off, engine stopped"),
    ] {
        if drawn {
            items.push(KeyItem { mark, text: text.to_owned() });
        }
    }
    let mut seen: Vec<(char, &str)> = Vec::new();
    for e in events {
        if let Some(letter) = e.letter
            && signs.letters.contains(&letter)
            && !seen.contains(&(letter, &e.meaning))
        {
            seen.push((letter, &e.meaning));
        }
    }
    items.extend(
        seen.into_iter()
            .map(|(letter, meaning)| KeyItem { mark: KeyMark::Letter(letter), text: meaning.to_owned() }),
    );
    items
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cycle(n: u32, period_s: f64) -> Vec<Event> {
        (0..n)
            .flat_map(|i| {
                let t = f64::from(i) * period_s;
                [(t, EventKind::On, None), (t + 3.0, EventKind::Off, Some('V'))]
            })
            .map(|(time_s, kind, letter)| Event { time_s, kind, letter, meaning: "voltage low".to_owned() })
            .collect()
    }

    #[test]
    fn a_dense_stretch_is_one_block_with_its_count() {
        let events = cycle(79, 33.0);
        let row = EventRow::new(&events, &TimeScale::new(0.0, 6600.0, 0.0, 700.0));
        assert_eq!(row.clusters.len(), 1);
        assert!(row.has_blocks());
        assert_eq!(count_text(&row.clusters[0]), "79 on/off (V)");
    }

    #[test]
    fn a_dense_stretch_of_stages_says_changes() {
        let stages: Vec<Event> = (0..24)
            .map(|i| Event {
                time_s: f64::from(i) * 9.0,
                kind: EventKind::Mark,
                letter: Some(if i % 3 == 0 { 'A' } else { 'R' }),
                meaning: String::new(),
            })
            .collect();
        let row = EventRow::new(&stages, &TimeScale::new(0.0, 6600.0, 0.0, 700.0));
        assert_eq!(count_text(&row.clusters[0]), "24 changes (R)");
    }

    /// A row of half a million is told in no time: letters are counted once.
    #[test]
    fn the_commonest_of_a_long_row_is_told_at_once() {
        let mut events = cycle(250_000, 1.0);
        for event in events.iter_mut().skip(1).step_by(4) {
            event.letter = Some('T');
        }
        let row = EventRow::new(&events, &TimeScale::new(0.0, 3e5, 0.0, 700.0));
        let began = std::time::Instant::now();
        // As many of either, and one of the second is the last.
        assert_eq!(commonest(&row.clusters[0]), Some('V'));
        assert!(began.elapsed().as_secs_f64() < 1.0, "{:?}", began.elapsed());
        events.last_mut().expect("some").letter = Some('T');
        let row = EventRow::new(&events, &TimeScale::new(0.0, 3e5, 0.0, 700.0));
        assert_eq!(commonest(&row.clusters[0]), Some('T'));
    }

    #[test]
    fn a_sparse_row_keeps_every_tick() {
        let events = cycle(5, 600.0);
        let row = EventRow::new(&events, &TimeScale::new(0.0, 3600.0, 0.0, 700.0));
        assert!(!row.has_blocks());
        assert_eq!(row.clusters.iter().map(Vec::len).sum::<usize>(), 10);
    }

    fn keyed(events: &[Event], time: &TimeScale) -> Vec<KeyItem> {
        let mut signs = Signs::default();
        EventRow::new(events, time).add_signs(&Theme::light(), time, &mut signs);
        key(events, &signs)
    }

    #[test]
    fn the_key_names_each_letter_once() {
        let items = keyed(&cycle(9, 600.0), &TimeScale::new(0.0, 6600.0, 0.0, 700.0));
        assert_eq!(items.iter().filter(|i| i.mark == KeyMark::Letter('V')).count(), 1);
        assert!(keyed(&[], &TimeScale::new(0.0, 1.0, 0.0, 1.0)).is_empty());
    }

    #[test]
    fn the_key_explains_nothing_that_is_not_drawn() {
        let mut events = cycle(2, 3000.0);
        events[0].letter = Some('T');
        // The turn-on's letter falls under that of the switch-off three seconds later.
        let marks = |to_s| {
            let items = keyed(&events, &TimeScale::new(0.0, to_s, 0.0, 700.0));
            items.into_iter().map(|i| i.mark).collect::<Vec<_>>()
        };
        assert!(!marks(6600.0).contains(&KeyMark::Letter('T')), "{:?}", marks(6600.0));
        assert!(marks(60.0).contains(&KeyMark::Letter('T')));
        // A block shows counts in place of wedges.
        let block = keyed(&cycle(79, 33.0), &TimeScale::new(0.0, 6600.0, 0.0, 700.0));
        let marks: Vec<KeyMark> = block.into_iter().map(|i| i.mark).collect();
        assert_eq!(marks, [KeyMark::Letter('V')]);
    }
}
