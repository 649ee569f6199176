//! A pressure-enthalpy diagram: logarithm of absolute pressure over specific enthalpy.
//!
//! Kinds of line differ by weight and dash, so that a black and white print is read as well.

mod cycle;

use units::math::ln;

use crate::chart::Look;
use crate::scale::{Linear, value_marks};
use crate::svg::{Svg, px};

/// A point: specific enthalpy (kJ/kg) and absolute pressure (kPa).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhPoint {
    /// kJ/kg.
    pub h_kj_kg: f64,
    /// kPa absolute.
    pub p_kpa: f64,
}

/// A line along which one value is equal.
#[derive(Debug, Clone, PartialEq)]
pub struct PhLine {
    /// The value: °C, kJ/(kg·K) or kg/kg.
    pub value: f64,
    /// Points from low to high pressure.
    pub points: Vec<PhPoint>,
}

/// A state to be marked.
#[derive(Debug, Clone, PartialEq)]
pub struct PhMark {
    /// Where.
    pub at: PhPoint,
    /// A word or two beside it.
    pub label: String,
}

/// A closed way through several states.
#[derive(Debug, Clone, PartialEq)]
pub struct PhCycle {
    /// Its corners in order; the last is joined to the first.
    pub points: Vec<PhPoint>,
    /// Its name in the key.
    pub label: String,
    /// Drawn dashed and without numbers: the one to compare with.
    pub dashed: bool,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct PhDiagram {
    /// Name of the refrigerant.
    pub fluid: String,
    /// Bubble line (boiling begins), from cold to warm.
    pub bubble: Vec<PhPoint>,
    /// Dew line (the last drop is gone), from cold to warm.
    pub dew: Vec<PhPoint>,
    /// Equal temperature, °C.
    pub isotherms: Vec<PhLine>,
    /// Equal entropy, kJ/(kg·K).
    pub isentropes: Vec<PhLine>,
    /// Equal vapour share, kg/kg.
    pub qualities: Vec<PhLine>,
    /// The critical point, where it is known.
    pub critical: Option<PhPoint>,
    /// States marked.
    pub marks: Vec<PhMark>,
    /// Cycles laid over it.
    pub cycles: Vec<PhCycle>,
    /// Lowest and highest absolute pressure of the frame, kPa.
    pub pressures_kpa: [f64; 2],
}

const DOME: &str = "class=\"ph-dome\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\"";
const DEW: &str = "class=\"ph-dome\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"2.4\" \
                   stroke-dasharray=\"12 3\"";
const ISOTHERM: &str = "class=\"ph-t\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"0.9\"";
const ISENTROPE: &str = "class=\"ph-s\" fill=\"none\" stroke=\"currentColor\" \
                         stroke-width=\"0.9\" stroke-dasharray=\"7 3\"";
const QUALITY: &str = "class=\"ph-x\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"0.9\" \
                       stroke-dasharray=\"1.5 3\"";

/// Where things lie on the paper.
struct Paper {
    x: Linear,
    y: Linear,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    narrow: bool,
    /// Places taken by labels: left, top, right, bottom.
    taken: Vec<[f64; 4]>,
}

impl Paper {
    fn at(&self, p: PhPoint) -> (f64, f64) {
        (self.x.at(p.h_kj_kg), self.y.at(ln(p.p_kpa)))
    }

    fn holds(&self, (x, y): (f64, f64)) -> bool {
        x >= self.left && x <= self.right && y >= self.top - 0.5 && y <= self.bottom + 0.5
    }

    fn data(&self, points: &[PhPoint]) -> String {
        let mut data = String::new();
        for p in points {
            let (x, y) = self.at(*p);
            data.push_str(if data.is_empty() { "M" } else { "L" });
            data.push_str(&format!("{} {}", px(x), px(y)));
        }
        data
    }

