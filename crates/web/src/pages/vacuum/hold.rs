//! One hold: the field for the next reading, the verdict, the curve, and at its end the record.

use figures::words::{number, percent as share};
use figures::{Look, hold_chart};
use maud::{Markup, PreEscaped, html};
use vacuum::{Estimate, PA_PER_UM, Verdict};
use voyage::EntryLine;
use voyage::holds::{HoldView, Watch, sign_of, verdict_words};

use super::parts::{drawing, end_form, file_form, measured_form, record, strike_form};
use super::{cautions, criterion_words, hold_href};
use crate::pages::instruments::instruments_wrong;
use crate::pages::{Live, Shell, Tab, page, time};

/// The page.
#[must_use]
pub fn hold_page(
    shell: &Shell,
    v: &HoldView,
    signed: Option<&EntryLine>,
    log: bool,
    limit_mb: u64,
    taken: Option<&str>,
    instruments: &[String],
) -> Markup {
    let s = &v.file.start;
    let title = format!("Vacuum hold {}", s.id);
    let running = v.file.end.is_none();
    let content = html! {
        div.hold data-hold=(s.id) data-watch=(v.watch.as_str()) {
            div.box-head { h1 { (title) } p.where { (v.file.title()) } }
            @if running { (cautions::short()) (banner(v)) } @else { (record(v, signed)) }
            (instruments_wrong(instruments))
            @if let Some(text) = taken { p.taken role="status" { (text) } }
            (headline(v))
            @if running { (reading_form(v)) }
            (chart(v, log))
            (figures_of(v))
            (reasons(v))
            (fits(v))
            (readings(v))
            @if running {
                section aria-label="More to enter" {
                    div.two-columns {
                        (end_form(v)) (file_form(v, limit_mb)) (measured_form(v)) (strike_form(v))
                    }
                }
            }
            nav.neighbours {
                a.button href="/vacuum" { "All holds" }
                a.button href={ (hold_href(&s.id)) "/hold.json" } { "As JSON" }
            }
        }
    };
    page(shell, Tab::Vacuum, if running { Live::Yes } else { Live::No }, &title, &content)
}

/// The verdict in one line, as it is signed.
#[must_use]
pub fn verdict_line(v: &HoldView) -> String {
    let p = &v.judgement.probabilities;
    format!(
        "{} (dry and gross tight {}, wet {}, leaking {}, both {})",
        verdict_words(v.judgement.verdict),
        share(p.dry_and_gross_tight),
        share(p.wet),
        share(p.leaking),
        share(p.wet_and_leaking)
    )
}

fn minutes_up(m: f64) -> String {
    number(m.max(0.0).ceil(), 0)
}

fn banner(v: &HoldView) -> Markup {
    let words = match v.watch {
        Watch::GoOn => return html! {},
        Watch::Decided => {
            return html! {
                p.hold-note role="status" {
                    strong { "The readings have decided: " (verdict_words(v.judgement.verdict)) ". " }
                    "The criterion asks for more time: " (v.standing.words) "."
                }
            };
        }
        Watch::Failed => format!(
            "{}. Longer watching changes nothing: do what stands under Next, then pull again.",
            verdict_words(v.judgement.verdict)
        ),
        Watch::Done => format!(
            "{}. The criterion’s time is over: {}.",
            verdict_words(v.judgement.verdict),
            v.standing.words
        ),
        Watch::TimeOver => format!(
            "The criterion’s {} min are over ({}), but the readings do not tell yet. Go on for {} \
             min, or sign it as not decided.",
            number(v.standing.minutes, 0),
            v.standing.words,
            minutes_up(v.judgement.watch_longer_min)
        ),
    };
    html! {
        section.hold-end #watch-end role="alert" {
            p.big { "End of the watch" }
            p { (words) }
            p { a.button href="#sign" { "Sign it" } }
        }
    }
}

fn state(v: Verdict) -> &'static str {
    match v {
        Verdict::DryAndGrossTight => "ok",
        Verdict::Undecided => "watch",
        _ => "act",
    }
}

