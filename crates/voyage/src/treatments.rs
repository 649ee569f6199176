//! Cold treatments of a voyage: ordered, assessed, in order of need.

use assess::{Depth, TreatmentQuestion};
use record::treatment::TreatmentView;
use record::{Act, BoxLine, UnitId};
use treatment::Schedule;
use units::Utc;

use crate::look::AsOf;
use crate::{NamedBytes, Problem, Voyage};

/// A schedule that comes with the program, as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScheduleLine {
    /// Its id.
    pub id: &'static str,
    /// Its title.
    pub title: String,
    /// Its source.
    pub source: String,
    /// Its trust mark.
    pub evidence: &'static str,
}

/// The schedules that come with the program, the trusted ones first.
#[must_use]
pub fn schedules() -> Vec<ScheduleLine> {
    let mut all: Vec<(treatment::Evidence, ScheduleLine)> = treatment::shipped()
        .iter()
        .filter_map(|s| {
            let schedule = s.schedule().ok()?;
            let evidence = schedule.evidence;
            let line = ScheduleLine {
                id: s.id,
                title: schedule.title,
                source: schedule.source,
                evidence: evidence.as_str(),
            };
            Some((evidence, line))
        })
        .collect();
    all.sort_by_key(|(evidence, _)| *evidence);
    all.into_iter().map(|(_, line)| line).collect()
}

/// A schedule's text by the id of one that ships, or as given; its id.
///
/// # Errors
/// [`Problem::Act`] when there is none of that id, or the text is no schedule.
pub fn schedule_text(id: &str, text: &str, name: &str) -> Result<(String, String), Problem> {
    if text.trim().is_empty() {
        let shipped = treatment::by_id(id).ok_or_else(|| {
            Problem::Act(format!(
                "no schedule \"{id}\" comes with the program; choose one of the list or give its \
                 text"
            ))
        })?;
        return Ok((shipped.id.to_owned(), shipped.text.to_owned()));
    }
    let schedule = Schedule::from_toml(text, name).map_err(|e| Problem::Act(e.to_string()))?;
    Ok((schedule.id, text.to_owned()))
}

/// The most urgent first, then the tightest to its port; the released last.
pub(crate) fn in_order(views: &mut [TreatmentView]) {
    views.sort_by(|a, b| {
        let spare = |v: &TreatmentView| {
            let met = v.time_met_at.or_else(|| v.forecast.as_ref().and_then(|f| f.met_at));
            match (met, v.eta) {
                (Some(met), Some(eta)) => eta.hours_since(met),
                (None, _) => f64::NEG_INFINITY,
                (Some(_), None) => f64::INFINITY,
            }
        };
        let done = |v: &TreatmentView| v.released_at.is_some();
        done(a)
            .cmp(&done(b))
            .then(b.state.cmp(&a.state))
            .then(spare(a).total_cmp(&spare(b)))
            .then(a.unit.cmp(&b.unit))
    });
}

impl Voyage {
    /// Orders a treatment for boxes.
    ///
    /// # Errors
    /// [`Problem::Act`] when the text is no schedule or a box is not aboard; what the journal says.
    pub fn order_treatment(
        &mut self,
        units: Vec<UnitId>,
        schedule: (String, String),
        from_at: Option<Utc>,
        who: &str,
        now: Utc,
    ) -> Result<i64, Problem> {
        let (schedule_id, text) = schedule;
        if units.is_empty() {
            return Err(Problem::Act("no box is named; write at least one number".to_owned()));
        }
        Schedule::from_toml(&text, &schedule_id).map_err(|e| Problem::Act(e.to_string()))?;
        let document =
            NamedBytes { name: format!("{schedule_id}.toml"), bytes: text.clone().into() };
        let act = Act::TreatmentAssigned { units, schedule_id, schedule: text, from_at };
        self.enter(&act, &[document], who, now)
    }

    /// All treatments ordered, the most urgent first, then the tightest to its port.
    ///
    /// # Errors
    /// What the journal says.
    pub fn treatments(&self, as_of: AsOf) -> Result<Vec<TreatmentView>, Problem> {
        let units: Vec<UnitId> = self.acts.treatments.keys().cloned().collect();
        let mut out = Vec::with_capacity(units.len());
        for unit in &units {
            out.extend(self.treatment_at(unit, as_of, Depth::List)?);
        }
        in_order(&mut out);
        Ok(out)
    }

    /// One box's treatment in full; `None` when none is ordered and no probe was read in slurry.
    ///
    /// # Errors
    /// What the journal says.
    pub fn treatment(&self, unit: &UnitId, as_of: AsOf) -> Result<Option<TreatmentView>, Problem> {
        self.treatment_at(unit, as_of, Depth::Page)
    }

    pub(crate) fn treatment_at(
        &self,
        unit: &UnitId,
        as_of: AsOf,
        depth: Depth,
    ) -> Result<Option<TreatmentView>, Problem> {
        if !self.acts.treatments.contains_key(unit) {
            return Ok(None);
        }
        let at = self.instant(as_of)?.unwrap_or(Utc::from_ms(0));
        let recent = self.recent_facts(unit, at)?;
        let line = assess::box_line(&recent, self.clock(&recent, at), &self.cargoes);
        self.treatment_of(&line, at, depth)
    }

    /// The treatment of a box whose line is worked out already.
    pub(crate) fn treatment_of(
        &self,
        line: &BoxLine,
        at: Utc,
        depth: Depth,
    ) -> Result<Option<TreatmentView>, Problem> {
        let Some(file) = self.acts.treatments.get(&line.unit) else {
            return Ok(None);
        };
        let facts = self.facts_between(&line.unit, Utc::from_ms(i64::MIN), at)?;
        if facts.listed.is_none() && facts.readings.is_empty() {
            return Ok(None);
        };
        let question = TreatmentQuestion {
            facts: &facts,
            file,
            line,
            clock: self.clock(&facts, at),
            eta: line.discharge_port.as_deref().and_then(|p| self.arrival(p)),
            depth,
        };
        Ok(Some(assess::treatment_view(&question, &self.cargoes)))
    }

    /// Expected arrival at a port: as a person entered it, else as the lists say.
    #[must_use]
    pub fn arrival(&self, port: &str) -> Option<Utc> {
        let listed = self.next_port().filter(|(next, _)| next == port).and_then(|(_, eta)| eta);
        self.acts.arrivals.get(port).copied().or(listed)
    }

    /// Ports of discharge of the boxes aboard with what is known of the arrival.
    #[must_use]
    pub fn ports(&self) -> Vec<(String, Option<Utc>)> {
        let mut names: Vec<&String> =
            self.held.units.values().filter_map(|h| h.listed.discharge_port.as_ref()).collect();
        names.sort_unstable();
        names.dedup();
        names.into_iter().map(|p| (p.clone(), self.arrival(p))).collect()
    }
}
