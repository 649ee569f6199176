//! Loading lists.

use intake::read_lists;
use record::{ListReport, ListedUnit, Scope};

const D95B: &str = include_str!("../lists/bayplan-d95b.edi");
const D13B: &str = include_str!("../lists/bayplan-d13b.edi");
const ORDER: &str = include_str!("../lists/load-order.edi");
const OLD: &str = include_str!("../lists/old-dialect.edi");

fn read(text: &str) -> ListReport {
    read_lists(&[("list", text.as_bytes())]).unwrap()
}

fn unit<'r>(report: &'r ListReport, number: &str) -> &'r ListedUnit {
    let is = |u: &&ListedUnit| u.unit.as_ref().is_some_and(|n| n.as_str() == number);
    report.units.iter().find(is).unwrap_or_else(|| panic!("{number} is not listed"))
}

/// The one unit of a bayplan whose segments between cell and end are `segments`.
fn one(segments: &str) -> ListedUnit {
    let count = segments.matches('\'').count() + 4;
    let text = format!(
        "UNB+UNOA:2+A+B+260301:0600+1'UNH+1+BAPLIE:D:95B:UN:SMDG22'BGM++P+9'LOC+147+0220382::5'\
         {segments}UNT+{count}+1'UNZ+1+1'"
    );
    let report = read(&text);
    assert_eq!(report.warnings, Vec::<String>::new(), "{segments}");
    assert_eq!(report.units.len(), 1, "{segments}");
    report.units.into_iter().next().unwrap()
}

fn warned(u: &ListedUnit, part: &str) -> bool {
    u.warnings.iter().any(|w| w.contains(part))
}

#[test]
fn bayplan_d95b() {
    let r = read(D95B);
    assert_eq!((r.messages, r.scope), (1, Scope::WholeShip));
    assert_eq!(r.warnings, Vec::<String>::new());
    assert_eq!(r.head.ship.as_deref(), Some("MV ALDER REACH"));
    assert_eq!(r.head.voyage.as_deref(), Some("014N"));
    assert_eq!(r.head.next_port.as_deref(), Some("XXMAR"));
    assert!(r.head.next_port_eta_ms.is_some());

    let fish = unit(&r, "QQQU1000011");
    assert_eq!((fish.thermal, fish.full, fish.check_digit_ok), (true, Some(true), Some(true)));
    assert_eq!(fish.set_point_c, Some(-18.0));
    assert_eq!(fish.set_point_as_sent.as_deref(), Some("TMP+2+-18.0:CEL"));
    assert_eq!(fish.range_c, Some([-20.0, -16.0]));
    assert_eq!(fish.weight_kg, Some(28_500.0), "VGM wins");
    assert_eq!(fish.stow.as_deref(), Some("0220382"));
    let cell = fish.cell.unwrap();
    assert_eq!((cell.bay, cell.row, cell.tier), (22, 3, 82));
    assert_eq!(fish.load_port.as_deref(), Some("XXSOL"));
    assert_eq!(fish.discharge_port.as_deref(), Some("XXMAR"));
    assert_eq!(fish.remarks, ["FROZEN FISH"]);
    assert!(fish.text.contains("RFF+BN:LOT1'") && fish.text.starts_with("LOC+147+0220382::5'"));
    assert_eq!(fish.warnings, Vec::<String>::new());
}

