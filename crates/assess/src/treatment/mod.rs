//! Cold treatments: the rule engine over what was read, and where it is heading.

mod forecast;
mod judge;
mod ledger;
mod probes;
mod rows;

use box_model::CargoTable;
use record::treatment::{BreachRecord, Standing, TreatmentView, WhatIf};
use record::{Act, BoxFacts, BoxLine, Finding, FindingKind, State, TreatmentFile};
use treatment::{
    Answer, Calibration, Decimal, Decision, Kind, Ledger, Schedule, TempUnit, Verdict,
};
use units::Utc;

use crate::Clock;

/// How much is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// For a list of all treatments.
    List,
    /// For a box's own page: more futures, and what-if.
    Page,
}

/// What is asked for.
#[derive(Debug, Clone, Copy)]
pub struct TreatmentQuestion<'a> {
    /// Everything known of the box over the whole voyage.
    pub facts: &'a BoxFacts,
    /// What people ordered and did.
    pub file: &'a TreatmentFile,
    /// The box's line on the watch list.
    pub line: &'a BoxLine,
    /// The instant spoken of.
    pub clock: Clock,
    /// Expected arrival at the box's port.
    pub eta: Option<Utc>,
    /// How much is worked out.
    pub depth: Depth,
}

/// Set points lower by these, K, are looked at.
const LOWER_K: [f64; 4] = [0.1, 0.3, 0.5, 1.0];
/// And arrivals moved by these, h.
const ARRIVALS_H: [f64; 2] = [-24.0, 24.0];

/// One box's treatment.
#[must_use]
pub fn treatment_view(q: &TreatmentQuestion<'_>, cargoes: &CargoTable) -> TreatmentView {
    let mut view = bare(q, cargoes);
    let Some((id, text)) = &q.file.schedule else {
        view.standing = Standing::NoSchedule;
        judge::judge(&mut view);
        return view;
    };
    let schedule = match Schedule::from_toml(text, id) {
        Ok(schedule) => schedule,
        Err(e) => {
            view.standing = Standing::BadSchedule;
            view.warnings.push(e.to_string());
            judge::judge(&mut view);
            return view;
        }
    };
    against(q, &schedule, &mut view);
    judge::judge(&mut view);
    view
}

/// The watch list's line with what its treatment asks for.
#[must_use]
pub fn with_treatment(mut line: BoxLine, view: &TreatmentView) -> BoxLine {
    if view.released_at.is_some() || view.state == State::Ok {
        return line;
    }
    let finding = Finding {
        kind: FindingKind::Treatment,
        state: view.state,
        what: format!("cold treatment {}: {}", view.standing.words(), view.reason),
        action: view.action.clone(),
        since: None,
    };
    if finding.state > line.state {
        line.state = finding.state;
        line.reason.clone_from(&finding.what);
        line.action.clone_from(&finding.action);
    }
    let place = line.findings.partition_point(|f| f.state >= finding.state);
    line.findings.insert(place, finding);
    line
}

/// What is known without a schedule.
fn bare(q: &TreatmentQuestion<'_>, cargoes: &CargoTable) -> TreatmentView {
    let remarks = q.facts.listed.as_ref().map_or(&[][..], |l| &l.remarks);
    let known = cargoes.recognition(remarks).narrowed(q.line.set_point_c);
    let freezing = known.candidates.iter().filter_map(|c| c.freezing_c());
    TreatmentView {
        unit: q.facts.unit.clone(),
        stow: q.line.stow.clone(),
        cell: q.line.cell,
        cargo: q.line.cargo.clone(),
        discharge_port: q.line.discharge_port.clone(),
        eta: q.eta,
        schedule_id: String::new(),
        title: String::new(),
        source: String::new(),
        evidence: String::new(),
        rehearsal: false,
        hold_max_c: 0.0,
        hold_max_text: String::new(),
        hold_min_c: None,
        freezing_c: freezing.reduce(f64::max),
        set_point_c: q.line.set_point_c,
        standing: Standing::NoSchedule,
        released_at: q.file.released_at,
        state: State::Ok,
        reason: String::new(),
        action: String::new(),
        started_at: None,
        time_met_at: None,
        elapsed_h: 0.0,
        required_h: 0.0,
        remaining_h: 0.0,
        extension_h: 0.0,
        restarts: 0,
        planning_restart_at: None,
        planning_finish_at: None,
        probes: Vec::new(),
        breaches: Vec::new(),
        ledger: Vec::new(),
        forecast: None,
        what_if: Vec::new(),
        precool: Vec::new(),
        beside: None,
        warnings: Vec::new(),
        acts: q.file.acts.clone(),
        points: Vec::new(),
        as_of: q.clock.as_of,
    }
}

