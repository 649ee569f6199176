//! Keying a round in: one line for each box, in the order of the sheet. Each part of the walk is
//! a form of its own, so that it works without script.

use figures::words::number;
use maud::{Markup, html};
use record::round::parts;
use record::{Channel, KeyedRow, Part, Question, RoundFile, RoundLine};
use voyage::rounds::{RowJudged, judged_row, part_instant};

use super::rounds::{key_href, who_and_when};
use super::{Live, Shell, Tab, page, state_tag, time};

/// The names of figures that a form may hold: the stems of their channels.
pub const TEXTS: [&str; 10] =
    ["set_point", "supply", "return", "probe1", "probe2", "probe3", "probe4", "rh", "co2", "o2"];

/// The page.
#[must_use]
pub fn key_page(shell: &Shell, round: &RoundFile, lines: &[RoundLine]) -> Markup {
    let id = &round.start.id;
    let content = html! {
        h1 { "Round of " (time(round.start.at)) }
        @if let Some(end) = &round.closed {
            p { "This round is " @if end.boxes.is_some() { "handed in" } @else { "thrown away" }
                ". " a href="/rounds" { "To the rounds" } }
        } @else {
            p.where {
                "Walked by " strong { (round.start.walked_by) } ". "
                span #round-status role="status" {
                    (round.read()) " of " (lines.len()) " boxes keyed in, stored "
                    (time(round.saved_at))
                }
            }
            (how())
            div #round-form data-round=(key_href(id)) {
                @for (part, range) in parts(lines) {
                    (part_form(round, part, lines.get(range).unwrap_or(&[])))
                }
            }
            (finish(round, lines))
        }
    };
    page(shell, Tab::Rounds, Live::No, "Key a round in", &content)
}

fn how() -> Markup {
    html! {
        details.how-to {
            summary { "Keys" }
            ul {
                li { kbd { "Enter" } " or " kbd { "Tab" } ": next figure. One digit after the point "
                    "moves on by itself. " kbd { "Backspace" } " in an empty field, or "
                    kbd { "Shift+Tab" } ": back." }
                li { "Nothing read: leave it blank. Last values are beside the field to compare "
                    "with; they are never taken over." }
                li { kbd { "o" } " no power, " kbd { "d" } " defrost, " kbd { "a" } " alarm, "
                    kbd { "s" } " another set point on the display, " kbd { "m" } " remark." }
                li { "A question: " kbd { "k" } " keeps the figure as written, " kbd { "c" }
                    " changes it to the one offered, " kbd { "Backspace" } " goes back to the field." }
                li { "At the end of a bay: " kbd { "y" } " yes, " kbd { "n" } " no." }
            }
        }
    }
}

fn part_form(round: &RoundFile, part: Part, lines: &[RoundLine]) -> Markup {
    let key = part.key();
    let said = round.parts.get(&key).cloned().unwrap_or_default();
    let wrong_time = part_instant(round.start.at, &said.time).err();
    let n = lines.len();
    html! {
        form.round-part id={ "part-" (key) } method="post"
            action={ (key_href(&round.start.id)) "/save" } {
            // Enter in a field without script sends the form by its first button.
            button.unseen type="submit" name="go" value="save" tabindex="-1" { "Save this bay" }
            input type="hidden" name="part" value=(key);
            div.part-head {
                h2 { (part.title()) ", " (n) @if n == 1 { " box" } @else { " boxes" } }
                label { "Time, UTC "
                    input.k.time name="time" value=(said.time) size="5" maxlength="5"
                        autocomplete="off" placeholder=(figures::words::clock(round.start.at))
                        aria-invalid=[wrong_time.is_some().then_some("true")];
                }
            }
            p.field-error.time-error { @if let Some(why) = &wrong_time { (why) } }
            ol.key-rows { @for l in lines { (row(round, l)) } }
            div.part-end {
                label.check {
                    input.k type="checkbox" name="all_on_power" value="yes"
                        checked[said.on_power];
                    " Seen on power: every box read here and not marked otherwise"
                }
                label.check {
                    input.k type="checkbox" name="all_set_point" value="yes"
                        checked[said.set_point];
                    " The display showed the set point printed here on each of them"
                }
                button.save type="submit" name="go" value="save" { "Save " (part.title()) }
            }
        }
    }
}

fn row(round: &RoundFile, l: &RoundLine) -> Markup {
    let unit = l.unit();
    let empty = KeyedRow::new(unit.clone());
    let keyed = round.rows.get(unit).unwrap_or(&empty);
    let judged = judged_row(keyed, l, round.start.at);
    let marked = keyed.on_power.is_some()
        || keyed.defrost
        || !keyed.alarm.is_empty()
        || !keyed.remark.is_empty()
        || !keyed.text(Channel::SetPoint).is_empty();
    let cell = match l.line.cell {
        Some(c) => format!("{:03} {:02} {:02}", c.bay, c.row, c.tier),
        None => l.line.stow.clone().unwrap_or_else(|| "no cell".to_owned()),
    };
    html! {
        li.key-row data-unit=(unit) {
            div.who {
                strong.cell { (cell) } " " span.no { (unit) } " "
                @if l.line.state != record::State::Ok { (state_tag(l.line.state)) }
                span.cargo { (l.line.cargo.as_deref().unwrap_or_default()) }
            }
            div.set {
                "set " (l.line.set_point_c.map_or_else(|| "?".to_owned(), |c| number(c, 1)))
            }
            @for c in l.to_read() { (figure(keyed, &judged, l, c, &cell)) }
            (more(keyed, &judged, l, marked))
            div.questions aria-live="assertive" {
                @for q in &judged.questions { (question(keyed, q)) }
            }
        }
    }
}

