//! A refrigeration circuit with its manifold: valves with their position drawn, hoses, machines,
//! and what is inside each volume as a hatch and in words. Each valve and volume can be a link,
//! big enough for a thumb: that is how a plant found so is entered.
//!
//! One upright drawing for phone, desktop and paper: the circuit on the left from evaporator to
//! liquid line, the gauge set on the right.

use crate::svg::{Svg, escape, px};

/// How a volume is hatched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hatch {
    /// Refrigerant under pressure: close slanted lines.
    Pressure,
    /// Liquid: close level lines.
    Liquid,
    /// Refrigerant near the atmosphere: wide slanted lines.
    Slight,
    /// Below the atmosphere: empty.
    Empty,
    /// Nitrogen under pressure: close crossed lines.
    Nitrogen,
    /// Nitrogen near the atmosphere: wide crossed lines.
    NitrogenSlight,
    /// Air: dots.
    Air,
    /// Mixed with what does not belong in it: slanted lines and dots.
    Mixed,
    /// Not known.
    Unknown,
}

/// How a valve stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stem {
    /// Back-seated: line open, gauge port shut.
    Back,
    /// Mid: line and gauge port open.
    Mid,
    /// Front-seated: line shut; the gauge port sees the machine's side.
    FrontMachine,
    /// Front-seated: line shut; the gauge port sees the pipe.
    FrontLine,
    /// A valve without port, open.
    Open,
    /// A valve without port, shut.
    Shut,
}

/// A thing drawn: its name, its words, where a tap on it leads.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Part {
    /// Name.
    pub name: String,
    /// What it holds, where it stands.
    pub words: String,
    /// Link.
    pub href: Option<String>,
    /// The next step is about it.
    pub marked: bool,
}

/// Where the high hose is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HighHose {
    /// On no port.
    Off,
    /// On the discharge valve.
    Discharge,
    /// On the king valve.
    King,
}

/// The plant to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Pipework {
    /// Evaporator, compressor, high side, liquid line, low hose, centre, high hose: with hatch.
    pub volumes: [(Part, Hatch); 7],
    /// Suction, discharge, king, expansion, low hand, high hand valve.
    pub valves: [(Part, Stem); 6],
    /// The low hose is on its port.
    pub low_hose: bool,
    /// Where the high hose is.
    pub high_hose: HighHose,
    /// Vacuum pump, recovery unit, supply: with whether it is on.
    pub machines: [(Part, bool); 3],
    /// Power, joint of the part, places of both hoses: what else can be tapped.
    pub others: [Part; 4],
}

const WIDTH: f64 = 400.0;
const HEIGHT: f64 = 640.0;
/// Left edge, width and height of the circuit's volumes.
const BOX: (f64, f64, f64) = (26.0, 152.0, 66.0);
/// Middle of the circuit's pipe.
const PIPE: f64 = 102.0;
/// Left edge and width of the gauge set.
const SET: (f64, f64) = (252.0, 142.0);
/// Tops of the seven volumes.
const TOPS: [f64; 7] = [14.0, 142.0, 270.0, 398.0, 78.0, 206.0, 334.0];
/// Middles of the six valves.
const VALVES: [(f64, f64); 6] =
    [(PIPE, 111.0), (PIPE, 239.0), (PIPE, 367.0), (PIPE, 495.0), (323.0, 175.0), (323.0, 303.0)];
/// Radius of a valve: 48 across, for a thumb.
const R: f64 = 24.0;
/// Width of a volume's hatched strip.
const STRIP: f64 = 22.0;
/// Characters in a line of a volume of the circuit, and of the gauge set.
const WRAP: (usize, usize) = (19, 15);

/// The drawing.
#[must_use]
pub fn pipework(p: &Pipework) -> String {
    let label = spoken(p);
    let mut s = Svg::open(WIDTH, HEIGHT, "pipework", &label, "role=\"group\" ");
    pipes(&mut s, p);
    for (i, (part, hatch)) in p.volumes.iter().enumerate() {
        let Some(top) = TOPS.get(i) else { continue };
        let (left, wide, wrap) =
            if i < 4 { (BOX.0, BOX.1, WRAP.0) } else { (SET.0, SET.1, WRAP.1) };
        linked(&mut s, part, "volume", |s| {
            volume(s, part, *hatch, (left, *top, wide), wrap);
        });
    }
    for (i, (part, stem)) in p.valves.iter().enumerate() {
        let Some(at) = VALVES.get(i).copied() else { continue };
        linked(&mut s, part, "valve", |s| valve(s, part, *stem, at, i < 3));
    }
    machines(&mut s, p);
    s.close()
}