/// Fills in everything that needs the schedule.
fn against(q: &TreatmentQuestion<'_>, schedule: &Schedule, view: &mut TreatmentView) {
    let readings: Vec<_> =
        q.facts.readings.iter().filter(|r| r.at <= q.clock.as_of).cloned().collect();
    let pulp = rows::pulp_record(&readings, schedule, q.file.from_at);
    let calibration = calibration(q.file, &mut view.warnings);
    let decisions = decisions(q.file);
    let ledger =
        treatment::evaluate(schedule, calibration.as_ref(), pulp.units, &pulp.rows, &decisions);
    let answer = ledger.answer(view.unit.as_str());
    say_rule(schedule, view);
    take_answer(&answer, view);
    view.warnings.extend(answer.warnings.iter().cloned());
    view.warnings.extend(ledger.doubts("the record"));
    view.precool = precool(schedule, q.file);
    view.breaches = answer.breaches.iter().map(|b| breach(b, &decisions)).collect();
    view.ledger = ledger::lines(&ledger, &answer);
    view.standing = standing(&answer, &pulp);
    view.beside = beside(&pulp, view.standing);
    view.probes = probes::standings(schedule, &answer, &pulp, q.line.set_point_c);
    view.points = probes::points(&readings, &answer, &pulp);
    if pulp.rows.is_empty() {
        return;
    }
    look_ahead(q, &ledger, &pulp, view);
}

fn look_ahead(
    q: &TreatmentQuestion<'_>,
    ledger: &Ledger,
    pulp: &rows::PulpRecord,
    view: &mut TreatmentView,
) {
    let Some(clock) = ledger.clock().filter(|c| c.startable()) else { return };
    let Some(last) = pulp.rows.last() else { return };
    let set_c = q.line.set_point_c.unwrap_or(view.hold_max_c - 0.7);
    let probes = probes::courses(pulp, set_c);
    let seed = view
        .unit
        .as_str()
        .bytes()
        .fold(1u64, |h, b| h.wrapping_mul(0x0100_0000_01b3).wrapping_add(u64::from(b)));
    let start = forecast::Start {
        clock,
        probes: &probes,
        at: last.at,
        eta: view.eta,
        supply_c: probes::mean_supply_c(&q.facts.readings, q.clock.as_of),
        freezing_c: view.freezing_c,
        seed,
    };
    let draws = match q.depth {
        Depth::List => forecast::DRAWS_LIST,
        Depth::Page => forecast::DRAWS_PAGE,
    };
    view.forecast = forecast::forecast(&start, 0.0, draws);
    if q.depth == Depth::List || view.forecast.is_none() {
        return;
    }
    for k in LOWER_K {
        if let Some(forecast) = forecast::forecast(&start, -k, forecast::DRAWS_LIST) {
            view.what_if.push(WhatIf { set_point_k: -k, eta_h: 0.0, forecast });
        }
    }
    for eta_h in ARRIVALS_H {
        let moved = view.eta.map(|eta| eta.plus_hours(eta_h));
        let start = forecast::Start { eta: moved, ..start };
        if let (Some(_), Some(forecast)) =
            (moved, forecast::forecast(&start, 0.0, forecast::DRAWS_LIST))
        {
            view.what_if.push(WhatIf { set_point_k: 0.0, eta_h, forecast });
        }
    }
}

fn say_rule(s: &Schedule, view: &mut TreatmentView) {
    let celsius = |d: Decimal| match s.unit {
        TempUnit::C => d.to_f64(),
        TempUnit::F => (d.to_f64() - 32.0) / 1.8,
    };
    view.schedule_id.clone_from(&s.id);
    view.title.clone_from(&s.title);
    view.source.clone_from(&s.source);
    view.evidence = s.evidence.words().to_owned();
    view.rehearsal = s.is_rehearsal();
    view.hold_max_c = celsius(s.hold_max);
    view.hold_max_text = format!("{} {}", s.hold_max, s.unit.sign());
    view.hold_min_c = s.hold_min.map(celsius);
}

fn take_answer(a: &Answer, view: &mut TreatmentView) {
    view.started_at = a.started_at;
    view.time_met_at = a.time_met_at;
    view.elapsed_h = a.elapsed_h;
    view.required_h = a.required_h;
    view.remaining_h = a.remaining_h;
    view.extension_h = a.extension_h;
    view.restarts = u64::from(a.restarts);
    view.planning_restart_at = a.planning_restart_at;
    view.planning_finish_at = a.planning_finish_at;
}

