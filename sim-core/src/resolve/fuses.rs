//! Fuses at both ends of both cables.

use super::parts::Maker;
use crate::model::Model;
use crate::plant::fuse::{Curve, Fuse, KINDS, Opening};
use crate::scenario::Scenario;
use crate::scenario::field::{Num, Nums, Text};
use crate::scenario::node::Place;
use crate::scenario::problem::Problem;

/// The keys of one fuse.
struct FuseFields<'a> {
    /// Section with what the keys begin with, such as `input_cable.unit_end_`.
    path: &'static str,
    rating: Option<&'a Num>,
    kind: Option<&'a Text>,
    times_rating: Option<&'a Nums>,
    opens_s: Option<&'a Nums>,
    breaks: Option<&'a Num>,
}

macro_rules! fuse_fields {
    ($path:literal, $spec:expr, $rating:ident, $kind:ident, $times_rating:ident, $opens_s:ident, $breaks:ident) => {
        FuseFields {
            path: $path,
            rating: $spec.$rating.as_ref(),
            kind: $spec.$kind.as_ref(),
            times_rating: $spec.$times_rating.as_ref(),
            opens_s: $spec.$opens_s.as_ref(),
            breaks: $spec.$breaks.as_ref(),
        }
    };
}

macro_rules! battery_end {
    ($path:literal, $spec:expr) => {
        fuse_fields!($path, $spec, fuse_a, fuse_kind, fuse_times_rating, fuse_opens_s, fuse_breaks_a)
    };
}

macro_rules! unit_end {
    ($path:literal, $spec:expr) => {
        fuse_fields!(
            $path,
            $spec,
            unit_end_fuse_a,
            unit_end_fuse_kind,
            unit_end_fuse_times_rating,
            unit_end_fuse_opens_s,
            unit_end_fuse_breaks_a
        )
    };
}

impl Maker<'_> {
    /// Puts the fuses that the scenario has into the model.
    pub(super) fn fuses(&mut self, model: &mut Model, s: &Scenario) {
        let (input, output) = (&s.input_cable, &s.output_cable);
        let fuses = [
            battery_end!("input_cable.", input),
            unit_end!("input_cable.unit_end_", input),
            battery_end!("output_cable.", output),
            unit_end!("output_cable.unit_end_", output),
        ];
        let link = &mut model.links[0];
        let places = [
            &mut link.input_cable.battery_end_fuse,
            &mut link.input_cable.unit_end_fuse,
            &mut link.output_cable.battery_end_fuse,
            &mut link.output_cable.unit_end_fuse,
        ];
        for (place, fields) in places.into_iter().zip(&fuses) {
            *place = self.fuse(fields);
        }
    }

    fn fuse(&mut self, f: &FuseFields) -> Option<Fuse> {
        let curve = self.curve(f);
        let kind = f.kind.and_then(|t| KINDS.iter().find(|k| k.word == t.value));
        let Some(rating) = f.rating else {
            let written = [
                ("fuse_kind", f.kind.map(|t| t.place())),
                ("fuse_times_rating", f.times_rating.map(|n| n.place())),
                ("fuse_opens_s", f.opens_s.map(|n| n.place())),
                ("fuse_breaks_a", f.breaks.map(|n| n.place())),
            ];
            if let Some((key, place)) = written.iter().find_map(|(key, place)| Some((*key, (*place)?)))
                && !self.syntax
                && !self.was_told(&format!("{}fuse_a", f.path))
            {
                self.fuse_problem(f, key, place, "a fuse needs its rating, `fuse_a`");
            }
            return None;
        };
        Some(Fuse {
            rating_a: rating.value,
            kind: kind.map(|k| k.name),
            breaks_a: f.breaks.map(|n| n.value).or(kind.map(|k| k.breaks_a)),
            opening: curve.map(Opening::typed).or_else(|| kind.map(Opening::of_kind)),
        })
    }

    /// The curve that the user typed in.
    fn curve(&mut self, f: &FuseFields) -> Option<Curve> {
        let (ratio, time) = match (f.times_rating, f.opens_s) {
            (None, None) => return None,
            (Some(ratio), Some(time)) => (ratio, time),
            (Some(one), None) | (None, Some(one)) => {
                let what = "a fuse's curve needs both fuse_times_rating and fuse_opens_s";
                self.fuse_problem(f, "fuse_times_rating", one.place(), what);
                return None;
            }
        };
        let rises = ratio.value.windows(2).all(|w| w[1] > w[0]);
        let falls = time.value.windows(2).all(|w| w[1] < w[0]);
        if ratio.value.len() != time.value.len() || ratio.value.len() < 2 || !rises || !falls {
            let what = "a fuse's curve has two lists of the same length, at least two points: currents rise, times fall";
            self.fuse_problem(f, "fuse_opens_s", time.place(), what);
            return None;
        }
        Some(Curve::new(ratio.value.iter().copied().zip(time.value.iter().copied())))
    }

    fn fuse_problem(&mut self, f: &FuseFields, key: &str, place: Option<Place>, what: &str) {
        self.problems.push(Problem::conflict(&format!("{}{key}", f.path), place, what.to_owned()));
    }
}
