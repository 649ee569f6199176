//! The night's plan on paper: who goes where first, and why.

use figures::Look;
use figures::lanes::{Lane, lanes_chart};
use figures::words::{clock, number};
use plans::repair::{RepairPlan, Step};
use units::Utc;

use crate::common::{Common, Sign, sealed};
use crate::csv_file::CsvFile;
use crate::pdf::{Attachment, Relation};
use crate::sheet::{Fonts, Sheet, Table, minus};

/// What the paper says.
pub struct Night<'a> {
    /// The instant the plan counts from.
    pub at: Option<Utc>,
    /// The plan.
    pub plan: &'a RepairPlan,
    /// Its time chart, one lane for each person.
    pub lanes: &'a [Lane],
    /// What was assumed, in words.
    pub notes: &'a [String],
}

const HEAD: [&str; 8] =
    ["person", "order", "unit", "at", "start_h", "done_h_p10", "done_h_p50", "done_h_p90"];

/// The paper, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn paper(
    n: &Night<'_>,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let p = n.plan;
    let mut s = Sheet::new(fonts);
    s.title("Who first: plan of repairs", &common.ship_line);
    s.paragraph(&format!(
        "From {}. It holds for what was read and entered until then: readings, a repair begun or \
         ended, a box moved make another plan. Look at the screen before you rely on an old sheet.",
        n.at.map_or_else(
            || "nothing read yet".to_owned(),
            |t| format!("{}\u{a0}UTC", t.to_minute().replace(' ', "\u{a0}"))
        )
    ));
    cautions("Before anybody goes", &p.cautions, &mut s);
    s.heading("Who works where and when");
    match lanes_chart(n.lanes, Look::Paper) {
        Some(svg) => s.figure(&svg, "Hours count from the time above."),
        None => s.paragraph("No box has a limit in sight that hands could keep."),
    }
    s.paragraph(&format!(
        "Expected loss {} {} (90 %: {} to {}); {} if nobody goes. {}",
        amount(p.expected_loss),
        p.value_unit,
        amount(p.expected_loss_p90[0]),
        amount(p.expected_loss_p90[1]),
        amount(p.loss_if_idle),
        p.quality
    ));
    for l in p.lanes.iter().filter(|l| !l.steps.is_empty()) {
        s.heading(&l.person);
        let mut t =
            Table::new(&[">", "container", "where and what", "done by UTC, 80 %", "why", "done"]);
        for (i, step) in l.steps.iter().enumerate() {
            t.row(vec![
                (i + 1).to_string(),
                step.job.clone(),
                step.at.clone(),
                done(n.at, step),
                minus(&step.why),
                "[   ]".to_owned(),
            ]);
        }
        s.table(&t, "");
    }
    if !p.not_done.is_empty() {
        s.heading("Left for later");
        let mut t = Table::new(&["container", "where and what", "why"]);
        for d in &p.not_done {
            t.row(vec![d.job.clone(), d.at.clone(), minus(&d.why)]);
        }
        s.table(&t, "");
    }
    assumed(n.notes.iter().chain(&p.estimates), &mut s);
    s.heading("Seen");
    s.signature_lines(&["Plan seen; permits to work are given apart from it:"]);
    let title = "Who first";
    let subject = format!("Plan of repairs of {}", common.ship_line);
    sealed(s, (title, &subject), common, fonts, vec![data(p, common.made_at)], sign)
}

/// The cautions of a plan, above everything else.
pub(crate) fn cautions(head: &str, all: &[String], s: &mut Sheet<'_>) {
    s.heading(head);
    for c in all {
        s.strong(&format!("! {c}"));
    }
    s.space(3.0);
}

/// What was assumed, in small print.
pub(crate) fn assumed<'a>(notes: impl Iterator<Item = &'a String>, s: &mut Sheet<'_>) {
    s.heading("What was assumed");
    for n in notes {
        s.small(&format!("· {}", minus(n)));
    }
}

/// Boxes with two decimals, money without.
fn amount(value: f64) -> String {
    number(value, if value.abs() < 100.0 { 2 } else { 0 })
}

/// By the clock where the plan has an instant, else in hours.
fn done(at: Option<Utc>, step: &Step) -> String {
    let [early, middle, late] = step.finish_h.map(|h| match at {
        Some(at) => clock(at.plus_hours(h)),
        None => format!("{h:.1} h"),
    });
    format!("{middle}\n({early} to {late})")
}

fn data(p: &RepairPlan, at: Utc) -> Attachment {
    let mut csv = CsvFile::new(&HEAD);
    let hours = |h: f64| format!("{h:.2}");
    for l in &p.lanes {
        for (i, s) in l.steps.iter().enumerate() {
            csv.row(&[
                l.person.clone(),
                (i + 1).to_string(),
                s.job.clone(),
                s.at.clone(),
                hours(s.start_h[1]),
                hours(s.finish_h[0]),
                hours(s.finish_h[1]),
                hours(s.finish_h[2]),
            ]);
        }
    }
    Attachment {
        name: "plan.csv".to_owned(),
        mime: "text/csv",
        description: "the jobs in order, hours from the time of the plan".to_owned(),
        relation: Relation::Data,
        modified_at: at,
        bytes: csv.bytes(),
    }
}
