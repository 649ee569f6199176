//! The list for a port as a paper: what has to be shown there, what of it is held, what is open.

use record::handover::{Handover, Must, Part};
use record::sign::{PublicKey, Signature};

use crate::csv_file::CsvFile;
use crate::pdf::{About, Attachment, Relation, print};
use crate::seal::{self, Signed};
use crate::sheet::{Fonts, Sheet, Table, minus};

/// The paper, sealed, with each part as CSV.
///
/// # Errors
/// In words, when the paper cannot be made.
pub fn paper(
    h: &Handover,
    fonts: &Fonts,
    public_key: PublicKey,
    sign: &dyn Fn(&[u8]) -> Signature,
) -> Result<Vec<u8>, String> {
    let s = sheet(h, fonts);
    let attached = h.parts.iter().filter(|p| !p.rows.is_empty()).map(|p| csv(p, h)).collect();
    let about = About {
        title: format!("What to show at {}", h.port),
        subject: format!("Hand-over list of {} for {}", h.ship_line, h.port),
        id: format!("{}/{}/list", h.ship_line, h.port),
        made_at: h.made_at,
        foot: format!("{} · {} · made {} UTC", h.ship_line, h.port, h.made_at.to_minute()),
        foot_hash: format!("journal root {} over {} entries", h.root, h.entries),
    };
    let mut pdf = print(s, fonts, &about, attached)?;
    let signed = |m: &[u8]| Some(Signed { public_key: public_key.0, signature: sign(m).0 });
    seal::place(&mut pdf, signed).map_err(|e| e.to_string())?;
    Ok(pdf)
}

fn sheet<'f>(h: &Handover, fonts: &'f Fonts) -> Sheet<'f> {
    let mut s = Sheet::new(fonts);
    s.title(&format!("What to show at {}", h.port), &h.ship_line);
    let at = |t: Option<units::Utc>| t.map(units::Utc::to_minute).unwrap_or_default();
    s.facts(&[
        ("port", h.port.clone()),
        ("expected UTC", at(h.eta)),
        ("containers", h.boxes.to_string()),
        ("readings until UTC", at(h.as_of)),
        ("made UTC", h.made_at.to_minute()),
        ("journal entries", h.entries.to_string()),
    ]);
    s.paragraph(
        "It lists what is recorded on board. Blank: nobody entered it. An authority, the cargo's \
         papers and the ship's own procedures may ask for more.",
    );
    s.heading("Still open");
    if h.open.is_empty() {
        s.paragraph("Nothing that is entered is open.");
    }
    for line in &h.open {
        s.paragraph(&format!("[   ] {}", minus(line)));
    }
    for p in &h.parts {
        part(p, &mut s);
    }
    s.heading("Signatures");
    s.signature_lines(&[
        "Shown and handed over from board: what is ticked or listed above:",
        "Seen and received on shore:",
    ]);
    s
}

fn part(p: &Part, s: &mut Sheet<'_>) {
    s.heading(p.title);
    for m in p.musts {
        s.small(&must(m));
    }
    let heads: Vec<&str> = p.columns.iter().map(|(_, head)| *head).collect();
    let mut t = Table::new(&heads).dense();
    for row in &p.rows {
        t.row(row.iter().map(|cell| unbroken(&minus(cell))).collect());
    }
    s.table(&t, p.empty);
}

/// Times are never broken over two lines.
fn unbroken(cell: &str) -> String {
    let time = cell.len() == 16 && cell.as_bytes().get(10) == Some(&b' ');
    if time { cell.replace(' ', "\u{a0}") } else { cell.to_owned() }
}

fn must(m: &Must) -> String {
    format!("To be shown: {} [{}; {}]", m.what, m.source, m.trust)
}

fn csv(p: &Part, h: &Handover) -> Attachment {
    let head: Vec<&str> = p.columns.iter().map(|(key, _)| *key).collect();
    let mut csv = CsvFile::new(&head);
    for row in &p.rows {
        csv.row(row);
    }
    Attachment {
        name: format!("{}.csv", p.key),
        mime: "text/csv",
        description: p.title.to_owned(),
        relation: Relation::Data,
        modified_at: h.made_at,
        bytes: csv.bytes(),
    }
}