/// The whole plant in words, for whoever cannot see it.
#[must_use]
pub fn spoken(p: &Pipework) -> String {
    let parts = p.volumes.iter().map(|v| &v.0).chain(p.valves.iter().map(|v| &v.0));
    let all: Vec<String> =
        parts.chain(&p.others).map(|part| format!("{}: {}", part.name, part.words)).collect();
    format!("The plant. {}.", all.join("; "))
}

/// A part with its link, and what is read of it aloud.
fn linked(s: &mut Svg, part: &Part, class: &str, draw: impl FnOnce(&mut Svg)) {
    let marked = if part.marked { " marked" } else { "" };
    let words = escape(&format!("{}: {}", part.name, part.words));
    match &part.href {
        Some(href) => {
            let href = escape(href);
            s.raw(&format!(
                "<a class=\"part {class}{marked}\" href=\"{href}\" aria-label=\"{words}\">"
            ));
            draw(s);
            s.raw("</a>");
        }
        None => {
            s.raw(&format!("<g class=\"part {class}{marked}\">"));
            draw(s);
            s.raw("</g>");
        }
    }
}

const THICK: &str = "stroke=\"currentColor\" stroke-width=\"5\" fill=\"none\"";
const HOSE: &str = "class=\"hose\" pointer-events=\"none\" stroke=\"currentColor\" stroke-width=\"3\" \
    stroke-dasharray=\"9 4\" fill=\"none\"";

fn pipes(s: &mut Svg, p: &Pipework) {
    // Down the circuit, and from the expansion valve round to the evaporator.
    s.path(&format!("M{PIPE} 40V530H10V47H30"), THICK);
    s.path("M323 100V360", "stroke=\"currentColor\" stroke-width=\"3\" fill=\"none\"");
    if p.low_hose {
        s.path(&format!("M{} 111H{}", PIPE + R, SET.0), HOSE);
    }
    match p.high_hose {
        HighHose::Off => {}
        HighHose::Discharge => s.path(&format!("M{} 239H212V356H{}", PIPE + R, SET.0), HOSE),
        HighHose::King => s.path(&format!("M{} 367H{}", PIPE + R, SET.0), HOSE),
    }
    // From the centre down to the machines.
    s.path("M394 239H397V560", "stroke=\"currentColor\" stroke-width=\"2\" fill=\"none\"");
}

fn field(part: &Part) -> String {
    let width = if part.marked { 5 } else { 2 };
    format!("class=\"part-field\" fill=\"#fff\" stroke=\"currentColor\" stroke-width=\"{width}\"")
}

fn volume(s: &mut Svg, part: &Part, hatch: Hatch, (left, top, wide): (f64, f64, f64), wrap: usize) {
    let round = format!("{} rx=\"6\"", field(part));
    s.rect((left, top), (wide, BOX.2), &round);
    hatched(s, hatch, (left + 3.0, top + 3.0), (STRIP, BOX.2 - 6.0));
    let names = wrapped(&part.name, wrap);
    let words = wrapped(&part.words, wrap);
    let room = 4_usize.saturating_sub(names.len());
    let mut y = top + 15.0;
    for line in &names {
        s.text((left + STRIP + 8.0, y), "font-weight=\"700\"", line);
        y += 15.0;
    }
    for line in words.iter().take(room.max(1)) {
        s.text((left + STRIP + 8.0, y), "", line);
        y += 15.0;
    }
}

/// Text in lines of at most so many characters, broken between words.
#[must_use]
pub fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match out.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => out.push(word.to_owned()),
        }
    }
    out
}

fn hatched(s: &mut Svg, hatch: Hatch, (x, y): (f64, f64), (w, h): (f64, f64)) {
    let mut lines = String::new();
    let slant = |lines: &mut String, step: f64, up: bool| {
        let mut at = 0.0;
        while at + w <= h {
            let (from, to) = if up { (at + w, at) } else { (at, at + w) };
            lines.push_str(&format!("M{} {}L{} {}", px(x), px(y + from), px(x + w), px(y + to)));
            at += step;
        }
    };
    let dots = |lines: &mut String, step: f64| {
        let mut at = 5.0;
        while at < h {
            for dx in [4.0, 11.0, 18.0] {
                lines.push_str(&format!("M{} {}h.1", px(x + dx), px(y + at)));
            }
            at += step;
        }
    };
    match hatch {
        Hatch::Pressure => slant(&mut lines, 5.0, true),
        Hatch::Slight => slant(&mut lines, 12.0, true),
        Hatch::Nitrogen => {
            slant(&mut lines, 6.0, true);
            slant(&mut lines, 6.0, false);
        }
        Hatch::NitrogenSlight => {
            slant(&mut lines, 14.0, true);
            slant(&mut lines, 14.0, false);
        }
        Hatch::Liquid => {
            let mut at = 2.0;
            while at < h {
                lines.push_str(&format!("M{} {}h{}", px(x), px(y + at), px(w)));
                at += 4.0;
            }
        }
        Hatch::Mixed => {
            slant(&mut lines, 12.0, true);
            dots(&mut lines, 12.0);
        }
        Hatch::Air => dots(&mut lines, 8.0),
        Hatch::Empty => {}
        Hatch::Unknown => {
            let mid = "text-anchor=\"middle\" font-size=\"22\" font-weight=\"700\"";
            s.text((x + w / 2.0, y + h / 2.0 + 8.0), mid, "?");
        }
    }
    let width = if hatch == Hatch::Air { 2.6 } else { 1.6 };
    let attrs = format!(
        "class=\"hatch\" stroke=\"currentColor\" stroke-width=\"{width}\" \
         stroke-linecap=\"round\" fill=\"none\""
    );
    s.path(&lines, &attrs);
    s.line((x + w + 2.0, y - 3.0), (x + w + 2.0, y + h + 3.0), "stroke=\"currentColor\"");
}