#[test]
fn bayplan_d95b_dialects() {
    let r = read(D95B);
    let grapes = unit(&r, "QQQU1000027");
    assert!(grapes.thermal, "old code 4532");
    assert!((grapes.set_point_c.unwrap() + 5.0 / 9.0).abs() < 1e-12, "31 °F");
    assert!((grapes.weight_kg.unwrap() - 18_143.694_8).abs() < 1e-6, "40,000 lb");
    assert_eq!(grapes.load_port.as_deref(), Some("XXSOL"), "6 and 12 as in the old dialect");
    assert_eq!(grapes.remarks[1], "VENT 15 CBM/H: SHIPPER'S ORDER + PROBES ?");

    let bananas = unit(&r, "QQQU2000016");
    assert_eq!(bananas.set_point_c, Some(13.3), "segments after EQD count as well");
    assert!(warned(bananas, "no unit"), "{:?}", bananas.warnings);
    assert_eq!(bananas.discharge_port, None, "placeholder");
    assert!(warned(bananas, "placeholder"));
    assert_eq!(bananas.weight_kg, Some(19_000.0));

    let paper = unit(&r, "QQQU1000032");
    assert!(paper.thermal && warned(paper, "no set point"), "full thermal, whatever the text says");
    assert_eq!(paper.set_point_c, None, "breakbulk next door lends nothing");

    let reserved: Vec<_> = r.units.iter().filter(|u| u.unit.is_none()).collect();
    assert_eq!(reserved.len(), 1);
    assert!(!reserved[0].thermal && reserved[0].set_point_c.is_none());
    assert_eq!(reserved[0].check_digit_ok, None);

    let dry = unit(&r, "QQQU3000010");
    assert_eq!((dry.thermal, dry.full, dry.set_point_c), (false, Some(false), None));
    let empty = unit(&r, "QQQU1000080");
    assert!(empty.thermal && empty.warnings.is_empty(), "empty reefer, remainder 10");
    assert_eq!(r.units.len(), 7);
}

#[test]
fn bayplan_d13b() {
    let r = read(D13B);
    assert_eq!(r.warnings, Vec::<String>::new());
    assert_eq!(r.units.len(), 3, "a lost slot is no container");
    let first = unit(&r, "QQQU1000011");
    assert_eq!(first.set_point_c, Some(4.5));
    assert_eq!(first.range_c, None, "RNG+4 0:0 is no range");
    assert_eq!((first.vent_m3_h, first.humidity_pct), (Some(0.0), Some(90.0)));
    let second = unit(&r, "QQQU1000027");
    assert_eq!(second.set_point_c, Some(-2.5), "own temperature in a shared location");
    assert_eq!(second.range_c, Some([-3.0, -1.0]));
    assert_eq!((second.vent_m3_h, second.humidity_pct), (None, None), "percent is no flow");
    assert_eq!(second.stow.as_deref(), Some("0180208"));
    assert!(!warned(second, "cell"), "two units of one location are no double");
    let third = unit(&r, "QQQU1000032");
    assert_eq!((third.set_point_c, third.thermal), (None, true));
    assert!(third.remarks.iter().any(|t| t == "NON OPERATING"));
}

#[test]
fn load_order() {
    let r = read(ORDER);
    assert_eq!((r.units.len(), r.scope), (2, Scope::Part));
    let first = unit(&r, "QQQU1000011");
    assert_eq!(first.load_port.as_deref(), Some("XXSOL"), "the message's port");
    assert_eq!(first.discharge_port.as_deref(), Some("XXMAR"));
    assert_eq!((first.set_point_c, first.humidity_pct), (Some(-18.0), Some(85.0)));
    assert_eq!(first.weight_kg, Some(28_100.0));
    let second = unit(&r, "QQQU1000027");
    assert_eq!(second.load_port.as_deref(), Some("XXOTH"), "its own port");
    assert_eq!((second.set_point_c, second.stow.as_deref()), (None, None), "TMP+SET is no TMP+2");
    assert!(warned(second, "no set point"));
}

#[test]
fn old_dialect() {
    let r = read(OLD);
    assert_eq!(r.warnings, Vec::<String>::new());
    let first = unit(&r, "QQQU1000011");
    assert_eq!((first.set_point_c, first.thermal), (Some(-3.0), true));
    let second = unit(&r, "QQQU2000016");
    assert_eq!(second.stow.as_deref(), Some("070882"));
    let cell = second.cell.unwrap();
    assert_eq!((cell.bay, cell.row, cell.tier), (7, 8, 82), "six digits");
    assert_eq!(second.set_point_c, Some(4.0));
}

