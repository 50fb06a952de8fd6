//! Colours, line styles and type sizes of every figure.
//! Each role differs from its neighbours in lightness, weight and dash as well as hue, so grey print works.

use super::pattern::Pattern;
use super::size::FigureSize;
use plotters_backend::BackendColor;

/// A colour with its opacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    /// Red, green, blue.
    pub rgb: (u8, u8, u8),
    /// 0 clear, 1 opaque.
    pub alpha: f64,
}

impl Ink {
    /// Opaque colour from `0xRRGGBB`.
    #[must_use]
    pub const fn hex(code: u32) -> Self {
        Self { rgb: ((code >> 16) as u8, (code >> 8) as u8, code as u8), alpha: 1.0 }
    }

    /// The same colour at another opacity.
    #[must_use]
    pub const fn at(self, alpha: f64) -> Self {
        Self { rgb: self.rgb, alpha }
    }

    /// The colour mixed with a share of another, for text that must read as strongly as a line.
    #[must_use]
    pub fn mixed(self, other: Self, share: f64) -> Self {
        let mix = |a: u8, b: u8| {
            let v = f64::from(a) * (1.0 - share) + f64::from(b) * share;
            v.round().clamp(0.0, 255.0) as u8
        };
        Self {
            rgb: (mix(self.rgb.0, other.rgb.0), mix(self.rgb.1, other.rgb.1), mix(self.rgb.2, other.rgb.2)),
            alpha: self.alpha,
        }
    }

    /// Lightness in grey print, 0 to 255 (Rec. 601 weights).
    #[must_use]
    pub fn grey(self) -> f64 {
        let (r, g, b) = self.rgb;
        0.299 * f64::from(r) + 0.587 * f64::from(g) + 0.114 * f64::from(b)
    }

    /// The colour in the type plotters' backends take.
    #[must_use]
    pub fn backend(self) -> BackendColor {
        BackendColor { alpha: self.alpha, rgb: self.rgb }
    }
}

/// Pattern of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Long dashes.
    Long,
    /// Short dashes.
    Short,
    /// Dots.
    Dot,
    /// Chain line: dash and dot in turn.
    Chain,
}

impl Dash {
    /// Drawn and skipped lengths in turn, logical pixels; empty when unbroken.
    #[must_use]
    pub fn pattern_px(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Long => &[9.0, 3.5],
            Self::Short => &[4.0, 2.8],
            Self::Dot => &[1.2, 2.6],
            Self::Chain => &[7.0, 2.6, 1.2, 2.6],
        }
    }
}

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub ink: Ink,
    /// Width, logical pixels.
    pub width_px: f64,
    /// Pattern.
    pub dash: Dash,
}

impl Stroke {
    /// An unbroken line.
    #[must_use]
    pub const fn solid(ink: Ink, width_px: f64) -> Self {
        Self { ink, width_px, dash: Dash::Solid }
    }

    /// A patterned line.
    #[must_use]
    pub const fn dashed(ink: Ink, width_px: f64, dash: Dash) -> Self {
        Self { ink, width_px, dash }
    }
}

/// Look of a ribbon state and the ink of the name written on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RibbonInk {
    /// Ground.
    pub fill: Ink,
    /// Lines over the ground, which tell states apart without colour.
    pub pattern: Pattern,
    /// The lines.
    pub line: Stroke,
    /// Text; over lines it stands on paper of its own.
    pub text: Ink,
}

impl RibbonInk {
    /// A plain ground.
    #[must_use]
    pub const fn plain(fill: Ink, text: Ink) -> Self {
        Self { fill, pattern: Pattern::Plain, line: Stroke::solid(fill, 1.2), text }
    }

    /// Lines over the paper.
    #[must_use]
    pub const fn lines(paper: Ink, pattern: Pattern, line: Stroke, text: Ink) -> Self {
        Self { fill: paper, pattern, line, text }
    }
}

/// One line style per quantity, the same in every figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roles {
    /// Alternator set-point.
    pub set_point: Stroke,
    /// Alternator.
    pub alternator: Stroke,
    /// Starter battery and its posts.
    pub starter: Stroke,
    /// Input terminals and input cable.
    pub input: Stroke,
    /// Output terminals and output cable.
    pub output: Stroke,
    /// House battery and its posts.
    pub house: Stroke,
    /// The unit itself.
    pub unit: Stroke,
    /// A temperature.
    pub temperature: Stroke,
    /// Turn-on line.
    pub turn_on: Stroke,
    /// Turn-off line.
    pub turn_off: Stroke,
}

/// Fills of the ribbons in the event lane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ribbons {
    /// Nothing happening: off, waiting, parked.
    pub idle: RibbonInk,
    /// Unit on.
    pub on: RibbonInk,
    /// Bulk stage.
    pub bulk: RibbonInk,
    /// Absorption stage.
    pub absorption: RibbonInk,
    /// Float stage.
    pub float: RibbonInk,
    /// Engine cranking.
    pub cranking: RibbonInk,
    /// Engine running.
    pub running: RibbonInk,
}