fn headline(v: &HoldView) -> Markup {
    let j = &v.judgement;
    let p = &j.probabilities;
    html! {
        section class={ "headline hold-verdict " (state(j.verdict)) } aria-label="Verdict" {
            p.verdict { strong { (verdict_words(j.verdict)) }
                @if j.verdict == Verdict::Undecided && v.file.end.is_none() {
                    " – keep the valve closed and go on reading"
                } }
            ul.shares {
                @for (name, p) in [
                    ("dry and gross tight", p.dry_and_gross_tight),
                    ("wet", p.wet),
                    ("leaking", p.leaking),
                    ("wet and leaking", p.wet_and_leaking),
                ] {
                    li { meter min="0" max="1" value=(format!("{p:.3}")) {} " " (name) " "
                        strong { (share(p)) } }
                }
            }
            @if j.watch_longer_min > 0.0 && v.file.end.is_none() {
                p { "Watch " strong { (minutes_up(j.watch_longer_min)) " min" } " longer"
                    @if let Some(sure) = j.watch_longer_sure {
                        "; it decides then with a chance of " (share(sure))
                    } "." }
            }
            @if v.file.end.is_none() {
                p { "Criterion: " strong { (v.standing.words) } ". "
                    span.interval { (v.criterion.name) ": " (criterion_words(v)) ". " }
                    span.mark { (v.criterion.mark()) } }
            }
            p.hint { "A hold shows dryness and gross tightness only; small leaks show only under \
                pressure." }
        }
    }
}

fn reading_form(v: &HoldView) -> Markup {
    let s = &v.file.start;
    let sign = sign_of(&s.pressure_unit);
    let last = v.file.counted().last().map_or(s.at, |r| r.at);
    html! {
        form #reading-form method="post" action={ (hold_href(&s.id)) "/read" } {
            label for="reading" { "Reading, " (sign) }
            div.reading-line {
                input #reading name="pressure" required inputmode="decimal" maxlength="12"
                    autocomplete="off" autofocus aria-describedby="reading-hint reading-error";
                button.main type="submit" { "Enter" }
                label.at for="reading-minute" { "at minute" }
                input #reading-minute name="minute" inputmode="decimal" size="5" maxlength="6"
                    autocomplete="off" placeholder="now";
            }
            p.field-error #reading-error role="alert" {}
            p.hint #reading-hint { "The figure and Enter; it is stored at once with the time. Leave \
                the minute empty for a reading taken now." }
            p.with-script #hold-clock data-begun-ms=(s.at.ms()) data-last-ms=(last.ms()) {
                "Valve closed " strong.since {} " ago; " span.due-next {}
            }
            p.with-script.sound-line {
                span #sound { "Sound off" } " "
                button #try-tone type="button" { "Try the tone" }
            }
        }
    }
}

fn chart(v: &HoldView, log: bool) -> Markup {
    let d = drawing(v, log);
    let here = hold_href(&v.file.start.id);
    let Some(wide) = hold_chart(&d, Look::Wide) else {
        return html! { p.empty { "No reading yet: key in the first one as soon as the valve is closed." } };
    };
    html! {
        figure.hold-figure aria-label="Curve" {
            (PreEscaped(wide))
            (PreEscaped(hold_chart(&d, Look::Narrow).unwrap_or_default()))
            figcaption.hint {
                "Squares: readings, with the display’s step. Lines: what was fitted, with its share. \
                 The first minute is not fitted. "
                span.axis {
                    @if log { a href=(here) { "Straight axis" } }
                    @else { a href={ (here) "?axis=log" } { "Logarithmic axis" } }
                }
            }
        }
    }
}

/// `2.5e-4`, with its interval.
fn estimate(e: Estimate, places: impl Fn(f64) -> String) -> Markup {
    html! {
        dd { (places(e.mid)) }
        dd.interval { "90 %: " (places(e.p90[0])) " to " (places(e.p90[1])) }
    }
}