/// Forms seen in real files (reference §1.4), each with what must come of it.
#[test]
fn set_point_forms() {
    for (tmp, want, warning) in [
        ("TMP+2+-18:CEL", Some(-18.0), ""),
        ("TMP+2+-018:CEL", Some(-18.0), ""),
        ("TMP+2+04.0:C", Some(4.0), ""),
        ("TMP+2+00.6:CEL", Some(0.6), ""),
        ("TMP+2+-0,5:CEL", Some(-0.5), ""),
        ("TMP+2+032:FAH", Some(0.0), ""),
        ("TMP+2+-18", Some(-18.0), "no unit"),
        ("TMP+2+270:KEL", None, "cannot be read"),
        ("TMP+2+COLD:CEL", None, "cannot be read"),
        ("TMP+2", None, "cannot be read"),
        ("TMP+2+99:CEL", Some(99.0), "no possible set point"),
    ] {
        let u = one(&format!("{tmp}'EQD+CN+QQQU1000011+45R1+++5'"));
        assert_eq!(u.set_point_c, want, "{tmp}");
        assert_eq!(u.set_point_as_sent.as_deref(), Some(tmp));
        let clean = u.warnings.is_empty();
        assert_eq!(clean, warning.is_empty(), "{tmp}: {:?}", u.warnings);
        assert!(clean || warned(&u, warning), "{tmp}: {:?}", u.warnings);
    }
    for not_ours in ["TMP+5+-18:CEL", "TMP+1+-18:CEL", "TMP+SET+-18:CEL"] {
        let u = one(&format!("{not_ours}'EQD+CN+QQQU1000011+45R1+++5'"));
        assert_eq!((u.set_point_c, u.set_point_as_sent), (None, None), "{not_ours}");
    }
}

#[test]
fn a_dry_code_with_a_set_point_is_thermal_and_warned() {
    let u = one("TMP+2+-18:CEL'EQD+CN+QQQU1000011+22G1+++5'");
    assert!(u.thermal && warned(&u, "no thermal code"), "{:?}", u.warnings);
}

#[test]
fn a_bad_field_costs_itself_only() {
    let u = one("MEA+VGM++KGM:heavy'RNG+5+CEL:-15:-20'MEA+AAE+AAO+P1:185'TMP+2+-18:CEL'\
                 EQD+CN+QQQU1000012+45R1+++9'");
    assert_eq!((u.weight_kg, u.range_c, u.humidity_pct, u.full), (None, None, None, None));
    assert_eq!((u.set_point_c, u.check_digit_ok), (Some(-18.0), Some(false)));
    for part in ["weight", "range", "humidity", "check digit"] {
        assert!(warned(&u, part), "{part}: {:?}", u.warnings);
    }
    let u = one("EQD+CN+CONTAINER+:::2210+++5'");
    assert_eq!(u.size_type.as_deref(), Some("2210"), "code in the fourth component");
    assert!(warned(&u, "not a container number"));
}

#[test]
fn cells_that_cannot_be_read_are_kept() {
    let text = D95B.replace("LOC+147+0220382::5", "LOC+147+BAY22::5");
    let r = read(&text);
    let u = unit(&r, "QQQU1000011");
    assert_eq!((u.stow.as_deref(), u.cell), (Some("BAY22"), None));
    assert!(warned(u, "cannot be read"));
}

#[test]
fn doubles_are_listed_and_warned() {
    let text = D95B.replace("QQQU3000010", "QQQU1000011").replace("0220682", "0220182");
    let r = read(&text);
    let doubles: Vec<_> =
        r.units.iter().filter(|u| warned(u, "listed 2 times")).map(|u| &u.unit).collect();
    assert_eq!(doubles.len(), 2, "both entries");
    assert!(warned(unit(&r, "QQQU1000027"), "is given to 2 units"));
    assert_eq!(r.warnings.len(), 2, "{:?}", r.warnings);
}

