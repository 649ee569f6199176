//! Tables: columns as wide as they need, cells wrapped, the head repeated on every page.

use super::picture::Picture;
use super::{BOTTOM, Op, SIDE, Sheet, TOP, WIDTH};

/// Where a cell's text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its head.
    pub head: String,
    /// Where its texts stand.
    pub align: Align,
}

/// A table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows; a missing cell is blank.
    pub rows: Vec<Vec<String>>,
    /// Small print, for long tables.
    pub dense: bool,
    /// Set in from the left, pt.
    pub indent: f32,
    /// A small picture at the right end of the head and of each row; empty: there is no such
    /// column.
    pub pictures: Vec<Option<Picture>>,
}

/// The widest a column of words asks for, pt.
const WORDS_MAX: f32 = 230.0;
const GAP: f32 = 7.0;
/// Width of the column of pictures, pt.
const PICTURE: f32 = 104.0;

impl Table {
    /// A table of these heads; one that begins with `>` is a column of figures.
    #[must_use]
    pub fn new(heads: &[&str]) -> Self {
        let column = |head: &&str| match head.strip_prefix('>') {
            Some(head) => Column { head: head.to_owned(), align: Align::Right },
            None => Column { head: (*head).to_owned(), align: Align::Left },
        };
        Self {
            columns: heads.iter().map(column).collect(),
            rows: Vec::new(),
            dense: false,
            indent: 0.0,
            pictures: Vec::new(),
        }
    }

    /// The same with a column of small pictures at its right end; `head` stands over it.
    #[must_use]
    pub fn pictured(mut self, head: &str) -> Self {
        self.pictures = vec![Picture::read(head)];
        self
    }

    /// Adds a row with its small picture.
    pub fn row_pictured(&mut self, cells: Vec<String>, svg: Option<&str>) {
        self.rows.push(cells);
        self.pictures.push(svg.and_then(Picture::read));
    }

    /// Width of the column of pictures with the gap before it.
    fn picture_width(&self) -> f32 {
        if self.pictures.is_empty() { 0.0 } else { PICTURE + GAP }
    }

    /// The same in small print.
    #[must_use]
    pub fn dense(mut self) -> Self {
        self.dense = true;
        self
    }

    /// The same, set in from the left.
    #[must_use]
    pub fn indented(mut self, by: f32) -> Self {
        self.indent = by;
        self
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// Leaves out the columns of figures in which nothing stands.
    pub fn drop_empty_columns(&mut self) {
        let blank =
            |i: usize| self.rows.iter().all(|r| r.get(i).is_none_or(|cell| cell.trim().is_empty()));
        let keep: Vec<bool> = (0..self.columns.len()).map(|i| !blank(i)).collect();
        let kept = |i: usize| keep.get(i).copied().unwrap_or(false);
        let mut i = 0;
        self.columns.retain(|_| {
            i += 1;
            kept(i - 1)
        });
        for row in &mut self.rows {
            let mut i = 0;
            row.retain(|_| {
                i += 1;
                kept(i - 1)
            });
        }
    }
}

struct Grid {
    widths: Vec<f32>,
    size: f32,
    step: f32,
}

impl Sheet<'_> {
    /// A table, or one sentence in its place when it has no rows.
    pub fn table(&mut self, table: &Table, when_empty: &str) {
        if table.rows.is_empty() {
            self.paragraph(when_empty);
            return;
        }
        let size = if table.dense { 6.6 } else { 7.8 };
        let grid = Grid { widths: self.widths(table, size), size, step: size * 1.28 };
        let head: Vec<String> = table.columns.iter().map(|c| c.head.clone()).collect();
        let head = self.cells(&grid, &head, true);
        // The head, a row and the beginning of another stay together.
        self.need(height(&grid, &head) + 3.0 * grid.step + 14.0);
        self.head(table, &grid, &head);
        let count = table.rows.len();
        for (i, row) in table.rows.iter().enumerate() {
            let cells = self.cells(&grid, row, false);
            let h = height(&grid, &cells);
            // The last row does not stand alone on a page.
            let with_next = if i + 2 == count { grid.step + 2.0 } else { 0.0 };
            if self.room() < h + with_next && h < BOTTOM - TOP - 60.0 {
                self.new_page();
                self.head(table, &grid, &head);
            }
            self.picture(table, i + 1);
            self.row(table, &grid, &cells, false);
        }
        self.y += 6.0;
    }

