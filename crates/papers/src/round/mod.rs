//! The round sheet: what to read where, in walking order, with room for two rounds.

mod bays;
mod words;

use record::digest::Digest;
use record::round::{RoundLine, parts};
use record::sign::{PublicKey, Signature};
use record::{Channel, Part, State};
use units::Utc;

use crate::csv_file::CsvFile;
use crate::pdf::{About, Attachment, Relation, print};
use crate::seal::{self, Signed};
use crate::sheet::{Fonts, Form, FormCell, FormColumn, FormRow, Sheet, Write};

pub use bays::Bays;
pub use words::channel_name;
use words::{age, last_words, limits, painted};

/// What a sheet is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundSheet<'a> {
    /// Ship and voyage.
    pub ship_line: String,
    /// When it is made.
    pub made_at: Utc,
    /// The latest reading that it knows of.
    pub as_of: Option<Utc>,
    /// The boxes, in walking order.
    pub lines: &'a [RoundLine],
    /// Which part of the ship it covers; empty: all of it.
    pub covers: String,
    /// Journal entries.
    pub entries: u64,
    /// Their root.
    pub root: Digest,
}

/// What can hurt a person on a round.
pub const CAUTIONS: [&str; 4] = [
    "440 V at plugs, sockets and cables: look and read; do not touch what is wet, hot, smells or \
     is damaged. A plug is drawn or put in with its socket switched off. Report it.",
    "Wet or icy deck, lashing bridges, ladders: one hand for the ship, harness where the ship asks \
     for it, a working light, a radio, and the watch told before and after.",
    "Holds are enclosed spaces. Cargo that breathes or was fumigated takes oxygen away: enter with \
     the ship's permit, ventilated and measured, never alone. Open no container door.",
    "In heavy weather the deck stays closed and the round is written down as missed. The ship's \
     procedures and the maker's instructions come before this sheet.",
];

const CELL: f32 = 50.0;
const UNIT: f32 = 98.0;
const SET: f32 = 62.0;
const LAST: f32 = 58.0;
const FIGURE: f32 = 40.5;
const TICK: f32 = 40.5;

/// Makes the sheet, sealed.
///
/// # Errors
/// In words, when the paper cannot be made.
pub fn sheet(
    r: &RoundSheet<'_>,
    fonts: &Fonts,
    public_key: PublicKey,
    sign: &dyn Fn(&[u8]) -> Signature,
) -> Result<(Vec<u8>, usize), String> {
    let s = laid_out(r, fonts);
    let pages = s.pages();
    let made = format!("{} UTC", r.made_at.to_minute());
    let covers = if r.covers.is_empty() { String::new() } else { format!(" · {}", r.covers) };
    let about = About {
        title: format!("Round sheet {}", r.ship_line),
        subject: format!("What to read at each refrigerated container of {}", r.ship_line),
        id: format!("{}/round sheet/{}", r.ship_line, r.made_at),
        made_at: r.made_at,
        foot: format!("{} · round sheet{covers} · made {made}", r.ship_line),
        foot_hash: format!("journal root {} over {} entries", r.root, r.entries),
    };
    let blank = Attachment {
        name: "round.csv".to_owned(),
        mime: "text/csv",
        description: "the same boxes as a table to fill in and take in".to_owned(),
        relation: Relation::Data,
        modified_at: r.made_at,
        bytes: csv(r.lines),
    };
    let mut pdf = print(s, fonts, &about, vec![blank])?;
    let signed = |m: &[u8]| Some(Signed { public_key: public_key.0, signature: sign(m).0 });
    seal::place(&mut pdf, signed).map_err(|e| e.to_string())?;
    Ok((pdf, pages))
}

fn laid_out<'f>(r: &RoundSheet<'_>, fonts: &'f Fonts) -> Sheet<'f> {
    let mut s = Sheet::new(fonts);
    let covers = if r.covers.is_empty() { "whole ship" } else { &r.covers };
    s.title("Round sheet", &format!("{} · {covers}", r.ship_line));
    for caution in CAUTIONS {
        s.small(&format!("▲ {caution}"));
    }
    s.write_lines(&[
        vec!["Round 1, date", "from, to (UTC)", "walked by", "wind, sea, deck", "not read, why"],
        vec!["Round 2, date", "from, to (UTC)", "walked by", "wind, sea, deck", "not read, why"],
    ]);
    if r.lines.is_empty() {
        s.space(6.0);
        s.paragraph(
            "No refrigerated container is listed or was read in this part of the voyage: there is \
             nothing to go round for. Take in a loading list first.",
        );
        return s;
    }
    s.small(&explained(r));
    let form = form();
    s.form_head(&form);
    let head = |s: &mut Sheet<'f>| s.form_head(&form);
    for (part, range) in parts(r.lines) {
        let lines = r.lines.get(range).unwrap_or(&[]);
        let rows: Vec<FormRow> = lines.iter().flat_map(|l| rows(l, r.as_of)).collect();
        s.form_part(&form, &title(part, lines), &rows, &head);
    }
    s.space(4.0);
    s.signature_lines(&["Round 1 walked and written:", "Round 2 walked and written:"]);
    s
}

