//! The files a ship has: loading lists as EDIFACT, loggers' files as CSV.

use record::Cell;
use units::Utc;

use crate::alarm::Wording;
use crate::dice::{Dice, Purpose};
use crate::manifest::{Manifest, Other, Reefer};
use crate::passage::{MISSING, Passage, Snapshot};
use crate::unit_machine::Mode;

/// Name of the invented ship.
pub const SHIP: &str = "MV ALDER REACH";
/// Number of the voyage.
pub const VOYAGE: &str = "014N";

/// Header of the loggers' files.
pub const LOGGER_HEADER: &str = "time_utc,unit,set_point_c,supply_c,return_c,ambient_c,probe1_c,\
probe2_c,probe3_c,power_kw,on_power,mode,alarm,source";

/// Writes tenths as a plain decimal; nothing when missing.
pub fn push_tenths(out: &mut String, tenths: i16) {
    if tenths == MISSING {
        return;
    }
    if tenths < 0 {
        out.push('-');
    }
    let n = tenths.unsigned_abs();
    push_whole(out, n / 10);
    out.push('.');
    out.push(char::from(b'0' + (n % 10) as u8));
}

fn push_whole(out: &mut String, n: u16) {
    if n >= 10 {
        push_whole(out, n / 10);
    }
    out.push(char::from(b'0' + (n % 10) as u8));
}

/// `2026-03-02`.
#[must_use]
pub fn date_of(at: Utc) -> String {
    let (y, m, d, ..) = at.civil();
    format!("{y:04}-{m:02}-{d:02}")
}

/// `YYMMDDHHMM`.
fn edi_time(at: Utc) -> String {
    let (y, m, d, h, min, _) = at.civil();
    format!("{:02}{m:02}{d:02}{h:02}{min:02}", y % 100)
}

/// Data with the service characters released.
#[must_use]
pub fn release(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '?' | '+' | ':' | '\'') {
            out.push('?');
        }
        out.push(c);
    }
    out
}

/// One list: where the ship is, where she goes next, and whose cells count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ListOf {
    /// Reference number of the message.
    pub number: u32,
    /// Port of departure.
    pub port: &'static str,
    /// Next port.
    pub next_port: &'static str,
    /// Departure.
    pub departs: Utc,
    /// Arrival at the next port.
    pub arrives: Utc,
    /// The list of the port of call, else that of departure.
    pub second: bool,
}

struct Edi {
    text: String,
    segments: usize,
}

impl Edi {
    fn seg(&mut self, segment: &str) {
        self.text.push_str(segment);
        self.text.push_str("'\n");
        self.segments += 1;
    }
}

/// A bay plan after UN/EDIFACT D.95B with the fields of reference/interchange.md §1.2 and §1.4.
#[must_use]
pub fn bay_plan(list: ListOf, manifest: &Manifest, seed: u64) -> Vec<u8> {
    let mut dice = Dice::new(seed, Purpose::Crew, 100 + list.number as usize);
    let made = edi_time(list.departs.plus_hours(-2.0));
    let (date, time) = made.split_at(6);
    let n = list.number;
    let mut edi = Edi { text: String::from("UNA:+.? '\n"), segments: 0 };
    edi.text.push_str(&format!("UNB+UNOA:2+STOWAGEDESK+SHIP+{date}:{time}+{n}'\n"));
    edi.seg(&format!("UNH+{n}+BAPLIE:D:95B:UN:SMDG22"));
    edi.seg(&format!("BGM++PLAN{n:04}+9"));
    edi.seg(&format!("DTM+137:{made}:201"));
    edi.seg(&format!("TDT+20+{VOYAGE}+++QQQ:172:20+++QQAR7:103::{SHIP}"));
    edi.seg(&format!("LOC+5+{}:139:6", list.port));
    edi.seg(&format!("LOC+61+{}:139:6", list.next_port));
    edi.seg(&format!("DTM+136:{}:201", edi_time(list.departs)));
    edi.seg(&format!("DTM+132:{}:201", edi_time(list.arrives)));
    edi.seg(&format!("RFF+VON:{VOYAGE}"));
    // Planners list by cell.
    let mut entries: Vec<(Cell, Entry)> = manifest
        .reefers
        .iter()
        .filter_map(|r| {
            let cell = if list.second { r.cell_second } else { r.cell_first };
            cell.map(|c| (c, Entry::Reefer(r)))
        })
        .chain(manifest.others.iter().map(|o| (o.cell, Entry::Other(o))))
        .collect();
    entries.sort_by_key(|(c, _)| (c.bay, c.row, c.tier));
    for (cell, entry) in entries {
        match entry {
            Entry::Reefer(r) => reefer(&mut edi, cell, r, &mut dice),
            Entry::Other(o) => other(&mut edi, cell, o),
        }
    }
    let segments = edi.segments + 1;
    edi.seg(&format!("UNT+{segments}+{n}"));
    edi.text.push_str(&format!("UNZ+1+{n}'\n"));
    edi.text.into_bytes()
}