/// The valve: what is open through it is a thick line, what is shut a bar across.
fn valve(s: &mut Svg, part: &Part, stem: Stem, (x, y): (f64, f64), named_right: bool) {
    // Name and words belong to what a thumb may hit.
    let left = if x < 200.0 { x - R } else { x - R - 78.0 };
    s.rect((left, y - R), (2.0 * R + 78.0, 2.0 * R), "fill=\"#fff\" fill-opacity=\"0\"");
    s.raw(&format!("<circle cx=\"{}\" cy=\"{}\" r=\"{R}\" {}/>", px(x), px(y), field(part)));
    let bar = |s: &mut Svg, a: (f64, f64), b: (f64, f64)| {
        s.line(a, b, "class=\"bar\" stroke=\"currentColor\" stroke-width=\"7\"");
    };
    let (top, low, edge) = (y - R, y + R, x + R);
    let ported = !matches!(stem, Stem::Open | Stem::Shut);
    match stem {
        Stem::Back | Stem::Mid | Stem::Open => s.path(&format!("M{x} {top}V{low}"), THICK),
        Stem::Shut | Stem::FrontMachine | Stem::FrontLine => {
            s.path(&format!("M{x} {top}V{}M{x} {}V{low}", y - 8.0, y + 8.0), THICK);
            bar(s, (x - 13.0, y), (x + 13.0, y));
        }
    }
    match stem {
        Stem::Mid => s.path(&format!("M{x} {y}H{edge}"), THICK),
        Stem::Back => bar(s, (x + 14.0, y - 9.0), (x + 14.0, y + 9.0)),
        // Which side the port sees: an elbow from that side.
        Stem::FrontMachine | Stem::FrontLine => {
            // The suction valve's machine is below it, the others' above.
            let below = (stem == Stem::FrontMachine) == (part.name.starts_with("suction"));
            let from = if below { y + 14.0 } else { y - 14.0 };
            s.path(&format!("M{x} {from}H{}V{y}H{edge}", x + 17.0), THICK);
        }
        Stem::Open | Stem::Shut => {}
    }
    if ported || named_right {
        s.text((x + R + 6.0, y - 9.0), "class=\"halo\" font-weight=\"700\"", &part.name);
        s.text((x + R + 6.0, y + 20.0), "class=\"halo\"", &part.words);
    } else if x < 200.0 {
        s.text((x + R + 6.0, y - 3.0), "class=\"halo\" font-weight=\"700\"", &part.name);
        s.text((x + R + 6.0, y + 14.0), "class=\"halo\"", &part.words);
    } else {
        let end = "class=\"halo\" text-anchor=\"end\" font-weight=\"700\"";
        s.text((x - R - 6.0, y - 3.0), end, &part.name);
        s.text((x - R - 6.0, y + 14.0), "class=\"halo\" text-anchor=\"end\"", &part.words);
    }
}

fn chip(s: &mut Svg, part: &Part, at: (f64, f64), size: (f64, f64), on: bool) {
    let dash = if on { "" } else { " stroke-dasharray=\"4 4\"" };
    s.rect(at, size, &format!("{} rx=\"6\"{dash}", field(part)));
    s.text((at.0 + 8.0, at.1 + 18.0), "font-weight=\"700\"", &part.name);
    s.text((at.0 + 8.0, at.1 + 35.0), "", &part.words);
}

