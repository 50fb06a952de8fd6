//! Fuses in words.

use crate::clock::duration;
use sim_core::plant::fuse::{Edge, FusePlace};
use sim_core::record::fuse::FuseWork;

/// Where a fuse sits.
pub fn place(place: FusePlace) -> &'static str {
    match place {
        FusePlace::InputBatteryEnd => "the input fuse at the starter battery",
        FusePlace::InputUnitEnd => "the input fuse at the unit",
        FusePlace::OutputBatteryEnd => "the output fuse at the house battery",
        FusePlace::OutputUnitEnd => "the output fuse at the unit",
    }
}

/// The same for a label.
pub fn short(at: FusePlace) -> &'static str {
    match at {
        FusePlace::InputBatteryEnd => "input fuse opens, battery end",
        FusePlace::InputUnitEnd => "input fuse opens, unit end",
        FusePlace::OutputBatteryEnd => "output fuse opens, battery end",
        FusePlace::OutputUnitEnd => "output fuse opens, unit end",
    }
}

/// A fuse by place, rating and type.
pub fn name(fuse: &FuseWork) -> String {
    let kind = fuse.kind.map(|k| format!(", {k}")).unwrap_or_default();
    format!("{} ({:.0} A{kind})", place(fuse.place), fuse.rating_a)
}

/// What a fuse carried, in a sentence or two.
pub fn carried(fuse: &FuseWork) -> String {
    let mut text = format!(
        "{} carries at most {:.1} A, {:.0} % of its rating.",
        name(fuse).replacen("the", "The", 1),
        fuse.most_a,
        100.0 * fuse.most_a / fuse.rating_a
    );
    if fuse.hard_s > 0.0 {
        text.push_str(&format!(" For {} it is over three quarters of it.", duration(fuse.hard_s)));
    }
    if let Some(way) = way(fuse) {
        text.push_str(&format!(" By its curve it {way}."));
    }
    text
}

/// How far a fuse came on its way to opening; `None` where nothing but its rating is known.
pub fn way(fuse: &FuseWork) -> Option<String> {
    let most = |edge| fuse.worn_at(edge).map(|w| 100.0 * w.most);
    let (early, between) = (most(Edge::Early)?, most(Edge::Between)?);
    if fuse.opened.is_some() {
        return Some("opens".into());
    }
    let mut text = format!("comes {between:.0} % of the way to opening");
    if early >= 100.0 {
        text.push_str("; the quickest of its type opens");
    } else if early > between {
        text.push_str(&format!(", the quickest of its type {early:.0} %"));
    }
    Some(text)
}
