//! Which pictures a run draws, how large, and in which dress.

use crate::chart::scene::Scene;
use crate::chart::size::FigureSize;
use crate::chart::theme::Theme;
use crate::chart::write;
use crate::failure::Failure;
use crate::report::pictures::Picture;
use clap::builder::PossibleValue;
use clap::{Args as ClapArgs, ValueEnum};

/// Narrowest and widest picture, points: under it labels have no room, over it lines are hairs.
const WIDTHS: (f64, f64) = (720.0, 2400.0);
/// Lowest and highest picture, points.
const HEIGHTS: (f64, f64) = (450.0, 1800.0);

/// One word of `--plot`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PlotWord {
    /// Every picture there is.
    All,
    /// No picture.
    None,
    /// This picture.
    One(Picture),
}

impl ValueEnum for PlotWord {
    fn value_variants<'a>() -> &'a [Self] {
        const WORDS: [PlotWord; Picture::ALL.len() + 2] = {
            let mut words = [PlotWord::All; Picture::ALL.len() + 2];
            let mut i = 0;
            while i < Picture::ALL.len() {
                words[i] = PlotWord::One(Picture::ALL[i]);
                i += 1;
            }
            words[i + 1] = PlotWord::None;
            words
        };
        &WORDS
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        match self {
            Self::All => Some(PossibleValue::new("all").help("Every picture")),
            Self::None => Some(PossibleValue::new("none").help("No picture")),
            Self::One(picture) => picture.to_possible_value(),
        }
    }
}

/// Options of the pictures.
#[derive(Debug, Clone, ClapArgs)]
#[command(next_help_heading = "Pictures")]
pub struct PlotArgs {
    /// Pictures to draw, with commas between
    #[arg(long, value_name = "NAMES", value_enum, value_delimiter = ',', default_value = "overview,ladder")]
    pub plot: Vec<PlotWord>,
    /// Write each picture as SVG too
    #[arg(long)]
    pub svg: bool,
    /// Size of a picture in points, 720x450 to 2400x1800; a PNG has two pixels to a point. 800x450 is a slide: large type
    #[arg(long, value_name = "WxH", default_value = "960x540", value_parser = parse_size)]
    pub size: FigureSize,
    /// Light on dark, for slides
    #[arg(long)]
    pub dark: bool,
}

impl PlotArgs {
    /// The pictures asked for, each once, in the order asked.
    pub fn wanted(&self) -> Vec<Picture> {
        let mut wanted: Vec<Picture> = Vec::new();
        for word in &self.plot {
            let more = match word {
                PlotWord::All => Picture::ALL,
                PlotWord::None => &[],
                PlotWord::One(picture) => std::slice::from_ref(picture),
            };
            for picture in more {
                if !wanted.contains(picture) {
                    wanted.push(*picture);
                }
            }
        }
        wanted
    }

    /// The theme asked for.
    pub fn theme(&self) -> Theme {
        if self.dark { Theme::dark() } else { Theme::light() }.on(self.size)
    }

    /// The same for a picture that belongs to no run.
    pub fn sheet(&self) -> SheetArgs {
        SheetArgs { svg: self.svg, size: self.size, dark: self.dark }
    }

    /// File names and bytes of one picture.
    ///
    /// # Errors
    /// [`Failure::Picture`] when it cannot be drawn.
    pub fn files(&self, picture: Picture, scene: &Scene) -> Result<Vec<(&'static str, Vec<u8>)>, Failure> {
        let failed = |e: write::ChartError| Failure::Picture(e.to_string());
        let mut files = vec![(picture.png_name(), write::png(scene, self.size.scale).map_err(failed)?)];
        if self.svg {
            files.push((
                picture.svg_name(),
                write::svg(scene, self.size.points_per_px()).map_err(failed)?.into_bytes(),
            ));
        }
        Ok(files)
    }
}

