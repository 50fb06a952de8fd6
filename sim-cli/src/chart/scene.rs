//! A figure as a list of shapes in logical pixels, and its replay on any plotters backend.
//! Figures only build this list, so tests can look at label boxes without rendering.

use crate::printable::visible;
use std::borrow::Cow;

use plotters::style::{FontFamily, FontStyle, IntoFont, TextStyle};
use plotters_backend::text_anchor::{HPos, Pos, VPos};
use plotters_backend::{BackendColor, BackendStyle, DrawingBackend, DrawingErrorKind};

use super::backend::TEXT_SIZE_DIVISOR;
use super::dash::dashes;
use super::font::{self, CAP_HEIGHT_EM, DESCENT_EM, Face, SVG_FAMILY, X_HEIGHT_EM};
use super::size::{Point, Rect, UNITS_PER_PX, units, width_units};
use super::theme::{Dash, Ink, Stroke};

/// Which part of a text its anchor point marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// The anchor is the left end.
    Left,
    /// The anchor is the middle.
    Center,
    /// The anchor is the right end.
    Right,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Anchor: x as `align` says, y the baseline.
    pub at: Point,
    /// Meaning of the anchor's x.
    pub align: Align,
    /// The words.
    pub text: String,
    /// Em height, logical pixels.
    pub size_px: f64,
    /// Weight.
    pub face: Face,
    /// Colour.
    pub ink: Ink,
}

impl Text {
    /// The box from cap height to descender.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let width = font::text_width(&self.text, self.size_px, self.face);
        let x0 = match self.align {
            Align::Left => self.at.0,
            Align::Center => self.at.0 - width / 2.0,
            Align::Right => self.at.0 - width,
        };
        Rect::new(
            x0,
            self.at.1 - CAP_HEIGHT_EM * self.size_px,
            x0 + width,
            self.at.1 + DESCENT_EM * self.size_px,
        )
    }
}

/// Anything that can be drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Open polyline.
    Path {
        /// Corners.
        points: Vec<Point>,
        /// Line style.
        stroke: Stroke,
    },
    /// Filled polygon.
    Fill {
        /// Corners.
        points: Vec<Point>,
        /// Colour.
        ink: Ink,
    },
    /// Filled box, snapped to device pixels.
    Box {
        /// Extent.
        rect: Rect,
        /// Colour.
        ink: Ink,
    },
    /// Filled disc.
    Disc {
        /// Centre.
        center: Point,
        /// Radius.
        radius_px: f64,
        /// Colour.
        ink: Ink,
    },
    /// One line of text.
    Text(Text),
}

/// Shapes in drawing order.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Width, logical pixels.
    pub width_px: f64,
    /// Height, logical pixels.
    pub height_px: f64,
    /// Background.
    pub paper: Ink,
    /// What it is, for those who do not see it.
    pub title: String,
    /// What it shows, in a sentence or two with numbers.
    pub desc: String,
    /// Everything drawn, first at the bottom.
    pub shapes: Vec<Shape>,
}

impl Scene {
    /// An empty sheet.
    #[must_use]
    pub fn new(width_px: f64, height_px: f64, paper: Ink) -> Self {
        Self { width_px, height_px, paper, title: String::new(), desc: String::new(), shapes: Vec::new() }
    }

    /// Adds a polyline; fewer than two points draw nothing.
    pub fn path(&mut self, points: Vec<Point>, stroke: Stroke) {
        if points.len() > 1 {
            self.shapes.push(Shape::Path { points, stroke });
        }
    }

    /// Adds a straight line.
    pub fn line(&mut self, a: Point, b: Point, stroke: Stroke) {
        self.path(vec![a, b], stroke);
    }

    /// Adds a filled polygon.
    pub fn fill(&mut self, points: Vec<Point>, ink: Ink) {
        if points.len() > 2 {
            self.shapes.push(Shape::Fill { points, ink });
        }
    }

    /// Adds a filled box.
    pub fn rect(&mut self, rect: Rect, ink: Ink) {
        self.shapes.push(Shape::Box { rect, ink });
    }

