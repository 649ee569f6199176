//! What happened to a box, told from its readings alone: spells without power, alarms, air off
//! the set point, a display that shows another set point than the list. Spells that touch are one
//! story: what, when noticed, what the temperatures did.

use box_model::FROZEN_SET_MAX_C;
use record::dossier::{AlarmSpell, Deed, Effect, Incident, PowerSpell};
use record::{BoxFacts, Channel, Reading};
use units::Utc;

use crate::air::{self, Judged};
use crate::ground::Control;
use crate::power;
use crate::words::{hours, set_point, when};

/// Supply air from the set point, as the watch list judges it.
const CHILLED_K: f64 = 1.0;
/// Return air over the set point, as the watch list judges it.
const FROZEN_K: f64 = 3.0;
/// Told from the other sensor, this much more.
const OTHER_SENSOR_K: f64 = 1.5;
/// A shorter spell off the set point is no story (estimate of ours).
const SPELL_LEAST_H: f64 = 2.0;
/// Readings this far apart are not one spell.
const SPELL_GAP_H: f64 = 14.0;
/// Spells that come this close together are one story (estimate of ours).
const TOGETHER_H: f64 = 6.0;
/// Temperatures are followed this long after the last reading that shows the trouble.
const AFTER_H: f64 = 12.0;
/// What was written or done this long after still belongs to it.
pub const DEEDS_AFTER_H: f64 = 12.0;
/// The longest remark quoted.
const REMARKS_MOST: usize = 12;

/// One spell of one kind of trouble.
struct Spell {
    from: Utc,
    to: Utc,
    over_at: Option<Utc>,
    what: String,
    source: String,
    weight: f64,
}

/// Everything told of a box's past.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Past {
    /// Stories, oldest first.
    pub incidents: Vec<Incident>,
    /// Alarms.
    pub alarms: Vec<AlarmSpell>,
    /// Spells without power.
    pub power_off: Vec<PowerSpell>,
}

/// Tells it. `deeds` are what people did about the box, from their acts; remarks in the readings
/// are added to them.
#[must_use]
pub fn past(facts: &BoxFacts, deeds: &[Deed]) -> Past {
    let mut rows: Vec<&Reading> = facts.readings.iter().collect();
    rows.sort_by_key(|r| r.at);
    let mut deeds: Vec<Deed> = deeds.to_vec();
    deeds.extend(remarks(&rows));
    deeds.sort_by_key(|d| d.at);
    let ordered_c = facts.listed.as_ref().and_then(|l| l.set_point_c);
    let power_spells = power::spells(&rows);
    let power_off = power_spells.iter().map(|s| power_spell(s, &rows)).collect::<Vec<_>>();
    let alarms = alarms(&rows, &deeds);
    let mut spells: Vec<Spell> = power_off.iter().map(of_power).collect();
    spells.extend(alarms.iter().map(of_alarm));
    let judged = air::judged(&rows, &power_spells, ordered_c);
    spells.extend(off_set_point(&judged, &rows));
    spells.extend(wrong_display(&rows, ordered_c));
    spells.sort_by_key(|a| (a.from, a.to));
    let incidents =
        together(spells).into_iter().map(|group| story(&group, &rows, &deeds, ordered_c)).collect();
    Past { incidents, alarms, power_off }
}

fn remarks(rows: &[&Reading]) -> Vec<Deed> {
    let deed = |r: &&Reading| {
        let what = r.remark.as_deref().map(str::trim).filter(|t| !t.is_empty())?;
        Some(Deed { at: r.at, who: r.source.to_string(), what: format!("remark: {what}") })
    };
    rows.iter().filter_map(deed).collect()
}

fn source_at(rows: &[&Reading], at: Utc, shows: impl Fn(&Reading) -> bool) -> String {
    let found = rows.iter().find(|r| r.at == at && shows(r));
    found.map_or_else(String::new, |r| r.source.to_string())
}

fn power_spell(s: &power::Spell, rows: &[&Reading]) -> PowerSpell {
    let off = |r: &&&Reading| power::says(r) == Some(false);
    let last = rows.iter().filter(|r| r.at >= s.from && s.back.is_none_or(|b| r.at < b)).rfind(off);
    PowerSpell {
        last_on: s.seen_on,
        from: s.from,
        to: last.map_or(s.from, |r| r.at),
        back_at: s.back,
        source: source_at(rows, s.from, |r| power::says(r) == Some(false)),
    }
}

