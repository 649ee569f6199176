//! Loading lists as CSV with a header (contract §2.1, fine print 10).

use std::borrow::Cow;

use record::{Cell, ListedUnit, Scope, size_type};
use units::decimal::{self, DecimalMark};
use units::temperature::celsius_from_fahrenheit;

use crate::fields::{FARTHEST_SET_POINT_C, checked_number, doubts};
use crate::lists::{FileList, NO_CONTAINER, PlacedUnit};
use crate::table::{Row, Table};
use crate::text::{Unreadable, shown};

/// Reads a CSV list. Every row becomes a unit; what cannot be read of it is null with a warning.
pub(crate) fn read(name: &str, text: &str) -> Result<FileList, Unreadable> {
    let mut table = Table::open(name, text, "unit")?;
    let columns = Columns::find(name, &table)?;
    let mut out = FileList { scope: Scope::WholeShip, ..FileList::default() };
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    while let Some(row) = table.next_row(&mut cells) {
        match row {
            Row::Cells { line, cells } => {
                let unit =
                    RowReader { columns: &columns, cells, out: ListedUnit::default() }.read();
                out.units.push(PlacedUnit { unit, place: (0, line as usize) });
            }
            Row::Bad { line, why, text } => {
                let sent = table.salvage(text, columns.unit);
                out.units.push(PlacedUnit {
                    unit: unreadable_row(sent, &why, text),
                    place: (0, line as usize),
                });
                out.warnings.push(format!("line {line} {why}; correct it and load again"));
                // What else the line said is not known: nobody is removed on its account.
                out.scope = Scope::Cut;
            }
        }
    }
    if out.units.is_empty() {
        out.warnings.push(NO_CONTAINER.into());
        out.scope = Scope::Cut;
    }
    Ok(out)
}

/// A line whose cells cannot be told apart still names its box.
fn unreadable_row(sent: &str, why: &str, text: &str) -> ListedUnit {
    let (unit, check_digit_ok, warning) = checked_number(sent);
    let mut warnings: Vec<String> = warning.into_iter().collect();
    warnings.push(format!("its line {why}; nothing but the number was read"));
    ListedUnit { unit, check_digit_ok, warnings, text: text.to_owned(), ..ListedUnit::default() }
}

struct Columns {
    unit: usize,
    stow: Option<usize>,
    size_type: Option<usize>,
    full: Option<usize>,
    weight_kg: Option<usize>,
    load_port: Option<usize>,
    discharge_port: Option<usize>,
    set_point_c: Option<usize>,
    set_point_f: Option<usize>,
    humidity_pct: Option<usize>,
    vent_m3_h: Option<usize>,
    cargo: Option<usize>,
}

impl Columns {
    fn find(name: &str, table: &Table<'_>) -> Result<Self, Unreadable> {
        let line = Some(table.header_line);
        let at = |c: &str| table.position_of(c);
        for (i, c) in table.header.iter().enumerate() {
            if !c.is_empty() && table.header.iter().skip(i + 1).any(|d| d == c) {
                let why = format!("column \"{}\" stands twice in the header", shown(c));
                return Err(Unreadable::new(name, line, why));
            }
        }
        if at("time_utc").is_some() {
            let why = "is a file of readings (it has time_utc), no loading list; take it in with \
                       holdfast take";
            return Err(Unreadable::new(name, line, why));
        }
        let (c, f) = (at("set_point_c"), at("set_point_f"));
        if c.is_some() && f.is_some() {
            let why = "has set_point_c and set_point_f; keep the one that was ordered";
            return Err(Unreadable::new(name, line, why));
        }
        let missing = || Unreadable::new(name, line, "no column \"unit\"");
        Ok(Self {
            unit: at("unit").ok_or_else(missing)?,
            stow: at("stow"),
            size_type: at("size_type"),
            full: at("full"),
            weight_kg: at("weight_kg"),
            load_port: at("load_port"),
            discharge_port: at("discharge_port"),
            set_point_c: c,
            set_point_f: f,
            humidity_pct: at("humidity_pct"),
            vent_m3_h: at("vent_m3_h"),
            cargo: at("cargo"),
        })
    }
}