fn machines(s: &mut Svg, p: &Pipework) {
    for (i, (part, on)) in p.machines.iter().enumerate() {
        let top = 414.0 + 50.0 * i as f64;
        linked(s, part, "machine", |s| chip(s, part, (SET.0, top), (138.0, 45.0), *on));
    }
    let places = [
        ((SET.0, 14.0), 138.0),
        ((26.0, 545.0), 216.0),
        ((26.0, 593.0), 179.0),
        ((211.0, 593.0), 179.0),
    ];
    for (part, (at, wide)) in p.others.iter().zip(places) {
        linked(s, part, "machine", |s| chip(s, part, at, (wide, 45.0), true));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(name: &str, words: &str) -> Part {
        Part { name: name.into(), words: words.into(), ..Part::default() }
    }

    fn plant() -> Pipework {
        let v = |n: &str| (part(n, "refrigerant under pressure"), Hatch::Pressure);
        let w = |n: &str, stem| (part(n, "back-seated"), stem);
        Pipework {
            volumes: [
                v("evaporator and suction line"),
                v("compressor"),
                v("condenser and receiver"),
                v("liquid line and drier"),
                v("low hose"),
                v("manifold centre"),
                v("high hose"),
            ],
            valves: [
                w("suction valve", Stem::Back),
                w("discharge valve", Stem::Mid),
                w("king valve", Stem::FrontLine),
                w("expansion valve", Stem::Open),
                w("low hand valve", Stem::Shut),
                w("high hand valve", Stem::Open),
            ],
            low_hose: true,
            high_hose: HighHose::King,
            machines: ["vacuum pump", "recovery unit", "supply"].map(|n| (part(n, "off"), false)),
            others: ["power", "joint", "low hose", "high hose"].map(|n| part(n, "as found")),
        }
    }

    /// Everything is said in words and by a sign, never by colour alone.
    #[test]
    fn every_part_has_its_name_and_its_words() {
        let p = plant();
        let svg = pipework(&p);
        for (part, _) in &p.valves {
            assert!(svg.contains(&format!(">{}</text>", part.name)), "{}", part.name);
        }
        for line in ["evaporator and", "suction line", "condenser and", "receiver"] {
            assert!(svg.contains(&format!(">{line}</text>")), "{line}");
        }
        assert!(!svg.contains("NaN") && !svg.contains("fill=\"red"));
        assert!(spoken(&p).contains("king valve: back-seated"));
        assert_eq!(svg.matches("<circle").count(), 6);
    }

    /// 44 CSS pixels is the target size of WCAG 2.1, success criterion 2.5.5. On a phone of 390
    /// the drawing is about 366 wide, so a valve is 48 · 366 / 400 = 43.9 across.
    #[test]
    fn a_thumb_hits_a_valve() {
        const { assert!(2.0 * R * 366.0 / WIDTH > 43.5) };
        // No two targets overlap.
        let mut fields: Vec<[f64; 4]> =
            VALVES.iter().map(|(x, y)| [x - R, y - R, x + R, y + R]).collect();
        for (i, top) in TOPS.iter().enumerate() {
            let (left, wide) = if i < 4 { (BOX.0, BOX.1) } else { SET };
            fields.push([left, *top, left + wide, top + BOX.2]);
        }
        for (i, a) in fields.iter().enumerate() {
            assert!(a[0] >= 0.0 && a[2] <= WIDTH && a[3] <= HEIGHT);
            for b in &fields[i + 1..] {
                let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                assert!(apart, "{a:?} {b:?}");
            }
        }
    }

    #[test]
    fn a_link_is_a_link_and_nothing_breaks_out() {
        let mut p = plant();
        p.valves[0].0.href = Some("/service/new?a=1&suction_valve=\"mid\"".into());
        p.valves[0].0.marked = true;
        let svg = pipework(&p);
        let href = "href=\"/service/new?a=1&amp;suction_valve=&quot;mid&quot;\"";
        assert!(svg.contains(href) && svg.contains("class=\"part valve marked\""));
        assert_eq!(svg.matches("<a ").count(), 1);
    }

    #[test]
    fn hatches_and_hoses_differ() {
        let all = [
            Hatch::Pressure,
            Hatch::Liquid,
            Hatch::Slight,
            Hatch::Empty,
            Hatch::Nitrogen,
            Hatch::NitrogenSlight,
            Hatch::Air,
            Hatch::Mixed,
            Hatch::Unknown,
        ];
        let mut drawn: Vec<String> = all
            .iter()
            .map(|h| {
                let mut s = Svg::default();
                hatched(&mut s, *h, (0.0, 0.0), (STRIP, 60.0));
                s.close()
            })
            .collect();
        drawn.sort();
        drawn.dedup();
        assert_eq!(drawn.len(), all.len());
        let mut p = plant();
        let king = pipework(&p);
        p.high_hose = HighHose::Off;
        let off = pipework(&p);
        assert_eq!(king.matches("class=\"hose\"").count(), 2);
        assert_eq!(off.matches("class=\"hose\"").count(), 1);
    }

    #[test]
    fn words_break_between_words() {
        assert_eq!(wrapped("evaporator and suction line", 19), ["evaporator and", "suction line"]);
        assert_eq!(wrapped("", 5), Vec::<String>::new());
        assert_eq!(wrapped("unbreakable", 4), ["unbreakable"]);
    }
}
