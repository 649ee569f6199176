//! A vacuum hold: readings with the step of the display, the curves fitted to them, where the
//! next readings will lie, and the levels that count. Kinds of curve differ by dash and are named
//! at their end, so that a black and white print is read as well.

use units::math::{exp, ln};

use crate::chart::Look;
use crate::scale::{Linear, value_marks};
use crate::svg::{Svg, clipped, px};
use crate::words;

/// A fitted curve.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldCurve {
    /// What it stands for, with its share.
    pub label: String,
    /// Minutes since valve-off and µm.
    pub points: Vec<(f64, f64)>,
}

/// The band ahead at one time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoldBand {
    /// Minutes since valve-off.
    pub minutes: f64,
    /// 5 % quantile, µm.
    pub low_um: f64,
    /// 95 % quantile, µm.
    pub high_um: f64,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct HoldDrawing {
    /// Minutes since valve-off and µm, by time.
    pub readings: Vec<(f64, f64)>,
    /// Step of the display, µm; 0 for none.
    pub step_um: f64,
    /// Curves, the most probable first.
    pub curves: Vec<HoldCurve>,
    /// Where readings will lie from the last one on.
    pub band: Vec<HoldBand>,
    /// Levels that count: µm and name.
    pub levels: Vec<(f64, String)>,
    /// The end of the time axis, min.
    pub end_min: f64,
    /// The end of the criterion's time, min.
    pub criterion_min: Option<f64>,
    /// A logarithmic pressure axis.
    pub log: bool,
}

/// Dashes of the curves, the most probable first.
const DASHES: [&str; 6] = ["", "9 4", "2.5 3", "14 3 2.5 3", "6 2", "1 5"];

struct Paper<'a> {
    d: &'a HoldDrawing,
    x: Linear,
    y: Linear,
    low: f64,
    high: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    narrow: bool,
}

/// A label at the right edge, before it is moved out of the way of others.
struct Label {
    y: f64,
    text: String,
    class: &'static str,
}

/// Draws it; `None` without a reading.
#[must_use]
pub fn hold_chart(d: &HoldDrawing, look: Look) -> Option<String> {
    let (first, last) = (d.readings.first()?, d.readings.last()?);
    let narrow = look == Look::Narrow;
    let (width, height, class) = match look {
        Look::Narrow => (344.0, 366.0, "chart narrow hold"),
        Look::Wide => (1120.0, 470.0, "chart wide hold"),
        Look::Paper => (720.0, 330.0, "chart paper hold"),
    };
    let label = format!(
        "Pressure over time since the pump was valved off: {} readings, from {:.0} µm at {:.1} min \
         to {:.0} µm at {:.1} min. The figures are in the table.",
        d.readings.len(),
        first.1,
        first.0,
        last.1,
        last.0
    );
    let paper = Paper::new(d, look, height);
    let mut svg = Svg::open(width, height, class, &label, "role=\"img\" ");
    paper.axes(&mut svg);
    paper.time_marks(&mut svg);
    let clip = if narrow { "hold-clip-narrow" } else { "hold-clip-wide" };
    svg.raw(&format!("<clipPath id=\"{clip}\">"));
    svg.rect((paper.left, paper.top), paper.size(), "");
    svg.raw(&format!("</clipPath><g clip-path=\"url(#{clip})\">"));
    paper.band(&mut svg);
    let mut labels = paper.levels(&mut svg);
    labels.extend(paper.curves(&mut svg));
    paper.readings(&mut svg);
    svg.raw("</g>");
    paper.band_name(&mut svg);
    paper.labels(&mut svg, labels);
    Some(svg.close())
}

impl<'a> Paper<'a> {
    fn new(d: &'a HoldDrawing, look: Look, height: f64) -> Self {
        let narrow = look == Look::Narrow;
        let (left, right) = match look {
            Look::Narrow => (38.0, 250.0),
            Look::Wide => (54.0, 900.0),
            Look::Paper => (50.0, 560.0),
        };
        let (top, bottom) = (30.0, height - 42.0);
        let (low, high) = range(d);
        let scaled = |v: f64| if d.log { ln(v) } else { v };
        Self {
            d,
            x: Linear::new([0.0, d.end_min.max(1.0)], [left, right]),
            y: Linear::new([scaled(low), scaled(high)], [bottom, top]),
            low,
            high,
            left,
            right,
            top,
            bottom,
            narrow,
        }
    }