fn explained(r: &RoundSheet<'_>) -> String {
    let as_of = r.as_of.map_or_else(
        || "Nothing was read yet.".to_owned(),
        |t| format!("Last values as known at {} UTC, with their age then.", t.to_minute()),
    );
    format!(
        "{} containers in walking order. {as_of} Temperatures in °C with their sign: write what \
         the display shows, never the last value again; what was not read stays blank. \"on\": \
         power seen at the unit; \"alarm\": write its words in the margin; \"set\": the display \
         shows the set point printed here.",
        r.lines.len()
    )
}

fn form() -> Form {
    let column = |head: &[&str], width| FormColumn {
        head: head.iter().map(|h| (*h).to_owned()).collect(),
        width,
    };
    let mut columns = vec![
        column(&["bay row tier"], CELL),
        column(&["container, cargo"], UNIT),
        column(&["set point", "limits °C"], SET),
        column(&["last read", "supply/return"], LAST),
    ];
    for n in ["Round 1", "Round 2"] {
        columns.push(column(&[n, "supply °C"], FIGURE));
        columns.push(column(&["", "return °C"], FIGURE));
        columns.push(column(&["", "seen"], TICK));
    }
    Form { columns }
}

fn title(part: Part, lines: &[RoundLine]) -> FormRow {
    let n = lines.len();
    let bays = words::bays(part, lines);
    let words = format!("{}{bays}: {n} {}", part.title(), if n == 1 { "box" } else { "boxes" });
    let none = || FormCell::Words(Vec::new(), 1);
    let time = || FormCell::Boxes(vec![Write("time UTC".to_owned())]);
    FormRow {
        cells: vec![
            FormCell::Words(vec![words], 1),
            none(),
            none(),
            none(),
            time(),
            none(),
            none(),
            time(),
            none(),
            none(),
        ],
        continues: false,
    }
}

/// A box's rows: supply and return, then what else is to be read, three figures to a row.
fn rows(l: &RoundLine, as_of: Option<Utc>) -> Vec<FormRow> {
    let cell = match l.line.cell {
        Some(c) => format!("{:03} {:02} {:02}", c.bay, c.row, c.tier),
        None => l.line.stow.clone().unwrap_or_default(),
    };
    let mark = match l.line.state {
        State::Ok => String::new(),
        State::Watch => "▲ watch".to_owned(),
        State::Act => "▲▲ act".to_owned(),
        State::Urgent => "▲▲▲ urgent".to_owned(),
    };
    let cargo = l.line.cargo.clone().unwrap_or_default();
    let ticks =
        || FormCell::Ticks(["on", "alarm", "set"].iter().map(|t| (*t).to_owned()).collect());
    let figure = || FormCell::Boxes(vec![Write(String::new())]);
    let mut out = vec![FormRow {
        cells: vec![
            FormCell::Words(vec![cell, mark], 1),
            FormCell::Words(vec![painted(l.unit()), cargo], 2),
            FormCell::Words(limits(l), 1),
            FormCell::Words(last_words(l, as_of), 1),
            figure(),
            figure(),
            ticks(),
            figure(),
            figure(),
            ticks(),
        ],
        continues: false,
    }];
    for some in l.also.chunks(3) {
        out.push(also(l, some, as_of));
    }
    out
}

fn also(l: &RoundLine, some: &[Channel], as_of: Option<Utc>) -> FormRow {
    let last: Vec<String> = some
        .iter()
        .map(|c| {
            let name = channel_name(*c);
            match l.last_of(*c) {
                Some(v) => {
                    let value = figures::words::number(v.value, 1);
                    format!("{name} {value} ({})", age(v.at, as_of))
                }
                None => format!("{name} not read yet"),
            }
        })
        .collect();
    let boxes = |of: &[Channel]| {
        FormCell::Boxes(of.iter().map(|c| Write(channel_name(*c).to_owned())).collect())
    };
    let mut cells = vec![
        FormCell::Words(Vec::new(), 1),
        FormCell::Words(vec![String::new(), format!("read also: {}", last.join(", "))], 3),
        FormCell::Words(Vec::new(), 1),
        FormCell::Words(Vec::new(), 1),
    ];
    for _ in 0..2 {
        for n in 0..3 {
            cells.push(boxes(some.get(n..=n).unwrap_or(&[])));
        }
    }
    FormRow { cells, continues: true }
}

/// The boxes as a table to fill in (`holdfast take` reads it): times, figures and what was seen
/// are blank.
#[must_use]
pub fn csv(lines: &[RoundLine]) -> Vec<u8> {
    let also: Vec<Channel> =
        Channel::ALL.into_iter().filter(|c| lines.iter().any(|l| l.also.contains(c))).collect();
    let mut head: Vec<String> =
        ["time_utc", "unit", "set_point_c", "supply_c", "return_c"].map(str::to_owned).to_vec();
    head.extend(also.iter().map(|c| c.column()));
    head.extend(["on_power", "mode", "alarm", "source", "remark"].map(str::to_owned));
    let names: Vec<&str> = head.iter().map(String::as_str).collect();
    let mut out = CsvFile::new(&names);
    for l in lines {
        let mut row = vec![String::new(); head.len()];
        if let Some(cell) = row.get_mut(1) {
            *cell = l.unit().to_string();
        }
        out.row(&row);
    }
    out.bytes()
}

#[cfg(test)]
mod tests;