#[test]
fn wrong_counts_are_warned() {
    for (from, to, part) in [
        ("UNT+51+M1", "UNT+18142+M1", "UNT says 18142"),
        ("UNT+51+M1", "UNT+51+M2", "UNT carries another reference"),
        ("UNZ+1+77", "UNZ+3+77", "UNZ says 3"),
        ("UNZ+1+77", "UNZ+1+78", "UNZ carries another reference"),
    ] {
        let r = read(&D95B.replace(from, to));
        assert_eq!(r.units.len(), 7);
        assert!(r.warnings.len() == 1 && r.warnings[0].contains(part), "{part}: {:?}", r.warnings);
    }
}

/// Cut anywhere, a file gives every unit whose segments are whole, and says that it was cut.
#[test]
fn cut_anywhere() {
    let whole = read(D95B);
    for end in 60..D95B.len() - 2 {
        let Ok(r) = read_lists(&[("cut", &D95B.as_bytes()[..end])]) else { continue };
        assert!(!r.warnings.is_empty(), "cut at {end}");
        assert_eq!(r.scope, Scope::Cut, "cut at {end}");
        assert!(r.units.len() <= whole.units.len());
        for (cut, full) in r.units.iter().zip(&whole.units).rev().skip(1) {
            assert_eq!(cut.set_point_c, full.set_point_c, "cut at {end}");
        }
    }
    // The torn last segment is never read: -1 is no set point.
    let at = D95B.find("TMP+2+-18.0").unwrap() + "TMP+2+-1".len();
    let r = read(&D95B[..at]);
    assert!(r.units.is_empty() || r.units[0].set_point_c.is_none());
}

#[test]
fn latin_1_and_other_bytes() {
    let mut bytes = D95B.as_bytes().to_vec();
    let at = D95B.find("FROZEN FISH").unwrap();
    bytes[at + 1] = 0xE9;
    let r = read_lists(&[("latin", &bytes)]).unwrap();
    assert_eq!(unit(&r, "QQQU1000011").remarks, ["FéOZEN FISH"]);
    let with_mark = [b"\xEF\xBB\xBF", D95B.as_bytes()].concat();
    assert_eq!(read_lists(&[("bom", &with_mark)]).unwrap().units, read(D95B).units);
    let crlf = D95B.replace('\n', "\r\n");
    assert_eq!(read(&crlf).units, read(D95B).units);
    let one_line = D95B.replace('\n', "");
    assert_eq!(read(&one_line).units, read(D95B).units);
}

#[test]
fn envelopes_may_be_missing() {
    let from = ORDER.find("UNH").unwrap();
    let to = ORDER.find("UNZ").unwrap();
    let r = read(&ORDER[from..to]);
    assert_eq!((r.units.len(), r.warnings.len()), (2, 0), "{:?}", r.warnings);
    let headless = read(&D95B[D95B.find("LOC+147+0220382").unwrap()..]);
    assert_eq!(headless.units.len(), 7);
    assert!(!headless.warnings.is_empty());
}

#[test]
fn two_files_are_one_list() {
    let r = read_lists(&[("a", OLD.as_bytes()), ("b", ORDER.as_bytes())]).unwrap();
    assert_eq!((r.files, r.messages, r.units.len()), (2, 2, 4));
    assert_eq!(r.scope, Scope::WholeShip);
}

#[test]
fn csv_lists() {
    let text = "unit;stow;size_type;full;weight_kg;load_port;discharge_port;set_point_c;\
                humidity_pct;vent_m3_h;shelf\r\n\
                QQQU1000011;0220382;45R1;true;28500,5;XXSOL;XXMAR;-18,5;;0;A\r\n\
                QQQU 1000028;0220182;45R1;yes;;XXSOL;XXMAR;;;;\r\n\
                ;0220582;45R1;true;;;;-18;;;\r\n";
    let r = read(text);
    assert_eq!((r.messages, r.units.len(), r.scope), (0, 3, Scope::WholeShip));
    assert_eq!(r.warnings, Vec::<String>::new());
    let first = unit(&r, "QQQU1000011");
    assert_eq!(
        (first.set_point_c, first.weight_kg, first.vent_m3_h),
        (Some(-18.5), Some(28_500.5), Some(0.0))
    );
    assert_eq!(first.set_point_as_sent.as_deref(), Some("-18,5"));
    assert_eq!((first.full, first.cell.map(|c| c.tier)), (Some(true), Some(82)));
    let second = unit(&r, "QQQU1000028");
    assert!(warned(second, "check digit") && warned(second, "neither true nor false"));
    assert!(r.units[2].unit.is_none() && !r.units[2].thermal);

    let fahrenheit = read("unit,set_point_f\nQQQU1000011,0.4\nQQQU1000027,warm\n");
    let t = unit(&fahrenheit, "QQQU1000011").set_point_c.unwrap();
    assert!((t + 17.5556).abs() < 1e-4);
    let warm = unit(&fahrenheit, "QQQU1000027");
    assert!(warm.thermal && warm.set_point_c.is_none() && warned(warm, "set point"));
}

