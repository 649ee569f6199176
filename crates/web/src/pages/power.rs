//! What the boxes draw, now and ahead, against what the ship can give; the order of a restart.

use figures::stair::{StairStep, stair_chart};
use figures::{LoadPoint, Look, load_chart, words};
use maud::{Markup, PreEscaped, html};
use plans::plant::Reserve;
use record::WeatherPoint;
use voyage::{PowerView, RestartView, ShipPlant};

use super::night::{assumed, on_paper};
use super::{Live, Shell, Tab, page, percent, time};

/// Lines of a restart shown at once.
const STARTS_SHOWN: usize = 60;
/// Rows of generators in the form.
pub const SETS: usize = 6;

/// What the page is made from.
pub struct PowerData {
    /// Load and margin, or why not.
    pub power: Result<PowerView, String>,
    /// The order after a blackout, or why not.
    pub restart: Result<RestartView, String>,
    /// The plant held.
    pub plant: Result<Option<ShipPlant>, String>,
    /// The weather held, with its source.
    pub weather: Option<(Vec<WeatherPoint>, String)>,
}

/// Load and restart.
#[must_use]
pub fn power_page(shell: &Shell, data: &PowerData) -> Markup {
    let content = html! {
        h1 { "Power" }
        @match &data.power {
            Err(why) => p.trouble { (why) "." },
            Ok(v) => (load(shell, v)),
        }
        h2 #restart { "After a blackout" }
        @match &data.restart {
            Err(why) => p.trouble { (why) "." },
            Ok(v) => (order(v)),
        }
        (plant_form(&data.plant))
        (weather_form(&data.weather))
    };
    page(shell, Tab::Power, Live::No, "Power", &content)
}

fn load(shell: &Shell, v: &PowerView) -> Markup {
    let d = &v.demand;
    let kw = |x: f64| words::number(x, 0);
    html! {
        (super::watch::as_of_instant(shell, v.at))
        dl.figures {
            div { dt { "Boxes running" } dd { (d.boxes) } }
            div { dt { "They draw" } dd { (kw(d.mean_kw)) " kW" }
                dd.interval { "90 %: " (kw(d.kw_p90[0])) " to " (kw(d.kw_p90[1])) " kW" } }
            div { dt { "Apparent power" } dd { (kw(d.mean_kva)) " kVA" } }
            div { dt { "All at once" } dd { (kw(d.all_at_once_kw)) " kW" }
                dd.interval { "as right after a blackout" } }
        }
        (margin(v))
        (ahead(v))
        (on_paper("/paper/power.pdf", "The load on paper (PDF)"))
        (feeders(v))
        (holds(v))
        details {
            summary { "Bay by bay" }
            div.scroll { table.readings {
                thead { tr { th { "Bay" } th { "Boxes" } th { "kW" } th { "90 %" } } }
                tbody { @for b in &v.bays { tr {
                    th { (b.group) } td.n { (b.demand.boxes) }
                    td.n { (words::number(b.demand.mean_kw, 1)) }
                    td.n { (kw(b.demand.kw_p90[0])) " to " (kw(b.demand.kw_p90[1])) }
                } } }
            } }
        }
        (assumed(v.notes.iter()))
    }
}

/// The restart as a stair; without limits where the plant is not stated.
#[must_use]
pub fn steps(v: &RestartView) -> Vec<StairStep> {
    let known = v.plant_known;
    let step = |p: &plans::restart::StairPoint| StairStep {
        hour: p.hour,
        load_kw: p.kw,
        limit_kw: known.then_some(p.limit_kw),
    };
    v.restart.stair.iter().map(step).collect()
}

