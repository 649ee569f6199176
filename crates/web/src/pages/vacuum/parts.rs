//! Parts of a hold's page: what is drawn, the small forms, the signed record, and the JSON.

use figures::words::number;
use figures::{HoldBand, HoldCurve, HoldDrawing};
use maud::{Markup, html};
use serde_json::json;
use units::Utc;
use vacuum::{Estimate, PA_PER_UM};
use voyage::EntryLine;
use voyage::holds::{HoldView, sign_of, verdict_words};

use super::{criterion_words, hold_href};
use crate::pages::{box_href, time};

/// How far ahead the band is drawn: this share of the time held, within these minutes.
const AHEAD: (f64, f64, f64) = (0.5, 5.0, 45.0);
/// Points along a curve.
const ALONG: u32 = 48;
/// Most readings drawn.
const DRAWN: usize = 600;

/// What the figure shows.
pub(super) fn drawing(v: &HoldView, log: bool) -> HoldDrawing {
    let last = v.points.last().map_or(0.0, |p| p.minutes);
    let ahead = if v.file.end.is_some() {
        0.0
    } else {
        (last * AHEAD.0).max(v.standing.minutes - last).clamp(AHEAD.1, AHEAD.2)
    };
    let end_min = last + ahead;
    let every = v.points.len().div_ceil(DRAWN).max(1);
    let readings = v.points.iter().step_by(every).map(|p| (p.minutes, p.um)).collect();
    let along = |from: f64, to: f64| {
        (0..=ALONG).map(move |i| from + (to - from) * f64::from(i) / f64::from(ALONG))
    };
    let curves =
        v.curves(end_min).into_iter().map(|(label, points)| HoldCurve { label, points }).collect();
    let band = if ahead > 0.0 {
        along(last, end_min)
            .step_by(4)
            .filter_map(|t| {
                let b = v.judgement.band(t * 60.0)?;
                Some(HoldBand {
                    minutes: t,
                    low_um: b.low_pa / PA_PER_UM,
                    high_um: b.high_pa / PA_PER_UM,
                })
            })
            .collect()
    } else {
        Vec::new()
    };
    let mut levels =
        vec![(v.criterion.start_um, format!("{} µm asked", number(v.criterion.start_um, 0)))];
    if let Some(b) = v.criterion.below_um {
        levels.push((b, format!("{} µm limit", number(b, 0))));
    }
    if let (Some(p), Some(c)) = (v.judgement.p_sat_pa, v.file.coldest_c) {
        let what = if c < 0.0 { "ice" } else { "water" };
        levels.push((p / PA_PER_UM, format!("{what} at {} °C", number(c, 0))));
    }
    let criterion_min = Some(v.standing.minutes);
    HoldDrawing { readings, step_um: v.step_um, curves, band, levels, end_min, criterion_min, log }
}

/// Ends and signs the hold.
pub(super) fn end_form(v: &HoldView) -> Markup {
    html! {
        form.upload #sign method="post" action={ (hold_href(&v.file.start.id)) "/end" } {
            h2 { "End and sign" }
            p.hint { "The record keeps gauge, temperatures, criterion, every reading, and the \
                verdict as it stands now: " strong { (verdict_words(v.judgement.verdict)) }
                "; criterion " (v.standing.words) ". Nothing can be added after." }
            label for="end-remark" { "Remark" }
            input #end-remark name="remark" maxlength="200" autocomplete="off";
            label for="end-who" { "Signed by" }
            input #end-who name="who" required maxlength="80" autocomplete="name";
            button.main type="submit" { "Sign" }
        }
    }
}

