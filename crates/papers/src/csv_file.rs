//! CSV after RFC 4180: a head, CRLF, quotes where needed, UTF-8 without a mark, a decimal point.
//! A text that a spreadsheet would take for a formula is made harmless.

/// A file under construction.
pub struct CsvFile(csv::Writer<Vec<u8>>);

impl CsvFile {
    /// A file with this head.
    #[must_use]
    pub fn new(head: &[&str]) -> Self {
        let mut file = Self(
            csv::WriterBuilder::new()
                .terminator(csv::Terminator::CRLF)
                .flexible(true)
                .from_writer(Vec::new()),
        );
        file.put(head.iter().copied());
        file
    }

    /// Adds a row.
    pub fn row(&mut self, cells: &[String]) {
        let safe: Vec<String> = cells.iter().map(|c| harmless(c)).collect();
        self.put(safe.iter().map(String::as_str));
    }

    fn put<'a>(&mut self, cells: impl Iterator<Item = &'a str>) {
        // Writing into memory does not fail.
        let _ = self.0.write_record(cells);
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(self) -> Vec<u8> {
        self.0.into_inner().unwrap_or_default()
    }
}

/// A cell that begins as a formula does (`= + @`, a tab, or a minus that begins no number) gets an
/// apostrophe before it.
fn harmless(cell: &str) -> String {
    let formula = match cell.chars().next() {
        Some('=' | '+' | '@' | '\t' | '\r') => true,
        Some('-') => cell.parse::<f64>().is_err(),
        _ => false,
    };
    if formula { format!("'{cell}") } else { cell.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(rows: &[&[&str]]) -> String {
        let mut f = CsvFile::new(&["at_utc", "remark"]);
        for row in rows {
            f.row(&row.iter().map(|c| (*c).to_owned()).collect::<Vec<_>>());
        }
        String::from_utf8(f.bytes()).unwrap()
    }

    /// RFC 4180 §2, rules 1, 5, 6 and 7: line ends, quotes only around what needs them, line
    /// breaks inside quotes, quotes doubled.
    #[test]
    fn rfc_4180() {
        assert_eq!(
            text(&[&["a", "b,c"], &["d\ne", "f\"g"]]),
            "at_utc,remark\r\na,\"b,c\"\r\n\"d\ne\",\"f\"\"g\"\r\n"
        );
        assert_eq!(text(&[]), "at_utc,remark\r\n");
    }

    #[test]
    fn formulas_are_harmless_and_minus_numbers_stay() {
        let rows = text(&[&["=1+1", "@x"], &["-18.0", "-cmd"], &["+31", "\t=1"], &["−18", ""]]);
        assert_eq!(rows, "at_utc,remark\r\n'=1+1,'@x\r\n-18.0,'-cmd\r\n'+31,'\t=1\r\n−18,\r\n");
    }
}