    fn size(&self) -> (f64, f64) {
        (self.right - self.left, self.bottom - self.top)
    }

    fn y_of(&self, um: f64) -> f64 {
        // Nothing above or below the frame is drawn; the clip must not meet endless figures.
        let held = um.clamp(self.low * 0.5 - 1e3, self.high * 2.0 + 1e3);
        self.y.at(if self.d.log { ln(held.max(1e-3)) } else { held })
    }

    fn at(&self, p: (f64, f64)) -> (f64, f64) {
        (self.x.at(p.0), self.y_of(p.1))
    }

    fn data(&self, points: &[(f64, f64)]) -> String {
        let mut data = String::new();
        for p in points {
            let (x, y) = self.at(*p);
            data.push(if data.is_empty() { 'M' } else { 'L' });
            data.push_str(&format!("{} {}", px(x), px(y)));
        }
        data
    }

    fn axes(&self, svg: &mut Svg) {
        let grid = "class=\"grid\" stroke=\"currentColor\" stroke-opacity=\".18\"";
        let (marks, places) = self.marks();
        for v in marks {
            let y = self.y_of(v);
            svg.line((self.left, y), (self.right, y), grid);
            let text = words::number(v, places);
            svg.text((self.left - 5.0, y + 4.0), "text-anchor=\"end\"", &text);
        }
        let frame = "class=\"field\" fill=\"none\" stroke=\"currentColor\" stroke-opacity=\".6\"";
        svg.rect((self.left, self.top), self.size(), frame);
        let name = if self.d.log { "Pressure, µm (log axis)" } else { "Pressure, µm" };
        let at = (if self.narrow { 2.0 } else { self.left }, 18.0);
        svg.text(at, "class=\"name\" font-weight=\"600\"", name);
    }

