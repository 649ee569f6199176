//! The people on board: their rounds, twice a day, and the slips they make in typing.

use units::Utc;
use units::temperature::fahrenheit_from_celsius;

use crate::alarm::{Alarm, Wording};
use crate::dice::{Dice, Purpose};
use crate::faults::FaultKind;
use crate::files::{date_of, push_tenths};
use crate::manifest::Reefer;
use crate::passage::{MISSING, Passage, Snapshot};
use crate::unit_machine::Mode;

/// The crew who look after the boxes: initials, name and rank.
pub const CREW: [(&str, &str); 3] = [
    ("JT", "Jonah Tarrant, electrician"),
    ("MS", "Mirela Sundby, reefer engineer"),
    ("PA", "Paulo Andrade, second engineer"),
];

/// One round.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Round {
    /// Number, from 1.
    pub number: u32,
    /// File name without folder and ending.
    pub name: String,
    /// Minute after departure at which it ends.
    pub end_min: u32,
    /// Initials of whoever walks.
    pub initials: &'static str,
    /// Typed in a spreadsheet that writes semicolons and decimal commas.
    pub spreadsheet: bool,
}

/// A slip, or another thing about a round that only the truth knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// File.
    pub file: String,
    /// Physical line, header = 1; 0 where there is none.
    pub line: u32,
    /// Unit.
    pub unit: String,
    /// Column.
    pub column: &'static str,
    /// What kind.
    pub kind: &'static str,
    /// As typed.
    pub typed: String,
    /// As the display showed.
    pub shown: String,
}

/// All rounds of the voyage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rounds {
    /// The rounds, earliest first.
    pub rounds: Vec<Round>,
    /// Boxes in walking order.
    pub order: Vec<usize>,
    /// Length of one round, minutes.
    pub length_min: u32,
}

/// Number of the round in which the fore deck could not be reached, of `rounds`.
fn heavy_weather_round(rounds: usize) -> Option<u32> {
    (rounds >= 8).then_some((rounds * 6 / 10) as u32)
}

/// Plans the rounds: they end at 18:00 and 06:00 UTC, the last at the end of the data.
#[must_use]
pub fn plan(reefers: &[Reefer], start: Utc, data_h: u32) -> Rounds {
    let count = data_h / 12;
    let rounds = (1..=count)
        .map(|k| {
            let end = start.plus_hours(f64::from(k * 12));
            let half = if !k.is_multiple_of(2) { "pm" } else { "am" };
            let who = CREW.get((k % 2) as usize).map_or("JT", |(i, _)| i);
            Round {
                number: k,
                name: format!("{}-{half}", date_of(end)),
                end_min: k * 720,
                initials: who,
                spreadsheet: k == 4.min(count),
            }
        })
        .collect();
    let mut order: Vec<usize> = (0..reefers.len()).collect();
    order.sort_by_key(|i| {
        reefers.get(*i).map(|r| {
            let c = r.cell();
            (c.bay / 4, c.tier, c.row, c.bay)
        })
    });
    // Half a minute a box; many boxes are shared among more people.
    let length_min = (reefers.len() as u32 / 2).clamp(2, 150);
    Rounds { rounds, order, length_min }
}

impl Rounds {
    /// When the rounds come by each box: number of the round and minute after departure.
    #[must_use]
    pub fn visits(&self, reefers: &[Reefer]) -> Vec<Vec<(u32, u32)>> {
        let mut out = vec![Vec::with_capacity(self.rounds.len()); reefers.len()];
        let heavy = heavy_weather_round(self.rounds.len());
        let last = self.rounds.last().map(|r| r.number);
        for (place, i) in self.order.iter().enumerate() {
            let (Some(r), Some(slot)) = (reefers.get(*i), out.get_mut(*i)) else {
                continue;
            };
            let left = self.order.len() - 1 - place;
            let before = (left * self.length_min as usize / self.order.len().max(1)) as u32;
            for round in &self.rounds {
                let minute = round.end_min - before;
                let hour = f64::from(minute) / 60.0;
                let aboard = hour >= r.load_h + 0.5 && r.leave_h.is_none_or(|h| hour < h);
                let tripped = r.fault.is_some_and(|f| f.kind == FaultKind::PlugTripped);
                let unseen = tripped && Some(round.number) == last;
                let cell = r.cell();
                let washed = Some(round.number) == heavy && cell.on_deck() && cell.bay < 12;
                if aboard && !unseen && !washed {
                    slot.push((round.number, minute));
                }
            }
        }
        out
    }
}

