//! The quick road for probe readings against the complete reader of readings files, which is the
//! law: same rows, same refusals, wherever the file is cut into slices.

use intake::probes::{
    BoxColumns, Columns, Encoding, ProbeCell, ProbeRow, Scanned, Scanner, Stop, UnitKey,
};
use intake::read_readings;
use proptest::prelude::*;
use record::{Channel, UnitId};
use units::temperature::celsius_from_fahrenheit;

/// Box, time in milliseconds, probes in °C as bits.
type Row = (String, i64, [Option<u64>; 4]);

/// Reads in slices of `slice` bytes, more at a time where nothing was used.
fn quick(bytes: &[u8], slice: usize) -> Option<(Vec<Row>, Scanned)> {
    for encoding in [Encoding::Utf8, Encoding::Latin1] {
        let mut scanner = Scanner::new("f.csv", encoding);
        let mut rows: Vec<ProbeRow> = Vec::new();
        let (mut from, mut to) = (0, 0);
        let stopped = loop {
            to = (to + slice).min(bytes.len());
            let last = to == bytes.len();
            match scanner.scan(&bytes[from..to], last, &mut |r| rows.push(*r)) {
                Ok(used) => from += used,
                Err(stop) => break Some(stop),
            }
            if last {
                assert_eq!(from, to, "everything is used at the end");
                break None;
            }
        };
        match stopped {
            Some(Stop::NotUtf8) => continue,
            Some(Stop::Unreadable(_)) => return None,
            None => {}
        }
        let f = scanner.fahrenheit();
        let plain = rows.iter().map(|r| (r.unit.text(), r.at.ms(), in_c(r, f))).collect();
        return Some((plain, scanner.finish()));
    }
    panic!("Latin-1 is always a text");
}

fn in_c(row: &ProbeRow, fahrenheit: [bool; 4]) -> [Option<u64>; 4] {
    std::array::from_fn(|i| {
        row.cells[i].get().map(|(mantissa, scale)| {
            let written = mantissa as f64 / 10f64.powi(i32::from(scale));
            let value = if fahrenheit[i] { celsius_from_fahrenheit(written) } else { written };
            (value + 0.0).to_bits()
        })
    })
}

fn agree(bytes: &[u8], slice: usize) -> Result<(), TestCaseError> {
    let complete = read_readings("f.csv", 0, bytes).ok();
    let quick = quick(bytes, slice.max(1));
    let (Some(complete), Some((rows, scanned))) = (&complete, &quick) else {
        prop_assert_eq!(complete.is_some(), quick.is_some(), "readable or not");
        return Ok(());
    };
    let want: Vec<Row> = complete
        .readings
        .iter()
        .map(|r| {
            let cell = |i| r.get(Channel::PROBES[i]).map(|v| (v + 0.0).to_bits());
            (r.unit.to_string(), r.at.ms(), std::array::from_fn(cell))
        })
        .collect();
    prop_assert_eq!(rows, &want);
    prop_assert_eq!(&scanned.refused, &complete.refused);
    prop_assert_eq!(scanned.refused_count, complete.refused.len() as u64);
    prop_assert_eq!(scanned.rows, complete.rows);
    prop_assert_eq!(&scanned.warnings, &complete.warnings);
    Ok(())
}

const COLUMNS: [&str; 14] = [
    "time_utc", "unit", "probe1_c", "probe2_c", "probe3_c", "probe4_f", "supply_c", "return_f",
    "rh_pct", "power_kw", "on_power", "mode", "remark", "cell",
];

