//! What has to be shown at a port, in our words, with its source and how far that was read.

use record::handover::{Column, Must};

/// Read in the source itself.
const READ: &str = "read";
/// Read in a text that tells of it.
const SECOND_HAND: &str = "read second-hand";
/// Not read anywhere.
const MEMORY: &str = "from memory, unverified";
/// Nobody asks for it but us.
const OURS: &str = "judgement of ours";

const fn must(what: &'static str, source: &'static str, trust: &'static str) -> Must {
    Must { what, source, trust }
}

pub(super) const BOXES: &[Must] = &[must(
    "Malfunctions are reported at once with times, and followed up until repaired or landed.",
    "shipboard guidance on reefer records, public page of 2012",
    SECOND_HAND,
)];
pub(super) const BOX_COLUMNS: &[Column] = &[
    ("unit", "container"),
    ("stow", "cell"),
    ("cargo", "cargo"),
    ("state", "state"),
    ("set_point_c", ">set °C"),
    ("supply_c", ">supply °C"),
    ("return_c", ">return °C"),
    ("last_read_at", "last read UTC"),
    ("open_matters", "open matters"),
];

pub(super) const TREATMENTS: &[Must] = &[
    must(
        "The container stays sealed, on power and at temperature until the authority has assessed \
         the treatment; the carrier downloads the recorder's log and forwards it.",
        "Australian import conditions, in-transit cold treatment, pages of 2019 and 2024",
        READ,
    ),
    must(
        "Pulp temperatures hourly, to one decimal, from three probes.",
        "Australian import conditions, in-transit cold treatment, 2016 to 2018",
        READ,
    ),
    must(
        "Recorder secured, record of date, time and sensor number without a break over calibration \
         and treatment, charts that can be produced.",
        "7 CFR 305.6 (d)(7)",
        READ,
    ),
];
pub(super) const TREATMENT_COLUMNS: &[Column] = &[
    ("unit", "container"),
    ("schedule", "schedule"),
    ("stands", "stands by the record"),
    ("counted_h", ">counted h"),
    ("required_h", ">asked h"),
    ("time_met_at", "time met UTC"),
    ("calibration", "probe calibration record"),
    ("released_at", "released UTC"),
];

pub(super) const CHECKS: &[Must] = &[
    must(
        "One signed calibration record for each container, original with the phytosanitary \
         certificate; a probe farther than 0.3 K from the ice point is replaced; checked again on \
         arrival.",
        "in-transit procedure of a bilateral protocol with China; Australia 2024 has the same 0.3 K",
        READ,
    ),
    must(
        "Some markets take 0.0 °C only. The treatment's own rule decides.",
        "export page for grapes to the Philippines",
        READ,
    ),
];
pub(super) const CHECK_COLUMNS: &[Column] = &[
    ("of", "sensor or probe"),
    ("checked_at", "UTC"),
    ("readings", "read in ice"),
    ("correction_k", ">correction K"),
    ("correction_k_p90", "90 % interval K"),
    ("drift_k", ">drift K"),
    ("since", "since"),
    ("who", "by"),
];

pub(super) const CHARTS: &[Must] = &[must(
    "A recorder's records are kept for at least one year; readable copies can be made.",
    "EN 12830:1999, clause 4, by a published compliance matrix",
    SECOND_HAND,
)];
pub(super) const CHART_COLUMNS: &[Column] = &[
    ("unit", "container"),
    ("chart", "chart"),
    ("on_at", "on UTC"),
    ("due_at", "due off UTC"),
    ("off_at", "off UTC"),
    ("kept", "original kept"),
    ("scan_sha256", "scan, SHA-256"),
];

pub(super) const DOSSIERS: &[Must] = &[
    must(
        "For a surveyor: plug-in time and temperature, checks at least twice a day with which air was \
         read, printouts, malfunction reports with times sent, spares and repairs, weather for \
         rounds missed.",
        "GDV Container Handbook; shipboard guidance, public pages of 2012",
        SECOND_HAND,
    ),
    must(
        "Records of checks are kept for three years.",
        "shipboard guidance, public page of 2012",
        SECOND_HAND,
    ),
];
pub(super) const DOSSIER_COLUMNS: &[Column] = &[
    ("unit", "container"),
    ("readings", ">readings held"),
    ("first_at", "first UTC"),
    ("last_at", "last UTC"),
    ("notes", ">notes"),
    ("command", "made with"),
];

pub(super) const SERVICE: &[Must] = &[
    must(
        "For each machine: gas and amount contained, added (with date), recovered; who did it and \
         with what certificate; dates and results of leak checks and of repairs. Kept five years, \
         shown on request.",
        "Regulation (EU) 2024/573, Article 7; reefer containers are named in its scope",
        READ,
    ),
    must(
        "Ozone-depleting gas only (R22, R12; not R134a, R404A, R452A, R513A): entries in kg without \
         delay in the record book of MARPOL Annex VI.",
        "MARPOL Annex VI, regulation 12, by several texts that tell of it",
        SECOND_HAND,
    ),
    must(
        "With a vacuum test: the instrument, its calibration date, temperatures, the readings.",
        "minimum record proposed in our reference",
        OURS,
    ),
];
pub(super) const SERVICE_COLUMNS: &[Column] = &[
    ("unit", "container"),
    ("at", "UTC"),
    ("what", "what was done"),
    ("who", "by"),
    ("instrument", "instrument, certificate that day"),
];

pub(super) const INSTRUMENTS: &[Must] = &[
    must(
        "Hand thermometer: 0.1 °C resolution, within 0.2 °C at 0 °C; ice slurry stood 10 min, read \
         each minute until steady, at least four readings.",
        "draft Australian code of practice for fresh fruit and vegetables, 2007",
        READ,
    ),
    must(
        "Recorders and thermometers are verified periodically (EN 13486).",
        "scope of EN 13486",
        READ,
    ),
    must("Every 12 months.", "common practice", MEMORY),
];
pub(super) const INSTRUMENT_COLUMNS: &[Column] = &[
    ("id", "id"),
    ("kind", "what"),
    ("serial", "serial"),
    ("certificate", "certificate"),
    ("issuer", "issued by"),
    ("dated", "of"),
    ("due", "at arrival"),
    ("scan_sha256", "scan, SHA-256"),
];