fn of_power(p: &PowerSpell) -> Spell {
    let end = p.back_at.unwrap_or(p.to);
    let what = match p.back_at {
        Some(back) => format!(
            "No power: first read off {}, read on again {} ({} later).",
            when(p.from),
            when(back),
            hours(back.hours_since(p.from))
        ),
        None => format!("No power: read off from {} to the end of the record.", when(p.from)),
    };
    let weight = 20.0 + 4.0 * end.hours_since(p.from);
    Spell { from: p.from, to: p.to, over_at: p.back_at, what, source: p.source.clone(), weight }
}

fn alarm_of(r: &Reading) -> Option<&str> {
    r.alarm.as_deref().map(str::trim).filter(|a| !a.is_empty())
}

fn alarms(rows: &[&Reading], deeds: &[Deed]) -> Vec<AlarmSpell> {
    let mut out: Vec<AlarmSpell> = Vec::new();
    for r in rows.iter().filter(|r| r.has_observation()) {
        let now = alarm_of(r);
        let open = out.last_mut().filter(|a| a.gone_at.is_none());
        match (open, now) {
            (Some(a), Some(text)) if a.text == text => a.to = r.at,
            (Some(a), None) => a.gone_at = Some(r.at),
            (open, Some(text)) => {
                if let Some(a) = open {
                    a.gone_at = Some(r.at);
                }
                out.push(AlarmSpell {
                    text: text.to_owned(),
                    from: r.at,
                    to: r.at,
                    gone_at: None,
                    source: r.source.to_string(),
                    done: Vec::new(),
                });
            }
            (None, None) => {}
        }
    }
    for a in &mut out {
        a.done = deeds_between(deeds, a.from, a.to);
    }
    out
}

fn of_alarm(a: &AlarmSpell) -> Spell {
    let what = match a.gone_at {
        Some(gone) => format!(
            "Alarm {}: first seen {}, no longer shown {}.",
            a.text,
            when(a.from),
            when(gone)
        ),
        None => format!("Alarm {}: shown from {} to the end of the record.", a.text, when(a.from)),
    };
    let weight = 5.0 + a.to.hours_since(a.from);
    Spell { from: a.from, to: a.to, over_at: a.gone_at, what, source: a.source.clone(), weight }
}

/// Deeds from an instant to twelve hours after another; no more than a page can hold.
fn deeds_between(deeds: &[Deed], from: Utc, to: Utc) -> Vec<Deed> {
    let until = to.plus_hours(DEEDS_AFTER_H);
    let mut out: Vec<Deed> = Vec::new();
    for d in deeds.iter().filter(|d| d.at >= from && d.at <= until) {
        // The same words of one source again and again are written once.
        if !out.iter().any(|o| o.what == d.what && o.who == d.who) {
            out.push(d.clone());
        }
    }
    out.truncate(REMARKS_MOST);
    out
}

/// What a unit holds at a set point: return air when frozen, else supply.
fn control_at(set_c: f64) -> Control {
    if set_c <= FROZEN_SET_MAX_C { Control::Frozen } else { Control::Chilled }
}

/// How far held air is off the set point in force at that reading, signed; `None` when in band.
fn off_k(j: &Judged) -> Option<f64> {
    let set_c = j.set_c?;
    let control = control_at(set_c);
    let dev = j.held_c(control)? - set_c;
    let slack = if j.held_was_read(control) { 0.0 } else { OTHER_SENSOR_K };
    let off = match control {
        Control::Chilled => dev.abs() > CHILLED_K + slack,
        Control::Frozen => dev > FROZEN_K + slack,
    };
    off.then_some(dev)
}

/// How a spell off the set point ended.
#[derive(Clone, Copy)]
enum End {
    /// This reading is in its band again.
    Back(Utc),
    /// Nothing says when: a gap, or air on the other side.
    Unseen,
    /// The record ends with it.
    Open,
}