    /// Writes a label centred at a place when nothing is there yet and the frame holds it.
    fn label(&mut self, svg: &mut Svg, at: (f64, f64), class: &str, text: &str) -> bool {
        let half = text.chars().count() as f64 * 3.3 + 5.0;
        let (x, y) = at;
        let [l, t, r, b] = [x - half, y - 10.0, x + half, y + 4.0];
        let free = self.taken.iter().all(|o| r < o[0] || l > o[2] || b < o[1] || t > o[3]);
        let fits = l > self.left && r < self.right && t > self.top && b < self.bottom;
        if free && fits {
            self.taken.push([l, t, r, b]);
            // A line that runs into a figure would read as its minus sign.
            svg.rect((l, t), (r - l, b - t), "class=\"ph-field\" fill=\"none\"");
            let attrs = format!("class=\"halo {class}\" text-anchor=\"middle\" font-size=\"11\"");
            svg.text(at, &attrs, text);
        }
        free && fits
    }
}

/// Draws the diagram.
#[must_use]
pub fn ph_diagram(d: &PhDiagram, look: Look) -> String {
    let narrow = look == Look::Narrow;
    let (width, height) = if narrow { (344.0, 420.0) } else { (1120.0, 660.0) };
    let class = if narrow { "ph narrow" } else { "ph wide" };
    let label = format!(
        "{}: pressure over enthalpy with bubble and dew line, temperatures, entropies and vapour \
         shares. The figures of the state are in the table.",
        d.fluid
    );
    let mut svg = Svg::open(width, height, class, &label, "role=\"img\" ");
    let mut paper = paper(d, narrow, height);
    key(&mut svg, &paper, d);
    axes(&mut svg, &paper, d);
    let clip = if narrow { "ph-clip-narrow" } else { "ph-clip-wide" };
    svg.raw(&format!("<clipPath id=\"{clip}\">"));
    let size = (paper.right - paper.left, paper.bottom - paper.top);
    svg.rect((paper.left, paper.top), size, "");
    svg.raw(&format!("</clipPath><g clip-path=\"url(#{clip})\">"));
    let thin = |all: &[PhLine], step: f64| -> Vec<PhLine> {
        let whole = |l: &&PhLine| {
            let n = l.value / step;
            !narrow || (n - n.round()).abs() < 1e-6
        };
        all.iter().filter(whole).cloned().collect()
    };
    let temps = thin(&d.isotherms, 20.0);
    let entropies = thin(&d.isentropes, 0.2);
    let shares = thin(&d.qualities, 0.2);
    for (lines, attrs) in [(&shares, QUALITY), (&entropies, ISENTROPE), (&temps, ISOTHERM)] {
        for l in lines {
            svg.path(&paper.data(&l.points), attrs);
        }
    }
    svg.path(&paper.data(&d.bubble), DOME);
    svg.path(&paper.data(&d.dew), DEW);
    cycle::lines(&mut svg, &paper, d);
    svg.raw("</g>");
    cycle::corners(&mut svg, &mut paper, d);
    marks(&mut svg, &mut paper, d);
    labels(&mut svg, &mut paper, &temps, &entropies, &shares);
    svg.close()
}

fn paper(d: &PhDiagram, narrow: bool, height: f64) -> Paper {
    let low = d.bubble.iter().map(|p| p.h_kj_kg).fold(f64::INFINITY, f64::min);
    let high = d.dew.iter().map(|p| p.h_kj_kg).fold(f64::NEG_INFINITY, f64::max);
    let (low, high) = if low < high { (low, high) } else { (0.0, 500.0) };
    let span = high - low;
    let (mut from, mut to) = (low - span * 0.12, high + span * 0.42);
    let shown = d.marks.iter().map(|m| m.at);
    for at in shown.chain(d.cycles.iter().flat_map(|c| c.points.iter().copied())) {
        from = from.min(at.h_kj_kg - span * 0.05);
        to = to.max(at.h_kj_kg + span * 0.1);
    }
    let (left, right, top) = if narrow { (34.0, 306.0, 66.0) } else { (56.0, 1056.0, 50.0) };
    let top = if d.cycles.is_empty() { top } else { top + cycle::KEY_ROW };
    let bottom = height - 44.0;
    let [p0, p1] = d.pressures_kpa;
    Paper {
        x: Linear::new([from, to], [left, right]),
        y: Linear::new([ln(p0.max(1e-3)), ln(p1.max(1e-2))], [bottom, top]),
        left,
        right,
        top,
        bottom,
        narrow,
        taken: Vec::new(),
    }
}

fn key(svg: &mut Svg, paper: &Paper, d: &PhDiagram) {
    let all = [
        (DOME, "bubble line", true),
        (DEW, "dew line", true),
        (ISOTHERM, "temperature, °C", !d.isotherms.is_empty()),
        (ISENTROPE, "entropy s, kJ/(kg·K)", !d.isentropes.is_empty()),
        (QUALITY, "vapour share x, kg/kg", !d.qualities.is_empty()),
    ];
    let places: [(f64, f64); 5] = if paper.narrow {
        [(2.0, 12.0), (100.0, 12.0), (184.0, 12.0), (2.0, 30.0), (172.0, 30.0)]
    } else {
        [(56.0, 14.0), (196.0, 14.0), (316.0, 14.0), (486.0, 14.0), (692.0, 14.0)]
    };
    let first = places[0].0;
    let below = if paper.narrow { 48.0 } else { 34.0 };
    cycle::key(svg, d, (first, below));
    for ((attrs, text, used), (x, y)) in all.into_iter().zip(places) {
        if !used {
            continue;
        }
        svg.path(&format!("M{} {}h26", px(x), px(y - 4.0)), attrs);
        svg.text((x + 30.0, y), "font-size=\"11\"", text);
    }
}

fn axes(svg: &mut Svg, paper: &Paper, d: &PhDiagram) {
    let [p0, p1] = d.pressures_kpa;
    let size = (paper.right - paper.left, paper.bottom - paper.top);
    let frame = "fill=\"none\" stroke=\"currentColor\" stroke-width=\"1\"";
    svg.rect((paper.left, paper.top), size, frame);
    let grid = "class=\"ph-grid\" stroke=\"currentColor\" stroke-opacity=\"0.18\"";
    for decade in [1.0, 10.0, 100.0, 1e3, 1e4, 1e5] {
        for p in [decade, decade * 2.0, decade * 5.0] {
            if p < p0 || p > p1 {
                continue;
            }
            let y = paper.y.at(ln(p));
            svg.line((paper.left, y), (paper.right, y), grid);
            let bar = format!("{}", p / 100.0);
            svg.text((paper.left - 5.0, y + 4.0), "text-anchor=\"end\"", &bar);
            svg.text((paper.right + 5.0, y + 4.0), "", &format!("{p}"));
        }
    }
    let most = if paper.narrow { 5.0 } else { 14.0 };
    let span = |x: f64| {
        // The inverse of the scale, for the ends of the frame.
        let (a, b) = (paper.x.at(0.0), paper.x.at(1.0));
        (x - a) / (b - a)
    };
    let (marks, _) = value_marks(span(paper.left), span(paper.right), most);
    for h in marks {
        let x = paper.x.at(h);
        svg.line((x, paper.top), (x, paper.bottom), grid);
        svg.text((x, paper.bottom + 16.0), "text-anchor=\"middle\"", &format!("{h}"));
    }
    let above = paper.top - 8.0;
    svg.text((2.0, above), "font-weight=\"600\"", "bar absolute");
    let end = if paper.narrow { 342.0 } else { 1118.0 };
    svg.text((end, above), "text-anchor=\"end\" font-weight=\"600\"", "kPa absolute");
    let middle = (paper.left + paper.right) / 2.0;
    let name = if paper.narrow {
        "enthalpy h, kJ/kg (200 = liquid at 0 °C)"
    } else {
        "specific enthalpy h, kJ/kg (IIR reference: 200 for liquid at its bubble point at 0 °C)"
    };
    svg.text((middle, paper.bottom + 36.0), "text-anchor=\"middle\" font-weight=\"600\"", name);
}

/// Whole degrees with a proper minus.
fn signed(v: f64) -> String {
    format!("{v:.0}").replace('-', "−")
}

fn marks(svg: &mut Svg, paper: &mut Paper, d: &PhDiagram) {
    if let Some(c) = d.critical {
        let (x, y) = paper.at(c);
        if paper.holds((x, y)) {
            svg.rect((x - 3.5, y - 3.5), (7.0, 7.0), "class=\"ph-critical\"");
            paper.label(svg, (x, y - 9.0), "ph-word", "critical");
        }
    }
    for m in &d.marks {
        let (x, y) = paper.at(m.at);
        if !paper.holds((x, y)) {
            continue;
        }
        paper.taken.push([x - 9.0, y - 9.0, x + 9.0, y + 9.0]);
        let (l, r) = (px(x - 12.0), px(y - 12.0));
        svg.raw(&format!(
            "<g class=\"ph-mark\"><circle cx=\"{}\" cy=\"{}\" r=\"7\" fill=\"none\" \
             stroke=\"currentColor\" stroke-width=\"2.5\"/><path d=\"M{l} {}h24M{} {r}v24\" \
             stroke=\"currentColor\" stroke-width=\"1.5\"/></g>",
            px(x),
            px(y),
            px(y),
            px(x),
        ));
        let half = m.label.chars().count() as f64 * 3.3 + 20.0;
        for at in [(x + half, y - 9.0), (x - half, y - 9.0), (x, y + 26.0), (x, y - 18.0)] {
            if paper.label(svg, at, "ph-word ph-mark", &m.label) {
                break;
            }
        }
    }
}

fn labels(
    svg: &mut Svg,
    paper: &mut Paper,
    temps: &[PhLine],
    entropies: &[PhLine],
    shares: &[PhLine],
) {
    for l in temps {
        // The longest step in enthalpy lies in the wet region.
        let wet = l.points.windows(2).filter_map(|w| match w {
            [a, b] => Some((paper.at(*a), paper.at(*b))),
            _ => None,
        });
        let wet = wet.max_by(|(a, b), (c, d)| (a.0 - b.0).abs().total_cmp(&(c.0 - d.0).abs()));
        let text = format!("{} °C", signed(l.value));
        if let Some((a, b)) = wet.filter(|(a, b)| (a.0 - b.0).abs() > 50.0) {
            paper.label(svg, ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0 + 4.0), "ph-t", &text);
        }
        if let Some(first) = l.points.first() {
            let (x, y) = paper.at(*first);
            paper.label(svg, (x, y - 8.0), "ph-t", &text);
        }
    }
    for l in shares {
        if let Some(first) = l.points.first() {
            let (x, y) = paper.at(*first);
            paper.label(svg, (x, y - 22.0), "ph-x", &format!("x {:.1}", l.value));
        }
    }
    for l in entropies {
        // As far up the line as there is room.
        let text = format!("s {:.1}", l.value);
        let places: Vec<_> = l.points.iter().rev().map(|p| paper.at(*p)).collect();
        for (x, y) in places {
            if x < paper.right - 18.0 && paper.label(svg, (x, y + 4.0), "ph-s", &text) {
                break;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(h_kj_kg: f64, p_kpa: f64) -> PhPoint {
        PhPoint { h_kj_kg, p_kpa }
    }

    fn sample() -> PhDiagram {
        PhDiagram {
            fluid: "R<1>".to_owned(),
            bubble: vec![at(150.0, 50.0), at(250.0, 900.0), at(390.0, 4000.0)],
            dew: vec![at(380.0, 50.0), at(420.0, 900.0), at(390.0, 4000.0)],
            isotherms: vec![PhLine {
                value: -20.0,
                points: vec![at(400.0, 50.0), at(385.0, 130.0), at(174.0, 130.0)],
            }],
            isentropes: vec![PhLine {
                value: 1.8,
                points: vec![at(410.0, 60.0), at(450.0, 900.0)],
            }],
            qualities: vec![PhLine { value: 0.4, points: vec![at(240.0, 50.0), at(330.0, 900.0)] }],
            critical: Some(at(390.0, 4000.0)),
            marks: vec![PhMark { at: at(440.0, 200.0), label: "state".to_owned() }],
            cycles: Vec::new(),
            pressures_kpa: [50.0, 5000.0],
        }
    }

    #[test]
    fn each_kind_of_line_has_its_own_dash_and_is_labelled() {
        for look in [Look::Wide, Look::Narrow] {
            let svg = ph_diagram(&sample(), look);
            for word in ["−20 °C", "s 1.8", "x 0.4", "critical", ">state<", "bar absolute"] {
                assert!(svg.contains(word), "{look:?}: {word}: {svg}");
            }
            for dash in ["\"12 3\"", "\"7 3\"", "\"1.5 3\""] {
                // Once in the key, once in the field.
                assert_eq!(svg.matches(dash).count(), 2, "{look:?}: {dash}");
            }
            assert!(svg.contains("R&lt;1&gt;") && !svg.contains("style="));
        }
    }

    /// Told apart without colour: the one solid and numbered, the other dashed.
    #[test]
    fn two_cycles_are_told_apart_in_black_and_white() {
        let ring = |h: f64| vec![at(h, 100.0), at(h + 60.0, 1000.0), at(h - 100.0, 1000.0)];
        let mut d = sample();
        let cycle =
            |h, label: &str, dashed| PhCycle { points: ring(h), label: label.into(), dashed };
        d.cycles = vec![cycle(400.0, "as measured", false), cycle(410.0, "sound", true)];
        for look in [Look::Wide, Look::Narrow] {
            let svg = ph_diagram(&d, look);
            assert!(svg.contains(">as measured<") && svg.contains(">sound<"), "{look:?}");
            assert_eq!(svg.matches("stroke-dasharray=\"9 5\"").count(), 2, "{look:?}");
            assert_eq!(svg.matches("class=\"ph-corner\"").count(), 3, "{look:?}");
            assert_eq!(svg.matches("class=\"ph-cycle\"").count(), 2, "{look:?}");
        }
    }

    /// On a logarithmic axis equal ratios are equal lengths: 50 to 500 as 500 to 5000.
    #[test]
    fn pressure_is_logarithmic() {
        let p = paper(&sample(), false, 660.0);
        let y = |kpa| p.at(at(200.0, kpa)).1;
        assert!((y(50.0) - y(500.0) - (y(500.0) - y(5000.0))).abs() < 1e-9);
        assert!(y(50.0) > y(500.0));
    }

    #[test]
    fn a_state_far_out_widens_the_frame() {
        let mut d = sample();
        d.marks[0].at = at(700.0, 100.0);
        let p = paper(&d, false, 660.0);
        assert!(p.holds(p.at(d.marks[0].at)));
    }

    #[test]
    fn labels_do_not_cover_each_other() {
        let mut p = paper(&sample(), false, 660.0);
        let mut svg = Svg::default();
        assert!(p.label(&mut svg, (300.0, 300.0), "", "one"));
        assert!(!p.label(&mut svg, (305.0, 302.0), "", "two"));
    }

    #[test]
    fn nothing_to_draw_is_an_empty_frame() {
        let d = PhDiagram {
            bubble: Vec::new(),
            dew: Vec::new(),
            isotherms: Vec::new(),
            isentropes: Vec::new(),
            qualities: Vec::new(),
            critical: None,
            marks: Vec::new(),
            ..sample()
        };
        assert!(!ph_diagram(&d, Look::Wide).contains("NaN"));
    }
}
