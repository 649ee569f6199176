//! The house's own SVG as shapes for paper, in black and white: the classes that give a page its
//! colours mean nothing here, so dashes, hatches and signs tell things apart.
//!
//! It reads what `figures` writes (paths, lines, rectangles, circles, text, groups, tiles) and no
//! more; an element it does not know is left out.

use std::collections::BTreeMap;

use kurbo::{BezPath, Circle, Line, Rect, Shape as _};
use roxmltree::Node;

/// What fills an outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Nothing.
    None,
    /// Black.
    Black,
    /// White.
    White,
    /// A tile of the picture, by its place.
    Tile(usize),
}

/// How an outline is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Pen {
    /// Fill.
    pub fill: Ink,
    /// Its opacity.
    pub fill_opacity: f32,
    /// Line; never a tile.
    pub stroke: Ink,
    /// Its opacity.
    pub stroke_opacity: f32,
    /// Its width.
    pub width: f32,
    /// Its dashes.
    pub dash: Vec<f32>,
}

/// One shape.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// An outline.
    Path(BezPath, Pen),
    /// A line of text.
    Text(Label),
    /// Shapes from here on are cut to a rectangle …
    Clip(Rect),
    /// … to here.
    EndClip,
}

/// A line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Label {
    /// Where its anchor stands.
    pub at: (f64, f64),
    /// 0: begins there, 0.5: middle, 1: ends there.
    pub anchor: f32,
    /// Size.
    pub size: f32,
    /// Bold.
    pub bold: bool,
    /// Opacity.
    pub opacity: f32,
    /// A white edge keeps it readable over lines.
    pub halo: bool,
    /// The text.
    pub text: String,
}

/// A hatch: a small drawing repeated.
#[derive(Debug, Clone, PartialEq)]
pub struct Tile {
    /// Width and height.
    pub size: (f64, f64),
    /// What is repeated.
    pub shapes: Vec<Shape>,
}

/// A picture ready to be drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// What is drawn, in order.
    pub shapes: Vec<Shape>,
    /// Its hatches.
    pub tiles: Vec<Tile>,
}

/// What an element inherits.
#[derive(Clone)]
struct Style {
    fill: Ink,
    size: f32,
    bold: bool,
}

struct Reader<'a> {
    tile_of: BTreeMap<&'a str, usize>,
    clip_of: BTreeMap<&'a str, Rect>,
}

impl Picture {
    /// Reads SVG text of the house; `None` when it is no SVG.
    #[must_use]
    pub fn read(svg: &str) -> Option<Self> {
        let document = roxmltree::Document::parse(svg).ok()?;
        let root = document.root_element();
        let (width, height) = (number(root, "width")?, number(root, "height")?);
        let mut reader = Reader { tile_of: BTreeMap::new(), clip_of: BTreeMap::new() };
        let style = Style { fill: Ink::Black, size: 12.0, bold: false };
        let mut tiles = Vec::new();
        for node in root.descendants().filter(|n| n.has_tag_name(SVG_PATTERN)) {
            let Some(id) = node.attribute("id") else { continue };
            let size = (number(node, "width")?, number(node, "height")?);
            let mut shapes = Vec::new();
            reader.children(node, &style, &mut shapes);
            reader.tile_of.insert(id, tiles.len());
            tiles.push(Tile { size, shapes });
        }
        for node in root.descendants().filter(|n| n.tag_name().name() == "clipPath") {
            let rect = node.children().find(|n| n.tag_name().name() == "rect").and_then(rectangle);
            if let (Some(id), Some(rect)) = (node.attribute("id"), rect) {
                reader.clip_of.insert(id, rect);
            }
        }
        let mut shapes = Vec::new();
        reader.children(root, &style, &mut shapes);
        Some(Self { width, height, shapes, tiles })
    }
}

const SVG_PATTERN: (&str, &str) = ("http://www.w3.org/2000/svg", "pattern");

impl<'a> Reader<'a> {
    fn children(&self, parent: Node<'a, '_>, style: &Style, out: &mut Vec<Shape>) {
        for node in parent.children().filter(Node::is_element) {
            self.element(node, style, out);
        }
    }

    fn element(&self, node: Node<'a, '_>, inherited: &Style, out: &mut Vec<Shape>) {
        let style = self.style(node, inherited);
        let path = match node.tag_name().name() {
            "g" | "a" | "svg" => {
                let clip = node.attribute("clip-path").and_then(url);
                let rect = clip.and_then(|id| self.clip_of.get(id));
                out.extend(rect.map(|r| Shape::Clip(*r)));
                self.children(node, &style, out);
                out.extend(rect.map(|_| Shape::EndClip));
                return;
            }
            "text" => {
                out.extend(label(node, &style).map(Shape::Text));
                return;
            }
            "path" => node.attribute("d").and_then(|d| BezPath::from_svg(d).ok()),
            "rect" => rectangle(node).map(|r| r.to_path(0.05)),
            "line" => line(node).map(|l| l.to_path(0.05)),
            "circle" => circle(node).map(|c| c.to_path(0.05)),
            _ => None,
        };
        if let Some(path) = path.filter(|p| !p.elements().is_empty()) {
            out.push(Shape::Path(path, self.pen(node, &style)));
        }
    }