fn off_set_point(judged: &[Judged], rows: &[&Reading]) -> Vec<Spell> {
    let mut out = Vec::new();
    let mut run: Vec<(&Judged, f64)> = Vec::new();
    let told = |j: &&Judged| j.set_c.is_some_and(|s| j.held_c(control_at(s)).is_some());
    for j in judged.iter().filter(told) {
        let same = |(last, k): &(&Judged, f64), now: f64| {
            j.at.hours_since(last.at) <= SPELL_GAP_H && k.signum() == now.signum()
        };
        match off_k(j) {
            Some(k) if run.last().is_none_or(|last| same(last, k)) => run.push((j, k)),
            next => {
                let end = if next.is_none() { End::Back(j.at) } else { End::Unseen };
                out.extend(off_spell(&run, end, rows));
                run.clear();
                run.extend(next.map(|k| (j, k)));
            }
        }
    }
    out.extend(off_spell(&run, End::Open, rows));
    out
}

fn off_spell(run: &[(&Judged, f64)], end: End, rows: &[&Reading]) -> Option<Spell> {
    let ((first, _), (last, _)) = (run.first()?, run.last()?);
    let over_at = match end {
        End::Back(at) => Some(at),
        End::Unseen => Some(last.at),
        End::Open => None,
    };
    let lasted_h = over_at.unwrap_or(last.at).hours_since(first.at);
    if run.len() < 2 || lasted_h < SPELL_LEAST_H {
        return None;
    }
    let (worst, worst_k) = run.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let set_c = worst.set_c?;
    let air = match control_at(set_c) {
        Control::Chilled => "Supply air",
        Control::Frozen => "Return air",
    };
    let side = if *worst_k > 0.0 { "above" } else { "below" };
    let begin = if rows.first().is_some_and(|r| r.at.hours_since(first.at) > -2.0) {
        "from the first readings".to_owned()
    } else {
        format!("from {}", when(first.at))
    };
    let end = match end {
        End::Back(at) => format!("back in its band {}", when(at)),
        End::Unseen => format!("last read so {}", when(last.at)),
        End::Open => format!("still so in the last reading judged, {}", when(last.at)),
    };
    let what = format!(
        "{air} off the set point of {} {begin}, at most {:.1} K {side} it at {}, {end}.",
        set_point(set_c),
        units::math::round_to(worst_k.abs(), 1),
        when(worst.at)
    );
    let source = source_at(rows, first.at, |_| true);
    let weight = worst_k.abs() * lasted_h.min(200.0);
    Some(Spell { from: first.at, to: last.at, over_at, what, source, weight })
}

/// The display shows another set point than the list orders, for two readings or more.
fn wrong_display(rows: &[&Reading], ordered_c: Option<f64>) -> Vec<Spell> {
    let Some(ordered) = ordered_c else { return Vec::new() };
    let mut out: Vec<Spell> = Vec::new();
    let mut open: Option<(Utc, Utc, f64, usize)> = None;
    let close = |open: &mut Option<(Utc, Utc, f64, usize)>, over_at: Option<Utc>| {
        let (from, to, shown, count) = open.take().filter(|o| o.3 > 1)?;
        let end = match over_at {
            Some(at) => format!("until {}", when(at)),
            None => "to the end of the record".to_owned(),
        };
        let what = format!(
            "The display showed a set point of {}, the list orders {}: {count} readings from {} {end}.",
            set_point(shown),
            set_point(ordered),
            when(from)
        );
        let weight = (shown - ordered).abs() * to.hours_since(from).min(200.0);
        let source = source_at(rows, from, |r| r.get(Channel::SetPoint).is_some());
        Some(Spell { from, to, over_at, what, source, weight })
    };
    for r in rows {
        let Some(shown) = r.sane_c(Channel::SetPoint) else { continue };
        let differs = (shown - ordered).abs() > 0.15;
        match &mut open {
            Some(o) if differs && (o.2 - shown).abs() < 0.05 => {
                o.1 = r.at;
                o.3 += 1;
            }
            _ => {
                out.extend(close(&mut open, Some(r.at)));
                open = differs.then_some((r.at, r.at, shown, 1));
            }
        }
    }
    out.extend(close(&mut open, None));
    out
}

