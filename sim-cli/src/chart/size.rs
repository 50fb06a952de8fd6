//! Logical pixels, the sub-pixel units handed to a drawing backend, and rectangles.
//! A figure is laid out in logical pixels; the backend divides the units again when it paints.

/// Backend units in one logical pixel: integer coordinates alone would draw slow curves as staircases.
pub const UNITS_PER_PX: f64 = 8.0;

/// A point in logical pixels, y downwards.
pub type Point = (f64, f64);

/// Logical pixels as the nearest whole number of backend units.
#[must_use]
pub fn units(px: f64) -> i32 {
    // `as` saturates, so a wild coordinate cannot wrap round to the other side of the picture.
    (px * UNITS_PER_PX).round() as i32
}

/// A stroke width in backend units, never less than one.
#[must_use]
pub fn width_units(px: f64) -> u32 {
    (px * UNITS_PER_PX).round().max(1.0) as u32
}

/// Size of a figure in logical pixels and the device pixels drawn for each of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FigureSize {
    /// Width, logical pixels.
    pub width_px: f64,
    /// Height, logical pixels.
    pub height_px: f64,
    /// Device pixels per logical pixel in a PNG.
    pub scale: f64,
}

impl Default for FigureSize {
    /// 960 x 540 logical pixels drawn at 2x: a 1920 x 1080 picture.
    fn default() -> Self {
        Self { width_px: 960.0, height_px: 540.0, scale: 2.0 }
    }
}

/// A picture no higher than this is a slide, read from the back of a room, points.
pub const SLIDE_POINTS: f64 = 480.0;
/// Points to a logical pixel of a slide: the smallest type, 10 logical pixels, is 4 % of 450 points.
const SLIDE_ZOOM: f64 = 1.8;
/// Device pixels to a point.
const PER_POINT: f64 = 2.0;

impl FigureSize {
    /// The sheet of a picture of so many points. A slide is laid out on a small sheet and drawn larger, so that type,
    /// lines and air grow alike.
    #[must_use]
    pub fn of_points(width: f64, height: f64) -> Self {
        let zoom = if height <= SLIDE_POINTS { SLIDE_ZOOM } else { 1.0 };
        Self { width_px: width / zoom, height_px: height / zoom, scale: PER_POINT * zoom }
    }

    /// Points to a logical pixel.
    #[must_use]
    pub fn points_per_px(&self) -> f64 {
        self.scale / PER_POINT
    }

    /// Whether there is room for few labels only.
    #[must_use]
    pub fn is_small(&self) -> bool {
        self.height_px <= SLIDE_POINTS / SLIDE_ZOOM
    }
}

/// An axis-parallel rectangle in logical pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub x0: f64,
    /// Top edge.
    pub y0: f64,
    /// Right edge.
    pub x1: f64,
    /// Bottom edge.
    pub y1: f64,
}

impl Rect {
    /// Rectangle from its left, top, right and bottom edges.
    #[must_use]
    pub const fn new(x0: f64, y0: f64, x1: f64, y1: f64) -> Self {
        Self { x0, y0, x1, y1 }
    }

    /// Width.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.x1 - self.x0
    }

    /// Height.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.y1 - self.y0
    }

    /// Middle point.
    #[must_use]
    pub fn center(&self) -> Point {
        (f64::midpoint(self.x0, self.x1), f64::midpoint(self.y0, self.y1))
    }

    /// The same rectangle grown by `by` on every side (shrunk when negative).
    #[must_use]
    pub fn grown(&self, by: f64) -> Self {
        Self::new(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)
    }

    /// Whether two rectangles share any area.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// Whether `inner` lies wholly inside.
    #[must_use]
    pub fn contains(&self, inner: &Self) -> bool {
        self.x0 <= inner.x0 && inner.x1 <= self.x1 && self.y0 <= inner.y0 && inner.y1 <= self.y1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_round_and_saturate() {
        assert_eq!(units(1.0), 8);
        assert_eq!(units(0.06), 0);
        assert_eq!(units(f64::INFINITY), i32::MAX);
        assert_eq!(width_units(0.0), 1);
    }

    #[test]
    fn touching_rectangles_do_not_overlap() {
        let a = Rect::new(0.0, 0.0, 10.0, 10.0);
        assert!(!a.overlaps(&Rect::new(10.0, 0.0, 20.0, 10.0)));
        assert!(a.overlaps(&Rect::new(9.9, 9.9, 20.0, 20.0)));
        assert!(a.contains(&a.grown(-1.0)));
    }
}
