//! A round as it is keyed in: what is asked about it, and how it is taken in: as a file of
//! readings like any other, with whoever walked it as its source.

use record::{
    Act, Answer, Channel, KeyedRow, PartSaid, Question, RoundClosed, RoundFile, RoundKeyed,
    RoundLine,
};
use units::Utc;
use units::decimal::{self, DecimalMark};

use crate::{NamedBytes, Problem, TakeOutcome, Voyage, has_come};

/// Longest text of a figure, an alarm, a remark.
const TEXT_MAX: usize = 200;
/// Channels of the file, in the order of its columns.
const COLUMNS: [Channel; 10] = [
    Channel::SetPoint,
    Channel::Supply,
    Channel::Return,
    Channel::Probe1,
    Channel::Probe2,
    Channel::Probe3,
    Channel::Probe4,
    Channel::Rh,
    Channel::Co2,
    Channel::O2,
];

/// A keyed line with what is still open about it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RowJudged {
    /// Texts that are no figure: channel and what is wrong.
    pub refused: Vec<(Channel, String)>,
    /// Questions that nobody has answered.
    pub questions: Vec<Question>,
}

impl RowJudged {
    /// Nothing is open.
    #[must_use]
    pub fn is_clear(&self) -> bool {
        self.refused.is_empty() && self.questions.is_empty()
    }
}

/// Reads a figure as people write it: `-18.2`, `−18,2`, ` 13 `.
///
/// # Errors
/// In words.
pub fn read_figure(text: &str) -> Result<f64, String> {
    let plain = text.trim().replace(['\u{2212}', '\u{2013}'], "-");
    decimal::parse(&plain, DecimalMark::PointOrComma)
        .map_err(|e| format!("\"{text}\" {e}; write the figure as the display shows it"))
}

/// What is open about a line.
#[must_use]
pub fn judged_row(row: &KeyedRow, line: &RoundLine, at: Utc) -> RowJudged {
    let mut out = RowJudged::default();
    let mut keyed = Vec::new();
    for channel in COLUMNS.into_iter().filter(|c| *c != Channel::SetPoint) {
        let text = row.text(channel);
        if text.is_empty() {
            continue;
        }
        match read_figure(text) {
            Ok(value) => keyed.push(assess::Keyed { channel, value, text: text.to_owned() }),
            Err(why) => out.refused.push((channel, why)),
        }
    }
    let set = row.text(Channel::SetPoint);
    if !set.is_empty()
        && let Err(why) = read_figure(set)
    {
        out.refused.push((Channel::SetPoint, why));
    }
    let asked = assess::questions(&keyed, line, at, row.defrost);
    out.questions = asked.into_iter().filter(|q| !is_answered(row, q)).collect();
    out
}

/// The figure, or figures, that a question is about, as written.
fn about(row: &KeyedRow, q: &Question) -> String {
    let texts: Vec<&str> = match q.instead.as_slice() {
        [] => vec![row.text(q.channel)],
        some => some.iter().map(|(c, _)| row.text(*c)).collect(),
    };
    texts.join(" / ")
}

fn is_answered(row: &KeyedRow, q: &Question) -> bool {
    let text = about(row, q);
    row.answered.iter().any(|a| {
        a.of == q.channel.stem()
            && a.kind == q.kind.as_str()
            && a.about == text
            && a.changed_to.is_none()
    })
}

/// Answers a question of a line: the figure is kept as written, or changed to what was offered.
/// An answer to a question that is not asked changes nothing.
pub fn answer(row: &mut KeyedRow, line: &RoundLine, at: Utc, of: &str, kind: &str, keep: bool) {
    let open = judged_row(row, line, at).questions;
    let asked = |q: &&Question| q.channel.stem() == of && q.kind.as_str() == kind;
    let Some(q) = open.iter().find(asked) else { return };
    let text = about(row, q);
    let changed: Vec<(Channel, String)> =
        q.instead.iter().map(|(c, v)| (*c, written(*v))).collect();
    if !keep && changed.is_empty() {
        return;
    }
    let words: Vec<&str> = changed.iter().map(|(_, t)| t.as_str()).collect();
    row.answered.push(Answer {
        of: of.to_owned(),
        kind: kind.to_owned(),
        about: text,
        asked: q.words.clone(),
        changed_to: (!keep).then(|| words.join(" / ")),
    });
    if !keep {
        for (channel, text) in changed {
            row.values.insert(channel.stem().to_owned(), text);
        }
    }
}

/// A figure as it would be written: at least one decimal.
fn written(value: f64) -> String {
    let short = format!("{value:.1}");
    let exact = short.parse::<f64>().is_ok_and(|v| (v - value).abs() < 1e-9);
    if exact { short } else { format!("{value:.2}") }
}