/// Type sizes (em heights), logical pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypeSizes {
    /// Figure title.
    pub title: f64,
    /// The one-sentence answer.
    pub answer: f64,
    /// Panel titles.
    pub panel: f64,
    /// Names of lines and thresholds, call-outs.
    pub label: f64,
    /// Axis figures, ribbon text, key.
    pub axis: f64,
    /// Footer.
    pub footer: f64,
}

/// Everything that decides the look of a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Theme {
    /// Background.
    pub paper: Ink,
    /// Titles and call-outs.
    pub ink: Ink,
    /// Axis figures and quiet text.
    pub ink_soft: Ink,
    /// Hairline grid.
    pub grid: Stroke,
    /// Midnights in a span of several days.
    pub day: Stroke,
    /// Base lines, zero lines.
    pub axis: Stroke,
    /// Leader lines of labels and call-outs.
    pub leader: Stroke,
    /// Background behind text that crosses lines.
    pub halo: Ink,
    /// Gap above the turn-off line.
    pub gap: Ink,
    /// Below the turn-off line.
    pub shortfall: Ink,
    /// What went wrong: a drop-out, charge that never came.
    pub fault: Ink,
    /// Time window that is enlarged beside the figure.
    pub window: Ink,
    /// Line styles by quantity.
    pub roles: Roles,
    /// Ribbon fills.
    pub ribbons: Ribbons,
    /// Type sizes.
    pub sizes: TypeSizes,
    /// Whether the sheet is small: one panel, few labels, no key.
    pub small: bool,
}

const INK: Ink = Ink::hex(0x1A_1A1A);
const SOFT: Ink = Ink::hex(0x55_5555);
const WHITE: Ink = Ink::hex(0xFF_FFFF);

impl Theme {
    /// Dark ink on white paper, for screens and print.
    #[must_use]
    pub const fn light() -> Self {
        /// All stages: they differ by their lines.
        const STAGE: Ink = Ink::hex(0x56_3350);
        Self {
            paper: WHITE,
            ink: INK,
            ink_soft: SOFT,
            grid: Stroke::solid(Ink::hex(0xDE_DEDE), 0.5),
            day: Stroke::solid(Ink::hex(0xB4_B4B4), 0.5),
            axis: Stroke::solid(Ink::hex(0x8C_8C8C), 0.5),
            leader: Stroke::solid(Ink::hex(0x6E_6E6E), 0.75),
            halo: Ink::hex(0xFF_FFFF).at(0.86),
            gap: Ink::hex(0xF2_B134).at(0.38),
            shortfall: Ink::hex(0xC8_3A12).at(0.72),
            fault: Ink::hex(0xA8_3200),
            window: Ink::hex(0x50_6A85).at(0.10),
            roles: Roles {
                set_point: Stroke::dashed(Ink::hex(0x6A_6A6A), 1.1, Dash::Dot),
                alternator: Stroke::dashed(Ink::hex(0x8A_3F86), 1.3, Dash::Chain),
                starter: Stroke::dashed(Ink::hex(0xC6_4A12), 1.5, Dash::Long),
                input: Stroke::solid(INK, 1.9),
                output: Stroke::solid(Ink::hex(0x0A_9A70), 1.5),
                house: Stroke::dashed(Ink::hex(0x15_64B4), 1.7, Dash::Short),
                unit: Stroke::solid(Ink::hex(0x8A_3F86), 1.9),
                temperature: Stroke::solid(Ink::hex(0x8A_5A22), 1.6),
                turn_on: Stroke::dashed(Ink::hex(0x3A_3A3A), 0.9, Dash::Long),
                turn_off: Stroke::solid(Ink::hex(0xA0_2A0C), 1.0),
            },
            ribbons: Ribbons {
                idle: RibbonInk::plain(Ink::hex(0xF0_F0F0), SOFT),
                on: RibbonInk::plain(Ink::hex(0x0B_6B4F), WHITE),
                bulk: RibbonInk::plain(STAGE, WHITE),
                absorption: RibbonInk::lines(WHITE, Pattern::Rising(5.0), Stroke::solid(STAGE, 2.2), INK),
                float: RibbonInk::lines(WHITE, Pattern::Level(4.6), Stroke::solid(STAGE, 1.1), INK),
                cranking: RibbonInk::plain(INK, WHITE),
                running: RibbonInk::plain(Ink::hex(0x9E_9E9E), INK),
            },
            sizes: TypeSizes {
                title: 18.0,
                answer: 13.5,
                panel: 11.5,
                label: 11.5,
                axis: 10.5,
                footer: 10.0,
            },
            small: false,
        }
    }

