//! Value axes: round limits and ticks, and a range that one short dip cannot squash.

/// Values to pixels, y downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValueScale {
    /// Value at the bottom edge.
    pub low: f64,
    /// Value at the top edge.
    pub high: f64,
    /// Bottom edge, logical pixels.
    pub y_low: f64,
    /// Top edge, logical pixels.
    pub y_high: f64,
}

impl ValueScale {
    /// Pixel of a value.
    #[must_use]
    pub fn y(&self, value: f64) -> f64 {
        self.y_low + (value - self.low) / (self.high - self.low) * (self.y_high - self.y_low)
    }

    /// Pixel of a value, held inside the axis.
    #[must_use]
    pub fn y_clamped(&self, value: f64) -> f64 {
        self.y(value).clamp(self.y_high, self.y_low)
    }

    /// Round tick values with at least `spacing_px` between them, and the decimals they need.
    #[must_use]
    pub fn ticks(&self, spacing_px: f64) -> (Vec<f64>, usize) {
        let height = self.y_low - self.y_high;
        let most = (height / spacing_px).floor().max(1.0);
        let at = |step: f64| {
            let first = (self.low / step - 1e-9).ceil() as i64;
            (step, first, (self.high / step + 1e-9).floor() as i64)
        };
        // One figure makes no scale: a low panel takes a finer step, down to figures that all but touch.
        let finest = (height / 11.0).floor().max(most);
        let steps = [most, most + 1.0, most + 2.0, finest]
            .map(|m| at(round_step((self.high - self.low) / m.min(finest))));
        let (step, first, last) = *steps.iter().find(|s| s.2 > s.1).unwrap_or(&steps[0]);
        let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize;
        ((first..=last).map(|i| i as f64 * step).collect(), decimals)
    }
}

/// The smallest of 1, 2 or 5 times a power of ten that is not below `raw`.
#[must_use]
pub fn round_step(raw: f64) -> f64 {
    if !raw.is_finite() || raw <= 0.0 {
        return 1.0;
    }
    let power = 10_f64.powf(raw.log10().floor());
    for k in [1.0, 2.0, 5.0] {
        if raw <= k * power * (1.0 + 1e-9) {
            return k * power;
        }
    }
    10.0 * power
}

/// How a panel chooses its value range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// Exactly these limits.
    Fixed(f64, f64),
    /// All the data and zero.
    FromZero,
    /// The bulk of the data; a rare far excursion is cut and its value written at the edge.
    Bulk,
}

/// A number with a true minus sign.
#[must_use]
pub fn figure(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|b| b == b'0' || b == b'.') => digits.to_owned(),
        Some(digits) => format!("−{digits}"),
        None => text,
    }
}

/// Finite values of one series, each with the seconds it stands for.
pub type Weighted = Vec<(f64, f64)>;

/// Limits for `range` over several series, and values that must show whatever the range.
///
/// The span is at least `least`, so that a trifle is not blown up to fill the panel.
#[must_use]
pub fn limits(range: Range, series: &mut [Weighted], must_show: &[f64], least: f64) -> (f64, f64) {
    if let Range::Fixed(low, high) = range {
        return if high > low { (low, high) } else { (low, low + 1.0) };
    }
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for weighted in series.iter_mut().filter(|w| !w.is_empty()) {
        weighted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (a, b) = match range {
            Range::Bulk => bulk(weighted),
            _ => (weighted[0].0, weighted[weighted.len() - 1].0),
        };
        (low, high) = (low.min(a), high.max(b));
    }
    for &v in must_show.iter().filter(|v| v.is_finite()) {
        (low, high) = (low.min(v), high.max(v));
    }
    if range == Range::FromZero {
        (low, high) = (low.min(0.0), high.max(0.0));
    }
    if !low.is_finite() || !high.is_finite() {
        return (0.0, if least > 0.0 { least } else { 1.0 });
    }
    let lacking = (least - (high - low)).max(0.0);
    if range == Range::FromZero {
        high += lacking;
    } else {
        (low, high) = (low - lacking / 2.0, high + lacking / 2.0);
    }
    let pad = ((high - low) * 0.06).max(high.abs() * 1e-3).max(1e-3);
    let on_zero = |v: f64| range == Range::FromZero && v == 0.0;
    (if on_zero(low) { 0.0 } else { low - pad }, if on_zero(high) && low < 0.0 { 0.0 } else { high + pad })
}

