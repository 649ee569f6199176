//! Writing SVG: numbers, escaping, a few elements. No state but the text itself.

use std::fmt::Write;

/// SVG text under construction.
#[derive(Debug, Default)]
pub struct Svg(String);

impl Svg {
    /// Opens the root element. `label` is read aloud in place of the picture.
    pub fn open(width: f64, height: f64, class: &str, label: &str, extra: &str) -> Self {
        let (w, h) = (px(width), px(height));
        let label = escape(label);
        let mut s = Self::default();
        s.raw(&format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{class}\" width=\"{w}\" \
             height=\"{h}\" viewBox=\"0 0 {w} {h}\" font-family=\"system-ui,sans-serif\" \
             font-size=\"12\" fill=\"currentColor\" {extra}aria-label=\"{label}\">"
        ));
        s
    }

    /// Closes the root element.
    pub fn close(mut self) -> String {
        self.0.push_str("</svg>");
        self.0
    }

    /// Adds text that is SVG already.
    pub fn raw(&mut self, text: &str) {
        self.0.push_str(text);
    }

    /// A straight line; `attrs` are presentation attributes.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), attrs: &str) {
        let _ = write!(
            self.0,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {attrs}/>",
            px(from.0),
            px(from.1),
            px(to.0),
            px(to.1)
        );
    }

    /// A rectangle.
    pub fn rect(&mut self, at: (f64, f64), size: (f64, f64), attrs: &str) {
        let _ = write!(
            self.0,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {attrs}/>",
            px(at.0),
            px(at.1),
            px(size.0.max(0.0)),
            px(size.1.max(0.0))
        );
    }

    /// A path from its data.
    pub fn path(&mut self, data: &str, attrs: &str) {
        if !data.is_empty() {
            let _ = write!(self.0, "<path d=\"{data}\" {attrs}/>");
        }
    }

    /// A piece of text, escaped.
    pub fn text(&mut self, at: (f64, f64), attrs: &str, text: &str) {
        let _ = write!(
            self.0,
            "<text x=\"{}\" y=\"{}\" {attrs}>{}</text>",
            px(at.0),
            px(at.1),
            escape(text)
        );
    }
}

/// A coordinate: one decimal at most, never `-0` or `NaN`.
pub fn px(v: f64) -> String {
    if !v.is_finite() {
        return "0".to_owned();
    }
    let r = (v * 10.0).round() / 10.0;
    format!("{}", if r == 0.0 { 0.0 } else { r })
}

/// Text safe between tags and inside double quotes.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Control characters are not allowed in XML at all.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// At most `max` characters, the cut marked.
pub fn clipped(text: &str, max: usize) -> String {
    if text.chars().count() <= max {
        return text.to_owned();
    }
    let mut cut: String = text.chars().take(max.saturating_sub(1)).collect();
    cut.push('…');
    cut
}

/// A closed rectangle as path data, for many rectangles in one element.
pub fn rect_path(at: (f64, f64), size: (f64, f64)) -> String {
    format!("M{} {}h{}v{}h{}z", px(at.0), px(at.1), px(size.0), px(size.1), px(-size.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The five characters XML 1.0 §2.4 asks to be escaped in content and in quoted attributes
    /// (the single quote is not used as a delimiter here).
    #[test]
    fn nothing_breaks_out() {
        assert_eq!(escape("<a href=\"x\">&\u{0}"), "&lt;a href=&quot;x&quot;&gt;&amp; ");
    }

    #[test]
    fn coordinates() {
        assert_eq!(px(-0.04), "0");
        assert_eq!(px(12.34), "12.3");
        assert_eq!(px(f64::NAN), "0");
        assert_eq!(clipped("abcdef", 4), "abc…");
    }
}
