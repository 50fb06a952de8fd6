//! Volts at the unit's input against its input current: what the source can hold, what each output needs.
//! Where the two lines cross the unit can run; where they do not, it cannot.

use super::super::decimate::Joining;
use super::super::font::{Face, text_width};
use super::super::panel::{Frame, Marker, Panel, Series, Threshold};
use super::super::scale::{Range, ValueScale, figure};
use super::super::scene::{Align, Scene, Text};
use super::super::size::{FigureSize, Rect};
use super::super::theme::{Dash, Stroke, Theme};
use super::super::time_axis::{Clock, TimeScale};
use super::super::x_axis;
use super::sheet::{self, Heading, LEFT_PX};

/// Constant power at the input: what one output current needs.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerCurve {
    /// Output current, A.
    pub output_a: f64,
    /// Power at the input, W.
    pub input_w: f64,
    /// Where the source carries it: input current and volts; `None` where no crossing exists.
    pub crossing: Option<(f64, f64)>,
    /// The crossing at higher current that no unit holds, if it lies on the picture.
    pub unused: Option<(f64, f64)>,
}

/// Everything the picture shows.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LoadLineData {
    /// Title, answer and footer.
    pub heading: Heading,
    /// Input currents of the source lines, A, rising.
    pub current_a: Vec<f64>,
    /// Volts at the input with the engine as it was, V.
    pub source_v: Vec<f64>,
    /// Volts at the input with the engine stopped, V; empty where that is the same.
    pub battery_v: Vec<f64>,
    /// Where the alternator reaches its greatest current: input current and volts.
    pub kink: Option<(f64, f64)>,
    /// Curves of constant power, the smallest output first.
    pub curves: Vec<PowerCurve>,
    /// Where the unit stands at this moment: input current, volts and words.
    pub now: Option<(f64, f64, String)>,
    /// Input current limit, A.
    pub input_limit_a: f64,
    /// Turn-off voltage, V.
    pub turn_off_v: f64,
    /// Lowest and highest volts of the picture.
    pub span_v: (f64, f64),
}

const END_LABEL_PX: f64 = 150.0;

/// Builds the picture.
#[must_use]
pub fn load_line(data: &LoadLineData, theme: &Theme, size: FigureSize) -> Scene {
    let (mut scene, body) = sheet::begin(
        size,
        theme,
        &data.heading,
        "Volts at the unit's input over its current: where it can run.",
    );
    let (x0, x1) = (body.x0 + LEFT_PX - 22.0, body.x1 - END_LABEL_PX);
    let last_a = data.current_a.last().copied().unwrap_or(60.0);
    let amps = TimeScale::new(0.0, last_a, x0, x1);
    let ticks = x_axis::round_ticks(&amps, theme.sizes.axis);
    let plot = Rect::new(x0, body.y0 + 19.0, x1, body.y1 - x_axis::BELOW_PX);
    let source = cut(&data.current_a, &data.source_v, data.span_v.0);
    let battery = cut(&data.current_a, &data.battery_v, data.span_v.0);
    let curves: Vec<Curve> = data.curves.iter().map(|c| hyperbola(c.input_w, data.span_v, last_a)).collect();
    let mut panel = panel(data, theme, &curves, [&source, &battery]);
    let frame = Frame {
        plot,
        time: amps,
        clock: Clock::default(),
        ticks: &ticks,
        limits: data.span_v,
        axis_figures: true,
        end_label_px: END_LABEL_PX,
        names: true,
        window_s: None,
    };
    let scale = ValueScale { low: data.span_v.0, high: data.span_v.1, y_low: plot.y1, y_high: plot.y0 };
    if (0.0..=last_a).contains(&data.input_limit_a) {
        let x = amps.x(data.input_limit_a);
        panel.uprights.push((data.input_limit_a, Stroke::dashed(theme.ink_soft, 1.2, Dash::Long)));
        let words = format!("input limit {} A", figure(data.input_limit_a, 0));
        // Above the plot, where no call-out comes: left of the line where the title leaves room.
        let title_x = x0 + text_width(&panel.title, theme.sizes.panel, Face::Bold) + 10.0;
        let width = text_width(&words, theme.sizes.axis, Face::Regular);
        let left = x - width > title_x;
        let (at_x, align) = if left { (x, Align::Right) } else { (x.max(title_x), Align::Left) };
        scene.text(Text {
            at: (at_x, plot.y0 - 6.0),
            align,
            text: words,
            size_px: theme.sizes.axis,
            face: Face::Regular,
            ink: theme.ink_soft,
        });
    }
    panel.draw(&mut scene, theme, &frame);
    // A filled dot is where a unit can stand; the ring of the call-out alone is where it never does.
    for (i_a, v) in data.curves.iter().filter_map(|c| c.crossing).filter(|c| c.0 <= last_a) {
        scene.disc((amps.x(i_a), scale.y_clamped(v)), 3.6, theme.roles.unit.ink);
    }
    if let Some((i_a, v, _)) = &data.now {
        scene.disc((amps.x_clamped(*i_a), scale.y_clamped(*v)), 5.5, theme.ink);
    }
    x_axis::draw(&mut scene, theme, &amps, &ticks, plot.y1, "current into the unit, A");
    scene
}