/// Options of a command with one picture of its own.
#[derive(Debug, Clone, ClapArgs)]
#[command(next_help_heading = "Picture")]
pub struct SheetArgs {
    /// Write the picture as SVG too
    #[arg(long)]
    pub svg: bool,
    /// Size of the picture in points, 720x450 to 2400x1800; a PNG has two pixels to a point. 800x450 is a slide: large type
    #[arg(long, value_name = "WxH", default_value = "960x600", value_parser = parse_size)]
    pub size: FigureSize,
    /// Light on dark, for slides
    #[arg(long)]
    pub dark: bool,
}

impl SheetArgs {
    /// The theme asked for.
    pub fn theme(&self) -> Theme {
        if self.dark { Theme::dark() } else { Theme::light() }.on(self.size)
    }

    /// File names and bytes of a picture; `names` are those of the bitmap and of the drawing.
    ///
    /// # Errors
    /// [`Failure::Picture`] when it cannot be drawn.
    pub fn files(
        &self,
        names: (&'static str, &'static str),
        scene: &Scene,
    ) -> Result<Vec<(&'static str, Vec<u8>)>, Failure> {
        let failed = |e: write::ChartError| Failure::Picture(e.to_string());
        let mut files = vec![(names.0, write::png(scene, self.size.scale).map_err(failed)?)];
        if self.svg {
            files.push((names.1, write::svg(scene, self.size.points_per_px()).map_err(failed)?.into_bytes()));
        }
        Ok(files)
    }
}

/// Reads the size of a picture.
///
/// # Errors
/// What is wrong with it.
pub fn parse_size(text: &str) -> Result<FigureSize, String> {
    let wrong = || "write it like 1280x720: width, x, height, in points".to_owned();
    let (w, h) = text.split_once(['x', 'X', '×']).ok_or_else(wrong)?;
    let number = |s: &str| s.trim().parse::<u32>().map(f64::from).map_err(|_| wrong());
    let (width_px, height_px) = (number(w)?, number(h)?);
    for (what, value, (low, high)) in [("width", width_px, WIDTHS), ("height", height_px, HEIGHTS)] {
        if !(low..=high).contains(&value) {
            return Err(format!("a {what} of {value} points is not between {low} and {high}"));
        }
    }
    Ok(FigureSize::of_points(width_px, height_px))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Debug, Parser)]
    struct Bare {
        #[command(flatten)]
        plot: PlotArgs,
    }

    fn parse(words: &[&str]) -> Result<PlotArgs, String> {
        let all = std::iter::once(&"bare").chain(words);
        Bare::try_parse_from(all).map(|b| b.plot).map_err(|e| e.to_string())
    }

    #[test]
    fn names_are_a_list_and_each_picture_comes_once() {
        assert_eq!(parse(&[]).unwrap().wanted(), [Picture::Overview, Picture::Ladder]);
        let some = parse(&["--plot", "headroom,ladder,headroom"]).unwrap();
        assert_eq!(some.wanted(), [Picture::Headroom, Picture::Ladder]);
        assert_eq!(parse(&["--plot", "all,ladder"]).unwrap().wanted(), Picture::ALL);
        assert!(parse(&["--plot", "none"]).unwrap().wanted().is_empty());
    }

    #[test]
    fn a_wrong_name_or_size_says_what_is_allowed() {
        let wrong = parse(&["--plot", "lader"]).unwrap_err();
        assert!(wrong.contains("'ladder'") && wrong.contains("starter-balance"), "{wrong}");
        assert!(parse(&["--size", "big"]).unwrap_err().contains("1280x720"));
        assert!(parse(&["--size", "100x500"]).unwrap_err().contains("between 720 and 2400"));
        assert!(parse(&["--size", "1280x5000"]).unwrap_err().contains("between 450 and 1800"));
        let size = parse(&["--size", "1280x720"]).unwrap().size;
        assert_eq!((size.width_px, size.height_px, size.scale), (1280.0, 720.0, 2.0));
    }

    #[test]
    fn every_picture_has_its_name_in_its_files() {
        for picture in Picture::ALL {
            assert_eq!(picture.png_name(), format!("{}.png", picture.name()));
            assert_eq!(picture.svg_name(), format!("{}.svg", picture.name()));
        }
    }
}