    fn marks(&self) -> (Vec<f64>, usize) {
        let most = if self.narrow { 7.0 } else { 9.0 };
        if !self.d.log || self.high < 3.0 * self.low {
            return value_marks(self.low, self.high, most);
        }
        let decades = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5];
        let all = decades.into_iter().flat_map(|d| [d, 2.0 * d, 5.0 * d]);
        (all.filter(|v| *v >= self.low && *v <= self.high).collect(), 0)
    }

    fn time_marks(&self, svg: &mut Svg) {
        let grid = "class=\"grid\" stroke=\"currentColor\" stroke-opacity=\".14\"";
        let most = if self.narrow { 5.0 } else { 14.0 };
        let (marks, places) = value_marks(0.0, self.d.end_min.max(1.0), most);
        for t in marks {
            let x = self.x.at(t);
            svg.line((x, self.top), (x, self.bottom), grid);
            let text = words::number(t, places);
            svg.text((x, self.bottom + 16.0), "text-anchor=\"middle\"", &text);
        }
        let name = "minutes since the pump was valved off";
        svg.text((self.left, self.bottom + 34.0), "", name);
        if let Some(end) = self.d.criterion_min.filter(|m| *m <= self.d.end_min) {
            let x = self.x.at(end);
            let attrs = "class=\"hold-end\" stroke=\"currentColor\" stroke-width=\"1.4\" \
                         stroke-dasharray=\"1 3\"";
            svg.line((x, self.top), (x, self.bottom), attrs);
            let anchor = if x > self.right - 60.0 { "end" } else { "middle" };
            let attrs = format!("text-anchor=\"{anchor}\" font-size=\"11\"");
            let text = format!("{end:.0} min asked");
            svg.text((x.min(self.right), self.top - 6.0), &attrs, &text);
        }
    }

    fn band(&self, svg: &mut Svg) {
        let low: Vec<(f64, f64)> = self.d.band.iter().map(|b| (b.minutes, b.low_um)).collect();
        let high: Vec<(f64, f64)> = self.d.band.iter().map(|b| (b.minutes, b.high_um)).collect();
        if low.len() < 2 {
            return;
        }
        let around: Vec<(f64, f64)> = high.iter().chain(low.iter().rev()).copied().collect();
        let fill = "class=\"hold-band\" fill=\"currentColor\" fill-opacity=\".12\" stroke=\"none\"";
        svg.path(&format!("{}z", self.data(&around)), fill);
        let edge = "class=\"hold-band\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1\" \
                    stroke-dasharray=\"1 2\"";
        svg.path(&self.data(&low), edge);
        svg.path(&self.data(&high), edge);
    }

    /// Named above the frame, where it begins, so that nothing is covered.
    fn band_name(&self, svg: &mut Svg) {
        if self.d.band.len() < 2 {
            return;
        }
        let y = self.bottom + 34.0;
        let (x, text) = if self.narrow {
            (self.right + 92.0, "grey: ahead, 90 %")
        } else {
            (self.right, "grey: where readings will lie, 90 %")
        };
        if !self.narrow {
            svg.text((x, y), "text-anchor=\"end\"", text);
            return;
        }
        svg.text((x, 18.0), "text-anchor=\"end\" font-size=\"11\"", text);
    }

    fn levels(&self, svg: &mut Svg) -> Vec<Label> {
        let mut labels = Vec::new();
        for (um, name) in &self.d.levels {
            let (y, text) = if *um > self.high {
                (self.top + 6.0, format!("↑ {name}"))
            } else if *um < self.low {
                (self.bottom - 6.0, format!("↓ {name}"))
            } else {
                let y = self.y_of(*um);
                let attrs = "class=\"level\" stroke=\"currentColor\" stroke-width=\"1.6\" \
                             stroke-dasharray=\"8 3 2 3\"";
                svg.line((self.left, y), (self.right, y), attrs);
                (y, name.clone())
            };
            labels.push(Label { y, text, class: "level-name" });
        }
        labels
    }

    fn curves(&self, svg: &mut Svg) -> Vec<Label> {
        let mut labels = Vec::new();
        for (i, (curve, dash)) in self.d.curves.iter().zip(DASHES).enumerate().rev() {
            let width = if i == 0 { 2.2 } else { 1.3 };
            let dashes = if dash.is_empty() {
                String::new()
            } else {
                format!(" stroke-dasharray=\"{dash}\"")
            };
            let attrs = format!(
                "class=\"hold-curve c{i}\" fill=\"none\" stroke=\"currentColor\" \
                 stroke-width=\"{width}\"{dashes}"
            );
            svg.path(&self.data(&curve.points), &attrs);
            if let Some(end) = curve.points.last() {
                let y = self.y_of(end.1).clamp(self.top + 6.0, self.bottom - 6.0);
                labels.push(Label { y, text: curve.label.clone(), class: "direct" });
            }
        }
        labels
    }

    /// A bar as high as the display's step, and a sign at the figure shown.
    fn readings(&self, svg: &mut Svg) {
        let many = self.d.readings.len() > if self.narrow { 60 } else { 240 };
        let (mut bars, mut signs) = (String::new(), String::new());
        for p in &self.d.readings {
            let (x, y) = self.at(*p);
            if self.d.step_um > 0.0 {
                let top = self.y_of(p.1 + 0.5 * self.d.step_um);
                let bottom = self.y_of((p.1 - 0.5 * self.d.step_um).max(1e-3));
                bars.push_str(&format!("M{} {}V{}", px(x), px(top), px(bottom)));
                bars.push_str(&format!(
                    "M{} {}h6M{} {}h6",
                    px(x - 3.0),
                    px(top),
                    px(x - 3.0),
                    px(bottom)
                ));
            }
            let r = if many { 1.2 } else { 2.6 };
            signs.push_str(&format!(
                "M{} {}h{}v{}h{}z",
                px(x - r),
                px(y - r),
                px(2.0 * r),
                px(2.0 * r),
                px(-2.0 * r)
            ));
        }
        let attrs = "class=\"hold-bar\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"1\"";
        svg.path(&bars, attrs);
        svg.path(&signs, "class=\"hold-sign\" fill=\"currentColor\"");
    }

    /// Labels at the right edge, apart from each other, tied to their lines.
    fn labels(&self, svg: &mut Svg, mut labels: Vec<Label>) {
        const APART: f64 = 15.0;
        labels.sort_by(|a, b| a.y.total_cmp(&b.y));
        let mut places: Vec<f64> = labels.iter().map(|l| l.y).collect();
        let mut floor = self.top + 4.0;
        for y in &mut places {
            *y = y.max(floor);
            floor = *y + APART;
        }
        let mut ceiling = self.bottom + 4.0;
        for y in places.iter_mut().rev() {
            *y = y.min(ceiling);
            ceiling = *y - APART;
        }
        let gap = if self.narrow { 6.0 } else { 14.0 };
        for (label, y) in labels.iter().zip(places) {
            let tie = "stroke=\"currentColor\" stroke-opacity=\".5\" stroke-width=\"1\"";
            svg.line((self.right, label.y), (self.right + gap, y), tie);
            let size = if self.narrow { "10.5" } else { "12" };
            let attrs = format!("class=\"{}\" font-size=\"{size}\"", label.class);
            let room = if self.narrow { 16 } else { 28 };
            svg.text((self.right + gap + 2.0, y + 4.0), &attrs, &clipped(&label.text, room));
        }
    }
}