    fn style(&self, node: Node<'a, '_>, inherited: &Style) -> Style {
        let fill = node.attribute("fill").map_or(inherited.fill, |f| self.ink(f));
        let bold = node.attribute("font-weight").map_or(inherited.bold, |w| w != "400");
        let size = number(node, "font-size").map_or(inherited.size, |s| s as f32);
        Style { fill, size, bold }
    }

    fn pen(&self, node: Node<'a, '_>, style: &Style) -> Pen {
        let opacity = |name| number(node, name).map_or(1.0, |v| v.clamp(0.0, 1.0) as f32);
        let stroke = node.attribute("stroke").map_or(Ink::None, |s| self.ink(s));
        let dash = node.attribute("stroke-dasharray").unwrap_or("");
        let dash = dash.split([' ', ',']).filter_map(|d| d.parse().ok());
        let is_line = node.tag_name().name() == "line";
        Pen {
            fill: if is_line { Ink::None } else { style.fill },
            fill_opacity: opacity("fill-opacity"),
            stroke: if matches!(stroke, Ink::Tile(_)) { Ink::Black } else { stroke },
            stroke_opacity: opacity("stroke-opacity"),
            width: number(node, "stroke-width").map_or(1.0, |w| w as f32),
            dash: dash.filter(|d: &f32| d.is_finite() && *d >= 0.0).collect(),
        }
    }

    fn ink(&self, text: &str) -> Ink {
        match (text, url(text)) {
            (_, Some(id)) => self.tile_of.get(id).map_or(Ink::None, |n| Ink::Tile(*n)),
            ("none", _) => Ink::None,
            ("#fff" | "#ffffff" | "white", _) => Ink::White,
            _ => Ink::Black,
        }
    }
}

fn url(text: &str) -> Option<&str> {
    text.strip_prefix("url(#")?.strip_suffix(')')
}

fn number(node: Node<'_, '_>, name: &str) -> Option<f64> {
    node.attribute(name)?.parse().ok().filter(|v: &f64| v.is_finite())
}

fn rectangle(node: Node<'_, '_>) -> Option<Rect> {
    let at = (number(node, "x").unwrap_or(0.0), number(node, "y").unwrap_or(0.0));
    let (w, h) = (number(node, "width")?, number(node, "height")?);
    Some(Rect::new(at.0, at.1, at.0 + w, at.1 + h))
}

fn line(node: Node<'_, '_>) -> Option<Line> {
    let at = |x, y| Some((number(node, x)?, number(node, y)?));
    Some(Line::new(at("x1", "y1")?, at("x2", "y2")?))
}

fn circle(node: Node<'_, '_>) -> Option<Circle> {
    Some(Circle::new((number(node, "cx")?, number(node, "cy")?), number(node, "r")?))
}

fn label(node: Node<'_, '_>, style: &Style) -> Option<Label> {
    let text: String = node.children().filter(Node::is_text).filter_map(|n| n.text()).collect();
    let class = node.attribute("class").unwrap_or("");
    (!text.trim().is_empty()).then(|| Label {
        at: (number(node, "x").unwrap_or(0.0), number(node, "y").unwrap_or(0.0)),
        anchor: match node.attribute("text-anchor") {
            Some("middle") => 0.5,
            Some("end") => 1.0,
            _ => 0.0,
        },
        size: style.size,
        bold: style.bold,
        opacity: number(node, "fill-opacity").map_or(1.0, |v| v.clamp(0.0, 1.0) as f32),
        halo: class.split(' ').any(|c| c == "halo") || node.attribute("paint-order").is_some(),
        text: super::minus(&text),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_of_the_house_are_read() {
        let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100\" height=\"50\" \
            fill=\"currentColor\"><defs><pattern id=\"h\" width=\"8\" height=\"8\">\
            <path d=\"M0 8L8 0\" stroke=\"currentColor\" fill=\"none\"/></pattern></defs>\
            <path d=\"M1 2h5v3z\" fill=\"url(#h)\"/><line x1=\"0\" y1=\"0\" x2=\"9\" y2=\"9\" \
            stroke=\"currentColor\" stroke-dasharray=\"9 4\"/><circle cx=\"5\" cy=\"5\" r=\"2\"/>\
            <text x=\"3\" y=\"4\" class=\"halo x\" text-anchor=\"end\" font-weight=\"600\">\
            <title>long</title>a &lt; b</text><unknown/></svg>";
        let p = Picture::read(svg).unwrap();
        assert_eq!((p.width, p.height, p.tiles.len(), p.shapes.len()), (100.0, 50.0, 1, 4));
        let Shape::Path(_, hatched) = &p.shapes[0] else { panic!() };
        assert_eq!(hatched.fill, Ink::Tile(0));
        let Shape::Path(_, dashed) = &p.shapes[1] else { panic!() };
        assert_eq!((dashed.dash.as_slice(), dashed.fill), (&[9.0, 4.0][..], Ink::None));
        let Shape::Text(label) = &p.shapes[3] else { panic!() };
        assert_eq!(
            (label.text.as_str(), label.anchor, label.halo, label.bold),
            ("a < b", 1.0, true, true)
        );
    }

    #[test]
    fn what_is_no_svg_is_no_picture() {
        for bad in ["", "<svg", "<svg xmlns=\"http://www.w3.org/2000/svg\"/>", "<a width=\"x\"/>"] {
            assert_eq!(Picture::read(bad), None, "{bad}");
        }
    }
}
