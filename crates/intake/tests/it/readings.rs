//! Rounds and logger files.

use intake::{ReadingsFile, read_readings};
use record::{Channel, Mode};

fn read(text: &str) -> ReadingsFile {
    let r = read_readings("round.csv", 0, text.as_bytes()).unwrap();
    assert_eq!(r.rows, (r.readings.len() + r.refused.len()) as u64, "accepted + refused = offered");
    r
}

#[test]
fn every_column() {
    let r = read(
        "unit,time_utc,set_point_c,supply_c,return_c,ambient_c,probe1_c,probe2_c,probe3_c,probe4_c,\
         rh_set_pct,rh_pct,co2_pct,o2_pct,power_kw,on_power,mode,alarm,source,remark\n\
         QQQU1000011,2026-03-05T08:00:00Z,-18,-18.5,-17.2,31,,,,,,85,0.2,20.9,4.1,1,frozen,\
         fan current low,round-AB,\"door, dented\"\n",
    );
    assert_eq!(r.warnings, Vec::<String>::new());
    let x = &r.readings[0];
    assert_eq!(x.get(Channel::Supply), Some(-18.5));
    assert_eq!(x.get(Channel::Probe1), None, "empty = not read");
    assert_eq!((x.get(Channel::O2), x.get(Channel::Power)), (Some(20.9), Some(4.1)));
    assert_eq!((x.on_power, x.mode), (Some(true), Some(Mode::Frozen)));
    assert_eq!(x.alarm.as_deref(), Some("fan current low"));
    assert_eq!((&*x.source, x.remark.as_deref()), ("round-AB", Some("door, dented")));
    assert_eq!((x.origin.line, x.raw.as_deref()), (2, None));
}

#[test]
fn fahrenheit_is_converted_and_kept() {
    let r = read("time_utc,unit,supply_f,return_c\n2026-03-05 08:00,QQQU1000011,34.0,1.5\n");
    let x = &r.readings[0];
    assert!((x.get(Channel::Supply).unwrap() - 10.0 / 9.0).abs() < 1e-12);
    assert_eq!((x.get(Channel::Return), x.raw.as_deref()), (Some(1.5), Some("supply_f=34.0")));
}

/// Each bad row is refused by its physical line, the others go in.
#[test]
fn bad_rows_are_refused_by_line() {
    let rows = [
        ("2026-03-05 08:00,QQQU1000011,1.0,1", None),
        ("2026-02-30 08:00,QQQU1000011,1.0,1", Some("no possible date")),
        ("05/03/2026 08:00,QQQU1000011,1.0,1", Some("is not a time")),
        (",QQQU1000011,1.0,1", Some("time_utc: empty")),
        ("2026-03-05 08:00,,1.0,1", Some("unit: empty")),
        ("2026-03-05 08:00,QQQU100001,1.0,1", Some("not a container number")),
        ("2026-03-05 08:00,QQQU1000011,nan,1", Some("supply_c")),
        ("2026-03-05 08:00,QQQU1000011,inf,1", Some("supply_c")),
        ("2026-03-05 08:00,QQQU1000011,-18C,1", Some("supply_c")),
        ("2026-03-05 08:00,QQQU1000011,1e3,1", Some("supply_c")),
        ("2026-03-05 08:00,QQQU1000011,-100000,1", Some("no possible temperature")),
        ("2026-03-05 08:00,QQQU1000011,1.0,maybe", Some("on_power")),
        ("2026-03-05 08:00,QQQU1000011,-18,5,1", Some("5 cells")),
        ("2026-03-05 08:00,QQQU1000011,\"1,234\",1", Some("thousands")),
        ("2026-03-05 08:00,QQQU1000028,2.0,no", None),
        ("2026-03-05T10:00:00+02:00,qqqu 100002-7,999.9,TRUE", None),
    ];
    let text = format!(
        "time_utc,unit,supply_c,on_power\n{}\n",
        rows.iter().map(|(row, _)| *row).collect::<Vec<_>>().join("\n")
    );
    let r = read(&text);
    let refused: Vec<u32> = r.refused.iter().map(|x| x.line).collect();
    assert_eq!(refused, (3..=15).collect::<Vec<u32>>());
    for (x, (row, why)) in r.refused.iter().zip(rows.iter().skip(1)) {
        assert!(x.why.contains(why.unwrap()), "{row}: {}", x.why);
        assert!(x.why.lines().count() == 1 && x.file == "round.csv");
    }
    assert_eq!(r.readings.len(), 3, "a bad check digit refuses no reading");
    assert_eq!(r.readings[2].at, r.readings[0].at, "offset converted");
    assert_eq!(r.readings[2].unit.as_str(), "QQQU1000027");
    let fault_code = &r.readings[2];
    assert_eq!(fault_code.get(Channel::Supply), Some(999.9), "kept as it came");
    assert_eq!(fault_code.sane_c(Channel::Supply), None, "and judged as no measurement");
}