enum Entry<'a> {
    Reefer(&'a Reefer),
    Other(&'a Other),
}

fn location(edi: &mut Edi, cell: Cell) {
    edi.seg(&format!("LOC+147+{:03}{:02}{:02}::5", cell.bay, cell.row, cell.tier));
}

fn reefer(edi: &mut Edi, cell: Cell, r: &Reefer, dice: &mut Dice) {
    location(edi, cell);
    edi.seg(&format!("FTX+AAA+++{}", release(r.cargo.text)));
    let vent = r.cargo.vent_m3_h;
    let vent_as_measure = dice.chance(0.5);
    if vent == 0.0 {
        edi.seg("FTX+HAN+++VENT CLOSED");
    } else if !vent_as_measure {
        edi.seg(&format!("FTX+HAN+++{}", release(&format!("VENT {vent:.0} CBM/H"))));
    }
    if dice.chance(0.06) {
        let texts = [
            "SHIPPER'S ORDER: SUPPLY AIR NOT BELOW SET POINT, REPORT ANY CHANGE",
            "PLUG IN AT ONCE + READ TWICE A DAY; DOUBTS? CALL SHORE",
            "PROBES IN PULP: 3. DO NOT ALTER SET POINT W/O ORDER",
        ];
        let text = dice.pick(&texts).copied().unwrap_or("READ TWICE A DAY");
        edi.seg(&format!("FTX+CLR+++{}", release(text)));
    }
    edi.seg(&format!("MEA+VGM++KGM:{:.0}", r.gross_kg()));
    if vent > 0.0 && vent_as_measure {
        edi.seg(&format!("MEA+AAE+AAS+MQH:{vent:.0}"));
    }
    if r.cargo.humidity_pct > 0.0 && dice.chance(0.5) {
        edi.seg(&format!("MEA+AAE+AAO+P1:{:.0}", r.cargo.humidity_pct));
    }
    edi.seg(&format!("TMP+2+{}", r.set_as_sent));
    if let Some([low, high]) = r.range_c {
        edi.seg(&format!("RNG+5+CEL:{low:.1}:{high:.1}"));
    }
    edi.seg(&format!("LOC+9+{}:139:6", r.load_port));
    edi.seg(&format!("LOC+11+{}:139:6", r.discharge_port));
    edi.seg(&format!("RFF+BN:{}", r.booking));
    edi.seg(&format!("EQD+CN+{}+{}+++5", r.unit, r.size_type));
    edi.seg("NAD+CA+QQQ:172:20");
}

fn other(edi: &mut Edi, cell: Cell, o: &Other) {
    location(edi, cell);
    if !o.text.is_empty() {
        edi.seg(&format!("FTX+AAA+++{}", release(o.text)));
    }
    let verified = if o.full { "VGM" } else { "WT" };
    edi.seg(&format!("MEA+{verified}++KGM:{:.0}", o.weight_kg));
    edi.seg(&format!("LOC+9+{}:139:6", crate::route::DEPARTURE));
    edi.seg(&format!("LOC+11+{}:139:6", o.discharge_port));
    edi.seg("RFF+BM:1");
    let status = if o.full { 5 } else { 4 };
    edi.seg(&format!("EQD+CN+{}+{}+++{status}", o.unit.as_deref().unwrap_or(""), o.size_type));
    if o.unit.is_some() {
        edi.seg("NAD+CA+QQQ:172:20");
    }
}

/// The loggers' files, one a day: every unit, every hour.
pub struct Loggers<'a> {
    reefers: &'a [Reefer],
    passages: &'a [Passage],
    start: Utc,
    next: Vec<usize>,
    silent_min: Vec<Option<(u32, u32)>>,
    dice: Dice,
}

