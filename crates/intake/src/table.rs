//! Delimited text, line by line: comma, semicolon or tab; quotes after RFC 4180; a bad line never
//! takes its neighbours with it.

use std::borrow::Cow;

use memchr::memchr;

use crate::text::Unreadable;

/// A quoted cell may run over this many lines; beyond it a forgotten quote is more likely.
pub(crate) const LINES_PER_ROW_MAX: usize = 16;

/// A cell longer than this is no remark but a damaged file.
const CELL_CHARS_MAX: usize = 4000;

/// A table with its header read.
pub(crate) struct Table<'a> {
    /// Column names: trimmed, lower case, as many as the header has cells.
    pub(crate) header: Vec<String>,
    /// Physical line of the header.
    pub(crate) header_line: u32,
    text: &'a str,
    position: usize,
    line: u32,
    delimiter: u8,
    line_end: u8,
}

/// How a table is written.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shape {
    /// Physical line of the header.
    pub(crate) header_line: u32,
    /// Between cells.
    pub(crate) delimiter: u8,
    /// Behind lines.
    pub(crate) line_end: u8,
}

/// One line or row of the body.
pub(crate) enum Row<'r, 'a> {
    /// Cells, trimmed.
    Cells {
        /// Physical line it begins on.
        line: u32,
        /// Its cells.
        cells: &'r [Cow<'a, str>],
    },
    /// Not to be read.
    Bad {
        /// Physical line.
        line: u32,
        /// Why.
        why: String,
        /// The line as it stands.
        text: &'a str,
    },
}

/// What a row was filled with.
pub(crate) enum Filled<'a> {
    /// Nothing but empty cells.
    Blank,
    /// Cells.
    Good {
        /// Physical line it begins on.
        line: u32,
    },
    /// Not to be read: as [`Row::Bad`].
    Bad {
        /// Physical line.
        line: u32,
        /// Why.
        why: String,
        /// The line as it stands.
        text: &'a str,
    },
}

impl<'a> Table<'a> {
    /// Finds delimiter and header. `wanted` names a column that must be there.
    pub(crate) fn open(file: &str, text: &'a str, wanted: &str) -> Result<Self, Unreadable> {
        // Files of old spreadsheets end lines with a lone carriage return.
        let line_end = if memchr(b'\n', text.as_bytes()).is_none() { b'\r' } else { b'\n' };
        let mut table = Self {
            header: Vec::new(),
            header_line: 1,
            text,
            position: 0,
            line: 1,
            delimiter: b',',
            line_end,
        };
        let mut told: Option<u8> = None;
        while let Some((line, first)) = table.next_line() {
            let trimmed = first.trim();
            if trimmed.is_empty() {
                continue;
            }
            // A spreadsheet's hint, `sep=;`, may stand above the header.
            if let Some(sep) = trimmed.strip_prefix("sep=") {
                told = sep.bytes().next();
                continue;
            }
            for delimiter in told.map_or(vec![b',', b';', b'\t'], |d| vec![d]) {
                let header = header_cells(trimmed, delimiter);
                if header.iter().any(|c| c == wanted) {
                    table.delimiter = delimiter;
                    table.header_line = line;
                    table.header = header;
                    return Ok(table);
                }
            }
            let why = format!(
                "no column \"{wanted}\" in the header \"{}\"; put the column names in the first \
                 line",
                crate::text::shown(trimmed)
            );
            return Err(Unreadable::new(file, Some(line), why));
        }
        Err(Unreadable::new(file, None, "the file is empty; ask for it again"))
    }

    /// A table whose header was read before, at a row further down: `text` begins with that row,
    /// `line` is its physical line.
    pub(crate) fn at_row(shape: Shape, header: Vec<String>, text: &'a str, line: u32) -> Self {
        let Shape { header_line, delimiter, line_end } = shape;
        Self { header, header_line, text, position: 0, line, delimiter, line_end }
    }

    /// What must be known beside the header to read on later.
    pub(crate) fn shape(&self) -> Shape {
        Shape { header_line: self.header_line, delimiter: self.delimiter, line_end: self.line_end }
    }

