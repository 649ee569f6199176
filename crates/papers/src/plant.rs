//! Power on paper: what the boxes draw against what the ship can give, and the order of a restart.

use figures::stair::{StairStep, stair_chart};
use figures::words::{hours, number};
use figures::{LoadPoint, Look, load_chart};
use plans::hold::HoldState;
use plans::plant::{Demand, GroupDemand, Margin, Relief};
use plans::restart::Restart;
use units::Utc;

use crate::common::{Common, Sign, sealed};
use crate::csv_file::CsvFile;
use crate::night::{assumed, cautions};
use crate::pdf::{Attachment, Relation};
use crate::sheet::{Fonts, Sheet, Table, minus};

/// What the paper of the load says.
pub struct LoadPaper<'a> {
    /// The instant it speaks of.
    pub at: Option<Utc>,
    /// Load of all boxes.
    pub demand: &'a Demand,
    /// Against the generators, where they are stated.
    pub margin: Option<&'a Margin>,
    /// What would bring room.
    pub reliefs: &'a [Relief],
    /// The load ahead.
    pub points: &'a [LoadPoint],
    /// From when the margin is short at the high end of the interval.
    pub short_from: Option<Utc>,
    /// Feeders with the kVA that their breakers carry.
    pub feeders: Vec<(&'a GroupDemand, f64)>,
    /// Bays.
    pub bays: &'a [GroupDemand],
    /// Air of the holds.
    pub holds: &'a [HoldState],
    /// What was assumed.
    pub notes: &'a [String],
}

/// What the paper of the restart says.
pub struct RestartPaper<'a> {
    /// The instant it speaks of.
    pub at: Option<Utc>,
    /// The plan.
    pub restart: &'a Restart,
    /// Its stair; without limits where the plant is not stated.
    pub steps: &'a [StairStep],
    /// Cells by box number.
    pub cells: &'a [(String, String)],
    /// What was assumed.
    pub notes: &'a [String],
}

/// An instant in words.
fn instant(at: Option<Utc>) -> String {
    at.map_or_else(
        || "nothing read yet".to_owned(),
        |t| format!("{}\u{a0}UTC", t.to_minute().replace(' ', "\u{a0}")),
    )
}

fn kw(value: f64) -> String {
    number(value, 0)
}

/// A figure with its 90 % interval, kW.
fn kw_p90(mean: f64, [low, high]: [f64; 2]) -> String {
    format!("{} kW (90 %: {} to {} kW)", kw(mean), kw(low), kw(high))
}

/// The paper of the load, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn load_paper(
    p: &LoadPaper<'_>,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let d = p.demand;
    let mut s = Sheet::new(fonts);
    s.title("Power for the boxes", &common.ship_line);
    s.facts(&[
        ("as of", instant(p.at)),
        ("boxes running", d.boxes.to_string()),
        ("they draw", kw_p90(d.mean_kw, d.kw_p90)),
        ("apparent power", format!("{} kVA", kw(d.mean_kva))),
        ("all at once", format!("{} kW, as right after a blackout", kw(d.all_at_once_kw))),
        ("load estimated of", format!("{} of {} boxes", d.estimated_boxes, d.boxes)),
    ]);
    generators(p, &mut s);
    s.heading("Three days ahead");
    if let Some(t) = p.short_from {
        s.strong(&format!(
            "! Short from about {} at the high end of the interval: plan a further set on the \
             board before then.",
            instant(Some(t))
        ));
    }
    match load_chart(p.points, Look::Paper) {
        Some(svg) => s.figure(&svg, "Grey: 90 % interval. Dashed: what the boxes may draw."),
        None => s.paragraph("Nothing to draw."),
    }
    feeders(&p.feeders, &mut s);
    holds(p.holds, &mut s);
    s.heading("Bay by bay");
    let mut t = Table::new(&["bay", ">boxes", ">kW", ">90 % from", ">to"]);
    for b in p.bays {
        let d = &b.demand;
        let [low, high] = d.kw_p90;
        let n = d.boxes.to_string();
        t.row(vec![b.group.clone(), n, number(d.mean_kw, 1), kw(low), kw(high)]);
    }
    s.table(&t, "No box should run.");
    assumed(p.notes.iter().chain(p.margin.iter().flat_map(|m| &m.estimates)), &mut s);
    let subject = format!("What the boxes of {} draw", common.ship_line);
    sealed(s, ("Power for the boxes", &subject), common, fonts, Vec::new(), sign)
}