/// What the crew types, file by file, and the slips in it.
pub struct Typist<'a> {
    reefers: &'a [Reefer],
    start: Utc,
    dice: Dice,
    /// Slips so far.
    pub slips: Vec<Slip>,
}

/// One row being typed.
struct Row {
    set: String,
    supply: String,
    ret: String,
    mode: &'static str,
    alarm: &'static str,
    remark: &'static str,
}

impl<'a> Typist<'a> {
    /// A typist for these boxes.
    #[must_use]
    pub fn new(reefers: &'a [Reefer], start: Utc, seed: u64) -> Self {
        let dice = Dice::new(seed, Purpose::Crew, 0);
        Self { reefers, start, dice, slips: Vec::new() }
    }

    /// The file of one round. `next` counts for each box how many of its displays are used up.
    pub fn file(
        &mut self,
        rounds: &Rounds,
        round: &Round,
        passages: &[Passage],
        next: &mut [usize],
    ) -> (String, Vec<u8>) {
        let path = format!("rounds/{}.csv", round.name);
        let mut text = String::from(
            "time_utc,unit,set_point_c,supply_c,return_c,on_power,mode,alarm,source,remark\n",
        );
        if heavy_weather_round(rounds.rounds.len()) == Some(round.number) {
            self.slips.push(Slip {
                file: path.clone(),
                line: 0,
                unit: String::new(),
                column: "",
                kind: "not_walked_heavy_weather",
                typed: String::new(),
                shown: "deck boxes in bays before 12".to_owned(),
            });
        }
        let mut line = 1;
        for i in &rounds.order {
            let (Some(r), Some(p), Some(used)) =
                (self.reefers.get(*i), passages.get(*i), next.get_mut(*i))
            else {
                continue;
            };
            let Some((_, shown)) = p.rounds.get(*used).filter(|(n, _)| *n == round.number) else {
                continue;
            };
            *used += 1;
            line += 1;
            let row = self.row(r, (shown, p.wording), &path, line);
            self.push(&mut text, r, shown, round, &row);
            if self.dice.chance(0.0004) && shown.powered {
                line += 1;
                let mut again = row;
                again.ret = number(shown.ret.saturating_add(7));
                self.note((&path, line), r, "return_c", "typed_twice", &again.ret, shown.ret);
                self.push(&mut text, r, shown, round, &again);
            }
        }
        let bytes = if round.spreadsheet { spreadsheet(&text) } else { text.into_bytes() };
        (path, bytes)
    }

    fn row(
        &mut self,
        r: &Reefer,
        (s, wording): (&Snapshot, Wording),
        path: &str,
        line: u32,
    ) -> Row {
        let mut row = Row {
            set: number(s.set),
            supply: number(s.supply),
            ret: number(s.ret),
            mode: match s.mode {
                Mode::Chilled => "chilled",
                Mode::Frozen => "frozen",
                Mode::Defrost => "defrost",
                Mode::Off => "off",
            },
            alarm: if s.alarm == Alarm::None || self.dice.chance(0.15) {
                ""
            } else {
                s.alarm.text(wording)
            },
            remark: self.remark(r, s),
        };
        if !s.powered {
            // The display is dark: there is nothing to write down.
            (row.set, row.supply, row.ret) = Default::default();
            return row;
        }
        if self.dice.chance(0.004) {
            row.ret.clear();
        } else if self.dice.chance(0.003) {
            self.slip(&mut row, r, s, path, line);
        } else if self.dice.chance(0.0005) {
            let typed = ["-1?.5", "1..5", "n/r", "4.o"];
            row.supply = self.dice.pick(&typed).copied().unwrap_or("n/r").to_owned();
            self.note((path, line), r, "supply_c", "unreadable", &row.supply, s.supply);
        }
        row
    }

    /// One slip of the pen in the supply or return cell.
    fn slip(&mut self, row: &mut Row, r: &Reefer, s: &Snapshot, path: &str, line: u32) {
        let on_supply = self.dice.chance(0.5);
        let (shown, column) = if on_supply { (s.supply, "supply_c") } else { (s.ret, "return_c") };
        // Nobody slips on a figure of one digit.
        if shown == MISSING || shown.unsigned_abs() < 10 {
            return;
        }
        let wanted = self.dice.below(3);
        let (kind, typed) = match wanted {
            0 if shown < -5 => ("sign_lost", number(-shown)),
            1 => {
                let f = fahrenheit_from_celsius(f64::from(shown) / 10.0);
                ("fahrenheit_typed", number((f * 10.0).round() as i16))
            }
            _ => ("digit_slip", digit_slip(shown)),
        };
        if typed == number(shown) {
            return;
        }
        self.note((path, line), r, column, kind, &typed, shown);
        if on_supply {
            row.supply = typed;
        } else {
            row.ret = typed;
        }
    }