    /// The same for a sheet of this size.
    #[must_use]
    pub fn on(self, size: FigureSize) -> Self {
        if !size.is_small() {
            return self;
        }
        let sizes =
            TypeSizes { title: 12.0, answer: 10.5, panel: 10.0, label: 10.0, axis: 10.0, footer: 10.0 };
        Self { sizes, small: true, ..self }
    }

    /// Light ink on dark paper, for slides in a dim room.
    #[must_use]
    pub const fn dark() -> Self {
        const PAPER: Ink = Ink::hex(0x12_161B);
        const LIGHT: Ink = Ink::hex(0xF2_F2F2);
        const QUIET: Ink = Ink::hex(0xB8_BEC5);
        const STAGE: Ink = Ink::hex(0xD9_B7D0);
        Self {
            paper: PAPER,
            ink: LIGHT,
            ink_soft: QUIET,
            grid: Stroke::solid(Ink::hex(0x38_4049), 0.5),
            day: Stroke::solid(Ink::hex(0x5C_666F), 0.5),
            axis: Stroke::solid(Ink::hex(0x84_8D96), 0.5),
            leader: Stroke::solid(Ink::hex(0x9A_A3AC), 0.75),
            halo: PAPER.at(0.86),
            gap: Ink::hex(0xF2_B134).at(0.30),
            shortfall: Ink::hex(0xFF_6034).at(0.78),
            fault: Ink::hex(0xFF_6A2A),
            window: Ink::hex(0x8F_B3D9).at(0.13),
            roles: Roles {
                set_point: Stroke::dashed(Ink::hex(0xB0_B0B0), 1.1, Dash::Dot),
                alternator: Stroke::dashed(Ink::hex(0xD7_9BE0), 1.3, Dash::Chain),
                starter: Stroke::dashed(Ink::hex(0xFF_8A4C), 1.5, Dash::Long),
                input: Stroke::solid(LIGHT, 1.9),
                output: Stroke::solid(Ink::hex(0x2F_CB98), 1.5),
                house: Stroke::dashed(Ink::hex(0x6D_B3FF), 1.7, Dash::Short),
                unit: Stroke::solid(Ink::hex(0xD7_9BE0), 1.9),
                temperature: Stroke::solid(Ink::hex(0xE0_B070), 1.6),
                turn_on: Stroke::dashed(Ink::hex(0xCE_CECE), 0.9, Dash::Long),
                turn_off: Stroke::solid(Ink::hex(0xFF_7A5C), 1.0),
            },
            ribbons: Ribbons {
                idle: RibbonInk::plain(Ink::hex(0x2B_323A), QUIET),
                on: RibbonInk::plain(Ink::hex(0x2F_BF8F), PAPER),
                bulk: RibbonInk::plain(STAGE, PAPER),
                absorption: RibbonInk::lines(PAPER, Pattern::Rising(5.0), Stroke::solid(STAGE, 2.2), LIGHT),
                float: RibbonInk::lines(PAPER, Pattern::Level(4.6), Stroke::solid(STAGE, 1.1), LIGHT),
                cranking: RibbonInk::plain(LIGHT, PAPER),
                running: RibbonInk::plain(Ink::hex(0x6E_747B), WHITE),
            },
            ..Self::light()
        }
    }
}

impl Default for Theme {
    fn default() -> Self {
        Self::light()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_of_one_panel_differ_in_grey_or_in_dash() {
        for r in [Theme::light().roles, Theme::dark().roles] {
            let lines = [r.set_point, r.starter, r.input, r.output, r.house, r.alternator];
            for (i, a) in lines.iter().enumerate() {
                for b in &lines[i + 1..] {
                    let grey = (a.ink.grey() - b.ink.grey()).abs();
                    assert!(a.dash != b.dash || grey > 40.0, "{a:?} and {b:?} look alike in grey");
                }
            }
        }
    }

    #[test]
    fn states_of_one_ribbon_differ_in_grey() {
        for r in [Theme::light().ribbons, Theme::dark().ribbons] {
            let stages = vec![r.idle, r.bulk, r.absorption, r.float];
            for states in [vec![r.idle, r.on], stages, vec![r.idle, r.cranking, r.running]] {
                for (i, a) in states.iter().enumerate() {
                    for b in &states[i + 1..] {
                        let apart = (a.fill.grey() - b.fill.grey()).abs();
                        let lines = a.pattern != b.pattern;
                        assert!(lines || apart > 15.0, "{a:?} and {b:?} look alike in grey");
                    }
                }
            }
        }
    }

    #[test]
    fn text_on_ribbons_has_contrast() {
        for r in [Theme::light().ribbons, Theme::dark().ribbons] {
            for s in [r.idle, r.on, r.bulk, r.absorption, r.float, r.cranking, r.running] {
                assert!((s.fill.grey() - s.text.grey()).abs() > 110.0, "{s:?}");
            }
        }
    }
}
