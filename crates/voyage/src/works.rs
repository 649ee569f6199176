//! Service work kept in the voyage: what may be entered, and the plant as it stands after it.
//!
//! Looking and planning are pure and take no voyage, so that it need not be held meanwhile.

use std::collections::BTreeMap;

use record::{
    InRange, PlantWords, ServiceAct, ServiceDeed, StepReading, UnitId, WorkFile, WorkStanding,
};
use service::action::{self, Action};
use service::expect::expected;
use service::{Answer, Expect, Goal, Hazard, Hazards, State, Stated, Volume};
use units::decimal::{self, DecimalMark};

use crate::{Problem, Voyage};

/// Most ways of filling that are kept.
const FILLINGS_MAX: usize = 20_000;

/// A piece of work with its plant as the planner takes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    /// What was entered.
    pub file: WorkFile,
    /// Where it is to lead.
    pub goal: Goal,
    /// Plant, what is at hand, and where. With several fillings the content in it is one of them.
    pub stated: Stated,
    /// Every way in which the plant can be filled; one: it is known.
    pub fillings: Vec<State>,
}

/// Why a step is not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StepRefused {
    /// It cannot be done there.
    Cannot(&'static str),
    /// It would bring a hazard about.
    Harms(Vec<Hazard>),
    /// It is safe for some ways of filling only.
    Uncertain(&'static str),
}

impl StepRefused {
    /// In words, with the guard.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Cannot(why) => format!("it cannot be done here: {why}"),
            Self::Harms(all) => {
                let one = |h: &Hazard| format!("{} (guard {})", h.why(), h.guard());
                all.iter().map(one).collect::<Vec<_>>().join("; ")
            }
            Self::Uncertain(why) => {
                format!("what is inside is not known, and if it is filled the wrong way: {why}")
            }
        }
    }
}

/// The step of a name.
#[must_use]
pub fn action_named(id: &str) -> Option<Action> {
    action::all().find(|a| a.id() == id)
}

/// Plant, what is at hand and where, from words.
///
/// # Errors
/// One line: which word is not understood.
pub fn stated(words: &PlantWords) -> Result<(Stated, Vec<State>), String> {
    let mut out = Stated::default();
    for (key, value) in &words.keys {
        out.set(key, value)?;
    }
    for (volume, value) in &words.content {
        out.set_content(volume, value)?;
    }
    if words.fillings.len() > FILLINGS_MAX {
        return Err(format!("{} ways of filling are too many", words.fillings.len()));
    }
    let mut fillings = Vec::new();
    for word in &words.fillings {
        let one = service::filling::filled(&out.state, word);
        fillings.push(one.ok_or_else(|| format!("\"{word}\" is no way of filling"))?);
    }
    if let Some(first) = fillings.first() {
        out.state = *first;
    } else {
        if let Some(v) = Volume::ALL.iter().find(|v| !words.content.contains_key(v.id())) {
            return Err(format!("what is in {} is not said", v.words()));
        }
        fillings.push(out.state);
    }
    Ok((out, fillings))
}

/// The plant's own words: valves, hoses, machines, and what is inside.
#[must_use]
pub fn plant_words(fillings: &[State]) -> PlantWords {
    let mut out = PlantWords::default();
    let Some(first) = fillings.first() else { return out };
    for (key, value) in Stated::described(first) {
        out.keys.insert(key.to_owned(), value.to_owned());
    }
    if fillings.len() == 1 {
        for v in Volume::ALL {
            out.content.insert(v.id().to_owned(), first.of(v).id().to_owned());
        }
    } else {
        out.fillings = fillings.iter().map(service::filling::letters).collect();
    }
    out
}

impl Work {
    /// Reads what was entered.
    ///
    /// # Errors
    /// One line: what this program does not understand.
    pub fn of(file: WorkFile) -> Result<Self, String> {
        let goal = Goal::named(&file.goal)
            .ok_or_else(|| format!("this program knows no goal \"{}\"", file.goal))?;
        let (stated, fillings) = stated(&file.plant)?;
        Ok(Self { file, goal, stated, fillings })
    }