/// Lowest and highest pressure of the frame: every reading, the band and the best curve, and each
/// level that does not flatten them.
fn range(d: &HoldDrawing) -> (f64, f64) {
    let readings = d.readings.iter().map(|r| r.1);
    let best = d.curves.first().into_iter().flat_map(|c| c.points.iter().map(|p| p.1));
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in readings.chain(best).filter(|v| v.is_finite()) {
        low = low.min(v);
        high = high.max(v);
    }
    // A band that is wide because little is known yet is cut, not the readings flattened.
    let reach = (high - low).max(0.15 * high).max(20.0);
    for b in &d.band {
        low = low.min(b.low_um.max(low - reach));
        high = high.max(b.high_um.min(high + reach));
    }
    let reach = (high - low).max(0.3 * high);
    for (um, _) in &d.levels {
        let near = if d.log {
            *um < high * 4.0 && *um > low / 4.0
        } else {
            *um < high + reach && *um > low - reach
        };
        if near {
            low = low.min(*um);
            high = high.max(*um);
        }
    }
    if d.log {
        let pad = exp((ln(high.max(1.0)) - ln(low.max(1.0))).max(0.2) * 0.06);
        return (low.max(1.0) / pad, high.max(2.0) * pad);
    }
    let pad = ((high - low) * 0.07).max(d.step_um).max(2.0);
    ((low - pad).max(0.0), high + pad)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawing() -> HoldDrawing {
        HoldDrawing {
            readings: (0..12).map(|i| (f64::from(i), 300.0 + 4.0 * f64::from(i))).collect(),
            step_um: 10.0,
            curves: vec![
                HoldCurve { label: "leak 90 %".into(), points: vec![(0.0, 300.0), (20.0, 380.0)] },
                HoldCurve { label: "<wet>".into(), points: vec![(0.0, 300.0), (20.0, 350.0)] },
            ],
            band: vec![
                HoldBand { minutes: 11.0, low_um: 340.0, high_um: 350.0 },
                HoldBand { minutes: 20.0, low_um: 340.0, high_um: 400.0 },
            ],
            levels: vec![(500.0, "500 µm asked".into()), (9212.0, "water at 10 °C".into())],
            end_min: 20.0,
            criterion_min: Some(15.0),
            log: false,
        }
    }

    #[test]
    fn nothing_read_is_no_picture() {
        assert_eq!(hold_chart(&HoldDrawing::default(), Look::Wide), None);
    }

    #[test]
    fn readings_curves_and_levels_are_there() {
        for (look, log) in [(Look::Wide, false), (Look::Narrow, true)] {
            let svg = hold_chart(&HoldDrawing { log, ..drawing() }, look).unwrap();
            assert!(svg.contains("leak 90 %") && svg.contains("&lt;wet&gt;"));
            assert!(svg.contains("500 µm asked"));
            // 18 times as much as was read: named at the edge, not drawn.
            assert!(svg.contains("↑ water at 10 °C"));
            assert!(!svg.contains("style=") && !svg.contains("NaN") && !svg.contains("inf"));
            let solid = svg.matches("class=\"hold-curve").count();
            assert_eq!(solid, 2);
        }
    }

    #[test]
    fn one_reading_is_a_picture() {
        let d = HoldDrawing { readings: vec![(0.5, 0.0)], end_min: 15.0, ..Default::default() };
        for log in [false, true] {
            let svg = hold_chart(&HoldDrawing { log, ..d.clone() }, Look::Wide).unwrap();
            assert!(!svg.contains("NaN") && !svg.contains("inf"));
        }
    }
}
