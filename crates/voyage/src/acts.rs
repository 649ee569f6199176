//! What people did, entered and replayed.

use std::collections::BTreeMap;

use journal::{Journal, NewEntry};
use record::{
    Act, ChartFile, GasAct, GasFile, GaugesEntry, HeldReading, HoldEnd, HoldFile, MissedEntry,
    NoteEntry, PlanFile, PressureEntry, Register, RoundFile, SentEntry, ServiceAct, SlurryEntry,
    SlurryReading, SparesFile, TreatmentFile, UnitId, WorkFile,
};
use units::Utc;

use crate::bodies::ACT;
use crate::load::originals;
use crate::{NamedBytes, Problem, Voyage};

/// Every act of a voyage, and what stands after all of them.
#[derive(Debug, Clone, Default)]
pub struct Acts {
    /// Boxes with a treatment ordered, and what was done about each.
    pub treatments: BTreeMap<UnitId, TreatmentFile>,
    /// Expected arrivals by port, the latest word on each.
    pub arrivals: BTreeMap<String, Utc>,
    /// Gauge readings of each box, in the order entered.
    pub gauges: BTreeMap<UnitId, Vec<GaugesEntry>>,
    /// Vacuum holds by id, in the order begun.
    pub holds: Vec<HoldFile>,
    /// Nitrogen and standing-pressure tests, in the order entered.
    pub pressure_tests: Vec<PressureEntry>,
    /// What people wrote down, in the order entered.
    pub notes: Vec<NoteEntry>,
    /// Rounds that were not walked.
    pub missed: Vec<MissedEntry>,
    /// Rounds keyed in, in the order begun.
    pub rounds: Vec<RoundFile>,
    /// Messages that left the ship, in order.
    pub sent: Vec<SentEntry>,
    /// Public keys announced, in order, hexadecimal.
    pub keys: Vec<String>,
    /// Plant, weather, crew and repairs.
    pub plans: PlanFile,
    /// Instruments, their certificates and ice-point checks.
    pub register: Register,
    /// Pulp probes in slurry, in the order entered, whatever became of the treatment.
    pub slurry: Vec<SlurryEntry>,
    /// Recorder charts, in the order put on.
    pub charts: Vec<ChartFile>,
    /// The refrigerant account.
    pub gas: GasFile,
    /// Spare parts.
    pub spares: SparesFile,
    /// Service works, in the order begun.
    pub works: Vec<WorkFile>,
}

impl Acts {
    /// Replays every act of a journal, in order.
    pub(crate) fn replay(journal: &Journal) -> Result<Self, Problem> {
        let mut acts = Self::default();
        for entry in journal.entries(1)?.iter().filter(|e| e.kind == ACT) {
            let act: Act = serde_json::from_slice(&entry.body)
                .map_err(|e| Problem::Entry { seq: entry.seq, why: e.to_string() })?;
            acts.apply(&act, entry.seq, &entry.who, entry.at);
        }
        Ok(acts)
    }

    fn apply(&mut self, act: &Act, seq: i64, who: &str, entered_at: Utc) {
        match act {
            Act::Noted(note) => {
                let note = (**note).clone();
                self.notes.push(NoteEntry { note, who: who.to_owned(), entered_at });
            }
            Act::RoundMissed(missed) => {
                let missed = (**missed).clone();
                self.missed.push(MissedEntry { missed, who: who.to_owned(), entered_at });
            }
            Act::RoundBegun(_) | Act::RoundKeyed(_) | Act::RoundClosed(_) => {
                on_round(&mut self.rounds, act, who, entered_at);
            }
            Act::MessageSent(message) => {
                let message = (**message).clone();
                self.sent.push(SentEntry { seq, message, who: who.to_owned(), at: entered_at });
            }
            Act::ArrivalExpected { port, eta } => {
                self.arrivals.insert(port.clone(), *eta);
            }
            Act::GaugesRead(read) => {
                let entry = GaugesEntry { read: (**read).clone(), who: who.to_owned(), entered_at };
                self.gauges.entry(read.unit.clone()).or_default().push(entry);
            }
            Act::KeyAnnounced { public_key } => self.keys.push(public_key.clone()),
            Act::Plan(plan) => self.plans.add(plan),
            Act::Instrument(i) => self.register.add(i, seq, who, entered_at),
            Act::Chart(chart) => record::chart::add(&mut self.charts, chart, who),
            Act::Gas(gas) => self.gas.add(gas, seq, who, entered_at),
            Act::Spares(s) => self.spares.add(s, seq, who),
            Act::Service(act) => self.on_service(act, seq, who, entered_at),
            Act::HoldBegun(start) => self.holds.push(HoldFile::new((**start).clone(), who)),
            Act::HoldRead { id, .. }
            | Act::HoldStruck { id, .. }
            | Act::HoldMeasured { id, .. } => {
                if let Some(hold) = self.holds.iter_mut().find(|h| h.start.id == *id) {
                    on_hold(hold, act);
                }
            }
            Act::PressureTested(test) => {
                let (test, who) = ((**test).clone(), who.to_owned());
                self.pressure_tests.push(PressureEntry { seq, test, who, entered_at });
            }
            Act::HoldEnded(end) => hold_ended(&mut self.holds, end, who),
            Act::TreatmentAssigned { units, .. } => {
                for unit in units {
                    self.treatments.entry(unit.clone()).or_default().add(act, who, entered_at);
                }
            }
            Act::TreatmentWithdrawn { unit, .. } => {
                self.treatments.remove(unit);
            }
            Act::ProbesCalibrated { unit, at, readings, remark } => {
                self.slurry.push(session(unit, *at, readings, remark, who));
                self.treatments.entry(unit.clone()).or_default().add(act, who, entered_at);
            }
            Act::PrecoolSampled { unit, .. } => {
                // Before loading, fruit and probes may be read before the treatment is ordered.
                self.treatments.entry(unit.clone()).or_default().add(act, who, entered_at);
            }
            Act::OfficialDecided { unit, .. } | Act::TreatmentReleased { unit, .. } => {
                if let Some(file) = self.treatments.get_mut(unit) {
                    file.add(act, who, entered_at);
                }
            }
        }
    }
}