    /// Adds a filled disc.
    pub fn disc(&mut self, center: Point, radius_px: f64, ink: Ink) {
        self.shapes.push(Shape::Disc { center, radius_px, ink });
    }

    /// Adds one line of text; of what strangers wrote only what can be seen.
    pub fn text(&mut self, mut text: Text) {
        if let Cow::Owned(shown) = visible(&text.text) {
            text.text = shown;
        }
        if !text.text.is_empty() {
            self.shapes.push(Shape::Text(text));
        }
    }

    /// All the texts, in drawing order.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.shapes.iter().filter_map(|s| match s {
            Shape::Text(t) => Some(t),
            _ => None,
        })
    }

    /// Size in the units a backend must report.
    #[must_use]
    pub fn size_units(&self) -> (u32, u32) {
        ((self.width_px * UNITS_PER_PX).round() as u32, (self.height_px * UNITS_PER_PX).round() as u32)
    }

    /// Replays every shape on a backend whose size is [`Scene::size_units`].
    ///
    /// # Errors
    /// Whatever the backend reports.
    pub fn draw<DB: DrawingBackend>(&self, backend: &mut DB) -> Result<(), DrawingErrorKind<DB::ErrorType>> {
        backend.ensure_prepared()?;
        for shape in &self.shapes {
            match shape {
                Shape::Path { points, stroke } => draw_path(backend, points, *stroke)?,
                Shape::Fill { points, ink } => {
                    backend.fill_polygon(points.iter().map(|&p| unit_point(p)), &ink.backend())?;
                }
                Shape::Box { rect, ink } => backend.draw_rect(
                    unit_point((rect.x0, rect.y0)),
                    unit_point((rect.x1, rect.y1)),
                    &ink.backend(),
                    true,
                )?,
                Shape::Disc { center, radius_px, ink } => {
                    backend.draw_circle(unit_point(*center), width_units(*radius_px), &ink.backend(), true)?
                }
                Shape::Text(text) => draw_text(backend, text)?,
            }
        }
        backend.present()
    }
}

fn unit_point((x, y): Point) -> (i32, i32) {
    (units(x), units(y))
}

struct Pencil {
    color: BackendColor,
    width_units: u32,
}

impl BackendStyle for Pencil {
    fn color(&self) -> BackendColor {
        self.color
    }

    fn stroke_width(&self) -> u32 {
        self.width_units
    }
}

fn draw_path<DB: DrawingBackend>(
    backend: &mut DB,
    points: &[Point],
    stroke: Stroke,
) -> Result<(), DrawingErrorKind<DB::ErrorType>> {
    let pencil = Pencil { color: stroke.ink.backend(), width_units: width_units(stroke.width_px) };
    if stroke.dash == Dash::Solid {
        return backend.draw_path(points.iter().map(|&p| unit_point(p)), &pencil);
    }
    for piece in dashes(points, stroke.dash.pattern_px()) {
        backend.draw_path(piece.into_iter().map(unit_point), &pencil)?;
    }
    Ok(())
}

fn draw_text<DB: DrawingBackend>(
    backend: &mut DB,
    text: &Text,
) -> Result<(), DrawingErrorKind<DB::ErrorType>> {
    let weight = match text.face {
        Face::Regular => FontStyle::Normal,
        Face::Bold => FontStyle::Bold,
    };
    let size = text.size_px * UNITS_PER_PX * TEXT_SIZE_DIVISOR;
    let mut style = TextStyle::from((FontFamily::Name(SVG_FAMILY), size, weight).into_font());
    style.color = text.ink.backend();
    let h_pos = match text.align {
        Align::Left => HPos::Left,
        Align::Center => HPos::Center,
        Align::Right => HPos::Right,
    };
    style.pos = Pos::new(h_pos, VPos::Center);
    // `Center` puts the middle of the x-height on the point: shift so that the baseline meets ours.
    let y = text.at.1 - 0.5 * X_HEIGHT_EM * text.size_px;
    backend.draw_text(&text.text, &style, unit_point((text.at.0, y)))
}