    /// Whether what is inside is known.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.fillings.len() == 1
    }

    /// Whether the goal is reached, whatever is inside.
    #[must_use]
    pub fn reached(&self) -> bool {
        self.fillings.iter().all(|s| self.goal.reached(s, &self.stated.rules))
    }

    /// Dangers as the plant stands.
    #[must_use]
    pub fn dangers(&self) -> Hazards {
        self.fillings
            .iter()
            .fold(Hazards::NONE, |all, s| all.with(service::flow::standing(s, &self.stated.rules)))
    }

    /// The shortest safe way on; takes seconds where there is none.
    ///
    /// # Errors
    /// The refrigerant is unknown or the ambient is outside its tables.
    pub fn answer(&self) -> Result<Answer, String> {
        let Stated { state, rules, site, .. } = &self.stated;
        service::answer(state, self.goal, rules, site).map_err(|e| e.to_string())
    }

    /// The plant after a step.
    ///
    /// # Errors
    /// Why the step is not taken.
    pub fn after(&self, action: Action) -> Result<Vec<State>, StepRefused> {
        let mut after: BTreeMap<u64, State> = BTreeMap::new();
        let (mut cannot, mut harms) = (None, Hazards::NONE);
        for s in &self.fillings {
            match service::apply(s, action, &self.stated.rules) {
                Err(why) => cannot = Some(why),
                Ok(out) => {
                    harms = harms.with(out.hazards);
                    after.insert(out.after.packed(), out.after);
                }
            }
        }
        let harms: Vec<Hazard> = harms.iter().collect();
        match (cannot, harms.first()) {
            (None, None) => Ok(after.into_values().collect()),
            (_, Some(h)) if !self.is_known() => Err(StepRefused::Uncertain(h.why())),
            (_, Some(_)) => Err(StepRefused::Harms(harms)),
            (Some(why), None) => Err(StepRefused::Cannot(why)),
        }
    }

    /// What is to be read at a step: only what holds however the plant is filled.
    ///
    /// # Errors
    /// The refrigerant is unknown or the ambient is outside its tables.
    pub fn expects(&self, action: Action) -> Result<Vec<Expect>, String> {
        let Stated { rules, site, .. } = &self.stated;
        let mut common: Option<Vec<Expect>> = None;
        for s in &self.fillings {
            let one = expected(action, s, rules, site).map_err(|e| e.to_string())?;
            match &common {
                None => common = Some(one),
                Some(c) if *c != one => return Ok(Vec::new()),
                Some(_) => {}
            }
        }
        Ok(common.unwrap_or_default())
    }

    /// A step as it is to be entered; `written` is what stands in the field of each reading.
    ///
    /// # Errors
    /// Why it is refused, in words.
    pub fn step(
        &self,
        action: Action,
        written: &dyn Fn(&str) -> String,
        remark: String,
    ) -> Result<ServiceDeed, String> {
        let after =
            self.after(action).map_err(|r| format!("This step is refused: {}", r.words()))?;
        let mut readings = Vec::new();
        for e in self.expects(action)?.iter().filter(|e| is_read(e)) {
            readings.push(reading(e, &written(e.what), self.stated.site.barometer_kpa)?);
        }
        Ok(ServiceDeed::StepDone {
            action: action.id().to_owned(),
            instruction: service::words::instruction(action).to_owned(),
            readings,
            remark,
            after: plant_words(&after),
            booked: None,
        })
    }
}

/// Whether a person reads it, as opposed to what follows from it.
#[must_use]
pub fn is_read(e: &Expect) -> bool {
    e.unit != "g_per_l"
}

/// What a person wrote for a reading, in the unit of its range.
fn reading(e: &Expect, text: &str, barometer_kpa: f64) -> Result<StepReading, String> {
    let text = text.trim();
    let value = if text.is_empty() {
        None
    } else {
        Some(in_unit(e.unit, text, barometer_kpa).map_err(|why| format!("{}: {why}", e.what))?)
    };
    Ok(StepReading {
        what: e.what.to_owned(),
        as_written: text.to_owned(),
        value,
        unit: e.unit.to_owned(),
        from: e.from,
        to: e.to,
    })
}