fn heading(c: Channel) -> &'static str {
    match c {
        Channel::Supply => "supply °C",
        Channel::Return => "return °C",
        Channel::SetPoint => "set point °C",
        other => papers::round::channel_name(other),
    }
}

fn figure(row: &KeyedRow, j: &RowJudged, l: &RoundLine, c: Channel, cell: &str) -> Markup {
    let (name, last) = (heading(c), l.last_of(c));
    let wrong = j.refused.iter().find(|(of, _)| *of == c);
    html! {
        label.figure {
            span.name { (name) }
            input.k.figure-in name={ (l.unit()) "." (c.stem()) } value=(row.text(c))
                data-of=(c.stem()) size="6" maxlength="20" autocomplete="off"
                aria-label={ (name) " of " (l.unit()) ", " (cell) }
                aria-invalid=[wrong.is_some().then_some("true")];
            span.last {
                @match last {
                    Some(v) => { "last " (number(v.value, 1)) }
                    None => { "never read" }
                }
            }
            span.field-error data-error=(c.stem()) {
                @if let Some((_, why)) = wrong { (why) }
            }
        }
    }
}

/// What is seldom written: power, defrost, alarm, set point, remark.
fn more(row: &KeyedRow, j: &RowJudged, l: &RoundLine, open: bool) -> Markup {
    let unit = l.unit();
    let wrong = j.refused.iter().find(|(of, _)| *of == Channel::SetPoint);
    html! {
        details.more open[open] {
            summary aria-label={ "More of " (unit) } { "more" }
            div.more-fields {
                label { "power "
                    select name={ (unit) ".power" } data-of="power" {
                        option value="" selected[row.on_power.is_none()] { "as the bay" }
                        option value="on" selected[row.on_power == Some(true)] { "on" }
                        option value="off" selected[row.on_power == Some(false)] { "no power" }
                    }
                }
                label.check {
                    input type="checkbox" name={ (unit) ".defrost" } value="yes" data-of="defrost"
                        checked[row.defrost];
                    " defrost"
                }
                label { "alarm "
                    input name={ (unit) ".alarm" } value=(row.alarm) maxlength="120" data-of="alarm";
                }
                label { "set point °C "
                    input name={ (unit) ".set_point" } value=(row.text(Channel::SetPoint)) size="6"
                        maxlength="20" data-of="set_point" autocomplete="off";
                    span.field-error data-error="set_point" {
                        @if let Some((_, why)) = wrong { (why) }
                    }
                }
                label { "remark "
                    input name={ (unit) ".remark" } value=(row.remark) maxlength="200"
                        data-of="remark";
                }
            }
        }
    }
}

/// A question beside its line, with a button for each answer.
#[must_use]
pub fn question(row: &KeyedRow, q: &Question) -> Markup {
    let name = format!("{}.answer.{}", row.unit, q.channel.stem());
    let instead: Vec<String> = q
        .instead
        .iter()
        .map(|(c, v)| {
            let two = q.instead.len() > 1;
            let of = if two { format!("{} ", c.stem()) } else { String::new() };
            format!("{of}{}", number(*v, 1))
        })
        .collect();
    html! {
        div.question role="group" tabindex="-1" data-of=(q.channel.stem()) data-kind=(q.kind.as_str()) {
            p { (q.words) }
            @if !instead.is_empty() {
                button.change type="submit" name=(name) value={ "take:" (q.kind.as_str()) } {
                    kbd { "c" } " Change to " (instead.join(", "))
                }
            }
            button.keep type="submit" name=(name) value={ "keep:" (q.kind.as_str()) } {
                kbd { "k" } " Keep as written"
            }
        }
    }
}

/// A line as the script is told of it.
#[must_use]
pub fn row_json(row: &KeyedRow, _line: &RoundLine, j: &RowJudged) -> serde_json::Value {
    let refused: Vec<serde_json::Value> = j
        .refused
        .iter()
        .map(|(c, why)| serde_json::json!({ "of": c.stem(), "why": why }))
        .collect();
    let asked: Vec<serde_json::Value> = j
        .questions
        .iter()
        .map(|q| {
            serde_json::json!({
                "of": q.channel.stem(),
                "kind": q.kind.as_str(),
                "html": question(row, q).into_string(),
            })
        })
        .collect();
    serde_json::json!({
        "unit": row.unit.as_str(),
        "values": row.values,
        "refused": refused,
        "questions": asked,
    })
}

fn finish(round: &RoundFile, lines: &[RoundLine]) -> Markup {
    let id = &round.start.id;
    let s = &round.start;
    html! {
        section #finish {
            h2 { "Finish" }
            form method="post" action={ (key_href(id)) "/enter" } {
                p { "Boxes without a figure stay blank and count as not read. Open questions are "
                    "answered first." }
                button #hand-in .main type="submit" {
                    "Hand the round in, " (lines.len()) " boxes on the sheet"
                }
            }
            details {
                summary { "Name or time was wrong; throw it away" }
                form.upload method="post" action={ (key_href(id)) "/begin" } {
                    (who_and_when(&s.walked_by, &s.at.to_minute(), &round.who, &s.weather))
                    button type="submit" { "Put right" }
                }
                form method="post" action={ (key_href(id)) "/drop" } {
                    button.drop type="submit" { "Throw this round away" }
                }
            }
        }
    }
}