fn cell(column: &'static str) -> BoxedStrategy<String> {
    let number = prop_oneof![
        12 => "-?[0-9]{1,2}\\.[0-9]{1,2}",
        4 => "-?[0-9]{1,3}",
        2 => Just(String::new()),
        1 => "[-+]?[0-9]{0,4}[.,]?[0-9]{0,8}",
        1 => "-?[0-9]{1,2},[0-9]{1,3}",
        1 => "( |\t)?-?[0-9]{1,3}\\.[0-9]( )?",
        1 => "(nan|inf|1e3|-18C|--5|999\\.9|-999|-999\\.9|9999|32767|-99999|99999\\.0|99999\\.1|-100000|1\\.234567|é|−5)",
    ];
    let text = prop_oneof![
        6 => "[a-z ]{0,8}",
        1 => "[a-zé\u{a0};]{0,5}",
        1 => Just(String::new()),
    ];
    match column {
        "time_utc" => prop_oneof![
            8 => "2026-03-0[1-9]T[01][0-9]:00:00Z",
            3 => "2026-0[1-4]-[0-3][0-9][T ][0-2][0-9]:[0-6][0-9](:[0-6][0-9])?Z?",
            1 => "(20|19|21)[0-9]{2}-[01][0-9]-[0-3][0-9][Tt ][0-2][0-9]:00(:30)?(Z|z|\\+02:00|-08:30)?",
            1 => "2026-03-01T08:00:00\\.[0-9]{1,3}Z",
            1 => "(|noon|2026-03-01|2026-03-01T08|20260301T080000Z| 2026-03-01 08:00 )",
        ]
        .boxed(),
        "unit" => prop_oneof![
            8 => "QQQU100001[0-9]",
            2 => "QQQU[0-9]{7}",
            1 => "(qqqu 100001-1|QQQU10000é1|QQQU1000011X|QQQU100001|| QQQU1000027|QQQUI000011)",
            1 => "[A-Z]{3,5}[0-9]{6,8}",
        ]
        .boxed(),
        "on_power" => "(1|0|true|FALSE|yes|no|maybe|)".boxed(),
        "mode" => "(chilled|frozen|Defrost|off||hot)".boxed(),
        "remark" | "cell" => text.boxed(),
        _ => number.boxed(),
    }
}

/// A row of these columns, now and then quoted, cut short, too long, blank or broken.
fn row(columns: Vec<&'static str>, delimiter: char) -> BoxedStrategy<String> {
    let cells: Vec<BoxedStrategy<String>> = columns.into_iter().map(cell).collect();
    let joined = (cells, 0usize..60, any::<prop::sample::Index>());
    joined
        .prop_map(move |(mut cells, twist, which)| {
            let i = which.index(cells.len());
            match twist {
                0 => cells[i] = format!("\"{}\"", cells[i]),
                1 => cells[i] = format!("\"{}", cells[i]),
                2 => cells[i] = format!("\"a{}\nb\"\"\r\nc\"", cells[i]),
                3 => cells.truncate(i + 1),
                4 => cells.push("1".into()),
                5 => cells.iter_mut().for_each(String::clear),
                6 => cells = vec![" ".into()],
                7 => cells[i] = "\"\n\n\"".into(),
                8 => cells.iter_mut().for_each(|c| *c = format!("\"{c}\"")),
                _ => {}
            }
            cells.join(&delimiter.to_string())
        })
        .boxed()
}

fn file() -> BoxedStrategy<Vec<u8>> {
    let shape = (
        prop::sample::subsequence(COLUMNS[2..].to_vec(), 1..8),
        prop_oneof![6 => Just(','), 1 => Just(';'), 1 => Just('\t')],
        prop_oneof![5 => Just("\n"), 2 => Just("\r\n"), 1 => Just("\r")],
        prop_oneof![6 => Just(""), 1 => Just("\u{feff}"), 1 => Just("\n\n"), 1 => Just("sep=;\n")],
    );
    shape
        .prop_flat_map(|(mut columns, delimiter, line_end, above)| {
            columns.extend(["time_utc", "unit"]);
            let order = Just(columns).prop_shuffle();
            (order, Just(delimiter), Just(line_end), Just(above))
        })
        .prop_flat_map(|(columns, delimiter, line_end, above)| {
            let header = columns.join(&delimiter.to_string());
            let rows = prop::collection::vec(row(columns, delimiter), 0..25);
            (
                Just(format!("{above}{header}{line_end}")),
                rows,
                Just(line_end),
                0usize..8,
                any::<u8>(),
            )
        })
        .prop_map(|(head, rows, line_end, twist, byte)| {
            let mut bytes = (head + &rows.join(line_end)).into_bytes();
            match twist {
                0 => {}
                1 => bytes.push(byte),
                _ => bytes.extend_from_slice(line_end.as_bytes()),
            }
            bytes
        })
        .boxed()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn messy_files(bytes in file(), slice in 1usize..400) {
        agree(&bytes, slice)?;
        agree(&bytes, bytes.len())?;
    }

    #[test]
    fn any_table(
        text in "(time_utc,unit,probe1_c\n)?(2026-03-05 08:00|QQQU1000011|[,;\t\"\n\r0-9.é-]){0,40}",
        slice in 1usize..40,
    ) {
        agree(text.as_bytes(), slice)?;
    }

    #[test]
    fn damaged_bytes(bytes in file(), at in any::<prop::sample::Index>(), byte in any::<u8>()) {
        let mut bytes = bytes;
        let i = at.index(bytes.len());
        bytes[i] = byte;
        agree(&bytes, 37)?;
    }
}