/// The instant of a part's readings: the time as written, on the day that brings it nearest to
/// the round's own time; that time where nothing is written.
///
/// # Errors
/// In words, when it is no time of day.
pub fn part_instant(round_at: Utc, text: &str) -> Result<Utc, String> {
    let digits: String = text.chars().filter(|c| !matches!(c, ':' | '.' | ' ')).collect();
    if digits.is_empty() {
        return Ok(round_at);
    }
    let bad = || format!("\"{text}\" is no time of day; write 0815 or 08:15");
    if !digits.bytes().all(|b| b.is_ascii_digit()) || !(3..=4).contains(&digits.len()) {
        return Err(bad());
    }
    let number: u32 = digits.parse().map_err(|_| bad())?;
    let (hour, minute) = (number / 100, number % 100);
    if hour > 23 || minute > 59 {
        return Err(bad());
    }
    let (.., h, m, s) = round_at.civil();
    let of_day = f64::from(h) + f64::from(m) / 60.0 + f64::from(s) / 3600.0;
    let mut by = f64::from(hour) + f64::from(minute) / 60.0 - of_day;
    if by > 12.0 {
        by -= 24.0;
    } else if by < -12.0 {
        by += 24.0;
    }
    let ms = (by * 60.0).round() as i64 * 60_000;
    Ok(Utc::from_ms(round_at.ms() - round_at.ms().rem_euclid(60_000) + ms))
}

impl Voyage {
    /// The round of an id.
    #[must_use]
    pub fn round(&self, id: &str) -> Option<&RoundFile> {
        self.acts().rounds.iter().find(|r| r.start.id == id)
    }

    /// The id that the next round keyed in gets.
    #[must_use]
    pub fn next_round_id(&self) -> String {
        format!("R{}", self.acts().rounds.len() + 1)
    }

    /// An act about a round that is not there or is closed, or with texts too long to be figures.
    pub(crate) fn refuse_senseless_round(&self, act: &Act) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        let id = match act {
            Act::RoundBegun(start) => {
                if start.walked_by.trim().is_empty() {
                    return refuse("write who walked the round".to_owned());
                }
                let again = self.round(&start.id).is_some_and(|r| r.closed.is_some());
                return if again { refuse(closed(&start.id)) } else { Ok(()) };
            }
            Act::RoundKeyed(keyed) => &keyed.id,
            Act::RoundClosed(end) => &end.id,
            _ => return Ok(()),
        };
        let Some(round) = self.round(id) else {
            return refuse(format!("there is no round \"{id}\" in this voyage"));
        };
        if round.closed.is_some() {
            return refuse(closed(id));
        }
        match act {
            Act::RoundKeyed(keyed) => refuse_long(keyed),
            _ => Ok(()),
        }
    }

    /// Takes a keyed round in: as a file of readings, so that everything treats it as one.
    /// `lines` are those of the round's own time.
    ///
    /// # Errors
    /// [`Problem::Act`] when something is still open or nothing was read; what the journal says.
    pub fn hand_in_round(
        &mut self,
        id: &str,
        lines: &[RoundLine],
        who: &str,
        now: Utc,
    ) -> Result<TakeOutcome, Problem> {
        self.refresh()?;
        let Some(round) = self.round(id).cloned() else {
            return Err(Problem::Act(format!("there is no round \"{id}\" in this voyage")));
        };
        if round.closed.is_some() {
            return Err(Problem::Act(closed(id)));
        }
        let (text, boxes) = round_csv(&round, lines, now).map_err(Problem::Act)?;
        let stamp: String = round.start.at.to_minute().replace([' ', ':'], "-");
        let name = format!("round-{stamp}-{id}.csv");
        let file = NamedBytes { name: name.clone(), bytes: text.into_bytes() };
        // The readings first: if the next step is cut off, handing in once more finds them held.
        let out = self.take(&[file], who, now, &mut |_, _| {})?;
        let end = RoundClosed { id: id.to_owned(), boxes: Some(boxes), file: name };
        self.enter(&Act::RoundClosed(Box::new(end)), &[], who, now)?;
        Ok(out)
    }
}

fn closed(id: &str) -> String {
    format!("round {id} is handed in or thrown away; begin a new one")
}

fn refuse_long(keyed: &RoundKeyed) -> Result<(), Problem> {
    for row in &keyed.rows {
        let texts = row.values.values().chain([&row.alarm, &row.remark]);
        if texts.into_iter().any(|t| t.chars().count() > TEXT_MAX) {
            let unit = &row.unit;
            return Err(Problem::Act(format!("{unit}: a text is longer than {TEXT_MAX} signs")));
        }
    }
    Ok(())
}

