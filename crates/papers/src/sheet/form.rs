//! Forms to write on: rows of printed words, boxes for figures and squares to tick. The head and
//! the name of the part are repeated on every page; no row is divided by a page break.

use super::{BODY, BOTTOM, LEADING, Op, SIDE, Sheet, TOP, WIDTH};

const SMALL: f32 = 6.6;
const BIG: f32 = 8.0;
const STEP: f32 = 8.6;
const LABEL: f32 = 5.2;
const SQUARE: f32 = 7.0;
/// A square to tick before a line of the text, pt.
const TICK: f32 = 10.0;
/// Label under a line to write on, pt.
const BLANK_LABEL: f32 = 6.8;
/// Between two lines to write on, pt.
const GAP: f32 = 9.0;
/// Least height of a row with a line to write on, pt: 9 mm.
const FILL: f32 = 25.0;
/// Least height of a box to write a figure in, pt: 7 mm.
const BOX_HEIGHT: f32 = 20.0;
const PAD: f32 = 2.5;

/// One column of a form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormColumn {
    /// Lines of its head.
    pub head: Vec<String>,
    /// Width, pt.
    pub width: f32,
}

/// A box to write in, with its small label; blank where there is nothing to write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Write(pub String);

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq)]
pub enum FormCell {
    /// Lines of words, the first one bold; a line wider than the cell is wrapped into at most so
    /// many lines and then shortened.
    Words(Vec<String>, usize),
    /// Boxes to write in, side by side.
    Boxes(Vec<Write>),
    /// Squares to tick, one under the other.
    Ticks(Vec<String>),
}

/// A row of a form.
#[derive(Debug, Clone, PartialEq)]
pub struct FormRow {
    /// One for each column; a missing one is blank.
    pub cells: Vec<FormCell>,
    /// It continues the row above: no rule between them, and no page break.
    pub continues: bool,
}

/// A form.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Form {
    /// Its columns.
    pub columns: Vec<FormColumn>,
}

