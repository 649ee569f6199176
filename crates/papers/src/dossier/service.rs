//! Cold treatment, gauge sheets and vacuum holds.

use figures::{HoldCurve, HoldDrawing, Look};
use record::PressureEntry;
use record::dossier::{Dossier, HoldSheet};
use record::gauges::percent;

use super::words::{celsius, count, maybe, minus, minute, plain, utc, value};
use crate::sheet::{Sheet, Table};
use crate::work::entered;

pub(super) fn treatment(d: &Dossier, s: &mut Sheet<'_>) {
    let Some(v) = &d.treatment else { return };
    s.heading("Cold treatment");
    s.paragraph(
        "What follows lists what the record shows against the schedule entered. Only an authority \
         accepts a treatment.",
    );
    if v.rehearsal {
        s.strong("Rehearsal: this schedule is not verified against its published source.");
    }
    s.facts(&[
        ("schedule", v.schedule_id.clone()),
        ("title", v.title.clone()),
        ("source", v.source.clone()),
        ("evidence", v.evidence.clone()),
        ("limit of the pulp", v.hold_max_text.clone()),
        ("stands", v.standing.words().to_owned()),
        ("clock started", maybe(v.started_at)),
        ("time met", maybe(v.time_met_at)),
        ("counted", format!("{} h", plain(v.elapsed_h))),
        ("required", format!("{} h", plain(v.required_h))),
        ("restarts", v.restarts.to_string()),
        ("released", maybe(v.released_at)),
    ]);
    if let Some(svg) = figures::treatment::treatment_chart(v, Look::Paper) {
        s.figure(&svg, "Pulp temperatures corrected by their calibration. Times are UTC.");
    }
    s.subheading("Breaches");
    let mut t = Table::new(&["from UTC", "to", "what the record shows", "effect", "decided"]);
    for b in &v.breaches {
        t.row(vec![
            minute(b.from_at),
            minute(b.to_at),
            minus(&b.words),
            b.effect.replace('_', " "),
            b.decided.clone().unwrap_or_default(),
        ]);
    }
    s.table(&t, "None is found against the schedule entered.");
    s.subheading("Ledger");
    let mut t = Table::new(&["from UTC", "to", ">readings", "what", ">counted h"]);
    for l in &v.ledger {
        t.row(vec![
            minute(l.from_at),
            minute(l.to_at),
            l.readings.to_string(),
            minus(&l.what),
            l.elapsed_h.map_or_else(String::new, |h| h.to_string()),
        ]);
    }
    s.table(&t, "Nothing is counted yet.");
    for line in &v.precool {
        s.paragraph(&minus(line));
    }
    if let Some(beside) = &v.beside {
        s.paragraph(&minus(beside));
    }
    for warning in &v.warnings {
        s.paragraph(&format!("Odd: {}", minus(warning)));
    }
}

pub(super) fn service(d: &Dossier, s: &mut Sheet<'_>) {
    s.heading("Service: works, gauges and vacuum");
    let tests = d.holds.is_empty() && d.pressure_tests.is_empty();
    if d.works.is_empty() && d.gauges.is_empty() && tests {
        s.paragraph(
            "No service work, gauge reading, vacuum hold or pressure test was entered for this \
             container.",
        );
        return;
    }
    for w in &d.works {
        s.subheading(&format!(
            "Service work {}: {}; {}, in the hands of {}",
            w.id,
            w.goal_words,
            w.standing.words(),
            w.person
        ));
        entered(w, s);
    }
    for g in &d.gauges {
        let r = &g.read;
        s.subheading(&format!("Gauges read {} by {}", utc(r.at), g.who));
        let mut t = Table::new(&["read", "as written"]);
        for (name, written) in &r.as_written {
            t.row(vec![name.replace('_', " "), written.clone()]);
        }
        s.table(&t, &format!("Input: {}", r.input));
        let mut t = Table::new(&["worked out then", ">value", ">90 % from", ">to"]);
        for (name, [v, low, high]) in &r.derived {
            t.row(vec![name.clone(), plain(*v), plain(*low), plain(*high)]);
        }
        s.table(&t, "Nothing was worked out from them.");
        let mut t = Table::new(&["told then", ">probability", ">severity"]);
        for f in &r.told {
            let severity = f.severity.map(percent).unwrap_or_default();
            t.row(vec![f.words.clone(), percent(f.probability), severity]);
        }
        s.table(&t, "Nothing could be told.");
        if !r.note.is_empty() {
            s.paragraph(&format!("Note: {}", r.note));
        }
    }
    for h in &d.holds {
        hold(h, s);
    }
    for t in &d.pressure_tests {
        pressure_test(t, s);
    }
}