fn figures_of(v: &HoldView) -> Markup {
    let j = &v.judgement;
    let um = |pa: f64| format!("{} µm", number(pa / PA_PER_UM, 0));
    // Below what any gauge of this trade resolves, an exponent says nothing.
    let power = |q: f64| if q < 1e-9 { "0".to_owned() } else { format!("{q:.1e}") };
    html! {
        dl.figures {
            @if let Some(last) = v.points.last() {
                div { dt { "Last reading" } dd { (number(last.um, 0)) " µm" }
                    dd.interval { "at " (number(last.minutes, 1)) " min" } }
            }
            @if let Some(r) = j.rise_um_min {
                div { dt { "Steady rise, µm/min" } (estimate(r, |x| number(x, 2))) }
            }
            @if let Some(l) = j.leak_pa_m3_s {
                div { dt { "Leak, Pa·m³/s of air" } (estimate(l, power)) }
            }
            @if let Some(l) = &j.loss {
                div { dt { "Loss in operation, g a year" }
                    (estimate(l.g_per_year, |x| number(x, 0))) }
            }
            @if let Some(m) = j.moisture_limit_pa {
                div { dt { "Moisture levels off at" } (estimate(m, um)) }
            }
            @if let Some(p) = j.p_sat_pa {
                div { dt { @if v.file.coldest_c.is_some_and(|c| c < 0.0) { "Ice" } @else { "Water" }
                    " at the coldest" } dd { (um(p)) }
                    @if let Some(c) = v.file.coldest_c { dd.interval { "at " (number(c, 1)) " °C" } } }
            }
            div { dt { "Free water" } dd { (j.free_water.as_str()) } }
        }
    }
}

fn reasons(v: &HoldView) -> Markup {
    let j = &v.judgement;
    html! {
        div.two-columns {
            section aria-label="Why" {
                h2 { "Why" }
                ul.findings { @for line in &j.because { li { (line) } } }
            }
            section aria-label="Next" {
                h2 { "Next" }
                ol.findings { @for line in &j.next { li { (line) } } }
                h3 { "Mind" }
                ul.findings { @for line in &j.cautions { li { (line) } } }
            }
        }
    }
}

fn fits(v: &HoldView) -> Markup {
    let j = &v.judgement;
    if j.fits.is_empty() {
        return html! {};
    }
    html! {
        details.fits {
            summary { "The fitted curves in figures" }
            div.scroll tabindex="0" role="region" aria-label="Fitted curves" {
                table.readings {
                    thead { tr {
                        th { "Curve" } th.n { "Share" } th.n { "At valve-off, µm" }
                        th.n { "Steady rise, µm/min" } th.n { "Moisture, µm" }
                        th.n { "Time constant, min" }
                    } }
                    tbody { @for f in &j.fits {
                        tr {
                            th scope="row" { (f.form.words()) }
                            td.n { (share(f.probability)) }
                            td.n { (number(f.p0_pa / PA_PER_UM, 0)) }
                            td.n { (number(f.rise_pa_s * 60.0 / PA_PER_UM, 2)) }
                            td.n { @if f.moisture_pa != 0.0 {
                                (number(f.moisture_pa / PA_PER_UM, 0)) } }
                            td.n { @if let Some(t) = f.tau_s { (number(t / 60.0, 1)) } }
                        }
                    } }
                }
            }
            p.hint { "Shares by the readings alone; the verdict also keeps the rules of the trade \
                (docs/vacuum.md)." }
        }
    }
}

/// Most readings listed on the page of a hold that goes on, and of one that is signed.
const LISTED: (usize, usize) = (60, 500);

fn readings(v: &HoldView) -> Markup {
    let all = &v.file.readings;
    if all.is_empty() {
        return html! {};
    }
    let running = v.file.end.is_none();
    let most = if running { LISTED.0 } else { LISTED.1 };
    let hidden = all.len().saturating_sub(most);
    let sign = sign_of(&v.file.start.pressure_unit);
    html! {
        details.read open[!running] {
            summary { "Readings (" (all.len()) ")" }
            @if hidden > 0 {
                p.hint { "The last " (most) " are listed; all of them stand in the JSON." }
            }
            ol.hold-readings {
                @for (i, r) in all.iter().enumerate().skip(hidden) {
                    li class=[r.struck.then_some("struck")] {
                        span.no { (i + 1) }
                        span.min { (number(r.reading.at.hours_since(v.file.start.at) * 60.0, 1))
                            " min" }
                        @if r.struck { del { (r.reading.pressure) " " (sign) } " struck out" }
                        @else { strong { (r.reading.pressure) " " (sign) } }
                        @if let Some(file) = &r.source { span.ago { (file) } }
                    }
                }
            }
            p.hint { "Minutes since the valve was closed, " (time(v.file.start.at)) " UTC." }
        }
    }
}