impl Sheet<'_> {
    /// Lines to write on, side by side: what is written there, and the width in pt.
    pub fn blanks(&mut self, blanks: &[(&str, f32)]) {
        self.need(34.0);
        self.y += 24.0;
        let y = self.y;
        let mut x = SIDE;
        for (name, width) in blanks {
            self.put(Op::Rule { from: (x, y), to: (x + width, y), width: 0.6 });
            let text = self.fonts.regular.fitted(name, BLANK_LABEL, *width);
            self.put(Op::Text { at: (x, y + 8.0), size: BLANK_LABEL, bold: false, text });
            x += width + GAP;
        }
        self.y += 14.0;
    }

    /// Bold words after a square to tick, with lines to write on at the right.
    pub fn tick(&mut self, text: &str, blanks: &[(&str, f32)]) {
        self.need(FILL);
        let (x, y) = (SIDE, self.y + 1.0);
        for (from, to) in [
            ((x, y), (x + TICK, y)),
            ((x + TICK, y), (x + TICK, y + TICK)),
            ((x + TICK, y + TICK), (x, y + TICK)),
            ((x, y + TICK), (x, y)),
        ] {
            self.put(Op::Rule { from, to, width: 0.8 });
        }
        self.filled_in(text, true, blanks);
    }

    /// Words with lines to write on at the right: what is written there, and the width in pt.
    pub fn fill_in(&mut self, text: &str, blanks: &[(&str, f32)]) {
        self.filled_in(text, false, blanks);
    }

    fn filled_in(&mut self, text: &str, bold: bool, blanks: &[(&str, f32)]) {
        let (indent, step) = (TICK + 6.0, BODY * LEADING);
        let right: f32 = blanks.iter().map(|(_, w)| w + GAP).sum();
        let wrapped = self.fonts.face(bold).wrap(text, BODY, WIDTH - indent - right);
        let tall = (step * wrapped.len() as f32 + 1.0).max(if right > 0.0 { FILL } else { 0.0 });
        self.need(tall);
        let (top, mut x) = (self.y, SIDE + WIDTH - right + GAP);
        for (label, width) in blanks {
            let y = top + BODY * 0.95 + 3.0;
            self.put(Op::Rule { from: (x, y), to: (x + width, y), width: 0.6 });
            let text = self.fonts.regular.fitted(label, BLANK_LABEL, *width);
            self.put(Op::Text { at: (x, y + 7.4), size: BLANK_LABEL, bold: false, text });
            x += width + GAP;
        }
        for (i, text) in wrapped.into_iter().enumerate() {
            let at = (SIDE + indent, top + step * i as f32 + BODY * 0.95);
            self.put(Op::Text { at, size: BODY, bold, text });
        }
        self.y = top + tall;
    }

    /// The head of a form.
    pub fn form_head(&mut self, form: &Form) {
        let lines = form.columns.iter().map(|c| c.head.len()).max().unwrap_or(0);
        let mut x = SIDE;
        for column in &form.columns {
            for (i, text) in column.head.iter().enumerate() {
                let below = lines - column.head.len() + i;
                let y = self.y + SMALL + STEP * below as f32;
                let text = self.fonts.bold.fitted(text, SMALL, column.width - PAD);
                self.put(Op::Text { at: (x, y), size: SMALL, bold: true, text });
            }
            x += column.width;
        }
        self.y += STEP * lines as f32 + 2.0;
        let y = self.y;
        self.put(Op::Rule { from: (SIDE, y), to: (x, y), width: 0.9 });
        self.y += 1.0;
    }

    /// The rows of one part under its title. `head` is what stands on top of every new page.
    pub fn form_part(
        &mut self,
        form: &Form,
        title: &FormRow,
        rows: &[FormRow],
        head: &dyn Fn(&mut Self),
    ) {
        let laid: Vec<(f32, &FormRow)> = rows.iter().map(|r| (self.tall(form, r), r)).collect();
        let first = laid.first().map_or(0.0, |(h, _)| *h);
        let over = Self::title_tall(title);
        if self.room() < over + first + self.followers(&laid, 0) && self.y > TOP {
            self.new_page();
            head(self);
        }
        self.form_row(form, title, over, true);
        for (i, (h, row)) in laid.iter().enumerate() {
            let needed = h + self.followers(&laid, i);
            if self.room() < needed && !row.continues && needed < BOTTOM - TOP - 120.0 {
                self.new_page();
                head(self);
                let again = continued(title);
                let over = Self::title_tall(&again);
                self.form_row(form, &again, over, true);
            }
            self.form_row(form, row, *h, false);
        }
    }

    /// Height of the rows that continue row `i`.
    fn followers(&self, laid: &[(f32, &FormRow)], i: usize) -> f32 {
        laid.iter().skip(i + 1).take_while(|(_, r)| r.continues).map(|(h, _)| h).sum()
    }

    fn lines_of(&self, words: &[String], most: usize, width: f32) -> Vec<(String, bool)> {
        let mut out = Vec::new();
        for (i, text) in words.iter().enumerate().filter(|(_, t)| !t.is_empty()) {
            let bold = i == 0;
            let size = if bold { BIG } else { SMALL };
            let face = self.fonts.face(bold);
            let mut lines = face.wrap(text, size, width);
            if lines.len() > most.max(1) {
                let rest = lines.split_off(most.max(1) - 1).join(" ");
                lines.push(face.fitted(&format!("{rest} "), size, width));
            }
            out.extend(lines.into_iter().map(|l| (face.fitted(&l, size, width), bold)));
        }
        out
    }

    /// Height of the title of a part: one line, and boxes beside it.
    fn title_tall(row: &FormRow) -> f32 {
        let boxes = row.cells.iter().any(|c| matches!(c, FormCell::Boxes(_)));
        if boxes { BOX_HEIGHT + 3.0 } else { STEP + 3.0 }
    }

    fn tall(&self, form: &Form, row: &FormRow) -> f32 {
        let cell = |(cell, column): (&FormCell, &FormColumn)| match cell {
            FormCell::Words(words, most) => {
                STEP * self.lines_of(words, *most, column.width - PAD).len() as f32 + 2.0
            }
            FormCell::Boxes(boxes) if boxes.is_empty() => 0.0,
            FormCell::Boxes(_) => BOX_HEIGHT + 3.0,
            FormCell::Ticks(ticks) => (SQUARE + 1.4) * ticks.len() as f32 + 2.0,
        };
        row.cells.iter().zip(&form.columns).map(cell).fold(STEP + 2.0, f32::max)
    }

    fn form_row(&mut self, form: &Form, row: &FormRow, height: f32, part: bool) {
        let mut x = SIDE;
        let y = self.y;
        for (cell, column) in row.cells.iter().zip(&form.columns) {
            match cell {
                FormCell::Words(words, most) => {
                    let width = if part { title_width(form, row) } else { column.width };
                    let lines = self.lines_of(words, *most, width - PAD);
                    for (i, (text, bold)) in lines.into_iter().enumerate() {
                        let size = if bold { BIG } else { SMALL };
                        let at = (x, y + 1.0 + STEP * i as f32 + SMALL);
                        self.put(Op::Text { at, size, bold, text });
                    }
                }
                FormCell::Boxes(boxes) => self.boxes(boxes, (x, y), column.width, height),
                FormCell::Ticks(ticks) => self.ticks(ticks, (x, y), column.width),
            }
            x += column.width;
        }
        self.y += height;
        let (y, width) = (self.y, if part { 0.7 } else { 0.2 });
        self.put(Op::Rule { from: (SIDE, y), to: (x, y), width });
    }

    fn boxes(&mut self, boxes: &[Write], (x, y): (f32, f32), width: f32, height: f32) {
        let each = (width - PAD) / boxes.len().max(1) as f32;
        let tall = (height - 3.0).max(8.0);
        for (i, Write(label)) in boxes.iter().enumerate() {
            let left = x + each * i as f32;
            self.frame((left, y + 1.5), (each - 1.5, tall));
            let text = self.fonts.regular.fitted(label, LABEL, each - 3.5);
            self.put(Op::Text { at: (left + 1.4, y + 7.0), size: LABEL, bold: false, text });
        }
    }

    fn ticks(&mut self, ticks: &[String], (x, y): (f32, f32), width: f32) {
        for (i, label) in ticks.iter().enumerate() {
            let top = y + 1.5 + (SQUARE + 1.4) * i as f32;
            self.frame((x, top), (SQUARE, SQUARE));
            let text = self.fonts.regular.fitted(label, LABEL + 0.4, width - SQUARE - 3.5);
            let at = (x + SQUARE + 1.8, top + SQUARE - 1.4);
            self.put(Op::Text { at, size: LABEL + 0.4, bold: false, text });
        }
    }

    /// The outline of a rectangle.
    fn frame(&mut self, (x, y): (f32, f32), (w, h): (f32, f32)) {
        let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)];
        for pair in corners.windows(2) {
            if let [from, to] = pair {
                self.put(Op::Rule { from: *from, to: *to, width: 0.5 });
            }
        }
    }

    /// Lines to write on, each with its name, in columns over the whole width.
    pub fn write_lines(&mut self, columns: &[Vec<&str>]) {
        let rows = columns.iter().map(Vec::len).max().unwrap_or(0);
        let each = WIDTH / columns.len().max(1) as f32;
        self.need(18.0 * rows as f32);
        for row in 0..rows {
            self.y += 18.0;
            let y = self.y;
            for (i, column) in columns.iter().enumerate() {
                let x = SIDE + each * i as f32;
                let Some(name) = column.get(row) else { continue };
                let text = self.fonts.regular.fitted(name, 7.2, each - 20.0);
                let used = self.fonts.regular.width(&text, 7.2) + 4.0;
                self.put(Op::Text { at: (x, y - 2.0), size: 7.2, bold: false, text });
                let to = (x + each - 12.0, y);
                self.put(Op::Rule { from: (x + used, y), to, width: 0.5 });
            }
        }
        self.y += 5.0;
    }
}

/// The title of a part runs over the blank columns beside it.
fn title_width(form: &Form, row: &FormRow) -> f32 {
    let blank = |c: &&FormCell| matches!(c, FormCell::Words(w, _) if w.is_empty());
    let n = 1 + row.cells.iter().skip(1).take_while(blank).count();
    form.columns.iter().take(n).map(|c| c.width).sum()
}

fn continued(title: &FormRow) -> FormRow {
    let mut again = title.clone();
    if let Some(FormCell::Words(words, _)) = again.cells.first_mut()
        && let Some(first) = words.first_mut()
    {
        first.push_str(", continued");
    }
    again
}