/// Takes the new rows of a file.
pub(super) fn file_form(v: &HoldView, limit_mb: u64) -> Markup {
    let action = format!("{}/file", hold_href(&v.file.start.id));
    html! {
        form.upload #file method="post" action=(action) enctype="multipart/form-data"
            data-limit-mb=(limit_mb) {
            h2 { "Take from a CSV file" }
            p.hint { "A header with minutes, seconds or time_utc, and pressure_um, pressure_pa or \
                pressure_mbar. Choose the same file again as it grows: only new rows are taken. A \
                clock counts from its first row. A last line without an end is left for the next \
                time. Or let the program follow the file: " }
            p.hint { code { "holdfast vacuum watch FILE --hold " (v.file.start.id) } }
            label for="hold-file" { "File" }
            input #hold-file type="file" name="files" accept=".csv,text/csv,text/plain" required;
            label.check { input type="checkbox" name="finished" value="yes";
                " the file is finished: take its last line too" }
            p.form-note role="status" {}
            button.main type="submit" { "Take new rows" }
        }
    }
}

/// Temperatures measured since.
pub(super) fn measured_form(v: &HoldView) -> Markup {
    let was = |t: Option<f64>| t.map_or("not measured".to_owned(), |c| format!("{c}"));
    html! {
        form.upload method="post" action={ (hold_href(&v.file.start.id)) "/measure" } {
            h2 { "Temperatures" }
            p.hint { "Measured again, or for the first time. The last figure counts." }
            label for="m-coldest" { "Coldest surface, °C" }
            input #m-coldest name="coldest_c" inputmode="decimal" maxlength="8" autocomplete="off"
                placeholder=(was(v.file.coldest_c));
            label for="m-ambient" { "Ambient, °C" }
            input #m-ambient name="ambient_c" inputmode="decimal" maxlength="8" autocomplete="off"
                placeholder=(was(v.file.ambient_c));
            button type="submit" { "Enter" }
        }
    }
}

/// Strikes a slip out.
pub(super) fn strike_form(v: &HoldView) -> Markup {
    let last = v.file.readings.len();
    html! {
        form.upload method="post" action={ (hold_href(&v.file.start.id)) "/strike" } {
            h2 { "Strike out a slip" }
            p.hint { "By its number in the list of readings" @if last > 0 { "; the last is " (last) }
                ". It stays in the record, struck out." }
            label for="strike-no" { "Reading number" }
            input #strike-no name="number" required inputmode="numeric" maxlength="6"
                autocomplete="off";
            button type="submit" { "Strike out" }
        }
    }
}

/// Whether a calibration is older than a year at the hold (common practice, no source).
pub(super) fn stale(calibrated_on: &str, at: Utc) -> bool {
    let day = Utc::parse(&format!("{calibrated_on} 00:00"));
    day.is_ok_and(|day| at.hours_since(day) > 366.0 * 24.0)
}

/// `18.0 °C`, or that nobody measured it.
pub(super) fn temperature(temp_c: Option<f64>) -> String {
    temp_c.map_or_else(|| "not measured".to_owned(), |c| format!("{} °C", number(c, 1)))
}