/// Spells that touch, or nearly so, in one group.
fn together(spells: Vec<Spell>) -> Vec<Vec<Spell>> {
    let mut out: Vec<Vec<Spell>> = Vec::new();
    let mut until = Utc::from_ms(i64::MIN);
    for s in spells {
        let touches = s.from <= until.plus_hours(TOGETHER_H);
        until = until.max(s.over_at.unwrap_or(s.to));
        match out.last_mut().filter(|_| touches) {
            Some(group) => group.push(s),
            None => {
                until = s.over_at.unwrap_or(s.to);
                out.push(vec![s]);
            }
        }
    }
    out
}

fn story(group: &[Spell], rows: &[&Reading], deeds: &[Deed], ordered_c: Option<f64>) -> Incident {
    let from = group.iter().map(|s| s.from).min().unwrap_or(Utc::from_ms(0));
    let to = group.iter().map(|s| s.to).max().unwrap_or(from);
    let open = group.iter().any(|s| s.over_at.is_none());
    let weight: f64 = group.iter().map(|s| s.weight).sum();
    Incident {
        from,
        to,
        open,
        what: group.iter().map(|s| s.what.clone()).collect(),
        noticed: noticed(group, rows, from, to),
        done: deeds_between(deeds, from, to),
        effect: effect(rows, from, to, ordered_c),
        cargo_not_measured: !rows.iter().any(|r| probe_read(r)),
        weight: units::math::round_to(weight.clamp(0.0, 1e6), 0) as u64,
    }
}

fn probe_read(r: &Reading) -> bool {
    Channel::PROBES.into_iter().any(|c| r.get(c).is_some())
}

/// The first reading that shows it, and the first round after that.
fn noticed(group: &[Spell], rows: &[&Reading], from: Utc, to: Utc) -> Vec<String> {
    let source = group.iter().find(|s| s.from == from).map_or("", |s| s.source.as_str());
    let by = if source.is_empty() { "source not said".to_owned() } else { source.to_owned() };
    let mut out = vec![format!("First reading that shows it: {} ({by}).", when(from))];
    let round = |r: &&&Reading| r.source.starts_with("round") && r.at >= from;
    let until = to.plus_hours(DEEDS_AFTER_H);
    if !source.starts_with("round")
        && let Some(r) = rows.iter().find(round).filter(|r| r.at <= until)
    {
        out.push(format!("First round at the box after that: {} ({}).", when(r.at), r.source));
    }
    out
}

/// What air and each probe read before, at the worst, and after.
fn effect(rows: &[&Reading], from: Utc, to: Utc, ordered_c: Option<f64>) -> Vec<Effect> {
    let shown = || rows.iter().find_map(|r| r.sane_c(Channel::SetPoint));
    let control = ordered_c.or_else(shown).map(control_at);
    let defrosts = air::defrosts(rows);
    let quiet = |at: Utc| !defrosts.iter().any(|(a, b)| at >= *a && at <= *b);
    let supply = (Channel::Supply, "supply air");
    let back = (Channel::Return, "return air");
    let (held, other) =
        if control == Some(Control::Chilled) { (supply, back) } else { (back, supply) };
    let probes = ["pulp probe 1", "pulp probe 2", "pulp probe 3", "pulp probe 4"];
    let named = [held, other].into_iter().chain(Channel::PROBES.into_iter().zip(probes));
    let one = |(channel, name): (Channel, &str)| {
        let is_probe = Channel::PROBES.contains(&channel);
        let values: Vec<(Utc, f64)> = rows
            .iter()
            .filter_map(|r| Some((r.at, r.sane_c(channel)?)))
            .filter(|(at, _)| is_probe || quiet(*at))
            .collect();
        moved(name, &values, from, to)
    };
    named.filter_map(one).collect()
}

fn moved(name: &str, values: &[(Utc, f64)], from: Utc, to: Utc) -> Option<Effect> {
    let until = to.plus_hours(AFTER_H);
    let during = || values.iter().filter(|(at, _)| *at >= from && *at <= until);
    Some(Effect {
        name: name.to_owned(),
        before: values.iter().rev().find(|(at, _)| *at < from).copied(),
        warmest: during().copied().reduce(|a, b| if b.1 > a.1 { b } else { a })?,
        coldest: during().copied().reduce(|a, b| if b.1 < a.1 { b } else { a })?,
        last: during().next_back().copied()?,
    })
}

#[cfg(test)]
mod tests;