impl<'a> Loggers<'a> {
    /// Gathers what loggers recorded; one box in seven is silent for some hours once.
    #[must_use]
    pub fn new(
        reefers: &'a [Reefer],
        passages: &'a [Passage],
        start: Utc,
        data_h: u32,
        seed: u64,
    ) -> Self {
        let mut dice = Dice::new(seed, Purpose::Crew, 1);
        let silent_min = reefers
            .iter()
            .map(|_| {
                let from = (dice.unit() * f64::from(data_h) * 60.0) as u32;
                let length = (dice.between(3.0, 9.0) * 60.0) as u32;
                dice.chance(0.14).then_some((from, from + length))
            })
            .collect();
        Self { reefers, passages, start, next: vec![0; reefers.len()], silent_min, dice }
    }

    /// The file of hours `from_h` to `to_h` − 1 after departure.
    pub fn file(&mut self, from_h: u32, to_h: u32) -> Vec<u8> {
        let rows = self.reefers.len() * (to_h - from_h) as usize;
        let mut text = String::with_capacity(LOGGER_HEADER.len() + 96 * rows + 1);
        text.push_str(LOGGER_HEADER);
        text.push('\n');
        for h in from_h..to_h {
            let time = self.start.plus_hours(f64::from(h)).to_string();
            for (i, r) in self.reefers.iter().enumerate() {
                let (Some(p), Some(next)) = (self.passages.get(i), self.next.get_mut(i)) else {
                    continue;
                };
                let Some(s) = p.hours.get(*next).filter(|s| s.minute == h * 60) else {
                    continue;
                };
                *next += 1;
                let silence = self.silent_min.get(i).copied().flatten();
                let silent = silence.is_some_and(|(a, b)| (a..b).contains(&s.minute));
                let lost = self.dice.chance(0.0008);
                let blank = self.dice.chance(0.002).then(|| self.dice.below(3));
                if r.logger && !lost && !(silent && r.fault.is_none()) {
                    logger_row(&mut text, &time, r, (s, p.wording), blank);
                }
            }
        }
        text.into_bytes()
    }
}

fn logger_row(
    text: &mut String,
    time: &str,
    r: &Reefer,
    (s, wording): (&Snapshot, Wording),
    blank: Option<usize>,
) {
    text.push_str(time);
    text.push(',');
    text.push_str(&r.unit);
    let [p1, p2, p3] = s.probes;
    for (i, v) in [s.set, s.supply, s.ret, s.ambient, p1, p2, p3].into_iter().enumerate() {
        text.push(',');
        if blank != Some(i.wrapping_sub(1)) {
            push_tenths(text, v);
        }
    }
    text.push(',');
    push_whole(text, s.power.unsigned_abs() / 100);
    text.push('.');
    let cents = s.power.unsigned_abs() % 100;
    text.push(char::from(b'0' + (cents / 10) as u8));
    text.push(char::from(b'0' + (cents % 10) as u8));
    text.push_str(if s.powered { ",1," } else { ",0," });
    text.push_str(match s.mode {
        Mode::Chilled => "chilled",
        Mode::Frozen => "frozen",
        Mode::Defrost => "defrost",
        Mode::Off => "off",
    });
    text.push(',');
    text.push_str(s.alarm.text(wording));
    text.push_str(",logger\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 9735: the release character stands before service characters and itself
    /// (reference/interchange.md §1.1).
    #[test]
    fn service_characters_are_released() {
        assert_eq!(release("SHIPPER'S 5+5: OK?"), "SHIPPER?'S 5?+5?: OK??");
    }

    #[test]
    fn tenths_as_text() {
        for (v, t) in [(-182, "-18.2"), (-5, "-0.5"), (0, "0.0"), (9999, "999.9"), (130, "13.0")] {
            let mut s = String::new();
            push_tenths(&mut s, v);
            assert_eq!(s, t);
        }
    }
}
