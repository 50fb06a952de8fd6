//! A plotters backend that paints on a tiny-skia pixmap with anti-aliasing and sub-pixel coordinates.
//! Two-point horizontal or vertical strokes are snapped to device pixels so that rules stay crisp.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind, FontStyle,
    FontTransform,
};
use tiny_skia::{
    FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect as SkRect, Stroke, Transform,
};

use super::font::{self, CAP_HEIGHT_EM, DESCENT_EM, Face, Pen, X_HEIGHT_EM};
use super::size::{FigureSize, UNITS_PER_PX};

/// plotters' own backends draw text at this fraction of the size they are given.
pub const TEXT_SIZE_DIVISOR: f64 = 1.24;

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

/// Paints plotters' drawing calls on an opaque pixmap.
pub struct SkiaBackend {
    pixmap: Pixmap,
    size_units: (u32, u32),
    device_per_unit: f32,
}

impl SkiaBackend {
    /// A backend filled with `paper`; `None` when the size is zero or too large to allocate.
    #[must_use]
    pub fn new(size: FigureSize, paper: BackendColor) -> Option<Self> {
        let device = |px: f64| (px * size.scale).round() as u32;
        let mut pixmap = Pixmap::new(device(size.width_px), device(size.height_px))?;
        pixmap.fill(skia_color(paper));
        Some(Self {
            pixmap,
            size_units: (
                (size.width_px * UNITS_PER_PX).round() as u32,
                (size.height_px * UNITS_PER_PX).round() as u32,
            ),
            device_per_unit: (size.scale / UNITS_PER_PX) as f32,
        })
    }

    /// The finished picture.
    #[must_use]
    pub fn into_pixmap(self) -> Pixmap {
        self.pixmap
    }

    fn device(&self, (x, y): BackendCoord) -> (f32, f32) {
        let k = self.device_per_unit;
        (x as f32 * k, y as f32 * k)
    }

    fn fill(&mut self, path: &Path, color: BackendColor) {
        self.pixmap.fill_path(path, &paint(color), FillRule::Winding, Transform::identity(), None);
    }
}

fn skia_color(c: BackendColor) -> tiny_skia::Color {
    let mut color = tiny_skia::Color::from_rgba8(c.rgb.0, c.rgb.1, c.rgb.2, 255);
    color.set_alpha(c.alpha.clamp(0.0, 1.0) as f32);
    color
}

fn paint(color: BackendColor) -> Paint<'static> {
    let mut paint = Paint { anti_alias: true, ..Paint::default() };
    paint.set_color(skia_color(color));
    paint
}

/// Centre of a stroke `width` device pixels wide that covers whole pixels.
fn snap(value: f32, width: f32) -> f32 {
    if width.round() as u32 % 2 == 1 { value.floor() + 0.5 } else { value.round() }
}