/// The record of a signed hold.
pub(super) fn record(v: &HoldView, signed: Option<&EntryLine>) -> Markup {
    let s = &v.file.start;
    let Some((end, who)) = &v.file.end else { return html! {} };
    html! {
        section.hold-record aria-labelledby="record" {
            h2 #record { "Record" }
            dl.facts {
                dt { "Verdict as signed" } dd { strong { (end.words) } }
                dt { "Signed by" } dd { strong { (who) } ", " (time(end.at)) " UTC"
                    @if !end.remark.is_empty() { ". " (end.remark) } }
                @if let Some(unit) = &s.unit {
                    dt { "Container" } dd { a href=(box_href(unit)) { (unit) } }
                }
                @if !s.place.is_empty() { dt { "What was held" } dd { (s.place) } }
                dt { "Valve closed" } dd { (time(s.at)) " UTC, begun by " (v.file.who) }
                dt { "Readings" } dd { (end.readings) " judged, over "
                    (number(v.standing.held_min, 1)) " min" }
                dt { "Gauge" } dd { (s.gauge) ", in steps of " (s.gauge_step) " "
                    (sign_of(&s.pressure_unit)) }
                dt { "Calibrated on" } dd {
                    @if s.calibrated_on.is_empty() { "no paper" } @else { (s.calibrated_on) }
                    @if stale(&s.calibrated_on, s.at) { ", more than a year before this hold" } }
                dt { "Coldest surface" } dd { (temperature(v.file.coldest_c)) }
                dt { "Ambient" } dd { (temperature(v.file.ambient_c)) }
                dt { "Volume" } dd { @match s.volume_l { Some(l) => { (l) " l" }, None => "not given" } }
                dt { "Refrigerant" } dd { (s.fluid.as_deref().unwrap_or("not given")) }
                dt { "Criterion" } dd { (v.criterion.name) ": " (criterion_words(v)) ". "
                    span.mark { (v.criterion.mark()) } ". " (v.criterion.note) "." }
                @if let Some(e) = signed {
                    dt { "Journal" } dd { "entry " (e.seq) ", " span.hash { (e.hash) } }
                }
            }
            p.hint { "A hold shows dryness and gross tightness only. The figures below are worked \
                out anew from the readings; what was signed stands above." }
        }
    }
}

/// The hold as JSON: as `holdfast vacuum hold --json`, with what was entered.
#[must_use]
pub fn hold_json(v: &HoldView) -> String {
    let j = &v.judgement;
    let p = &j.probabilities;
    let mid = |e: Option<Estimate>| e.map(|e| e.mid);
    let p90 = |e: Option<Estimate>| e.map(|e| e.p90);
    let loss = j.loss.as_ref().map(|l| l.g_per_year);
    let s = &v.file.start;
    let end = v.file.end.as_ref().map(|(e, who)| {
        json!({"at": e.at.to_string(), "who": who, "verdict": e.verdict, "words": e.words,
            "probabilities": e.probabilities, "readings": e.readings, "remark": e.remark})
    });
    let readings = v.file.readings.iter().map(|r| {
        json!({"time_utc": r.reading.at.to_string(), "pressure": r.reading.pressure,
            "struck": r.struck, "file": r.source})
    });
    let told = json!({
        "id": s.id, "unit": s.unit.as_ref().map(ToString::to_string), "place": s.place,
        "valve_closed_utc": s.at.to_string(), "begun_by": v.file.who,
        "gauge": s.gauge, "gauge_step": s.gauge_step, "pressure_unit": s.pressure_unit,
        "calibrated_on": s.calibrated_on, "volume_l": s.volume_l, "fluid": s.fluid,
        "coldest_c": v.file.coldest_c, "ambient_c": v.file.ambient_c,
        "criterion": v.criterion.id, "criterion_mark": v.criterion.mark(),
        "criterion_met": v.standing.met, "criterion_words": v.standing.words,
        "watch": v.watch.as_str(),
        "verdict": j.verdict.as_str(),
        "probabilities": {"dry_and_gross_tight": p.dry_and_gross_tight, "wet": p.wet,
            "leaking": p.leaking, "wet_and_leaking": p.wet_and_leaking},
        "leak_pa_m3_s": mid(j.leak_pa_m3_s), "leak_pa_m3_s_p90": p90(j.leak_pa_m3_s),
        "operating_loss_g_per_year": mid(loss), "operating_loss_g_per_year_p90": p90(loss),
        "moisture_limit_pa": mid(j.moisture_limit_pa),
        "moisture_limit_pa_p90": p90(j.moisture_limit_pa),
        "rise_um_min": mid(j.rise_um_min), "rise_um_min_p90": p90(j.rise_um_min),
        "free_water": j.free_water.as_str(),
        "watch_longer_min": j.watch_longer_min.max(0.0).ceil(),
        "because": j.because, "next": j.next, "cautions": j.cautions,
        "readings": readings.collect::<Vec<_>>(),
        "signed": end,
    });
    told.to_string()
}
