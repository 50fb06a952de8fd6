//! Charts of a run: panels and an event lane on one time axis, as PNG bytes or SVG text.
//!
//! A figure turns plain data into a [`scene::Scene`] (shapes in logical pixels); [`mod@write`] renders the
//! scene through a plotters backend. To add a figure, build panels in a file of [`figures`].

// Pixel arithmetic casts between f64 and integers; every cast is of a rounded, bounded number.
#![allow(clippy::cast_possible_truncation, clippy::cast_precision_loss, clippy::cast_sign_loss)]

pub mod backend;
mod callout;
pub mod dash;
pub mod decimate;
pub mod dense;
pub mod events;
pub mod figures;
pub mod font;
pub mod key;
pub mod labels;
pub mod lane;
pub mod panel;
pub mod pattern;
pub mod scale;
pub mod scene;
pub mod size;
pub mod theme;
pub mod time_axis;
mod trace;
pub mod write;
pub mod x_axis;