    /// The physical line that comes next.
    pub(crate) fn line(&self) -> u32 {
        self.line
    }

    /// The cell of a column in a line that could not be read as a row, as far as it can be told.
    pub(crate) fn salvage(&self, text: &'a str, column: usize) -> &'a str {
        let cell = text.split(char::from(self.delimiter)).nth(column).unwrap_or("");
        cell.trim().trim_matches('"').trim()
    }

    /// Where a column stands.
    pub(crate) fn position_of(&self, column: &str) -> Option<usize> {
        self.header.iter().position(|c| c == column)
    }

    /// The next row; blank lines are passed over. `cells` is the buffer it is read into.
    pub(crate) fn next_row<'r>(&mut self, cells: &'r mut Vec<Cow<'a, str>>) -> Option<Row<'r, 'a>> {
        loop {
            match self.fill(cells)? {
                Filled::Blank => {}
                Filled::Good { line } => return Some(Row::Cells { line, cells }),
                Filled::Bad { line, why, text } => return Some(Row::Bad { line, why, text }),
            }
        }
    }

    /// Reads one row, be it blank.
    pub(crate) fn fill(&mut self, cells: &mut Vec<Cow<'a, str>>) -> Option<Filled<'a>> {
        let start = self.position;
        let (line, text) = self.next_line()?;
        cells.clear();
        if memchr(b'"', text.as_bytes()).is_none() {
            cells.extend(text.split(char::from(self.delimiter)).map(|c| Cow::Borrowed(c.trim())));
        } else if let Err(why) = self.quoted_row(start, cells) {
            self.back_to_after(start, line);
            return Some(Filled::Bad { line, why, text });
        }
        if cells.iter().all(|c| c.is_empty()) {
            return Some(Filled::Blank);
        }
        if let Some(why) = self.misfit(cells, text) {
            self.back_to_after(start, line);
            return Some(Filled::Bad { line, why, text });
        }
        Some(Filled::Good { line })
    }

    /// What is wrong with the row's shape, if anything.
    fn misfit(&self, cells: &[Cow<'a, str>], text: &str) -> Option<String> {
        let (have, want) = (cells.len(), self.header.len());
        if have > want {
            let hint = if self.delimiter == b',' {
                "; decimal commas must stand in quotes or be written as points"
            } else {
                ""
            };
            return Some(format!("has {have} cells, the header has {want}{hint}"));
        }
        let last_line = self.position >= self.text.len();
        let ended = self.text.as_bytes().last() == Some(&self.line_end);
        if last_line && !ended && have < want && !text.is_empty() {
            return Some(format!(
                "the file is cut inside this line ({have} of {want} cells, no line end)"
            ));
        }
        if cells.iter().any(|c| c.chars().nth(CELL_CHARS_MAX).is_some()) {
            return Some(format!("has a cell of more than {CELL_CHARS_MAX} characters"));
        }
        None
    }

    fn next_line(&mut self) -> Option<(u32, &'a str)> {
        let rest = self.text.get(self.position..)?;
        if rest.is_empty() {
            return None;
        }
        let end = memchr(self.line_end, rest.as_bytes());
        let line = self.line;
        let text = rest.get(..end.unwrap_or(rest.len())).unwrap_or(rest);
        self.position += end.map_or(rest.len(), |e| e + 1);
        self.line += 1;
        Some((line, text.strip_suffix('\r').unwrap_or(text)))
    }

    /// Reads a row with quotes, over several lines where a quoted cell holds line ends.
    fn quoted_row(&mut self, start: usize, cells: &mut Vec<Cow<'a, str>>) -> Result<(), String> {
        let mut lines = 1;
        while open_quote(
            self.text.as_bytes().get(start..self.position).unwrap_or(&[]),
            self.delimiter,
        ) {
            if lines == LINES_PER_ROW_MAX || self.next_line().is_none() {
                return Err("a quote is opened and never closed".into());
            }
            lines += 1;
        }
        let text = self.text.get(start..self.position).unwrap_or("");
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(self.delimiter)
            .from_reader(text.as_bytes());
        match reader.records().next() {
            Some(Ok(record)) => {
                cells.extend(record.iter().map(|c| Cow::Owned(c.trim().to_owned())));
                Ok(())
            }
            _ => Err("its quotes cannot be understood".into()),
        }
    }

    /// Steps back so that a bad row costs one line only.
    fn back_to_after(&mut self, start: usize, line: u32) {
        self.position = start;
        self.line = line;
        let _ = self.next_line();
    }
}

fn header_cells(line: &str, delimiter: u8) -> Vec<String> {
    line.split(char::from(delimiter))
        .map(|c| c.trim().trim_matches('"').trim().to_ascii_lowercase())
        .collect()
}

/// True when the text ends inside a quoted cell. A quote opens only at the beginning of a cell.
pub(crate) fn open_quote(text: &[u8], delimiter: u8) -> bool {
    #[derive(PartialEq)]
    enum At {
        CellStart,
        Bare,
        Quoted,
        MaybeClosed,
    }
    let mut at = At::CellStart;
    for b in text.iter().copied() {
        at = match (at, b) {
            (At::Quoted, b'"') => At::MaybeClosed,
            (At::Quoted, _) => At::Quoted,
            (At::MaybeClosed, b'"') => At::Quoted,
            (_, d) if d == delimiter => At::CellStart,
            (_, b'\n' | b'\r') => At::CellStart,
            (At::CellStart, b'"') => At::Quoted,
            (At::CellStart, b' ') => At::CellStart,
            _ => At::Bare,
        };
    }
    at == At::Quoted
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<Result<(u32, Vec<String>), u32>> {
        let mut t = Table::open("f.csv", text, "a").unwrap();
        let mut cells = Vec::new();
        let mut out = Vec::new();
        while let Some(row) = t.next_row(&mut cells) {
            out.push(match row {
                Row::Cells { line, cells } => {
                    Ok((line, cells.iter().map(|c| c.to_string()).collect()))
                }
                Row::Bad { line, .. } => Err(line),
            });
        }
        out
    }

    fn ok(line: u32, cells: &[&str]) -> Result<(u32, Vec<String>), u32> {
        Ok((line, cells.iter().map(|c| (*c).to_owned()).collect()))
    }

    /// The forms of RFC 4180 §2: optional last line end, quoted cells, line ends and doubled
    /// quotes inside them.
    #[test]
    fn rfc_4180_forms() {
        let want = vec![
            ok(2, &["1", "x"]),
            ok(3, &["2", "say \"hi\""]),
            ok(4, &["3", "two\r\nlines"]),
            ok(6, &["4", "y"]),
        ];
        let text = "a,b\r\n1,x\r\n2,\"say \"\"hi\"\"\"\r\n3,\"two\r\nlines\"\r\n4,y";
        assert_eq!(rows(text), want);
    }

    #[test]
    fn spreadsheet_habits() {
        let want = [ok(2, &["1,5", "x"]), ok(4, &["2", ""])];
        assert_eq!(rows("a;b\n1,5;x\n\n2;\n;;\n"), want);
        assert_eq!(rows("a\tb\n1,5\tx\n\n2\t\n"), want);
        assert_eq!(rows("sep=;\r\nA ;b\r\n1;2\r\n"), vec![ok(3, &["1", "2"])]);
        assert_eq!(rows("a,b\r1,2\r3,4"), vec![ok(2, &["1", "2"]), ok(3, &["3", "4"])]);
        assert_eq!(rows("\"a\",\"b\"\n\"1,5\",2\n"), vec![ok(2, &["1,5", "2"])]);
    }

    #[test]
    fn a_bad_line_costs_itself_only() {
        let text = "a,b\n1,2,3\n\"open,2\n4,5\n6,7\n8";
        assert_eq!(
            rows(text),
            vec![Err(2), Err(3), ok(4, &["4", "5"]), ok(5, &["6", "7"]), Err(6)]
        );
    }
}
