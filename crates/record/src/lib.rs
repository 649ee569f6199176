//! The shared vocabulary of Holdfast: what a list names, what a reading holds, what an
//! assessment says. Tier 1: knows no model, does no I/O.
//!
//! A record refers only to lower ranks: reading < assessment < decision < evidence.

pub mod act;
pub mod assessment;
pub mod calibration;
pub mod cell;
pub mod chart;
pub mod digest;
pub mod dossier;
pub mod fan;
pub mod gas;
mod gas_holder;
pub mod gauges;
pub mod handover;
pub mod hex;
pub mod history;
pub mod hold;
pub mod instrument;
pub mod keyed;
pub mod list;
pub mod note;
pub mod plan_act;
pub mod pressure;
pub mod reading;
pub mod round;
pub mod service_act;
pub mod sign;
pub mod size_type;
pub mod spares;
pub mod treatment;
pub mod unit_id;

pub use act::{Act, EnteredAct, SlurryReading, TreatmentFile};
pub use assessment::{BoxLine, Finding, FindingKind, State, WatchList};
pub use cell::Cell;
pub use chart::{ChartAct, ChartFile, ChartKept, ChartOff, ChartOn};
pub use fan::{Fan, FanCourse, FanLimit, FanLine, FanPoint};
pub use gas::{GasAct, GasEntry, GasFile};
pub use gauges::{GaugesEntry, GaugesRead, ToldFault};
pub use history::{BoxHistory, BoxView, CargoFact, Span, Trace};
pub use hold::{HeldReading, HoldEnd, HoldFile, HoldReading, HoldStart};
pub use instrument::{
    BoxSensor, CheckEntry, Checked, IceCheck, Instrument, InstrumentAct, InstrumentFile,
    InstrumentKind, Register, Scan, SlurryEntry, Stated,
};
pub use keyed::{
    Answer, KeyedRow, PartSaid, Question, QuestionKind, RoundClosed, RoundFile, RoundKeyed,
    RoundStart,
};
pub use list::{Changes, ListReport, ListedUnit, Scope, VoyageHead};
pub use note::{MessageSent, MissedEntry, Note, NoteEntry, NoteKind, RoundMissed, SentEntry};
pub use plan_act::{PlanAct, PlanFile, RepairOutcome, RepairOver, RepairUnderWay, WeatherPoint};
pub use pressure::{PressureEntry, PressureKind, PressureTested};
pub use reading::{BoxFacts, Channel, Mode, Origin, Reading};
pub use round::{LastValue, Part, RoundLine, Usual};
pub use service_act::{
    InRange, PlantWords, ServiceAct, ServiceDeed, ServiceEntry, StepReading, WorkFile, WorkStanding,
};
pub use spares::{SparesAct, SparesFile};
pub use unit_id::UnitId;
