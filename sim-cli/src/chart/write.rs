//! Turns a finished scene into PNG bytes or SVG text, both in memory.

use crate::printable::visible;
use std::fmt;

use plotters::backend::SVGBackend;
use png::{BitDepth, ColorType, Compression, Encoder, Filter};

use super::backend::SkiaBackend;
use super::scene::Scene;
use super::size::{FigureSize, units};

/// Why a figure could not be written.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum ChartError {
    /// The picture would have no pixels, or more than memory allows.
    Size {
        /// Device pixels across and down that were asked for.
        device_px: (u64, u64),
    },
    /// The backend failed.
    Backend {
        /// Its own words.
        message: String,
    },
    /// The PNG could not be encoded.
    Encode {
        /// The encoder's own words.
        message: String,
    },
}

impl fmt::Display for ChartError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Size { device_px: (w, h) } => {
                write!(f, "cannot draw a picture of {w} x {h} pixels")
            }
            Self::Backend { message } => write!(f, "drawing failed: {message}"),
            Self::Encode { message } => write!(f, "PNG encoding failed: {message}"),
        }
    }
}

impl std::error::Error for ChartError {}

/// Renders at `scale` device pixels per logical pixel; the same scene gives the same bytes.
///
/// # Errors
/// When the size is unusable or the encoder fails.
pub fn png(scene: &Scene, scale: f64) -> Result<Vec<u8>, ChartError> {
    let size = FigureSize { width_px: scene.width_px, height_px: scene.height_px, scale };
    let unusable =
        ChartError::Size { device_px: ((scene.width_px * scale) as u64, (scene.height_px * scale) as u64) };
    let mut backend = SkiaBackend::new(size, scene.paper.backend()).ok_or(unusable)?;
    scene.draw(&mut backend).map_err(|e| ChartError::Backend { message: e.to_string() })?;
    let pixmap = backend.into_pixmap();
    // The paper is opaque, so alpha carries nothing and premultiplied equals plain.
    let mut rgb = Vec::with_capacity(pixmap.data().len() / 4 * 3);
    for pixel in pixmap.data().chunks_exact(4) {
        rgb.extend_from_slice(&pixel[..3]);
    }
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, pixmap.width(), pixmap.height());
    encoder.set_color(ColorType::Rgb);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_compression(Compression::Balanced);
    encoder.set_filter(Filter::NoFilter);
    encoder
        .write_header()
        .and_then(|mut writer| {
            writer.write_image_data(&rgb)?;
            writer.finish()
        })
        .map_err(|e| ChartError::Encode { message: e.to_string() })?;
    Ok(bytes)
}

/// Renders as SVG text of the logical size times `points_per_px`; fine positions live in its view box.
///
/// # Errors
/// When the backend fails.
pub fn svg(scene: &Scene, points_per_px: f64) -> Result<String, ChartError> {
    let (w, h) = scene.size_units();
    let mut text = String::new();
    {
        let mut backend = SVGBackend::with_string(&mut text, (w, h));
        let mut sheet = scene.clone();
        let paper = super::size::Rect::new(0.0, 0.0, scene.width_px, scene.height_px);
        sheet.shapes.insert(0, super::scene::Shape::Box { rect: paper, ink: scene.paper });
        sheet.draw(&mut backend).map_err(|e| ChartError::Backend { message: e.to_string() })?;
    }
    // The backend states its size in units; a page wants logical pixels, the view box keeps the units.
    let text = text.replacen(
        &format!("width=\"{w}\" height=\"{h}\" viewBox"),
        &format!(
            "width=\"{}\" height=\"{}\" role=\"img\" aria-labelledby=\"title desc\" stroke-linejoin=\"round\" viewBox",
            (scene.width_px * points_per_px).round(),
            (scene.height_px * points_per_px).round()
        ),
        1,
    );
    Ok(with_description(&with_text_lengths(&text, scene), scene))
}

/// Puts title and description first, where programs that read aloud look for them.
fn with_description(svg: &str, scene: &Scene) -> String {
    let Some(end) = svg.find('>').map(|i| i + 1) else { return svg.to_owned() };
    let (title, desc) = (escaped(&scene.title), escaped(&scene.desc));
    format!(
        "{}\n<title id=\"title\">{title}</title>\n<desc id=\"desc\">{desc}</desc>{}",
        &svg[..end],
        &svg[end..]
    )
}

/// Words as the text of an element.
fn escaped(words: &str) -> String {
    let shown = visible(words);
    shown.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

/// Fixes the width of every text, so that a reader's other font cannot make labels meet.
fn with_text_lengths(svg: &str, scene: &Scene) -> String {
    let mut pieces = svg.split("<text ");
    let mut fixed = pieces.next().unwrap_or_default().to_owned();
    for (piece, text) in pieces.zip(scene.texts()) {
        let length = units(text.bounds().width());
        fixed.push_str("<text textLength=\"");
        fixed.push_str(&length.to_string());
        fixed.push_str("\" lengthAdjust=\"spacingAndGlyphs\" ");
        fixed.push_str(piece);
    }
    fixed
}

#[cfg(test)]
mod tests {
    use super::super::font::Face;
    use super::super::scene::{Align, Text};
    use super::super::theme::Ink;
    use super::*;

    #[test]
    fn every_svg_text_has_its_length_and_its_words() {
        let mut scene = Scene::new(100.0, 50.0, Ink::hex(0xFF_FFFF));
        for (i, words) in ["a < b", "12.80 V"].iter().enumerate() {
            scene.text(Text {
                at: (5.0, 20.0 + 15.0 * i as f64),
                align: Align::Left,
                text: (*words).to_owned(),
                size_px: 10.0,
                face: Face::Regular,
                ink: Ink::hex(0),
            });
        }
        scene.title = "A van & its <cable>".to_owned();
        scene.desc = "Volts over 12 s.".to_owned();
        let text = svg(&scene, 1.0).unwrap();
        assert!(text.contains("role=\"img\" aria-labelledby=\"title desc\""));
        assert!(text.contains("<title id=\"title\">A van &amp; its &lt;cable&gt;</title>"));
        assert!(text.contains("<desc id=\"desc\">Volts over 12 s.</desc>"));
        assert_eq!(text.matches("<text textLength=").count(), 2);
        assert!(text.contains("a &lt; b") && text.contains("12.80 V"));
        assert!(text.trim_end().ends_with("</svg>"));
    }

    #[test]
    fn an_impossible_size_is_an_error() {
        let scene = Scene::new(0.0, 50.0, Ink::hex(0));
        assert!(matches!(png(&scene, 2.0), Err(ChartError::Size { .. })));
    }
}