impl DrawingBackend for SkiaBackend {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size_units
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, color: BackendColor) -> Drawn {
        self.draw_rect(point, (point.0 + 1, point.1 + 1), &color, true)
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        if !fill {
            let (a, b) = (upper_left, bottom_right);
            return self.draw_path([a, (b.0, a.1), b, (a.0, b.1), a], style);
        }
        let ((x0, y0), (x1, y1)) = (self.device(upper_left), self.device(bottom_right));
        // A filled box keeps at least one device pixel each way: a short event must not vanish.
        let (left, top) = (x0.round(), y0.round());
        let (right, bottom) = (x1.round().max(left + 1.0), y1.round().max(top + 1.0));
        if let Some(rect) = SkRect::from_ltrb(left, top, right, bottom) {
            self.pixmap.fill_rect(rect, &paint(style.color()), Transform::identity(), None);
        }
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let mut points: Vec<(f32, f32)> = path.into_iter().map(|p| self.device(p)).collect();
        let width = style.stroke_width() as f32 * self.device_per_unit;
        let mut cap = LineCap::Round;
        if let [a, b] = points.as_mut_slice() {
            if a.0 == b.0 {
                a.0 = snap(a.0, width);
                b.0 = a.0;
                cap = LineCap::Butt;
            } else if a.1 == b.1 {
                a.1 = snap(a.1, width);
                b.1 = a.1;
                cap = LineCap::Butt;
            }
        }
        let mut builder = PathBuilder::new();
        for (i, &(x, y)) in points.iter().enumerate() {
            if i == 0 {
                builder.move_to(x, y);
            } else {
                builder.line_to(x, y);
            }
        }
        if let Some(path) = builder.finish() {
            let stroke = Stroke { width, line_cap: cap, line_join: LineJoin::Round, ..Stroke::default() };
            self.pixmap.stroke_path(&path, &paint(style.color()), &stroke, Transform::identity(), None);
        }
        Ok(())
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        center: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn {
        let (x, y) = self.device(center);
        if let Some(path) = PathBuilder::from_circle(x, y, radius as f32 * self.device_per_unit) {
            if fill {
                self.fill(&path, style.color());
            } else {
                let stroke =
                    Stroke { width: style.stroke_width() as f32 * self.device_per_unit, ..Stroke::default() };
                self.pixmap.stroke_path(&path, &paint(style.color()), &stroke, Transform::identity(), None);
            }
        }
        Ok(())
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        vert: I,
        style: &S,
    ) -> Drawn {
        let mut builder = PathBuilder::new();
        for (i, point) in vert.into_iter().enumerate() {
            let (x, y) = self.device(point);
            if i == 0 {
                builder.move_to(x, y);
            } else {
                builder.line_to(x, y);
            }
        }
        builder.close();
        if let Some(path) = builder.finish() {
            self.fill(&path, style.color());
        }
        Ok(())
    }

    fn draw_text<TStyle: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &TStyle,
        pos: BackendCoord,
    ) -> Drawn {
        let (face, em) = (face_of(style), style.size() / TEXT_SIZE_DIVISOR);
        let width = font::text_width(text, em, face);
        // The same offsets as plotters' SVG backend, so both outputs share one baseline.
        let dx = match style.anchor().h_pos {
            HPos::Left => 0.0,
            HPos::Center => -width / 2.0,
            HPos::Right => -width,
        };
        let dy = match style.anchor().v_pos {
            VPos::Top => 0.76 * em,
            VPos::Center => 0.5 * X_HEIGHT_EM * em,
            VPos::Bottom => -0.5 * X_HEIGHT_EM * em,
        };
        let k = self.device_per_unit;
        let at = |x: f64, y: f64| {
            let (x, y) = match style.transform() {
                FontTransform::None => (x + dx, y + dy),
                FontTransform::Rotate90 => (-(y + dy), x + dx),
                FontTransform::Rotate180 => (-(x + dx), -(y + dy)),
                FontTransform::Rotate270 => (y + dy, -(x + dx)),
            };
            ((f64::from(pos.0) + x) as f32 * k, (f64::from(pos.1) + y) as f32 * k)
        };
        let mut builder = PathBuilder::new();
        for pen in font::outline(text, em, face) {
            match pen {
                Pen::Move(x, y) => {
                    let (x, y) = at(x, y);
                    builder.move_to(x, y);
                }
                Pen::Line(x, y) => {
                    let (x, y) = at(x, y);
                    builder.line_to(x, y);
                }
                Pen::Quad(cx, cy, x, y) => {
                    let ((cx, cy), (x, y)) = (at(cx, cy), at(x, y));
                    builder.quad_to(cx, cy, x, y);
                }
                Pen::Cubic(cx, cy, ex, ey, x, y) => {
                    let ((cx, cy), (ex, ey), (x, y)) = (at(cx, cy), at(ex, ey), at(x, y));
                    builder.cubic_to(cx, cy, ex, ey, x, y);
                }
            }
        }
        builder.close();
        if let Some(path) = builder.finish() {
            self.fill(&path, style.color());
        }
        Ok(())
    }

    fn estimate_text_size<TStyle: BackendTextStyle>(
        &self,
        text: &str,
        style: &TStyle,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let em = style.size() / TEXT_SIZE_DIVISOR;
        let width = font::text_width(text, em, face_of(style));
        Ok((width.ceil() as u32, (em * (CAP_HEIGHT_EM + DESCENT_EM)).ceil() as u32))
    }
}

fn face_of<T: BackendTextStyle>(style: &T) -> Face {
    match style.style() {
        FontStyle::Bold => Face::Bold,
        _ => Face::Regular,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: BackendColor = BackendColor { alpha: 1.0, rgb: (255, 255, 255) };
    const BLACK: BackendColor = BackendColor { alpha: 1.0, rgb: (0, 0, 0) };

    fn tiny() -> SkiaBackend {
        let size = FigureSize { width_px: 10.0, height_px: 10.0, scale: 2.0 };
        SkiaBackend::new(size, WHITE).unwrap()
    }

    #[test]
    fn a_hairline_fills_whole_pixels() {
        let mut b = tiny();
        struct Hair;
        impl BackendStyle for Hair {
            fn color(&self) -> BackendColor {
                BLACK
            }
            fn stroke_width(&self) -> u32 {
                4 // one device pixel at 2x
            }
        }
        b.draw_path([(0, 41), (80, 41)], &Hair).unwrap();
        let row = 10;
        let pixmap = b.into_pixmap();
        assert_eq!(pixmap.pixel(5, row).unwrap().red(), 0);
        assert_eq!(pixmap.pixel(5, row - 1).unwrap().red(), 255);
        assert_eq!(pixmap.pixel(5, row + 1).unwrap().red(), 255);
    }

    #[test]
    fn a_vanishing_box_still_shows_one_pixel() {
        let mut b = tiny();
        b.draw_rect((40, 40), (40, 48), &BLACK, true).unwrap();
        assert_eq!(b.into_pixmap().pixel(10, 10).unwrap().red(), 0);
    }

    #[test]
    fn a_size_of_nothing_is_refused() {
        let size = FigureSize { width_px: 0.0, height_px: 10.0, scale: 2.0 };
        assert!(SkiaBackend::new(size, WHITE).is_none());
    }
}
