//! A few minutes under the glass: volts and amps of one turn-on, or of one period of a unit that cycles.

use super::super::panel::Marker;
use super::super::scene::Scene;
use super::super::size::{FigureSize, Rect};
use super::super::theme::Theme;
use super::super::time_axis::TimeScale;
use super::ladder::{LadderData, amps_panel, volts_panel};
use super::sheet::{self, Foot, LEFT_PX};

/// A step worth words, on the input voltage.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// When, seconds.
    pub time_s: f64,
    /// Volts at the unit's input.
    pub input_v: f64,
    /// The words; a line feed starts a new line.
    pub text: String,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GlassData {
    /// Volts, amps, states and events; its timeline covers the window alone.
    pub ladder: LadderData,
    /// Steps in order of importance.
    pub steps: Vec<Step>,
}

const END_LABEL_PX: f64 = 172.0;

/// Builds the picture.
#[must_use]
pub fn glass(data: &GlassData, theme: &Theme, size: FigureSize) -> Scene {
    let ladder = &data.ladder;
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &ladder.heading,
        "Volts and amps of a short stretch, enlarged, with what the unit does at each step.",
    );
    let (x0, x1) = (body.x0 + LEFT_PX - 16.0, body.x1 - END_LABEL_PX);
    let time = TimeScale::new(ladder.timeline.start_s, ladder.timeline.end_s, x0, x1);
    let clock = &ladder.timeline.clock;
    let ticks = time.ticks(clock, theme.sizes.axis);
    let lane = ladder.timeline.lane(theme);
    let foot = Foot::measure(theme, body, &lane, clock, &[time]);
    let mut volts = volts_panel(ladder, theme);
    volts.markers = data
        .steps
        .iter()
        .map(|s| Marker { time_s: s.time_s, value: s.input_v, foot: None, text: s.text.clone() })
        .collect();
    let panels = [(volts, 1.7), (amps_panel(ladder, theme), 1.0)];
    let area = Rect::new(x0, body.y0, x1, foot.lane_y);
    sheet::stack(&mut scene, theme, &panels, area, (&time, &ticks, clock), END_LABEL_PX);
    foot.draw(&mut scene, theme, &time, &ticks, true);
    scene
}