#[test]
fn files_that_are_no_list() {
    for bytes in [
        &b""[..],
        b"   \n",
        b"hello, this is a letter",
        b"PK\x03\x04rest of a workbook",
        b"\xFF\xFEu\x00n\x00",
        b"UNB+UNOA:2+A+B+260301:0600+1'UNH+1+INVOIC:D:96A:UN'BGM+380+1'UNT+3+1'UNZ+1+1'",
        b"unit,unit\nQQQU1000011,1\n",
        b"unit,set_point_c,set_point_f\nQQQU1000011,1,2\n",
    ] {
        let e = read_lists(&[("the-file", bytes)]).unwrap_err().to_string();
        assert!(e.starts_with("the-file") && e.lines().count() == 1, "{e}");
    }
}

/// What a list cannot say of a unit, or of anybody, removes nobody.
#[test]
fn a_bad_line_keeps_its_unit() {
    let r = read(
        "unit,stow,set_point_c\nQQQU1000011,0220382,-18,5\nQQQU1000027,\"0220182,-18\n\
         QQQU1000032,0220582,-18\n",
    );
    assert_eq!((r.units.len(), r.scope, r.warnings.len()), (3, Scope::Cut, 2));
    assert!(unit(&r, "QQQU1000011").set_point_c.is_none());
    assert!(warned(unit(&r, "QQQU1000027"), "never closed"));
    assert_eq!(unit(&r, "QQQU1000032").set_point_c, Some(-18.0));
    let nobody = read("unit,stow\n");
    assert_eq!((nobody.units.len(), nobody.scope), (0, Scope::Cut));
    let round = read_lists(&[("r", b"time_utc,unit,supply_c\n2026-03-05 08:00,QQQU1000011,1\n")]);
    assert!(round.unwrap_err().to_string().contains("holdfast take"));
}

#[test]
fn the_first_of_two_temperatures_is_taken() {
    let u = one("TMP+2+-18:CEL'EQD+CN+QQQU1000011+45R1+++5'TMP+2+4:CEL'");
    assert_eq!(u.set_point_c, Some(-18.0));
    assert!(warned(&u, "the first was taken"));
    let u = one("MEA+VGM++KGM:heavy'MEA+WT++KGM:21000'TMP+2+-0.0:CEL'EQD+CN+QQQU1000011+45R1+++5'");
    assert_eq!(u.weight_kg, Some(21_000.0), "a readable weight beside an unreadable one");
    assert!(u.set_point_c.is_some_and(|t| t == 0.0 && t.is_sign_positive()));
}

/// Before D.10A a cell holds one unit: a second one is a double.
#[test]
fn two_units_in_one_cell() {
    let two = "EQD+CN+QQQU1000011+45R1+++4'EQD+CN+QQQU1000027+45R1+++4'";
    let list = |release: &str| {
        read(&format!("UNH+1+BAPLIE:D:{release}:UN'BGM++P+9'LOC+147+0220382::5'{two}UNT+6+1'"))
    };
    assert!(warned(unit(&list("95B"), "QQQU1000027"), "is given to 2 units"));
    assert!(!warned(unit(&list("13B"), "QQQU1000027"), "is given to 2 units"));
}