/// The number, whatever zeros it was written with.
fn value(cell: ProbeCell) -> Option<i128> {
    cell.get().map(|(m, s)| i128::from(m) * 10i128.pow(12 - u32::from(s)))
}

type Held = (UnitKey, i64, [Option<i128>; 4]);

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// What the columns hold is what was put in, box by box, in order; the plain columns too.
    #[test]
    fn columns_hold_every_row(bytes in file()) {
        let mut columns = Columns::default();
        let mut rows: Vec<Held> = Vec::new();
        let mut scanner = Scanner::new("f.csv", Encoding::Latin1);
        let done = scanner.scan(&bytes, true, &mut |r| {
            columns.push(r);
            rows.push((r.unit, r.at.ms(), r.cells.map(value)));
        });
        prop_assume!(done.is_ok());
        let mut total = 0;
        for b in columns.boxes() {
            let want: Vec<_> = rows.iter().filter(|r| r.0 == b.unit()).copied().collect();
            let mut got: Vec<Held> = Vec::new();
            b.each_row(|at, cells| got.push((b.unit(), at.ms(), cells.map(value))));
            prop_assert_eq!(&got, &want);
            prop_assert_eq!(b.rows(), want.len());
            let fitted = std::array::from_fn(|i| want.iter().any(|r| r.2[i].is_some()));
            prop_assert_eq!(b.fitted(), fitted);
            let rises = want.windows(2).all(|w| w[0].1 < w[1].1);
            let (mut times, mut probes) = (Vec::new(), [const { Vec::new() }; 4]);
            if let Some(scale) = b.plain(&mut probes) {
                b.times(&mut times);
                prop_assert!(rises);
                prop_assert_eq!(&times, &want.iter().map(|r| r.1).collect::<Vec<_>>());
                for (i, column) in probes.iter().enumerate().filter(|(i, _)| fitted[*i]) {
                    let per = 10i128.pow(12 - u32::from(scale));
                    let plain: Vec<_> = column
                        .iter()
                        .map(|v| (*v != BoxColumns::NOT_READ).then(|| i128::from(*v) * per))
                        .collect();
                    prop_assert_eq!(&plain, &want.iter().map(|r| r.2[i]).collect::<Vec<_>>());
                }
            }
            total += b.rows();
        }
        prop_assert_eq!(total, rows.len(), "no row is lost");
    }
}

#[test]
fn plain_rows() {
    let text = b"time_utc,unit,probe1_c,probe2_c,probe3_c\n\
        2026-03-05T08:00:00Z,QQQU1000011,0.52,-0.48,\n\
        2026-03-05T09:00:00Z,QQQU1000011,1.5,.5,999.9\r\n\
        bad,QQQU1000011,1.5,.5,999.9\n\
        2026-03-05 10:00,QQQU1000011,0.5000000000000,-0.30000000000000004,0.5\n";
    let mut scanner = Scanner::new("f.csv", Encoding::Utf8);
    let mut rows = Vec::new();
    assert_eq!(scanner.scan(text, true, &mut |r| rows.push(*r)), Ok(text.len()));
    let cells: Vec<_> = rows.iter().map(|r: &ProbeRow| r.cells.map(|c| c.get())).collect();
    assert_eq!(
        cells,
        [
            [Some((52, 2)), Some((-48, 2)), None, None],
            [Some((15, 1)), Some((5, 1)), Some((9999, 1)), None],
            [Some((5, 1)), Some((-300_000_000_005, 12)), Some((5, 1)), None]
        ]
    );
    let out = scanner.finish();
    assert_eq!(out.refused.iter().map(|r| r.line).collect::<Vec<_>>(), [4]);
}

#[test]
fn keys_are_in_the_order_of_the_numbers() {
    let key = |t: &str| UnitKey::of(&UnitId::from_text(t).unwrap());
    for text in ["QQQU1000011", "AAAU0000000", "ZZZZ9999999"] {
        assert_eq!(key(text).unwrap().text(), text);
    }
    assert!(key("AAAU9999999") < key("AAAV0000000") && key("AAAU0000001") < key("AAAU0000010"));
    assert_eq!(key("CONTAINER"), None);
}