struct RowReader<'r, 'a> {
    columns: &'r Columns,
    cells: &'r [Cow<'a, str>],
    out: ListedUnit,
}

impl RowReader<'_, '_> {
    fn text(&self, column: Option<usize>) -> Option<&str> {
        column.and_then(|i| self.cells.get(i)).map(AsRef::as_ref).filter(|t| !t.is_empty())
    }

    fn owned(&self, column: Option<usize>) -> Option<String> {
        self.text(column).map(str::to_owned)
    }

    /// A number in a range; what is there but unreadable is warned about.
    fn number(&mut self, column: Option<usize>, what: &str, range: (f64, f64)) -> Option<f64> {
        let text = self.owned(column)?;
        let value = decimal::parse(&text, DecimalMark::PointOrComma);
        match value {
            Ok(v) if v >= range.0 && v <= range.1 => Some(v),
            Ok(_) => {
                self.warn(format!("{what} \"{}\" is out of range", shown(&text)));
                None
            }
            Err(e) => {
                self.warn(format!("{what} \"{}\" {e}", shown(&text)));
                None
            }
        }
    }

    fn warn(&mut self, text: String) {
        self.out.warnings.push(text);
    }

    fn read(mut self) -> ListedUnit {
        let c = self.columns;
        let sent = self.text(Some(c.unit)).unwrap_or_default().to_owned();
        let (unit, ok, warning) = checked_number(&sent);
        self.out.warnings.extend(warning);
        let numbered = unit.is_some();
        (self.out.unit, self.out.check_digit_ok) = (unit, ok);
        self.cell();
        self.full();
        self.out.size_type = self.owned(c.size_type);
        self.out.load_port = self.owned(c.load_port);
        self.out.discharge_port = self.owned(c.discharge_port);
        self.out.weight_kg = self.number(c.weight_kg, "weight", (1.0, 100_000.0));
        self.out.remarks = self.owned(c.cargo).into_iter().collect();
        self.out.text = self.cells.join(",");
        if numbered {
            let code = self.out.size_type.as_deref().unwrap_or_default();
            self.out.thermal = size_type::is_thermal(code);
            self.set_point();
            self.out.humidity_pct = self.number(c.humidity_pct, "humidity", (0.0, 100.0));
            self.out.vent_m3_h = self.number(c.vent_m3_h, "fresh air", (0.0, 1000.0));
            let doubts = doubts(&self.out);
            self.out.warnings.extend(doubts);
        } else {
            self.warn("line without a unit number; ask which box is meant".into());
        }
        self.out
    }

    fn cell(&mut self) {
        let Some(stow) = self.owned(self.columns.stow) else {
            return;
        };
        self.out.cell = Cell::parse(&stow);
        if self.out.cell.is_none() {
            self.warn(format!(
                "cell \"{}\" cannot be read; ask where the box stands",
                shown(&stow)
            ));
        }
        self.out.stow = Some(stow);
    }

    fn full(&mut self) {
        let Some(text) = self.owned(self.columns.full) else {
            return;
        };
        self.out.full = match text.to_ascii_lowercase().as_str() {
            "true" => Some(true),
            "false" => Some(false),
            _ => {
                self.warn(format!("full \"{}\" is neither true nor false", shown(&text)));
                None
            }
        };
    }

    fn set_point(&mut self) {
        let c = self.columns;
        let column = c.set_point_c.or(c.set_point_f);
        let Some(sent) = self.owned(column) else {
            return;
        };
        self.out.thermal = true;
        self.out.set_point_as_sent = Some(sent);
        let far = FARTHEST_SET_POINT_C;
        if c.set_point_f.is_some() {
            let value = self.number(column, "set point", (-148.0, 212.0));
            self.out.set_point_c = value.map(celsius_from_fahrenheit);
        } else {
            self.out.set_point_c = self.number(column, "set point", (-far, far)).map(|v| v + 0.0);
        }
    }
}
