//! One sheet for each port: a line for every box that leaves the ship there, and what has to be
//! handed over with it.

use figures::words::number;
use record::digest::Digest;
use record::dossier::Dossier;

pub use crate::common::Common;
use crate::common::{Sign, sealed};
use crate::csv_file::CsvFile;
use crate::pdf::{Attachment, Relation};
use crate::sheet::{Fonts, Sheet, Table};

/// What the sheet says of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct PortLine {
    /// Port of discharge; empty when no list says.
    pub port: String,
    cells: Vec<String>,
    handed: Vec<String>,
    short: String,
}

const HEAD: [&str; 13] = [
    "unit",
    "cell",
    "cargo",
    "set_point_c",
    "supply_c",
    "return_c",
    "last_read_utc",
    "readings",
    "gaps_over_12h",
    "alarms",
    "incidents",
    "cold_treatment",
    "dossier_sha256",
];

impl PortLine {
    /// From a box's dossier and the bytes of its paper.
    #[must_use]
    pub fn of(d: &Dossier, pdf: &[u8], pages: usize) -> Self {
        let l = d.listed.as_ref();
        let port = l.and_then(|l| l.discharge_port.clone()).unwrap_or_default();
        let temp = |v: Option<f64>| v.map(|v| format!("{v:.1}")).unwrap_or_default();
        let hash = Digest::of(pdf).to_string();
        let treatment = d.treatment.as_ref();
        let cells = vec![
            d.unit.to_string(),
            l.and_then(|l| l.stow.clone()).unwrap_or_default(),
            d.line.cargo.clone().unwrap_or_default(),
            temp(d.line.set_point_c),
            temp(d.line.supply_c),
            temp(d.line.return_c),
            d.line.last_read_at.map(|t| t.to_string()).unwrap_or_default(),
            d.readings.len().to_string(),
            d.gaps.iter().filter(|g| g.long).count().to_string(),
            d.alarms.len().to_string(),
            d.incidents.len().to_string(),
            treatment.map(|t| t.standing.words().to_owned()).unwrap_or_default(),
            hash.clone(),
        ];
        let mut handed = vec![format!("dossier, {pages} pages")];
        if let Some(t) = treatment {
            handed.push(format!("schedule {} with its ledger", t.schedule_id));
            handed.push(if d.calibrations.is_empty() {
                "probe calibration: none is entered".to_owned()
            } else {
                "probe calibration record, to be signed".to_owned()
            });
            handed.push("hourly pulp record and the recorder's own download".to_owned());
            handed.push(match t.released_at {
                Some(at) => format!("released {} UTC by the authority", at.to_minute()),
                None => "not released: keep it closed, cold and on power".to_owned(),
            });
        }
        if !d.incidents.is_empty() {
            let n = d.incidents.len();
            let word = if n == 1 { "incident" } else { "incidents" };
            handed.push(format!("report of {n} {word} in the dossier"));
        }
        let short = hash.get(..16).unwrap_or(&hash).to_owned();
        Self { port, cells, handed, short }
    }

    fn cell(&self, i: usize) -> String {
        self.cells.get(i).cloned().unwrap_or_default()
    }

    fn figure(&self, i: usize) -> String {
        self.cell(i).parse().map(|v: f64| number(v, 1)).unwrap_or_default()
    }
}

/// The sheet of one port, sealed.
///
/// # Errors
/// In words, when the paper cannot be made.
pub fn sheet(
    port: &str,
    lines: &[PortLine],
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let title = if port.is_empty() { "port not known".to_owned() } else { port.to_owned() };
    let mut s = Sheet::new(fonts);
    s.title(&format!("Hand-over at {title}"), &common.ship_line);
    s.paragraph(&format!(
        "{} containers for this port, as recorded on board until {} UTC. Temperatures are of the \
         last reading; blank: not read. What the record shows of each one stands in its own \
         dossier.",
        lines.len(),
        common.made_at.to_minute()
    ));
    s.heading("Containers");
    s.table(&table(lines), "No container is listed for this port.");
    s.heading("To hand over");
    let mut t = Table::new(&["container", "what", "SHA-256 of the dossier", "handed over"]);
    for l in lines {
        let begins = format!("{} …", l.short);
        t.row(vec![l.cell(0), l.handed.join("; "), begins, "[   ]".into()]);
    }
    s.table(&t, "Nothing.");
    s.heading("Signatures");
    s.signature_lines(&[
        "Handed over from board: the papers ticked above:",
        "Received on shore: the papers ticked above:",
    ]);
    let mut csv = CsvFile::new(&HEAD);
    for l in lines {
        csv.row(&l.cells);
    }
    let attached = Attachment {
        name: "containers.csv".to_owned(),
        mime: "text/csv",
        description: "the containers of this port, with the hash of each dossier".to_owned(),
        relation: Relation::Data,
        modified_at: common.made_at,
        bytes: csv.bytes(),
    };
    let subject = format!("Containers of {} for {title}", common.ship_line);
    let title = format!("Hand-over at {title}");
    sealed(s, (&title, &subject), common, fonts, vec![attached], sign)
}

fn table(lines: &[PortLine]) -> Table {
    let mut t = Table::new(&[
        "container",
        "cell",
        "cargo",
        ">set °C",
        ">supply °C",
        ">return °C",
        "last read UTC",
        ">readings",
        ">gaps > 12 h",
        ">alarms",
        ">incidents",
        "cold treatment",
    ])
    .dense();
    for l in lines {
        let read: String = l.cell(6).chars().take(16).collect();
        t.row(vec![
            l.cell(0),
            l.cell(1),
            l.cell(2),
            l.figure(3),
            l.figure(4),
            l.figure(5),
            read.replace('T', "\u{a0}"),
            l.cell(7),
            l.cell(8),
            l.cell(9),
            l.cell(10),
            l.cell(11),
        ]);
    }
    t
}