fn generators(p: &LoadPaper<'_>, s: &mut Sheet<'_>) {
    s.heading("Generators");
    let Some(m) = p.margin else {
        s.paragraph("What the ship can give is not stated: no margin is worked out.");
        return;
    };
    s.strong(&minus(&m.words));
    s.facts(&[
        ("may be loaded", format!("{} kW", kw(m.allowed_kw))),
        ("ship and boxes", kw_p90(m.load_kw, m.load_kw_p90)),
        ("left", format!("{} kW, {} kW at the high end", kw(m.margin_kw), kw(m.margin_high_kw))),
        ("left, all at once", format!("{} kW", kw(m.margin_all_at_once_kw))),
    ]);
    if !p.reliefs.is_empty() {
        s.subheading("What would bring room");
        for r in p.reliefs {
            s.indented(&format!("· {}", minus(&r.what)));
        }
    }
}

fn feeders(all: &[(&GroupDemand, f64)], s: &mut Sheet<'_>) {
    if all.is_empty() {
        return;
    }
    s.heading("Feeders");
    let mut t =
        Table::new(&["feeder", ">boxes", ">now kVA", ">breaker kVA", ">all at once kVA", ""]);
    for (f, limit_kva) in all {
        let d = &f.demand;
        let over = match (d.mean_kva > *limit_kva, d.all_at_once_kva > *limit_kva) {
            (true, _) => "OVER ITS LIMIT",
            (_, true) => "over when all run at once",
            _ => "",
        };
        t.row(vec![
            f.group.clone(),
            d.boxes.to_string(),
            kw(d.mean_kva),
            kw(*limit_kva),
            kw(d.all_at_once_kva),
            over.to_owned(),
        ]);
    }
    s.table(&t, "");
}

fn holds(all: &[HoldState], s: &mut Sheet<'_>) {
    if all.is_empty() {
        return;
    }
    s.heading("Air in the holds at the hottest hour ahead");
    for h in all {
        s.paragraph(&minus(&h.words));
        if !h.at_risk.is_empty() {
            s.indented(&format!("At risk: {}.", h.at_risk.join(", ")));
        }
    }
}

const HEAD: [&str; 6] = ["order", "unit", "cell", "feeder", "start_h", "safe_until_h"];

/// The paper of the restart, sealed.
///
/// # Errors
/// In words, when it cannot be made.
pub fn restart_paper(
    p: &RestartPaper<'_>,
    common: &Common,
    fonts: &Fonts,
    sign: Sign<'_>,
) -> Result<Vec<u8>, String> {
    let r = p.restart;
    let mut s = Sheet::new(fonts);
    s.title("After a blackout: the order of restart", &common.ship_line);
    s.paragraph(&format!(
        "As if all boxes had lost power at {}. Minutes count from the first step. Print it anew \
         every watch: it holds for the boxes and readings of then.",
        instant(p.at)
    ));
    cautions("Before anything is switched on", &r.cautions, &mut s);
    s.heading("Load step by step");
    match stair_chart(p.steps, Look::Paper) {
        Some(svg) => s.figure(&svg, "Dashed: the limit, where the plant is stated."),
        None => s.paragraph("No box can be started."),
    }
    s.paragraph(&minus(&r.words));
    s.heading("Order");
    let cell = |id: &str| p.cells.iter().find(|(u, _)| u == id).map_or("", |(_, c)| c.as_str());
    let mut t =
        Table::new(&["after", "container", "cell", "feeder", "safe until", "why", "on"]).dense();
    let mut csv = CsvFile::new(&HEAD);
    let figure = |h: Option<f64>| h.map(|h| format!("{h:.3}")).unwrap_or_default();
    for (i, start) in r.starts.iter().enumerate() {
        let after = start.hour.map(|h| format!("{} min", number(60.0 * h, 0)));
        let safe = start.safe_until_h.map(|h| if h <= 0.0 { "now".to_owned() } else { hours(h) });
        t.row(vec![
            after.unwrap_or_else(|| "not at all".to_owned()),
            start.id.clone(),
            cell(&start.id).to_owned(),
            start.feeder.clone(),
            safe.unwrap_or_default(),
            minus(&start.why),
            "[   ]".to_owned(),
        ]);
        csv.row(&[
            (i + 1).to_string(),
            start.id.clone(),
            cell(&start.id).to_owned(),
            start.feeder.clone(),
            figure(start.hour),
            figure(start.safe_until_h),
        ]);
    }
    s.table(&t, "No box waits for power.");
    assumed(p.notes.iter().chain(&r.estimates), &mut s);
    let attached = Attachment {
        name: "order.csv".to_owned(),
        mime: "text/csv",
        description: "the order, hours from the first step".to_owned(),
        relation: Relation::Data,
        modified_at: common.made_at,
        bytes: csv.bytes(),
    };
    let subject = format!("Order in which the boxes of {} come back", common.ship_line);
    sealed(s, ("Order of restart", &subject), common, fonts, vec![attached], sign)
}