fn in_unit(unit: &str, text: &str, barometer_kpa: f64) -> Result<f64, String> {
    let plain = text.replace('\u{2212}', "-");
    let number = |t: &str| {
        decimal::parse(t.trim(), DecimalMark::PointOrComma)
            .map_err(|e| format!("\"{text}\" {e}; write a figure"))
    };
    let value = match unit {
        "kpag" => match number(&plain) {
            Ok(v) => v,
            Err(_) => {
                let p = fluids::text::parse_pressure(&plain, barometer_kpa);
                p.map_err(|e| e.to_string())?.gauge_kpa
            }
        },
        "um" => {
            let low = plain.to_lowercase();
            let ends =
                [("µm", 1.0), ("um", 1.0), ("mtorr", 1.0), ("mbar", 750.062), ("pa", 7.50062)];
            let end = ends.iter().find_map(|(end, k)| Some((low.strip_suffix(end)?, k)));
            let (figure, k) = end.unwrap_or((&low, &1.0));
            number(figure)? * k
        }
        _ => {
            let low = plain.to_lowercase();
            number(low.strip_suffix(unit).unwrap_or(&low))?
        }
    };
    let least = if unit == "kpag" { -barometer_kpa } else { 0.0 };
    if value < least {
        return Err(format!("\"{text}\" is less than nothing; look at the sign and the unit"));
    }
    Ok(value)
}

/// Readings that want a word before going on: outside their range, or not read.
#[must_use]
pub fn doubtful(readings: &[StepReading]) -> Vec<&StepReading> {
    readings.iter().filter(|r| r.stands() != InRange::Inside).collect()
}

/// Told to be read at or below this, kPa gauge: taken to be empty, or nearly so.
const NEARLY_EMPTY_KPAG: f64 = 50.0;
/// Read above this, kPa gauge: under pressure all the same. Beyond any gauge's error at either.
const UNDER_PRESSURE_KPAG: f64 = 100.0;
/// Read below this, kPa gauge: hardly any pressure.
const HARDLY_ANY_KPAG: f64 = 20.0;
/// Read above this, µm of mercury: no pump is pulling there.
const NO_VACUUM_UM: f64 = 50_000.0;

/// What a reading says that cannot go with what is taken to be inside; going on would plan from a
/// filling that is not there.
#[must_use]
pub fn contradiction(r: &StepReading) -> Option<&'static str> {
    let v = r.value?;
    match r.unit.as_str() {
        "kpag" if r.to.is_some_and(|t| t <= NEARLY_EMPTY_KPAG) && v > UNDER_PRESSURE_KPAG => {
            Some("there is pressure where it is taken to be empty or nearly so")
        }
        "kpag" if r.from.is_some_and(|f| f >= UNDER_PRESSURE_KPAG) && v < HARDLY_ANY_KPAG => {
            Some("there is hardly any pressure where it is taken to stand under pressure")
        }
        "um" if r.to.is_some() && v > NO_VACUUM_UM => {
            Some("that is no vacuum: it was never pulled there, or something lets it up")
        }
        _ => None,
    }
}

impl Voyage {
    /// The work of an id.
    #[must_use]
    pub fn work(&self, id: &str) -> Option<&WorkFile> {
        self.acts().works.iter().find(|w| w.id == id)
    }

    /// The works on a box, the oldest first.
    pub fn works_of(&self, unit: &UnitId) -> impl Iterator<Item = &WorkFile> {
        self.acts().works.iter().filter(move |w| w.unit == *unit)
    }

    /// The id the next work gets.
    #[must_use]
    pub fn next_work_id(&self) -> String {
        format!("S{}", self.acts().works.len() + 1)
    }

    /// Work that is not over on a box.
    #[must_use]
    pub fn work_on(&self, unit: &UnitId) -> Option<&WorkFile> {
        self.works_of(unit).find(|w| !w.standing.is_over())
    }

