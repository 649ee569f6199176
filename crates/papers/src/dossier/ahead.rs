//! What may lie ahead: the fan of forecasts over the days before, as it was worked out when the
//! paper was made.

use figures::{Look, words};
use record::dossier::Dossier;
use record::{FanCourse, FanLimit};

use super::words::{minus, utc};
use crate::sheet::{Sheet, Table};

/// Height of heading, note and chart, pt: they stay together.
const HEAD_AND_CHART: f32 = 300.0;

pub(super) fn write(d: &Dossier, s: &mut Sheet<'_>) {
    let Some((fan, past)) = &d.ahead else { return };
    s.need(HEAD_AND_CHART);
    s.heading("What may lie ahead");
    s.small(&format!(
        "Forecast by the program from the readings until {}, no measurement: the mean of the cargo \
         with its 90 % band on each course. It judges no cargo.",
        utc(fan.at)
    ));
    if let Some(svg) = figures::fan_chart(past, fan, Look::Paper) {
        s.figure(
            &svg,
            "Hatching and dash tell the courses apart; a ring marks where a limit is met.",
        );
    }
    let mut t = Table::new(&["course", "limit", "met in", "90 % interval"]);
    for line in &fan.lines {
        for l in &line.limits {
            let within = l.hours.map(|_| {
                let [low, high] = l.p90_h;
                let later = if high >= fan.horizon_h { " or later" } else { "" };
                format!("{} to {}{later}", words::hours(low), words::hours(high))
            });
            t.row(vec![
                course(line.course, fan.repair_in_h),
                minus(&l.text),
                met(l),
                within.unwrap_or_default(),
            ]);
        }
    }
    s.table(&t, "No limit of this cargo is known.");
    if fan.lines.len() == 1 {
        s.small("The other courses are no different here.");
    }
    for lack in &fan.lacks {
        s.small(&format!("Less sure than it could be: {lack}."));
    }
    let mut t = Table::new(&["quality", "by the estimated cargo temperature", "source"]);
    for q in &fan.quality {
        let mark = if q.unverified { " (recalled or estimated)" } else { "" };
        t.row(vec![q.name.clone(), format!("{}{mark}", minus(&q.text)), q.source.clone()]);
    }
    if !t.rows.is_empty() {
        s.table(&t, "");
    }
}

fn course(course: FanCourse, repair_in_h: f64) -> String {
    match course {
        FanCourse::Present => "present course".to_owned(),
        FanCourse::PowerOff => "power lost then".to_owned(),
        FanCourse::Repaired => format!("repaired after {}", words::hours(repair_in_h)),
    }
}

fn met(l: &FanLimit) -> String {
    match l.hours {
        Some(h) if h * 60.0 < 1.0 => "reached".to_owned(),
        Some(h) => words::hours(h),
        None if l.probability < 0.05 => "not on this voyage".to_owned(),
        None => format!("not by the best estimate; probability {}", words::percent(l.probability)),
    }
}
