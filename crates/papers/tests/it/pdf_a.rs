//! The PDF itself, read back with lopdf: pages, text, metadata, attachments, seal.

use lopdf::{Dictionary, Document, Object};
use papers::pdf::{About, Attachment, Relation, print};
use papers::seal::{self, Broken, Signed};
use papers::sheet::{Fonts, Sheet, Table};
use units::Utc;

fn at() -> Utc {
    Utc::parse("2026-03-09T05:04:03Z").unwrap()
}

fn about() -> About {
    About {
        title: "Hand-over dossier QQQU1000011".into(),
        subject: "What was recorded".into(),
        id: "014N/QQQU1000011".into(),
        made_at: at(),
        foot: "MV ALDER REACH, voyage 014N · QQQU1000011".into(),
        foot_hash: "root 0011".into(),
    }
}

fn attachments() -> Vec<Attachment> {
    let file = |name: &str, relation, bytes: &[u8]| Attachment {
        name: name.into(),
        mime: "text/csv",
        description: format!("what {name} is"),
        relation,
        modified_at: at(),
        bytes: bytes.to_vec(),
    };
    vec![
        file("readings.csv", Relation::Data, b"at_utc,supply_c\r\n2026-03-09T05:00:00Z,-1.0\r\n"),
        file("originals/a.csv", Relation::Source, &[0, 255, 10, 13, 128]),
        file("empty.csv", Relation::Data, b""),
    ]
}

fn made() -> Vec<u8> {
    let fonts = Fonts::load().unwrap();
    let mut sheet = Sheet::new(&fonts);
    sheet.title("Hand-over dossier", "QQQU1000011");
    sheet.paragraph("Supply air −1.0 °C, 漢 not in the face.");
    let mut table = Table::new(&["UTC", ">supply °C", "remark"]);
    for i in 0..150 {
        table.row(vec![format!("row {i}"), format!("{i}.0"), "a remark in words".into()]);
    }
    sheet.heading("Readings");
    sheet.table(&table, "None.");
    print(sheet, &fonts, &about(), attachments()).unwrap()
}

/// Not a signature: shows only that what is signed is what is checked.
fn sign(message: &[u8]) -> Signed {
    let h = record::digest::Digest::of(message).0;
    Signed { public_key: [9; 32], signature: std::array::from_fn(|i| h[i % 32]) }
}

fn holds(message: &[u8], s: &Signed) -> bool {
    sign(message) == *s
}

fn dict(d: &Document, o: &Object) -> Dictionary {
    d.dereference(o).unwrap().1.as_dict().unwrap().clone()
}

#[test]
fn pages_text_and_metadata_are_there() {
    let d = Document::load_mem(&made()).unwrap();
    let pages: Vec<u32> = d.get_pages().keys().copied().collect();
    assert_eq!(pages.len(), 3);
    for n in &pages {
        let text = d.extract_text(&[*n]).unwrap();
        assert!(text.contains(&format!("page {n} of 3")), "{text}");
        assert!(text.contains("voyage 014N") && text.contains("root 0011"));
        assert!(text.contains("supply") && text.contains("remark"), "the head is repeated: {text}");
    }
    assert!(d.extract_text(&[1]).unwrap().contains("−1.0 °C"));
    let info = dict(&d, d.trailer.get(b"Info").unwrap());
    assert_eq!(info.get(b"Title").unwrap().as_str().unwrap(), about().title.as_bytes());
    let root = dict(&d, d.trailer.get(b"Root").unwrap());
    let xmp = d.dereference(root.get(b"Metadata").unwrap()).unwrap().1.as_stream().unwrap();
    let xmp = String::from_utf8(xmp.content.clone()).unwrap();
    // The identification schema of ISO 19005-3 §6.6.4.
    assert!(xmp.contains("<pdfaid:part>3</pdfaid:part>"), "{xmp}");
    assert!(xmp.contains("<pdfaid:conformance>B</pdfaid:conformance>"));
    assert_eq!(root.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    assert!(root.has(b"OutputIntents") || !xmp.is_empty());
}

/// ISO 19005-3 §6.8: each embedded file has name, type, date and relationship, and the document
/// names it in `AF`.
#[test]
fn attachments_come_out_byte_for_byte() {
    let d = Document::load_mem(&made()).unwrap();
    let root = dict(&d, d.trailer.get(b"Root").unwrap());
    let af = d.dereference(root.get(b"AF").unwrap()).unwrap().1.as_array().unwrap().clone();
    assert_eq!(af.len(), 3);
    let wanted = attachments();
    for spec in &af {
        let spec = dict(&d, spec);
        let name = String::from_utf8(spec.get(b"F").unwrap().as_str().unwrap().to_vec()).unwrap();
        let want = wanted.iter().find(|a| a.name == name).unwrap();
        let relation: &[u8] = if want.relation == Relation::Source { b"Source" } else { b"Data" };
        assert_eq!(spec.get(b"AFRelationship").unwrap().as_name().unwrap(), relation);
        assert!(spec.has(b"UF") && spec.has(b"Desc"));
        let ef = dict(&d, spec.get(b"EF").unwrap());
        let stream = d.dereference(ef.get(b"F").unwrap()).unwrap().1.as_stream().unwrap();
        let bytes = if stream.dict.has(b"Filter") {
            stream.decompressed_content().unwrap()
        } else {
            stream.content.clone()
        };
        assert_eq!(bytes, want.bytes, "{name}");
        assert_eq!(stream.dict.get(b"Subtype").unwrap().as_name().unwrap(), b"text/csv");
        assert!(dict(&d, stream.dict.get(b"Params").unwrap()).has(b"ModDate"));
    }
}

#[test]
fn two_attachments_of_one_name_are_refused() {
    let fonts = Fonts::load().unwrap();
    let twice = [attachments(), attachments()].concat();
    assert!(print(Sheet::new(&fonts), &fonts, &about(), twice).is_err());
}

/// Random bits, cuts and additions all over the file; with them every bit of the metadata.
#[test]
fn any_change_to_the_file_is_seen() {
    let mut pdf = made();
    seal::place(&mut pdf, |m| Some(sign(m))).unwrap();
    assert!(seal::check(&pdf, holds).is_ok());
    assert!(Document::load_mem(&pdf).is_ok(), "a sealed file is still a PDF");
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut random = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 33) as usize % below
    };
    for _ in 0..4000 {
        let bit = random(pdf.len() * 8);
        pdf[bit / 8] ^= 1 << (bit % 8);
        assert!(seal::check(&pdf, holds).is_err(), "bit {bit}");
        pdf[bit / 8] ^= 1 << (bit % 8);
    }
    for _ in 0..500 {
        let cut = random(pdf.len());
        assert!(seal::check(&pdf[..cut], holds).is_err(), "cut at {cut}");
        let mut more = pdf.clone();
        more.insert(random(more.len() + 1), random(256) as u8);
        assert!(seal::check(&more, holds).is_err());
    }
    assert_eq!(seal::check(&pdf, |_, _| false), Err(Broken::NotSigned));
}