fn order(v: &RestartView) -> Markup {
    let r = &v.restart;
    let steps = steps(v);
    let drawn = stair_chart(&steps, Look::Wide).zip(stair_chart(&steps, Look::Narrow));
    let cell = |id: &str| v.cells.iter().find(|(u, _)| u == id).map_or("", |(_, c)| c.as_str());
    html! {
        div.caution { h2 { "Before anything is switched on" } ul { @for c in &r.cautions { li { (c) } } } }
        p { (r.words) }
        @if let Some((wide, narrow)) = drawn {
            figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) }
        }
        (on_paper("/paper/restart.pdf", "The whole order on paper (PDF)"))
        div.scroll { table.readings {
            thead { tr { th { "After" } th { "Box" } th { "Cell" } th { "Safe until" } th { "Why" } } }
            tbody { @for s in r.starts.iter().take(STARTS_SHOWN) { tr {
                td.n { @match s.hour { Some(h) => (words::hours(h)), None => "not at all" } }
                th { a href={ "/box/" (percent(&s.id)) } { (s.id) } }
                td { (cell(&s.id)) }
                td.n { @if let Some(h) = s.safe_until_h {
                    @if h <= 0.0 { "now" } @else { (words::hours(h)) } } }
                td.wrap { (s.why) }
            } } }
        } }
        @if r.starts.len() > STARTS_SHOWN {
            p.hint { "and " (r.starts.len() - STARTS_SHOWN) " more; the paper has all of them." }
        }
        (assumed(v.notes.iter().chain(&r.estimates)))
    }
}

/// How it stands with the generators.
fn margin(v: &PowerView) -> Markup {
    let kw = |x: f64| words::number(x, 0);
    html! {
        @match &v.margin {
            None => p.hint {
                "What the ship can give is not stated: no margin is worked out. "
                a href="#plant" { "State her generators" } "."
            },
            Some(m) => {
                @let short = m.margin_high_kw < 0.0 || m.margin_kva < 0.0;
                h2 { "Generators" }
                p class=(if short { "trouble" } else { "verdict" }) { (m.words) }
                dl.figures {
                    div { dt { "May be loaded" } dd { (kw(m.allowed_kw)) " kW" } }
                    div { dt { "Ship and boxes" } dd { (kw(m.load_kw)) " kW" }
                        dd.interval { "90 %: " (kw(m.load_kw_p90[0])) " to "
                            (kw(m.load_kw_p90[1])) " kW" } }
                    div { dt { "Left" } dd { (kw(m.margin_kw)) " kW" }
                        dd.interval { (kw(m.margin_high_kw)) " kW at the high end" } }
                    div { dt { "Left, all boxes at once" }
                        dd { (kw(m.margin_all_at_once_kw)) " kW" } }
                }
                @if !v.reliefs.is_empty() {
                    h3 { "What would bring room" }
                    ul.findings { @for r in &v.reliefs { li { (r.what) } } }
                }
            },
        }
    }
}

/// The load ahead as it is drawn.
#[must_use]
pub fn points(v: &PowerView) -> Vec<LoadPoint> {
    let point = |p: &voyage::PowerAhead| LoadPoint {
        at: p.at,
        kw: p.demand.mean_kw,
        kw_p90: p.demand.kw_p90,
        limit_kw: p.margin.as_ref().map(|m| m.margin_kw + p.demand.mean_kw),
        ambient_c: p.weather.ambient_c,
    };
    v.ahead.iter().map(point).collect()
}

/// From when the margin is short at the high end of the interval.
#[must_use]
pub fn short_from(v: &PowerView) -> Option<units::Utc> {
    let short = |p: &&voyage::PowerAhead| p.margin.as_ref().is_some_and(|m| m.margin_high_kw < 0.0);
    v.ahead.iter().find(short).map(|p| p.at)
}

