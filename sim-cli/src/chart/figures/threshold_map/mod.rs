//! A threshold map: how a unit behaves for every pair of thresholds, borders, contours, closed forms, the setting.

mod contours;
mod key;
mod names;
mod view;

use super::super::font::{Face, text_width};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Point, Rect};
use super::super::theme::{Dash, Ink, Stroke, Theme};
use super::super::x_axis;
use super::sheet::{self, Heading};
use sim_core::study::Region;
use sim_core::study::threshold_map::ThresholdMap;
use view::View;

/// What is drawn, for those who do not see it.
const SHOWS: &str = "What a vehicle comes to with each pair of turn-on and turn-off volts.";

/// A line over the map.
#[derive(Debug, Clone, PartialEq)]
pub struct MapLine {
    /// Its name in the key.
    pub name: String,
    /// Points: turn-off and turn-on voltage.
    pub points: Vec<(f64, f64)>,
    /// A guide and no border: thinner.
    pub guide: bool,
}

/// The setting: turn-off and turn-on voltage, and the nearest point of a border.
pub type Setting = ((f64, f64), Option<(f64, f64)>);

/// Everything the picture shows.
pub struct MapData<'a> {
    /// Title, answer and footer.
    pub heading: Heading,
    /// The map.
    pub map: &'a ThresholdMap,
    /// Closed forms.
    pub lines: Vec<MapLine>,
    /// The setting: turn-off and turn-on voltage, and the nearest point of a border.
    pub setting: Option<Setting>,
}

/// One map among several.
pub struct SmallMap {
    /// The condition.
    pub name: String,
    /// The map.
    pub map: ThresholdMap,
}

const KEY_PX: f64 = 196.0;
const LEFT_PX: f64 = 44.0;

/// Fill of a behaviour, light enough that lines and words stand out on it.
fn fill(theme: &Theme, region: Region) -> Ink {
    // Each step of grey print is darker than the one before it.
    let ink = match region {
        Region::Good => Ink::hex(0xE8_F4E4),
        Region::StartUpCycles => Ink::hex(0xF3_DA8C),
        Region::ComesBack => Ink::hex(0xA6_C8EC),
        Region::OtherTrouble => Ink::hex(0xCE_A070),
        Region::RunsOn => Ink::hex(0x66_96D2),
        Region::Hunts => Ink::hex(0xCC_5E2A),
        Region::NeverStarts => Ink::hex(0x62_6262),
        Region::Danger => Ink::hex(0x8C_1C30),
    };
    if theme.paper.grey() < 128.0 { ink.mixed(theme.paper, 0.45) } else { ink }
}

/// Builds the picture.
#[must_use]
pub fn threshold_map(data: &MapData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, &data.heading, SHOWS);
    // A small sheet has no room for a key: the regions bear their names, and lines that nothing explains are left out.
    let key_px = if theme.small { 4.0 } else { KEY_PX };
    let plot = Rect::new(body.x0 + LEFT_PX, body.y0 + 20.0, body.x1 - key_px, body.y1 - x_axis::BELOW_PX);
    let view = View::new(data.map, plot);
    view.ground(&mut scene, theme);
    let contours = if theme.small { Vec::new() } else { view.contours(&mut scene, theme) };
    view.borders(&mut scene, theme, 1.6);
    for (n, line) in data.lines.iter().enumerate().filter(|_| !theme.small) {
        view.path(&mut scene, &line.points, stroke(theme, n, line.guide));
    }
    view.hatch(&mut scene, theme);
    view.axes(&mut scene, theme, true);
    // Words come last, where no line is.
    let mut lines: Vec<Vec<Point>> = view.border_lines().map(|(a, b)| vec![a, b]).collect();
    let forms = data.lines.iter().filter(|_| !theme.small);
    lines.extend(forms.map(|line| line.points.iter().map(|p| view.at(*p)).collect()));
    let mut taken: Vec<Rect> = view.setting(&mut scene, theme, data.setting).into_iter().collect();
    view.names(&mut scene, theme, &lines, &mut taken);
    view.values(&mut scene, theme, &contours, &lines, &mut taken);
    if !theme.small {
        key::draw(&mut scene, theme, data, Rect::new(plot.x1 + 14.0, plot.y0, body.x1, plot.y1));
    }
    scene
}

