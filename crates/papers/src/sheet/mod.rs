//! A thin layout: headings, paragraphs, lists of facts, tables that repeat their head, pictures
//! and page breaks, on A4 upright. What is laid out is a list of strokes and lines of text per
//! page; [`print`](crate::pdf::print) makes a PDF of it.

mod font;
mod form;
pub mod picture;
mod table;

pub use font::Fonts;
pub use form::{Form, FormCell, FormColumn, FormRow, Write};
pub use table::{Align, Column, Table};

use picture::Picture;

/// A4, pt.
pub const PAGE: (f32, f32) = (595.28, 841.89);
/// Left and right margin.
pub const SIDE: f32 = 42.0;
const TOP: f32 = 44.0;
/// Nothing of the text stands below this.
const BOTTOM: f32 = PAGE.1 - 58.0;
/// Width of the text.
pub const WIDTH: f32 = PAGE.0 - 2.0 * SIDE;

/// A picture is made smaller than this share of its full size on no account.
const SMALLER_LEAST: f32 = 0.72;
const BODY: f32 = 9.0;
const LEADING: f32 = 1.36;

/// One thing on a page; places are of the baseline or the upper left corner.
#[derive(Debug, Clone, PartialEq)]
pub enum Op {
    /// A line of text.
    Text {
        /// Left end of its baseline.
        at: (f32, f32),
        /// Size, pt.
        size: f32,
        /// Bold.
        bold: bool,
        /// The text.
        text: String,
    },
    /// A rule.
    Rule {
        /// From.
        from: (f32, f32),
        /// To.
        to: (f32, f32),
        /// Width, pt.
        width: f32,
    },
    /// A picture.
    Picture {
        /// Upper left corner.
        at: (f32, f32),
        /// Scale.
        scale: f32,
        /// What.
        picture: Picture,
    },
}

/// A heading, for the outline.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// Its text.
    pub text: String,
    /// Its page, from 0.
    pub page: usize,
    /// Where it stands, pt from the top.
    pub y: f32,
}

/// Laid out pages.
pub struct Sheet<'f> {
    fonts: &'f Fonts,
    pages: Vec<Vec<Op>>,
    y: f32,
    marks: Vec<Mark>,
}

impl<'f> Sheet<'f> {
    /// An empty first page.
    #[must_use]
    pub fn new(fonts: &'f Fonts) -> Self {
        Self { fonts, pages: vec![Vec::new()], y: TOP, marks: Vec::new() }
    }

    /// The pages, and the headings for the outline.
    #[must_use]
    pub fn finish(self) -> (Vec<Vec<Op>>, Vec<Mark>) {
        (self.pages, self.marks)
    }

    /// Pages so far.
    #[must_use]
    pub fn pages(&self) -> usize {
        self.pages.len()
    }

    fn put(&mut self, op: Op) {
        if let Some(page) = self.pages.last_mut() {
            page.push(op);
        }
    }

    /// Begins a new page, unless this one is still empty.
    pub fn new_page(&mut self) {
        if self.pages.last().is_some_and(|p| !p.is_empty()) {
            self.pages.push(Vec::new());
        }
        self.y = TOP;
    }

    /// Room left on this page, pt.
    #[must_use]
    pub fn room(&self) -> f32 {
        BOTTOM - self.y
    }

    /// Begins a new page when less than `height` is left.
    pub fn need(&mut self, height: f32) {
        if self.room() < height && self.y > TOP {
            self.new_page();
        }
    }

    /// White space.
    pub fn space(&mut self, height: f32) {
        self.y += height;
    }

    /// The title of the document.
    pub fn title(&mut self, text: &str, beside: &str) {
        let fonts = self.fonts;
        self.y += 13.0;
        let y = self.y;
        self.put(Op::Text { at: (SIDE, y), size: 17.0, bold: true, text: text.to_owned() });
        let width = fonts.regular.width(beside, BODY);
        let at = (SIDE + WIDTH - width, y);
        self.put(Op::Text { at, size: BODY, bold: false, text: beside.to_owned() });
        self.y += 6.0;
        self.rule(1.2);
        self.y += 8.0;
    }

    fn rule(&mut self, width: f32) {
        let y = self.y;
        self.put(Op::Rule { from: (SIDE, y), to: (SIDE + WIDTH, y), width });
    }

    /// A heading; it stays with at least a few lines of what follows.
    pub fn heading(&mut self, text: &str) {
        self.need(102.0);
        if self.y > TOP {
            self.y += 10.0;
        }
        self.y += 11.0;
        let y = self.y;
        let page = self.pages.len() - 1;
        self.marks.push(Mark { text: text.to_owned(), page, y: y - 12.0 });
        self.put(Op::Text { at: (SIDE, y), size: 11.5, bold: true, text: text.to_owned() });
        self.y += 4.0;
        self.rule(0.5);
        self.y += 7.0;
    }