fn standing(a: &Answer, pulp: &rows::PulpRecord) -> Standing {
    if pulp.rows.is_empty() {
        return if pulp.round_rows > 0 { Standing::OnlyRounds } else { Standing::NoRecord };
    }
    match a.verdict {
        Verdict::NotStartable => Standing::NotStartable,
        Verdict::NotStarted => Standing::NotStarted,
        Verdict::Running => Standing::Running,
        Verdict::TimeMet => Standing::TimeMet,
        Verdict::InvalidPending => Standing::InvalidPending,
        Verdict::Cancelled => Standing::Cancelled,
    }
}

fn beside(pulp: &rows::PulpRecord, standing: Standing) -> Option<String> {
    let last = pulp.last_round_at?;
    let rows = pulp.round_rows;
    Some(if standing == Standing::OnlyRounds {
        format!(
            "{rows} readings of the rounds, the last on {} UTC, are kept and shown, but readings \
             twice a day are no hourly record: fetch the recorder's file.",
            last.to_minute()
        )
    } else {
        format!("Beside the recorder, {rows} readings of the rounds are held; they do not count.")
    })
}

/// The slurry readings entered last; all probes of one reading session together.
fn calibration(file: &TreatmentFile, warnings: &mut Vec<String>) -> Option<Calibration> {
    let readings = file.acts.iter().rev().find_map(|a| match &a.act {
        Act::ProbesCalibrated { readings, .. } => Some(readings),
        _ => None,
    })?;
    let fahrenheit = readings.iter().any(|r| r.fahrenheit);
    let unit = if fahrenheit { TempUnit::F } else { TempUnit::C };
    let mut out = Calibration::new(unit);
    for r in readings {
        let added = Decimal::parse(&r.reading)
            .map_err(|e| e.to_string())
            .and_then(|d| out.add(usize::from(r.probe), d).map_err(|e| e.to_string()));
        if let Err(why) = added {
            warnings.push(format!("slurry reading \"{}\" of probe {} {why}", r.reading, r.probe));
        }
    }
    Some(out)
}

fn decisions(file: &TreatmentFile) -> Vec<Decision> {
    let decided = file.acts.iter().filter_map(|a| match &a.act {
        Act::OfficialDecided {
            at,
            from_at,
            to_at,
            kind,
            probe,
            verified,
            official,
            authority,
            document,
            ..
        } => Some(Decision {
            kind: kind.as_deref().and_then(Kind::parse),
            probe: *probe,
            from: *from_at,
            to: *to_at,
            verified: *verified,
            who: format!("{official}, {authority}"),
            decided_at: *at,
            document: document.clone(),
        }),
        _ => None,
    });
    decided.filter(|d| d.check().is_ok()).collect()
}

fn breach(b: &treatment::BreachLine, decisions: &[Decision]) -> BreachRecord {
    let probe =
        b.probe.as_deref().and_then(|p| p.strip_prefix("probe")).and_then(|n| n.parse().ok());
    let decided = decisions.iter().rev().find(|d| {
        let kind_fits = d.kind.is_none_or(|k| k == b.kind);
        kind_fits
            && d.probe.is_none_or(|p| Some(p) == probe)
            && d.from <= b.from_at
            && b.to_at <= d.to
    });
    BreachRecord {
        kind: b.kind.as_str(),
        probe,
        from_at: b.from_at,
        to_at: b.to_at,
        worst_c: b.worst_c,
        readings: u64::from(b.readings),
        effect: b.effect.as_str(),
        paragraph: b.rule.clone(),
        words: judge::breach_words(b),
        decided: decided.map(|d| {
            let what = if d.verified { "verified" } else { "not verified" };
            format!("{what} by {} on {} UTC ({})", d.who, d.decided_at.to_minute(), d.document)
        }),
    }
}

/// Samples of the fruit against the precooling ceiling.
fn precool(s: &Schedule, file: &TreatmentFile) -> Vec<String> {
    let mut out = Vec::new();
    for a in &file.acts {
        let Act::PrecoolSampled { at, samples, fahrenheit, .. } = &a.act else { continue };
        let unit = if *fahrenheit { TempUnit::F } else { TempUnit::C };
        for text in samples {
            let judged = match Decimal::parse(text) {
                Err(e) => format!("{text} {e}"),
                Ok(d) if unit == s.unit => judge::precool_words(s, d),
                Ok(_) => format!(
                    "{text} {}: the schedule is in {}, so it is not judged",
                    unit.sign(),
                    s.unit.sign()
                ),
            };
            out.push(format!("{} UTC: {judged}", at.to_minute()));
        }
    }
    out
}