/// A code for a broken sensor is kept as it came, judged as no measurement, and leaves the other
/// cells of its row in place.
#[test]
fn fault_codes_do_not_cost_the_row() {
    for (suffix, good) in [("c", "1.5"), ("f", "34.7")] {
        for code in ["-999.9", "9999", "32767", "-32768", "99999", "-300", "999.9"] {
            let r = read(&format!(
                "time_utc,unit,probe1_{suffix},probe2_{suffix}\n\
                 2026-03-05 08:00,QQQU1000011,{code},{good}\n"
            ));
            assert_eq!((r.readings.len(), r.refused.len()), (1, 0), "{code}");
            let row = &r.readings[0];
            assert!(row.get(Channel::Probe1).is_some(), "{code} is kept");
            assert_eq!(row.sane_c(Channel::Probe1), None, "{code} is no temperature");
            assert!((row.sane_c(Channel::Probe2).unwrap() - 1.5).abs() < 1e-9);
        }
    }
}

/// The same round as four spreadsheets write it.
#[test]
fn spreadsheets_habits() {
    let plain = read("time_utc,unit,supply_c\n2026-03-05 08:00,QQQU1000011,-18.5\n");
    for text in [
        "\u{FEFF}time_utc;unit;supply_c\r\n2026-03-05 08:00;QQQU1000011;-18,5\r\n",
        "time_utc\tunit\tsupply_c\n2026-03-05 08:00\tQQQU1000011\t-18,5",
        "\"time_utc\",\"unit\",\"supply_c\"\r\n\"2026-03-05 08:00\",\"QQQU1000011\",\"-18,5\"\r\n",
        "sep=;\r\nTime_UTC ;unit;supply_c\r\n;;\r\n2026-03-05 08:00;QQQU1000011;-18.5\r\n\r\n",
    ] {
        let r = read(text);
        assert_eq!((r.rows, r.refused.len()), (1, 0), "{text}: {:?}", r.refused);
        assert_eq!(r.readings[0].get(Channel::Supply), plain.readings[0].get(Channel::Supply));
        assert_eq!(r.readings[0].at, plain.readings[0].at);
    }
}

#[test]
fn a_cut_last_line_is_refused() {
    let r = read(
        "time_utc,unit,supply_c,return_c\n2026-03-05 08:00,QQQU1000011,-18.5,-17\n2026-03-05 09:00,QQQU1000011,-1",
    );
    assert_eq!((r.readings.len(), r.refused.len()), (1, 1));
    assert!(r.refused[0].why.contains("cut"), "{}", r.refused[0].why);
}

#[test]
fn headers() {
    let r = read("time_utc,unit,cell,supply_c\n2026-03-05 08:00,QQQU1000011,0220382,1\n");
    assert!(r.warnings.len() == 1 && r.warnings[0].contains("\"cell\""), "{:?}", r.warnings);
    let empty = read("time_utc,unit\n");
    assert_eq!((empty.rows, empty.warnings.len()), (0, 1));
    for text in [
        "unit,supply_c\nQQQU1000011,1\n",
        "time_utc,supply_c\n2026-03-05 08:00,1\n",
        "time_utc,unit,supply_c,supply_f\n",
        "time_utc,unit,supply_c,supply_c\n",
        "",
    ] {
        let e = read_readings("the-file", 0, text.as_bytes()).unwrap_err().to_string();
        assert!(e.starts_with("the-file") && e.lines().count() == 1, "{e}");
    }
}