    /// A small heading inside a part.
    pub fn subheading(&mut self, text: &str) {
        self.need(62.0);
        self.y += 4.0;
        self.lines(text, BODY, true, 0.0);
        self.y += 2.0;
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str) {
        self.lines(text, BODY, false, 0.0);
        self.y += 3.0;
    }

    /// A paragraph in bold.
    pub fn strong(&mut self, text: &str) {
        self.lines(text, BODY, true, 0.0);
        self.y += 1.0;
    }

    /// A paragraph set in from the left.
    pub fn indented(&mut self, text: &str) {
        self.lines(text, BODY, false, 12.0);
        self.y += 1.0;
    }

    /// A remark in small print.
    pub fn small(&mut self, text: &str) {
        self.lines(text, 7.2, false, 0.0);
        self.y += 2.0;
    }

    /// Lines of one paragraph. At least two of them stand together at either side of a break.
    fn lines(&mut self, text: &str, size: f32, bold: bool, indent: f32) {
        let wrapped = self.fonts.face(bold).wrap(text, size, WIDTH - indent);
        let step = size * LEADING;
        let count = wrapped.len();
        for (i, text) in wrapped.into_iter().enumerate() {
            let left = count - i;
            let together = if i == 0 || left == 2 { left.min(2) } else { 1 };
            self.need(step * together as f32);
            let at = (SIDE + indent, self.y + size * 0.95);
            self.put(Op::Text { at, size, bold, text });
            self.y += step;
        }
    }

    /// Names and values in two columns of pairs. A value that is not known is left blank.
    pub fn facts(&mut self, facts: &[(&str, String)]) {
        const NAME: f32 = 84.0;
        let half = WIDTH / 2.0;
        for pair in facts.chunks(2) {
            let mut wrapped = Vec::new();
            for (name, value) in pair {
                let names = self.fonts.regular.wrap(name, 7.6, NAME - 6.0);
                let values = self.fonts.bold.wrap(value, BODY, half - NAME - 8.0);
                wrapped.push((names, values));
            }
            let lines = wrapped.iter().map(|(n, v)| n.len().max(v.len())).max().unwrap_or(1);
            let step = BODY * LEADING;
            // A pair stays together unless it is longer than a page.
            self.need((step * lines as f32).min(BOTTOM - TOP));
            for line in 0..lines {
                self.need(step);
                for (column, (names, values)) in wrapped.iter().enumerate() {
                    let x = SIDE + half * column as f32;
                    for (texts, x, size, bold) in
                        [(names, x, 7.6, false), (values, x + NAME, BODY, true)]
                    {
                        if let Some(text) = texts.get(line) {
                            let at = (x, self.y + BODY * 0.95);
                            self.put(Op::Text { at, size, bold, text: text.clone() });
                        }
                    }
                }
                self.y += step;
            }
        }
        self.y += 4.0;
    }

    /// A picture over the whole width with a line of small print under it. It is made a little
    /// smaller where that keeps it on this page.
    pub fn figure(&mut self, svg: &str, caption: &str) {
        let Some(picture) = Picture::read(svg) else { return };
        let (w, h) = (picture.width.max(1.0) as f32, picture.height.max(1.0) as f32);
        let full = (WIDTH / w).min((BOTTOM - TOP - 30.0) / h).min(1.0);
        let here = (self.room() - 22.0) / h;
        let scale = if here < full && here > full * SMALLER_LEAST { here } else { full };
        self.need(h * scale + 21.0);
        let at = (SIDE, self.y);
        self.put(Op::Picture { at, scale, picture });
        self.y += h * scale + 4.0;
        if !caption.is_empty() {
            self.small(caption);
        }
        self.y += 4.0;
    }

    /// Lines to sign on: what it means, then name, rank, time and signature.
    pub fn signature_lines(&mut self, meanings: &[&str]) {
        for meaning in meanings {
            self.need(64.0);
            self.y += 6.0;
            self.lines(meaning, BODY, false, 0.0);
            self.blanks(&[
                ("name", 138.0),
                ("rank", 92.0),
                ("date and time UTC", 104.0),
                ("signature", 150.0),
            ]);
        }
    }
}

/// A text for print: real minus signs for hyphens that begin a number, and no line break within
/// an instant or between a figure and its unit.
pub(crate) fn minus(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        let figure = rest.peek().is_some_and(char::is_ascii_digit);
        let begins = matches!(before, ' ' | '(' | '\n');
        out.push(match c {
            '-' if figure && begins => '−',
            ' ' if figure && before.is_ascii_digit() => '\u{a0}',
            _ => c,
        });
        before = c;
    }
    for unit in [" °C", " UTC", " K "] {
        out = out.replace(unit, &unit.replacen(' ', "\u{a0}", 1));
    }
    out
}

#[cfg(test)]
mod tests;