/// The days ahead: a picture, the hottest hours, where the margin ends.
fn ahead(v: &PowerView) -> Markup {
    let points = points(v);
    let drawn = load_chart(&points, Look::Wide).zip(load_chart(&points, Look::Narrow));
    let short = short_from(v);
    html! {
        h2 #ahead { "Three days ahead" }
        @if let Some(hot) = v.hottest() {
            p { "Most about " strong { (time(hot.at)) " UTC" } ": "
                strong { (words::number(hot.demand.mean_kw, 0)) " kW" } " (90 %: "
                (words::number(hot.demand.kw_p90[0], 0)) " to "
                (words::number(hot.demand.kw_p90[1], 0)) " kW), "
                (words::number(hot.weather.ambient_c, 0)) " °C outside." }
        }
        @if let Some(at) = short {
            p.trouble { "Short from about " (time(at)) " UTC at the high end of the interval: \
                plan a further set on the board before then." }
        }
        @if let Some((wide, narrow)) = drawn {
            figure.history { (PreEscaped(wide)) (PreEscaped(narrow)) }
        }
    }
}

fn feeders(v: &PowerView) -> Markup {
    html! {
        @if !v.feeders.is_empty() {
            h2 { "Feeders" }
            div.scroll { table.readings {
                thead { tr { th { "Feeder" } th { "Boxes" } th { "Now" } th { "Breaker" }
                    th { "All at once" } } }
                tbody { @for f in &v.feeders {
                    @let d = &f.load.demand;
                    tr {
                        th { (f.load.group) } td.n { (d.boxes) }
                        td.n { (words::number(d.mean_kva, 0)) " kVA"
                            @if d.mean_kva > f.limit_kva { strong { " over" } } }
                        td.n { (words::number(f.limit_kva, 0)) " kVA" }
                        td.n { (words::number(d.all_at_once_kva, 0)) " kVA"
                            @if d.all_at_once_kva > f.limit_kva { strong { " over" } } }
                    }
                } }
            } }
        }
    }
}

fn holds(v: &PowerView) -> Markup {
    html! {
        @if !v.holds.is_empty() {
            h2 { "Air in the holds at the hottest hour ahead" }
            ul.findings { @for h in &v.holds { li {
                p { (h.words) }
                @if !h.at_risk.is_empty() {
                    p { "At risk: " @for (i, u) in h.at_risk.iter().take(12).enumerate() {
                        @if i > 0 { ", " } a href={ "/box/" (percent(u)) } { (u) } }
                        @if h.at_risk.len() > 12 { " and " (h.at_risk.len() - 12) " more" } "." }
                }
                @for e in &h.estimates { p.hint { (e) } }
            } } }
        }
    }
}