fn calibrated(day: &str) -> String {
    if day.is_empty() { "no paper".to_owned() } else { day.to_owned() }
}

fn pressure_test(e: &PressureEntry, s: &mut Sheet<'_>) {
    let t = &e.test;
    s.subheading(&format!("{} of {}, {}", t.kind.heading(), t.subject(), utc(t.at)));
    s.strong(&t.told.first().map_or_else(|| t.verdict.clone(), |v| minus(v)));
    for line in t.told.iter().skip(1) {
        s.paragraph(&minus(line));
    }
    let mut facts = vec![
        ("signed by", format!("{}, entered {}", e.who, utc(e.entered_at))),
        ("gauge", t.gauge.clone()),
        ("calibrated on", calibrated(&t.calibrated_on)),
        ("ambient", celsius(t.ambient_c)),
    ];
    facts.extend(t.fluid.clone().map(|f| ("refrigerant", f)));
    if !t.remark.is_empty() {
        facts.push(("remark", t.remark.clone()));
    }
    s.facts(&facts);
    let mut table = Table::new(&["read", "as written"]);
    for [what, text] in &t.as_written {
        table.row(vec![what.clone(), minus(text)]);
    }
    s.table(&table, "What was written is not kept.");
}

fn hold(h: &HoldSheet, s: &mut Sheet<'_>) {
    let start = &h.file.start;
    s.subheading(&format!(
        "Vacuum hold {} of {}, pump valved off {}",
        start.id,
        h.file.title(),
        utc(start.at)
    ));
    s.facts(&[
        ("begun by", h.file.who.clone()),
        ("gauge", start.gauge.clone()),
        ("calibrated on", calibrated(&start.calibrated_on)),
        ("step of display", format!("{} {}", start.gauge_step, h.unit_sign)),
        ("volume", start.volume_l.map(|v| format!("{v} l")).unwrap_or_default()),
        ("meant for", start.fluid.clone().unwrap_or_default()),
        ("coldest surface", celsius(h.file.coldest_c)),
        ("ambient", celsius(h.file.ambient_c)),
        ("criterion", h.criterion.clone()),
        ("against it", minus(&h.standing)),
        ("readings", count(h.points.len(), "reading")),
    ]);
    match &h.file.end {
        Some((end, who)) => {
            s.paragraph(&format!(
                "Ended {} and signed by {who}: {}",
                utc(end.at),
                minus(&end.words)
            ));
            if !end.remark.is_empty() {
                s.paragraph(&format!("Remark: {}", end.remark));
            }
        }
        None => s.paragraph("Not ended: the watch was still going on when this was made."),
    }
    let last = h.points.last().map_or(0.0, |p| p.0);
    let drawing = HoldDrawing {
        readings: h.points.clone(),
        step_um: h.step_um,
        curves: h
            .curves
            .iter()
            .map(|(label, points)| HoldCurve { label: label.clone(), points: points.clone() })
            .collect(),
        levels: h.levels.clone(),
        end_min: last.max(h.criterion_min).max(1.0),
        criterion_min: Some(h.criterion_min),
        ..HoldDrawing::default()
    };
    if let Some(svg) = figures::hold_chart(&drawing, Look::Paper) {
        s.figure(&svg, "A hold proves dryness and gross tightness only.");
    }
    let mut t = Table::new(&["UTC", ">minutes", ">pressure", "unit", "struck out", "file"]).dense();
    for r in &h.file.readings {
        t.row(vec![
            minute(r.reading.at),
            value(Some(r.reading.at.hours_since(start.at) * 60.0)),
            r.reading.pressure.clone(),
            h.unit_sign.to_owned(),
            if r.struck { "struck".into() } else { String::new() },
            r.source.clone().unwrap_or_default(),
        ]);
    }
    t.drop_empty_columns();
    s.table(&t, "The gauge was not read.");
}