impl Acts {
    /// An entry about a service work; what it books is in the refrigerant account with it.
    fn on_service(&mut self, act: &ServiceAct, seq: i64, who: &str, entered_at: Utc) {
        if let Some(t) = act.deed.booked() {
            self.gas.add(&GasAct::Moved(t.clone()), seq, who, entered_at);
        }
        record::service_act::add(&mut self.works, act, who);
    }
}

/// The hold that an end is about gets it.
fn hold_ended(holds: &mut [HoldFile], end: &HoldEnd, who: &str) {
    if let Some(hold) = holds.iter_mut().find(|h| h.start.id == end.id) {
        hold.end = Some((end.clone(), who.to_owned()));
    }
}

/// A session of pulp probes in slurry.
fn session(
    unit: &UnitId,
    at: Utc,
    readings: &[SlurryReading],
    remark: &str,
    who: &str,
) -> SlurryEntry {
    SlurryEntry {
        unit: unit.clone(),
        at,
        readings: readings.to_vec(),
        remark: remark.to_owned(),
        who: who.to_owned(),
    }
}

/// What an act does to the round it is about.
fn on_round(rounds: &mut Vec<RoundFile>, act: &Act, who: &str, at: Utc) {
    let id = match act {
        Act::RoundBegun(start) => &start.id,
        Act::RoundKeyed(keyed) => &keyed.id,
        Act::RoundClosed(end) => &end.id,
        _ => return,
    };
    let round = rounds.iter_mut().find(|r| r.start.id == *id);
    match (act, round) {
        (Act::RoundBegun(start), None) => {
            rounds.push(RoundFile::new(start.as_ref().clone(), who, at))
        }
        (Act::RoundBegun(start), Some(round)) => {
            round.start = start.as_ref().clone();
            who.clone_into(&mut round.who);
        }
        (Act::RoundKeyed(keyed), Some(round)) => round.add(keyed, at),
        (Act::RoundClosed(end), Some(round)) => round.closed = Some(end.as_ref().clone()),
        _ => {}
    }
}

/// What an act does to the hold it is about.
fn on_hold(hold: &mut HoldFile, act: &Act) {
    match act {
        Act::HoldRead { readings, source, .. } => {
            hold.readings.extend(readings.iter().map(|r| HeldReading {
                reading: r.clone(),
                source: source.clone(),
                struck: false,
            }));
        }
        Act::HoldStruck { number, .. } => {
            let at = usize::try_from(*number).unwrap_or(0).checked_sub(1);
            if let Some(reading) = at.and_then(|i| hold.readings.get_mut(i)) {
                reading.struck = true;
            }
        }
        Act::HoldMeasured { coldest_c, ambient_c, .. } => {
            hold.coldest_c = coldest_c.or(hold.coldest_c);
            hold.ambient_c = ambient_c.or(hold.ambient_c);
        }
        _ => {}
    }
}

impl Voyage {
    /// What people did, as replayed.
    #[must_use]
    pub fn acts(&self) -> &Acts {
        &self.acts
    }

    /// Enters an act, with the documents that belong to it.
    ///
    /// # Errors
    /// [`Problem::Act`] when it makes no sense for this voyage; what the journal says. Then
    /// nothing was stored.
    pub fn enter(
        &mut self,
        act: &Act,
        documents: &[NamedBytes],
        who: &str,
        now: Utc,
    ) -> Result<i64, Problem> {
        self.refresh()?;
        self.refuse_senseless(act)?;
        if let Act::Service(work) = act {
            self.refuse_senseless_work(work, who)?;
        }
        let body =
            serde_json::to_vec(act).map_err(|e| Problem::Entry { seq: 0, why: e.to_string() })?;
        let originals = originals(documents);
        let entry = NewEntry { kind: ACT, at: now, who, body: &body, originals: &originals };
        let (seq, _) = self.journal.begin()?.commit(&entry)?;
        self.replayed_to = seq;
        self.acts.apply(act, seq, who, now);
        Ok(seq)
    }

    /// An act about a box that is neither listed nor read, or about a treatment that was never
    /// ordered, is a slip of the pen.
    fn refuse_senseless(&self, act: &Act) -> Result<(), Problem> {
        for unit in act.units() {
            let listed = self.held.units.contains_key(unit) || self.held.gone.contains(unit);
            if !listed && self.journal.last_instant(unit.as_str())?.is_none() {
                return Err(Problem::Act(format!(
                    "{unit} is neither on a list nor was it ever read; check the number"
                )));
            }
        }
        self.refuse_senseless_hold(act)?;
        self.refuse_senseless_round(act)?;
        crate::pressure::refuse_senseless(act)?;
        match act {
            Act::Instrument(i) => self.refuse_senseless_instrument(i)?,
            Act::Chart(chart) => self.refuse_senseless_chart(chart)?,
            _ => {}
        }
        self.refuse_senseless_gas(act)?;
        let needs = match act {
            Act::TreatmentWithdrawn { unit, .. }
            | Act::OfficialDecided { unit, .. }
            | Act::TreatmentReleased { unit, .. } => Some(unit),
            _ => None,
        };
        match needs {
            Some(unit) if !self.acts.treatments.contains_key(unit) => Err(Problem::Act(format!(
                "no cold treatment is ordered for {unit}; order it first or check the number"
            ))),
            _ => Ok(()),
        }
    }
}
