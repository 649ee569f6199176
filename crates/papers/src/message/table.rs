//! The table of all boxes that goes with a message (RFC 4180), and reading it back.

use std::collections::BTreeMap;

use record::treatment::TreatmentView;
use record::{BoxLine, UnitId};

use super::Facts;
use crate::ascii::fold;

/// How much a row tells: less when the packed table would outgrow its budget.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Detail {
    /// With the reason for each box that is not ok.
    Full,
    /// Reasons only for boxes that need somebody today.
    Urgent,
    /// No reasons.
    Figures,
}

impl Detail {
    /// The fullest first.
    pub const ALL: [Self; 3] = [Self::Full, Self::Urgent, Self::Figures];
}

/// Columns, in order.
const COLUMNS: &str = "unit,stow,port,cargo,state,set_c,supply_c,return_c,hours_to_limit,on_power,\
                       read_at,treatment,probe1_c,probe2_c,probe3_c,probe4_c,reason";

/// Longest cargo and reason.
const CARGO_MAX: usize = 16;
const REASON_MAX: usize = 90;

/// One box of a table, as far as changes are told by it.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The box.
    pub unit: UnitId,
    /// Its whole line, to be sent again in a delta.
    pub line: String,
    /// Cell as sent.
    pub stow: String,
    /// State.
    pub state: String,
    /// Set point, supply and return air, °C; `None`: not read.
    pub air_c: [Option<f64>; 3],
    /// Standing of its treatment.
    pub treatment: String,
}

/// Every box as a row, in the order of the watch list.
#[must_use]
pub fn rows(facts: &Facts<'_>, detail: Detail) -> Vec<Row> {
    let of = |b: &BoxLine| facts.treatments.iter().find(|t| t.unit == b.unit);
    facts.list.boxes.iter().map(|b| row(b, of(b), detail)).collect()
}

/// State of a box that has left the list, in the table of a delta.
pub const GONE: &str = "gone";

/// The row of a box that has left the list.
#[must_use]
pub fn gone(unit: &UnitId) -> Row {
    let mut fields = vec![String::new(); COLUMNS.split(',').count()];
    for (at, text) in [(0, unit.as_str()), (4, GONE)] {
        fields.get_mut(at).into_iter().for_each(|f| text.clone_into(f));
    }
    Row {
        unit: unit.clone(),
        line: fields.join(","),
        stow: String::new(),
        state: GONE.to_owned(),
        air_c: [None; 3],
        treatment: String::new(),
    }
}

/// What the office knows after a full table and the deltas that followed it.
#[must_use]
pub fn after(tables: &[Vec<Row>]) -> Vec<Row> {
    let mut held: BTreeMap<UnitId, Row> = BTreeMap::new();
    for row in tables.iter().flatten() {
        if row.state == GONE {
            held.remove(&row.unit);
        } else {
            held.insert(row.unit.clone(), row.clone());
        }
    }
    held.into_values().collect()
}

/// Rows as a table with its header.
#[must_use]
pub fn table<'a>(rows: impl IntoIterator<Item = &'a Row>) -> String {
    let mut out = format!("{COLUMNS}\r\n");
    for r in rows {
        out.push_str(&r.line);
        out.push_str("\r\n");
    }
    out
}

fn row(b: &BoxLine, t: Option<&TreatmentView>, detail: Detail) -> Row {
    let probe = |n: u8| t.and_then(|t| t.probes.iter().find(|p| p.number == n)?.latest_c);
    let wordy = match detail {
        Detail::Full => b.state != record::State::Ok,
        Detail::Urgent => b.state >= record::State::Act,
        Detail::Figures => false,
    };
    let treatment = t.map_or_else(String::new, |t| t.standing.words().to_owned());
    let stow = b.stow.clone().unwrap_or_default();
    let fields = [
        b.unit.to_string(),
        stow.clone(),
        b.discharge_port.clone().unwrap_or_default(),
        short(b.cargo.as_deref().unwrap_or(""), CARGO_MAX),
        b.state.as_str().to_owned(),
        tenth(b.set_point_c),
        tenth(b.supply_c),
        tenth(b.return_c),
        tenth(b.hours_to_limit),
        b.on_power.map_or("", |on| if on { "1" } else { "0" }).to_owned(),
        b.last_read_at.map(|t| t.to_minute()).unwrap_or_default(),
        treatment.clone(),
        tenth(probe(1)),
        tenth(probe(2)),
        tenth(probe(3)),
        tenth(probe(4)),
        if wordy { short(&b.reason, REASON_MAX) } else { String::new() },
    ];
    let line: Vec<String> = fields.iter().map(|f| quoted(f)).collect();
    Row {
        unit: b.unit.clone(),
        line: line.join(","),
        stow,
        state: b.state.as_str().to_owned(),
        air_c: [b.set_point_c, b.supply_c, b.return_c],
        treatment,
    }
}

fn tenth(v: Option<f64>) -> String {
    let text = v.map(|v| format!("{v:.1}")).unwrap_or_default();
    if text == "-0.0" { "0.0".to_owned() } else { text }
}

fn short(text: &str, most: usize) -> String {
    fold(text).chars().take(most).collect::<String>().trim_end().to_owned()
}

/// Quoted where the format asks for it. What a spreadsheet would run as a formula is made text.
fn quoted(field: &str) -> String {
    let number = field.parse::<f64>().is_ok();
    let runs = !number && field.starts_with(['=', '+', '-', '@']);
    let field = if runs { format!("'{field}") } else { field.to_owned() };
    if field.contains([',', '"']) { format!("\"{}\"", field.replace('"', "\"\"")) } else { field }
}

/// Reads a table back; a line that is no row is passed over.
#[must_use]
pub fn read(text: &str) -> Vec<Row> {
    text.lines().skip(1).filter_map(read_row).collect()
}

fn read_row(line: &str) -> Option<Row> {
    let fields = split(line);
    let field = |i: usize| fields.get(i).cloned().unwrap_or_default();
    let number = |i: usize| field(i).parse().ok();
    Some(Row {
        unit: UnitId::from_text(&field(0))?,
        line: line.to_owned(),
        stow: field(1),
        state: field(4),
        air_c: [number(5), number(6), number(7)],
        treatment: field(11),
    })
}

fn split(line: &str) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut inside = false;
    for c in line.chars() {
        match c {
            '"' => inside = !inside,
            ',' if !inside => out.push(String::new()),
            c => out.iter_mut().last().into_iter().for_each(|f| f.push(c)),
        }
    }
    out
}
