//! The two record books of refrigerant on paper: ozone-depleting substances, and the record of a
//! unit with fluorinated gas.

use record::gas::kg;
use service::account::{FGasRecord, OzoneEntry};
use units::Utc;

use crate::common::{Common, Sign, sealed};
use crate::csv_file::CsvFile;
use crate::pdf::{Attachment, Relation};
use crate::sheet::{Fonts, Sheet, Table};

/// The record book of ozone-depleting substances, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn ozone(
    book: &[OzoneEntry],
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let mut s = Sheet::new(fonts);
    s.title("Ozone-depleting substances record book", &common.ship_line);
    s.paragraph(
        "MARPOL Annex VI regulation 12 (read in several texts): masses in kg, entered without \
         delay. Whether it may be kept so is the flag’s to say. R134a, R404A, R452A, R513A, R744, \
         R290 and R1234yf are no ozone-depleting substances and do not belong here; their records \
         are those of each unit.",
    );
    s.heading("Entries");
    let mut t =
        Table::new(&["UTC", "where", "equipment", "substance", "what", ">kg", "by", "signature"]);
    for e in book {
        // The last cell is for the signature.
        t.row(cells(e, e.at.to_minute()).into_iter().chain([String::new()]).collect());
    }
    s.table(&t, "No entry: nothing was entered about an ozone-depleting gas.");
    s.signature_lines(&["Book seen:"]);
    let title = "Ozone-depleting substances";
    let subject = format!("Record book of ozone-depleting substances of {}", common.ship_line);
    let data = vec![ozone_data(book, common.made_at)];
    sealed(s, (title, &subject), common, fonts, data, sign)
}

fn cells(e: &OzoneEntry, at: String) -> Vec<String> {
    vec![
        at,
        e.place.clone(),
        e.equipment.clone(),
        e.substance.clone(),
        e.kind.words().to_owned(),
        e.kg.map(|kg| format!("{kg:.3}")).unwrap_or_default(),
        e.person.clone(),
    ]
}

fn ozone_data(book: &[OzoneEntry], at: Utc) -> Attachment {
    let head = ["at_utc", "place", "equipment", "substance", "kind", "mass_kg", "person"];
    let mut csv = CsvFile::new(&head);
    for e in book {
        csv.row(&cells(e, e.at.to_string()));
    }
    attached("ozone.csv", "the entries of the book", at, csv)
}

/// The record of a unit with fluorinated gas, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn unit(
    r: &FGasRecord,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let mut s = Sheet::new(fonts);
    s.title(&format!("Refrigerant record of {}", r.unit), &common.ship_line);
    s.paragraph(
        "The fields of Regulation (EU) 2024/573 Art. 7 (read); to be kept for at least 5 years by \
         operator and contractor. Blank: nobody entered it. Times are UTC.",
    );
    s.heading("(a) Gas and quantity contained");
    match &r.plate {
        None => s.paragraph(NOTHING),
        Some(p) => s.facts(&[
            ("by the plate", format!("{} {}", kg(p.charge_g.into()), p.gas)),
            ("serial number", p.serial.clone()),
            ("hermetically sealed", if p.sealed { "labelled so" } else { "" }.to_owned()),
            ("leak detection", if p.detection { "fitted" } else { "" }.to_owned()),
        ]),
    }
    s.heading("(b), (d) Added");
    let mut t = Table::new(&["UTC", ">kg", "gas", "why", "from"]);
    for a in &r.added {
        t.row(vec![
            a.at.to_minute(),
            format!("{:.3}", a.kg),
            a.gas.clone(),
            why(a.for_leak).to_owned(),
            a.source_words(),
        ]);
    }
    s.table(&t, NOTHING);
    s.heading("(c) Recovered");
    let mut t = Table::new(&["UTC", ">kg", "into"]);
    for (at, kg, into) in &r.recovered {
        t.row(vec![at.to_minute(), format!("{kg:.3}"), into.clone()]);
    }
    s.table(&t, NOTHING);
    s.heading("(e) Who worked on it");
    let mut t = Table::new(&["name", "certificate"]);
    for (name, certificate) in &r.people {
        let number = certificate.clone().unwrap_or_else(|| "not entered".to_owned());
        t.row(vec![name.clone(), number]);
    }
    s.table(&t, NOTHING);
    s.heading("(f) Checks and repairs of leaks");
    let mut t = Table::new(&["UTC", "what was found or done"]);
    for (at, words) in &r.checks {
        t.row(vec![at.to_minute(), words.clone()]);
    }
    s.table(&t, NOTHING);
    s.heading("(g) Taken out of use");
    s.paragraph(&match &r.decommissioned {
        Some((at, measures)) => format!("{} UTC: {measures}", at.to_minute()),
        None => NOTHING.to_owned(),
    });
    s.signature_lines(&["Record seen:"]);
    let title = format!("Refrigerant record {}", r.unit);
    let subject = format!("Refrigerant record of container {} of {}", r.unit, common.ship_line);
    let data = vec![unit_data(r, common.made_at)];
    sealed(s, (&title, &subject), common, fonts, data, sign)
}

const NOTHING: &str = "Nothing is entered.";

fn why(for_leak: bool) -> &'static str {
    if for_leak { "for a leak" } else { "in service" }
}

fn unit_data(r: &FGasRecord, at: Utc) -> Attachment {
    let mut csv = CsvFile::new(&["field", "at_utc", "mass_kg", "gas", "words"]);
    let mut row = |field: &str, at: Option<Utc>, kg: Option<f64>, gas: &str, words: &str| {
        csv.row(&[
            field.to_owned(),
            at.map(|t| t.to_string()).unwrap_or_default(),
            kg.map(|v| format!("{v:.3}")).unwrap_or_default(),
            gas.to_owned(),
            words.to_owned(),
        ]);
    };
    if let Some(p) = &r.plate {
        row("contained", None, Some(f64::from(p.charge_g) / 1000.0), &p.gas, &p.serial);
    }
    for a in &r.added {
        let words = format!("{}; {}", why(a.for_leak), a.source_words());
        row("added", Some(a.at), Some(a.kg), &a.gas, &words);
    }
    for (at, kg, into) in &r.recovered {
        row("recovered", Some(*at), Some(*kg), "", into);
    }
    for (name, certificate) in &r.people {
        let words = format!("{name}, {}", certificate.as_deref().unwrap_or("not entered"));
        row("person", None, None, "", &words);
    }
    for (at, words) in &r.checks {
        row("check", Some(*at), None, "", words);
    }
    if let Some((at, measures)) = &r.decommissioned {
        row("out of use", Some(*at), None, "", measures);
    }
    attached(&format!("{}.csv", r.unit), "the record's lines", at, csv)
}

fn attached(name: &str, what: &str, at: Utc, csv: CsvFile) -> Attachment {
    Attachment {
        name: name.to_owned(),
        mime: "text/csv",
        description: what.to_owned(),
        relation: Relation::Data,
        modified_at: at,
        bytes: csv.bytes(),
    }
}