    fn note(
        &mut self,
        (path, line): (&str, u32),
        r: &Reefer,
        column: &'static str,
        kind: &'static str,
        typed: &str,
        shown: i16,
    ) {
        self.slips.push(Slip {
            file: path.to_owned(),
            line,
            unit: r.unit.clone(),
            column,
            kind,
            typed: typed.to_owned(),
            shown: number(shown),
        });
    }

    fn push(&self, text: &mut String, r: &Reefer, s: &Snapshot, round: &Round, row: &Row) {
        let at = self.start.plus_hours(f64::from(s.minute) / 60.0).to_minute();
        let power = if s.powered { "yes" } else { "no" };
        for cell in
            [&at, &r.unit, &row.set, &row.supply, &row.ret, power, row.mode, row.alarm, "round-"]
        {
            text.push_str(cell);
            text.push(',');
        }
        // The source runs on into the initials.
        text.pop();
        text.push_str(round.initials);
        text.push(',');
        text.push_str(row.remark);
        text.push('\n');
    }

    /// What people write beside a box.
    fn remark(&mut self, r: &Reefer, s: &Snapshot) -> &'static str {
        if !s.powered {
            return "found without power";
        }
        let hours = f64::from(s.minute) / 60.0;
        if let Some(f) = r.fault.filter(|f| f.live(hours)) {
            let since_h = hours - f.start_h;
            let text = match f.kind {
                FaultKind::FanLoss => "fan sounds rough",
                FaultKind::IcedCoil if since_h > 30.0 => "little air from the unit",
                FaultKind::RefrigerantLoss if since_h > 100.0 => "runs without a stop",
                FaultKind::CompressorFailure => "compressor not heard",
                FaultKind::WarmLoaded => "return still high",
                FaultKind::StuckSupply if since_h > 24.0 => "supply shows the same again",
                FaultKind::ProbeCode => "probe 2 shows 999.9",
                _ => "",
            };
            if self.dice.chance(0.5) {
                return text;
            }
        }
        if s.mode == Mode::Defrost && self.dice.chance(0.5) {
            return "defrosting";
        }
        if self.dice.chance(0.015) {
            let plain = ["ok", "cable rerouted", "display dim", "drain running", "seal checked"];
            return self.dice.pick(&plain).copied().unwrap_or("");
        }
        ""
    }
}

/// Tenths as people type them; empty when missing.
#[must_use]
pub fn number(tenths: i16) -> String {
    let mut s = String::new();
    push_tenths(&mut s, tenths);
    s
}

/// The decimal point in the wrong place, or two digits exchanged.
fn digit_slip(shown: i16) -> String {
    let plain = number(shown);
    let mut bytes: Vec<u8> = plain.bytes().collect();
    let first = usize::from(bytes.first() == Some(&b'-'));
    // Two whole digits: exchanged; one: the point forgotten.
    if bytes.len() == first + 4 {
        bytes.swap(first, first + 1);
    } else {
        bytes.retain(|b| *b != b'.');
    }
    String::from_utf8(bytes).unwrap_or(plain)
}

/// The same table from a spreadsheet on a computer set to decimal commas: byte order mark,
/// semicolons, CR LF.
fn spreadsheet(text: &str) -> Vec<u8> {
    let mut out = String::from("\u{feff}");
    for line in text.lines() {
        for (i, cell) in line.split(',').enumerate() {
            if i > 0 {
                out.push(';');
            }
            // Only the numbers of the temperature columns have decimals.
            if (2..5).contains(&i) && !line.starts_with("time_utc") {
                out.push_str(&cell.replace('.', ","));
            } else {
                out.push_str(cell);
            }
        }
        out.push_str("\r\n");
    }
    out.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_look_like_slips() {
        assert_eq!(digit_slip(-182), "-81.2");
        assert_eq!(digit_slip(42), "42");
        assert_eq!(number(-5), "-0.5");
        assert_eq!(number(MISSING), "");
    }

    #[test]
    fn spreadsheet_form() {
        let bytes = spreadsheet("time_utc,unit,a_c\n2026-01-01 00:00,Q.1,-1.5\n");
        let want = "\u{feff}time_utc;unit;a_c\r\n2026-01-01 00:00;Q.1;-1,5\r\n";
        assert_eq!(bytes, want.as_bytes());
    }
}