/// The form for the ship's generators, filled with what is held.
fn plant_form(held: &Result<Option<ShipPlant>, String>) -> Markup {
    let ship = held.as_ref().ok().and_then(Option::as_ref);
    let plant = ship.map(|s| &s.plant);
    let number = |v: Option<f64>| v.map(|v| format!("{v}")).unwrap_or_default();
    let (share, lost) = match plant.map(|p| p.reserve) {
        Some(Reserve::LargestLost(s)) => (s, true),
        Some(Reserve::Share(s)) => (s, false),
        None => (0.85, false),
    };
    html! {
        details #plant open[plant.is_none()] {
            summary { "The ship’s generators" }
            @if let Err(why) = held { p.trouble { (why) "." } }
            form.upload method="post" action="/power/plant" {
                div.scroll { table.readings {
                    thead { tr { th { "Set" } th { "Rated kW" } th { "Rated kVA" }
                        th { "On the board" } th { "One step, %" } } }
                    tbody { @for i in 0..SETS {
                        @let g = plant.and_then(|p| p.generators.get(i));
                        tr {
                            td { input name={ "name" (i) } size="8" maxlength="30"
                                aria-label={ "Name of set " (i + 1) }
                                value=(g.map(|g| g.name.clone()).unwrap_or_default()); }
                            td { input name={ "kw" (i) } size="6" inputmode="decimal"
                                aria-label={ "Rated kW of set " (i + 1) }
                                value=(number(g.map(|g| g.rated_kw))); }
                            td { input name={ "kva" (i) } size="6" inputmode="decimal"
                                aria-label={ "Rated kVA of set " (i + 1) }
                                value=(number(g.map(|g| g.rated_kva))); }
                            td { input type="checkbox" name={ "on" (i) } value="yes"
                                aria-label={ "Set " (i + 1) " on the board" }
                                checked[g.is_some_and(|g| g.online)]; }
                            td { input name={ "step" (i) } size="4" inputmode="decimal"
                                aria-label={ "Largest step of set " (i + 1) " in percent" }
                                value=(number(g.filter(|g| !g.step_share.is_estimate())
                                    .map(|g| units::math::round_to(100.0 * g.step_share.value, 3)))); }
                        }
                    } }
                } }
                p.hint { "One step: the largest load the set takes at once, from the maker; blank \
                    is an estimate of 25 %." }
                label { "Everything but the boxes, kW, as read from the board "
                    input name="other_kw" size="6" inputmode="decimal" required
                        value=(number(plant.map(|p| p.other_kw.value))); }
                label { "Load at most, % "
                    input name="share" size="4" inputmode="decimal" required
                        value=(units::math::round_to(100.0 * share, 3)); }
                label { input type="checkbox" name="lost" value="yes" checked[lost];
                    " of what is left when the largest set drops out" }
                details open[ship.is_some_and(|s| !s.feeders.is_empty() || !s.holds.is_empty())] {
                    summary { "Feeders and holds" }
                    p.hint { "For example: [[feeder]] name = \"FP1\" bays = [1, 2, 3] limit_kva = \
                        500, and [[hold]] name = \"hold 1\" bays = [1, 2, 3] air_m3_h = 60000; one \
                        entry a line." }
                    textarea name="more" rows="8" cols="60" spellcheck="false"
                        aria-label="Feeders and holds" { (ship.map(more_text).unwrap_or_default()) }
                }
                label { "Your name " input name="who" size="16" maxlength="60" required; }
                button.main type="submit" { "Hold this from now on" }
            }
        }
    }
}

/// Feeders and holds as they are written.
fn more_text(ship: &ShipPlant) -> String {
    let mut out = String::new();
    for f in &ship.feeders {
        out.push_str(&format!(
            "[[feeder]]\nname = {:?}\nbays = {:?}\nlimit_kva = {}\n",
            f.name, f.bays, f.limit_kva
        ));
        if !f.inrush_limit_kva.is_estimate() {
            out.push_str(&format!("inrush_limit_kva = {}\n", f.inrush_limit_kva.value));
        }
    }
    for h in &ship.holds {
        out.push_str(&format!(
            "[[hold]]\nname = {:?}\nbays = {:?}\nair_m3_h = {}\n",
            h.name, h.bays, h.air_m3_h
        ));
    }
    out
}

fn weather_form(held: &Option<(Vec<WeatherPoint>, String)>) -> Markup {
    let lines = held.as_ref().map_or_else(String::new, |(points, _)| {
        let line = |p: &WeatherPoint| {
            let sun = p.sun.map(|s| format!(",{s}")).unwrap_or_default();
            format!("{},{}{sun}\n", p.at.to_minute(), p.ambient_c)
        };
        points.iter().map(line).collect()
    });
    html! {
        details #weather {
            summary { "Weather expected on the route" }
            form.upload method="post" action="/power/weather" {
                p.hint { "One line each: time UTC, outside air in °C, and where known the sun from \
                    0 (night, overcast) to 1 (full): 2026-03-16 12:00,31.5,0.8" }
                textarea name="points" rows="8" cols="44" spellcheck="false"
                    aria-label="Weather expected" { (lines) }
                label { "Where it comes from " input name="source" size="24" maxlength="80"
                    value=(held.as_ref().map_or("", |(_, s)| s.as_str())); }
                label { "Your name " input name="who" size="16" maxlength="60" required; }
                button.main type="submit" { "Hold this from now on" }
            }
        }
    }
}