    /// The small picture of the head (0) or of a row (from 1), at the row's upper edge.
    fn picture(&mut self, table: &Table, n: usize) {
        let Some(picture) = table.pictures.get(n).cloned().flatten() else { return };
        let scale = PICTURE / picture.width.max(1.0) as f32;
        let at = (SIDE + WIDTH - PICTURE, self.y);
        self.put(Op::Picture { at, scale, picture });
    }

    fn head(&mut self, table: &Table, grid: &Grid, head: &[Vec<String>]) {
        self.picture(table, 0);
        self.row(table, grid, head, true);
        let total = self.total(table, grid);
        let (left, y) = (SIDE + table.indent, self.y - 1.0);
        self.put(Op::Rule { from: (left, y), to: (left + total - GAP, y), width: 0.7 });
        self.y += 1.5;
    }

    fn row(&mut self, table: &Table, grid: &Grid, cells: &[Vec<String>], bold: bool) {
        let left = SIDE + table.indent;
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1);
        for line in 0..lines {
            if self.room() < grid.step {
                self.new_page();
            }
            let mut x = left;
            for ((cell, width), column) in cells.iter().zip(&grid.widths).zip(&table.columns) {
                if let Some(text) = cell.get(line).filter(|t| !t.is_empty()) {
                    let used = self.fonts.face(bold).width(text, grid.size);
                    let x = if column.align == Align::Right { x + width - used } else { x };
                    let at = (x, self.y + grid.size * 0.95);
                    self.put(Op::Text { at, size: grid.size, bold, text: text.clone() });
                }
                x += width + GAP;
            }
            self.y += grid.step;
        }
        let total = self.total(table, grid);
        let y = self.y + 0.2;
        if !bold {
            self.put(Op::Rule { from: (left, y), to: (left + total - GAP, y), width: 0.15 });
        }
        self.y += if table.dense { 0.9 } else { 2.0 };
    }

    /// Width over all columns, with a gap at its end.
    fn total(&self, table: &Table, grid: &Grid) -> f32 {
        let words: f32 = grid.widths.iter().map(|w| w + GAP).sum();
        words + table.picture_width()
    }

    fn cells(&self, grid: &Grid, row: &[String], bold: bool) -> Vec<Vec<String>> {
        let face = self.fonts.face(bold);
        let wrap = |(cell, width): (&String, &f32)| face.wrap(cell, grid.size, width + 0.01);
        row.iter().zip(&grid.widths).map(wrap).collect()
    }

    /// Every column gets its longest word; what is left goes to those that want more.
    fn widths(&self, table: &Table, size: f32) -> Vec<f32> {
        let room = WIDTH
            - table.indent
            - table.picture_width()
            - GAP * (table.columns.len().saturating_sub(1)) as f32;
        let (mut least, mut wanted) = (Vec::new(), Vec::new());
        for (i, column) in table.columns.iter().enumerate() {
            let head = self.fonts.bold.width(&column.head, size);
            let word = |text: &str, bold| {
                let face = self.fonts.face(bold);
                text.split(' ').map(|w| face.width(w, size)).fold(0.0, f32::max)
            };
            let mut min = word(&column.head, true);
            let mut max: f32 =
                if column.align == Align::Right { min.max(head.min(60.0)) } else { head };
            for cell in table.rows.iter().filter_map(|r| r.get(i)) {
                let full = cell.lines().map(|l| self.fonts.regular.width(l, size));
                max = max.max(full.fold(0.0, f32::max).min(WORDS_MAX.max(room / 2.0)));
                min = min.max(word(cell, false).min(120.0));
            }
            least.push(min.min(max));
            wanted.push(max);
        }
        let (sum_least, sum_wanted): (f32, f32) = (least.iter().sum(), wanted.iter().sum());
        if sum_wanted <= room {
            return wanted;
        }
        if sum_least >= room {
            return least.iter().map(|w| w * room / sum_least).collect();
        }
        let share = (room - sum_least) / (sum_wanted - sum_least);
        least.iter().zip(&wanted).map(|(a, b)| a + (b - a) * share).collect()
    }
}

fn height(grid: &Grid, cells: &[Vec<String>]) -> f32 {
    cells.iter().map(Vec::len).max().unwrap_or(1) as f32 * grid.step + 2.0
}