/// The full spread, unless an excursion shorter than 3 s or 0.1 % of the time stretches it by half.
fn bulk(sorted: &[(f64, f64)]) -> (f64, f64) {
    let total_s: f64 = sorted.iter().map(|p| p.1).sum();
    let brief_s = (1e-3 * total_s).max(3.0).min(0.25 * total_s);
    let (full_low, full_high) = (sorted[0].0, sorted[sorted.len() - 1].0);
    let low = past(sorted.iter(), brief_s).unwrap_or(full_low);
    let high = past(sorted.iter().rev(), brief_s).unwrap_or(full_high);
    let spread = (high - low).max(0.02 * high.abs());
    let keep = |full: f64, cut: f64| {
        if (full - cut).abs() > 0.5 * spread { cut } else { full }
    };
    (keep(full_low, low), keep(full_high, high))
}

/// The first value reached once more than `seconds` have been passed over.
fn past<'w>(values: impl Iterator<Item = &'w (f64, f64)>, seconds: f64) -> Option<f64> {
    let mut sum_s = 0.0;
    for &(v, w) in values {
        sum_s += w;
        if sum_s > seconds {
            return Some(v);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_one_two_five() {
        assert!((round_step(0.3) - 0.5).abs() < 1e-12);
        assert!((round_step(7.0) - 10.0).abs() < 1e-12);
        assert!((round_step(2.0) - 2.0).abs() < 1e-12);
        assert!((round_step(0.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn ticks_lie_inside_and_are_spaced() {
        let s = ValueScale { low: 11.42, high: 14.9, y_low: 200.0, y_high: 0.0 };
        let (ticks, decimals) = s.ticks(24.0);
        assert_eq!(decimals, 1);
        assert!(ticks.iter().all(|t| (11.42..=14.9).contains(t)));
        assert!((s.y(ticks[0]) - s.y(ticks[1])) >= 24.0);
    }

    #[test]
    fn a_short_dip_is_cut_but_a_long_one_is_kept() {
        let mut values = [vec![(13.5, 1.0); 1000]];
        values[0].extend(vec![(12.5, 1.0); 500]);
        values[0].push((8.0, 1.0));
        let (low, _) = limits(Range::Bulk, &mut values, &[], 0.0);
        assert!(low > 12.0, "{low}");
        values[0].extend(vec![(8.0, 1.0); 100]);
        assert!(limits(Range::Bulk, &mut values, &[], 0.0).0 < 8.0);
    }

    #[test]
    fn empty_and_flat_data_still_make_a_range() {
        for range in [Range::Bulk, Range::FromZero] {
            let (low, high) = limits(range, &mut [], &[], 0.0);
            assert!(high > low);
            let (low, high) = limits(range, &mut [vec![(5.0, 1.0)]], &[5.0], 0.0);
            assert!(high > low && low.is_finite());
        }
    }

    #[test]
    fn a_trifle_does_not_fill_the_panel() {
        let mut trifle = [vec![(0.0, 1.0), (0.07, 1.0)]];
        let (low, high) = limits(Range::FromZero, &mut trifle, &[], 5.0);
        assert!(low == 0.0 && high >= 5.0);
        let (low, high) = limits(Range::Bulk, &mut trifle, &[], 5.0);
        assert!(high - low >= 5.0);
    }

    #[test]
    fn minus_is_typographic_and_never_before_zero() {
        assert_eq!(figure(-3.0, 0), "−3");
        assert_eq!(figure(-0.001, 1), "0.0");
    }
}