fn panel<'a>(
    data: &'a LoadLineData,
    theme: &Theme,
    curves: &'a [Curve],
    [source, battery]: [&'a Curve; 2],
) -> Panel<'a> {
    let mut panel = Panel::new("Input volts, V", "V", Range::Fixed(data.span_v.0, data.span_v.1));
    let series = |name: &str, time_s, value, stroke| Series {
        name: name.to_owned(),
        time_s,
        value,
        joining: Joining::Straight,
        stroke,
    };
    for (k, (amps, volts)) in curves.iter().enumerate() {
        let last = k + 1 == curves.len();
        let stroke = Stroke::dashed(
            theme.roles.unit.ink,
            if last { 1.6 } else { 1.0 },
            if last { Dash::Long } else { Dash::Short },
        );
        panel.series.push(series("", amps, volts, stroke));
    }
    if !data.battery_v.is_empty() {
        let stroke = Stroke { width_px: 1.3, ..theme.roles.starter };
        panel.series.push(series("engine stopped", &battery.0, &battery.1, stroke));
    }
    let stroke = Stroke { width_px: 2.4, ..theme.roles.input };
    panel.series.push(series("what the source holds", &source.0, &source.1, stroke));
    panel.thresholds.push(Threshold {
        value: data.turn_off_v,
        name: format!("turn-off {} V", figure(data.turn_off_v, 2)),
        stroke: theme.roles.turn_off,
    });
    panel.markers = markers(data);
    panel
}

fn markers(data: &LoadLineData) -> Vec<Marker> {
    let last_a = data.current_a.last().copied().unwrap_or(0.0);
    let mark = |(time_s, value): (f64, f64), text: String| Marker { time_s, value, foot: None, text };
    let mut all = Vec::new();
    if let Some((i_a, v, words)) = &data.now {
        all.push(mark((*i_a, *v), words.clone()));
    }
    let near = |p: (f64, f64)| {
        data.now.as_ref().is_some_and(|n| (n.0 - p.0).abs() < 0.01 * last_a && (n.1 - p.1).abs() < 0.03)
    };
    for curve in data.curves.iter().rev() {
        match curve.crossing {
            // The moment's own words already stand there.
            Some(at) if near(at) => {}
            Some(at) if at.0 <= last_a => {
                let fate = if at.1 < data.turn_off_v { ", under turn-off" } else { "" };
                all.push(mark(at, format!("{} A out: {} A in{fate}", output(curve), figure(at.0, 1))));
            }
            Some(_) => {}
            None => {
                // Where the two lines come nearest: the power the source falls short by is smallest there.
                let nearest = (0..data.current_a.len())
                    .max_by(|&a, &b| {
                        let w = |k: usize| data.current_a[k] * data.source_v[k];
                        w(a).total_cmp(&w(b))
                    })
                    .unwrap_or(0);
                let i_a = data.current_a.get(nearest).copied().unwrap_or(0.0).max(1e-6);
                let at = (i_a, (curve.input_w / i_a).clamp(data.span_v.0, data.span_v.1));
                all.push(mark(at, format!("{} A out: no crossing,\ncannot run", output(curve))));
            }
        }
        if let Some(at) = curve.unused.filter(|u| u.0 <= last_a && u.1 > data.span_v.0) {
            all.push(mark(at, "crossing that no unit holds".to_owned()));
        }
    }
    if let Some(kink) = data.kink.filter(|k| k.0 > 0.0 && k.0 < last_a && k.1 > data.span_v.0) {
        all.push(mark(kink, "alternator gives all it can:\nfrom here the battery helps".to_owned()));
    }
    all
}

/// An output current, with a decimal where it has one.
fn output(curve: &PowerCurve) -> String {
    figure(curve.output_a, usize::from(curve.output_a.fract().abs() > 0.01))
}

/// Currents and volts of one line.
type Curve = (Vec<f64>, Vec<f64>);

/// A falling line down to the lower edge of the picture.
fn cut(amps: &[f64], volts: &[f64], low: f64) -> Curve {
    let keep = volts.iter().take_while(|v| **v >= low).count();
    let (mut x, mut y) = (amps[..keep.min(amps.len())].to_vec(), volts[..keep].to_vec());
    if keep > 0 && keep < volts.len() {
        let k = (volts[keep - 1] - low) / (volts[keep - 1] - volts[keep]);
        x.push(amps[keep - 1] + k * (amps[keep] - amps[keep - 1]));
        y.push(low);
    }
    (x, y)
}

/// Points of `V = P/I` inside the picture.
fn hyperbola(power_w: f64, (low, high): (f64, f64), last_a: f64) -> Curve {
    let (from, to) = (power_w / high, (power_w / low.max(1e-6)).min(last_a));
    if !(power_w > 0.0 && to > from) {
        return (Vec::new(), Vec::new());
    }
    let amps: Vec<f64> = (0..=200).map(|k| from + (to - from) * f64::from(k) / 200.0).collect();
    let volts = amps.iter().map(|i| power_w / i).collect();
    (amps, volts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hyperbola_stays_on_the_picture_at_its_power() {
        let (amps, volts) = hyperbola(560.0, (9.0, 14.5), 60.0);
        assert!(amps.iter().zip(&volts).all(|(i, v)| (i * v - 560.0).abs() < 1e-9));
        assert!(volts.iter().all(|v| (9.0 - 1e-9..=14.5 + 1e-9).contains(v)) && amps[200] <= 60.0);
        assert!(hyperbola(2000.0, (9.0, 14.5), 60.0).0.is_empty());
    }
}