/// Builds the sheet of small maps: one below the other, four in a row.
#[must_use]
pub fn small_maps(
    heading: &Heading,
    maps: &[SmallMap],
    setting: (f64, f64),
    theme: &Theme,
    size: FigureSize,
) -> Scene {
    let (mut scene, body) = sheet::begin(size, theme, heading, SHOWS);
    let most = if theme.small { 2 } else { 4 };
    let columns = most.min(maps.len().max(1));
    let maps = if theme.small { &maps[..columns.min(maps.len())] } else { maps };
    let rows = maps.len().div_ceil(columns).max(1);
    let width = |region: Region| 34.0 + text_width(region.words(), theme.sizes.axis, Face::Regular);
    let (from_x, mut key_lines, mut used) = (body.x0 + if theme.small { 0.0 } else { 34.0 }, 1.0, 0.0);
    for region in Region::ALL {
        if from_x + used + width(region) - 16.0 > body.x1 && used > 0.0 {
            (key_lines, used) = (key_lines + 1.0, 0.0);
        }
        used += width(region);
    }
    let mut key_y = body.y1 - 8.0 - 14.0 * (key_lines - 1.0);
    let (w, h) = (body.width() / columns as f64, (body.height() - 6.0 - 14.0 * key_lines) / rows as f64);
    for (n, one) in maps.iter().enumerate() {
        let (x, y) = (body.x0 + (n % columns) as f64 * w, body.y0 + (n / columns) as f64 * h);
        let plot = Rect::new(x + 34.0, y + 18.0, x + w - 8.0, y + h - 34.0);
        let view = View::new(&one.map, plot);
        view.ground(&mut scene, theme);
        view.borders(&mut scene, theme, 1.1);
        view.hatch(&mut scene, theme);
        view.axes(&mut scene, theme, false);
        let _ = view.setting(&mut scene, theme, Some((setting, None)));
        words(
            &mut scene,
            (plot.x0, y + 12.0),
            Align::Left,
            &one.name,
            theme.sizes.axis,
            Face::Bold,
            theme.ink,
        );
    }
    let mut x = from_x;
    for region in Region::ALL {
        if x + width(region) - 16.0 > body.x1 && x > from_x {
            (x, key_y) = (from_x, key_y + 14.0);
        }
        key::swatch(&mut scene, theme, (x, key_y), region);
        words(
            &mut scene,
            (x + 18.0, key_y),
            Align::Left,
            region.words(),
            theme.sizes.axis,
            Face::Regular,
            theme.ink,
        );
        x += width(region);
    }
    scene
}

fn stroke(theme: &Theme, n: usize, guide: bool) -> Stroke {
    let dash = [Dash::Long, Dash::Chain, Dash::Short, Dash::Dot][n % 4];
    let width = if guide { 1.0 } else { 2.0 };
    Stroke::dashed(
        if guide { theme.ink_soft } else { theme.ink },
        width,
        if guide { Dash::Dot } else { dash },
    )
}

fn words(scene: &mut Scene, at: Point, align: Align, text: &str, size_px: f64, face: Face, ink: Ink) {
    scene.text(Text { at, align, text: text.to_owned(), size_px, face, ink });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regions_stay_apart_in_grey_print() {
        let grey = |region| fill(&Theme::light(), region).grey();
        for (n, a) in Region::ALL.into_iter().enumerate() {
            for b in Region::ALL.into_iter().skip(n + 1) {
                let apart = (grey(a) - grey(b)).abs();
                assert!(apart > 18.0, "{a:?} and {b:?} look alike in grey: {apart:.0} apart");
            }
        }
    }
}
