//! Weather expected on the route, as CSV: `time_utc,ambient_c[,sun]`.

use std::borrow::Cow;

use record::WeatherPoint;
use units::Utc;
use units::decimal::{self, DecimalMark};
use units::ranges::Range;

use crate::Refused;
use crate::table::{Row, Table};
use crate::text::{Unreadable, decode};

/// Outside air at sea or in port.
const OUTSIDE_C: Range = Range {
    name: "outside temperature",
    unit: "°C",
    min: -60.0,
    max: 60.0,
    why: "no weather station on earth has read more",
};

/// Reads a weather file: its points by time, and rows refused by line.
///
/// # Errors
/// [`Unreadable`] when it is no such table.
pub fn read_weather(
    name: &str,
    bytes: &[u8],
) -> Result<(Vec<WeatherPoint>, Vec<Refused>), Unreadable> {
    let text = decode(name, bytes)?;
    let mut table = Table::open(name, &text, "time_utc")?;
    let missing = |column: &str| {
        Unreadable::new(
            name,
            Some(table.header_line),
            format!(
                "no column \"{column}\"; write time_utc,ambient_c and, where known, sun (0 to 1)"
            ),
        )
    };
    let time = table.position_of("time_utc").ok_or_else(|| missing("time_utc"))?;
    let ambient = table.position_of("ambient_c").ok_or_else(|| missing("ambient_c"))?;
    let sun = table.position_of("sun");
    let (mut points, mut refused) = (Vec::new(), Vec::new());
    let mut cells: Vec<Cow<'_, str>> = Vec::new();
    while let Some(row) = table.next_row(&mut cells) {
        let (line, read) = match row {
            Row::Cells { line, cells } => {
                let cell = |i: usize| cells.get(i).map_or("", |c| c.trim());
                (line, point(cell(time), cell(ambient), sun.map_or("", cell)))
            }
            Row::Bad { line, why, .. } => (line, Err(why)),
        };
        match read {
            Ok(p) => points.push(p),
            Err(why) => refused.push(Refused { file: name.to_owned(), line, why }),
        }
    }
    points.sort_by_key(|p| p.at);
    Ok((points, refused))
}

fn point(time: &str, ambient: &str, sun: &str) -> Result<WeatherPoint, String> {
    let at = Utc::parse(time).map_err(|e| format!("time_utc \"{time}\" {e}"))?;
    let number = |column: &str, text: &str| {
        decimal::parse(text, DecimalMark::Point).map_err(|e| format!("{column} \"{text}\" {e}"))
    };
    let ambient_c = OUTSIDE_C.check(number("ambient_c", ambient)?).map_err(|e| e.to_string())?;
    let sun = match sun {
        "" => None,
        text => Some(number("sun", text)?),
    };
    if sun.is_some_and(|s| !(0.0..=1.0).contains(&s)) {
        return Err(format!("sun \"{}\" is not between 0 (none) and 1 (full)", sun.unwrap_or(0.0)));
    }
    Ok(WeatherPoint { at, ambient_c, sun })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_in_order_and_bad_rows_by_line() {
        let text = "time_utc,ambient_c,sun\n2026-03-16 12:00,31.5,0.8\n2026-03-16 06:00,26,\n\
                    noon,30,1\n2026-03-16 18:00,300,0\n2026-03-16 20:00,30,2\n";
        let (points, refused) = read_weather("w.csv", text.as_bytes()).unwrap();
        assert_eq!(points.len(), 2);
        assert_eq!((points[0].ambient_c, points[0].sun, points[1].sun), (26.0, None, Some(0.8)));
        let lines: Vec<u32> = refused.iter().map(|r| r.line).collect();
        assert_eq!(lines, [4, 5, 6]);
        let no = read_weather("w.csv", b"time_utc,wind\n").unwrap_err().to_string();
        assert!(no.contains("ambient_c"), "{no}");
    }
}