/// The round as a file of readings, and how many boxes are in it.
fn round_csv(round: &RoundFile, lines: &[RoundLine], now: Utc) -> Result<(String, u64), String> {
    let mut out = String::from("time_utc,unit");
    for c in COLUMNS {
        out += &format!(",{}", c.column());
    }
    out += ",on_power,mode,alarm,source,remark\r\n";
    let (mut boxes, mut open) = (0, Vec::new());
    for line in lines {
        let Some(row) = round.rows.get(line.unit()).filter(|r| r.says_anything()) else {
            continue;
        };
        let said = round.parts.get(&line.part().key()).cloned().unwrap_or_default();
        let at = part_instant(round.start.at, &said.time)
            .map_err(|e| format!("{}: {e}", line.part().title()))?;
        let at = has_come(&format!("{}:", line.part().title()), at, now)?;
        if !judged_row(row, line, round.start.at).is_clear() {
            open.push(line.unit().to_string());
        }
        out += &csv_row(round, row, line, &said, at);
        boxes += 1;
    }
    match (open.as_slice(), boxes) {
        ([], 0) => Err("nothing is keyed in yet".to_owned()),
        ([], _) => Ok((out, boxes)),
        (some, _) => Err(format!(
            "questions are still open about {}: answer them first",
            some.iter().take(6).cloned().collect::<Vec<_>>().join(", ")
        )),
    }
}

fn csv_row(
    round: &RoundFile,
    row: &KeyedRow,
    line: &RoundLine,
    said: &PartSaid,
    at: Utc,
) -> String {
    let mut fields = vec![at.to_string(), row.unit.to_string()];
    for c in COLUMNS {
        let figure = read_figure(row.text(c)).ok().map(|_| plain(row.text(c)));
        // The set point was seen to be the one on the sheet: that is what the part was ticked for.
        let seen = || match line.line.set_point_c {
            Some(set) if c == Channel::SetPoint && said.set_point => written(set),
            _ => String::new(),
        };
        fields.push(figure.unwrap_or_else(seen));
    }
    let on_power = row.on_power.or(said.on_power.then_some(true));
    fields.push(on_power.map(|p| if p { "1" } else { "0" }).unwrap_or_default().to_owned());
    fields.push(if row.defrost { "defrost" } else { "" }.to_owned());
    fields.push(row.alarm.clone());
    fields.push(format!("round-{}", round.start.walked_by));
    fields.push(remark(row));
    let fields: Vec<String> = fields.iter().map(|f| quoted(f)).collect();
    fields.join(",") + "\r\n"
}

fn plain(text: &str) -> String {
    text.trim().replace(['\u{2212}', '\u{2013}'], "-").replace(',', ".")
}

/// The person's remark, and what was asked and how it was answered.
fn remark(row: &KeyedRow) -> String {
    let mut all: Vec<String> = vec![row.remark.clone()];
    for a in &row.answered {
        match &a.changed_to {
            None => all.push(format!("asked and kept as written: {}", a.asked)),
            Some(to) => all.push(format!("{} written {}, changed to {to}", a.of, a.about)),
        }
    }
    all.retain(|t| !t.is_empty());
    all.join("; ")
}

/// RFC 4180.
fn quoted(field: &str) -> String {
    let field: String = field.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if field.contains([',', '"']) { format!("\"{}\"", field.replace('"', "\"\"")) } else { field }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read_as_people_write_them() {
        for (text, value) in
            [("-18.2", -18.2), ("−18,2", -18.2), (" 13 ", 13.0), (".5", 0.5), ("–3", -3.0)]
        {
            assert_eq!(read_figure(text), Ok(value), "{text}");
        }
        for bad in ["", "ok", "as last", "18.2C", "1 3", "--2", "1e3", "1,234"] {
            assert!(read_figure(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_time_of_day_finds_its_day() {
        let at = |t: &str| Utc::parse(t).unwrap();
        let round = at("2026-03-16T00:30:00Z");
        assert_eq!(part_instant(round, ""), Ok(round));
        assert_eq!(part_instant(round, "0115"), Ok(at("2026-03-16T01:15:00Z")));
        assert_eq!(part_instant(round, "23:50"), Ok(at("2026-03-15T23:50:00Z")));
        assert_eq!(part_instant(round, "8:05"), Ok(at("2026-03-16T08:05:00Z")));
        for bad in ["2460", "8", "12345", "noon", "0860"] {
            assert!(part_instant(round, bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_field_cannot_break_out_of_its_cell() {
        assert_eq!(quoted("a,\"b\"\r\nc"), "\"a,\"\"b\"\"  c\"");
        assert_eq!(written(17.78), "17.78");
        assert_eq!(written(-18.0), "-18.0");
    }
}