    /// An entry about service work that cannot be: no such work, over already, in other hands, or
    /// a step whose guard fails.
    pub(crate) fn refuse_senseless_work(&self, act: &ServiceAct, who: &str) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        if let ServiceDeed::Begun { .. } = act.deed {
            return self.refuse_begin(act, who);
        }
        let Some(file) = self.work(&act.work) else {
            return refuse(format!("there is no service work \"{}\" in this voyage", act.work));
        };
        if file.unit != act.unit {
            return refuse(format!(
                "service work {} is on {}, not {}",
                file.id, file.unit, act.unit
            ));
        }
        if file.standing.is_over() {
            return refuse(format!("service work {} is over; begin a new one", file.id));
        }
        if act.at < file.last_at() {
            return refuse(format!(
                "service work {} was last entered {} UTC; this cannot have been before",
                file.id,
                file.last_at().to_minute()
            ));
        }
        refuse_by_hand(file, &act.deed, who).or_else(refuse)?;
        refuse_by_plant(file, &act.deed).or_else(refuse)?;
        self.refuse_senseless_booking(act)
    }

    fn refuse_begin(&self, act: &ServiceAct, who: &str) -> Result<(), Problem> {
        let refuse = |why: String| Err(Problem::Act(why));
        if act.work != self.next_work_id() {
            return refuse(format!("the next service work is {}", self.next_work_id()));
        }
        if who.trim().is_empty() {
            return refuse("say who begins the work".to_owned());
        }
        if let Some(other) = self.work_on(&act.unit) {
            return refuse(format!(
                "service work {} on {} is {} in the hands of {}; two works on one unit do not go \
                 together: finish or end it first",
                other.id,
                other.unit,
                other.standing.words(),
                other.person
            ));
        }
        let Some(file) = WorkFile::begun(act, who) else { return Ok(()) };
        let work = Work::of(file).map_err(Problem::Act)?;
        work.expects(Action::WeighIn).map(|_| ()).map_err(Problem::Act)
    }
}

fn same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

/// Whether it is theirs to enter, and the time for it.
fn refuse_by_hand(file: &WorkFile, deed: &ServiceDeed, who: &str) -> Result<(), String> {
    let stopped = file.standing == WorkStanding::Stopped;
    let theirs = same(&file.person, who);
    match deed {
        ServiceDeed::StepDone { .. } | ServiceDeed::Stopped { .. } if stopped => {
            Err(format!("service work {} is stopped; resume it first", file.id))
        }
        ServiceDeed::Resumed { .. } if !stopped => {
            Err(format!("service work {} is under way already", file.id))
        }
        ServiceDeed::StepDone { .. } if !theirs => Err(format!(
            "service work {} is in the hands of {}, not {}; hand it over first",
            file.id,
            file.person,
            who.trim()
        )),
        ServiceDeed::HandedOver { from, to, .. } => {
            if !same(from, &file.person) {
                return Err(format!("{} has service work {} in hand", file.person, file.id));
            }
            if to.trim().is_empty() || same(from, to) {
                return Err("say to whom it is handed over".to_owned());
            }
            Ok(())
        }
        ServiceDeed::Stopped { why } | ServiceDeed::Corrected { why, .. }
            if why.trim().is_empty() =>
        {
            Err("say why: the next person must know".to_owned())
        }
        _ => Ok(()),
    }
}

/// Whether the plant allows it.
fn refuse_by_plant(file: &WorkFile, deed: &ServiceDeed) -> Result<(), String> {
    match deed {
        ServiceDeed::StepDone { action, readings, remark, after, .. } => {
            let work = Work::of(file.clone())?;
            let action =
                action_named(action).ok_or_else(|| format!("there is no step \"{action}\""))?;
            let is =
                work.after(action).map_err(|r| format!("this step is refused: {}", r.words()))?;
            if *after != plant_words(&is) {
                return Err("the plant does not stand so after this step; look again".to_owned());
            }
            if let Some((r, why)) = readings.iter().find_map(|r| Some((r, contradiction(r)?))) {
                return Err(format!(
                    "{} {}: {why}; enter that nobody knows what is inside, or how it stands",
                    r.what, r.as_written
                ));
            }
            let bad = doubtful(readings);
            if let (Some(r), true) = (bad.first(), remark.trim().is_empty()) {
                return Err(format!(
                    "{} is {}; say why the work goes on",
                    r.what,
                    match r.stands() {
                        InRange::NotRead => "not read",
                        _ => "not in the range told",
                    }
                ));
            }
            Ok(())
        }
        ServiceDeed::Corrected { plant, .. } => {
            let mut words = file.plant.clone();
            words.overlay(plant);
            let work = Work::of(WorkFile { plant: words, ..file.clone() })?;
            work.expects(Action::WeighIn).map(|_| ())
        }
        ServiceDeed::Finished { reached, .. } => {
            let is = Work::of(file.clone())?.reached();
            match (*reached, is) {
                (true, false) => Err("the goal is not reached by the steps entered".to_owned()),
                _ => Ok(()),
            }
        }
        _ => Ok(()),
    }
}
