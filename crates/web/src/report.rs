//! Messages to shore: made, packed, entered. The page and the command line make them the same way.

use papers::message::table::{Detail, GONE, Row, after, gone, read, rows, table};
use papers::message::{Facts, Kind, Message, Previous, TABLE_MAX, compose};
use record::digest::Digest;
use record::treatment::TreatmentView;
use record::{MessageSent, WatchList};
use units::Utc;
use voyage::{AsOf, NamedBytes, Problem, Voyage, gzip};

/// A message with everything that goes with it.
pub struct Prepared {
    /// Which.
    pub kind: Kind,
    /// Its number.
    pub number: u64,
    /// Only changes were asked for.
    pub delta: bool,
    /// Number of the message before it of this kind.
    pub since: Option<u64>,
    /// Text and counts.
    pub message: Message,
    /// Rows of the table.
    pub rows: usize,
    /// The table, packed (gzip).
    pub packed: Vec<u8>,
    /// Bytes of the table before packing.
    pub table_bytes: usize,
    /// Entries before it and the root over them.
    pub log: (i64, Digest),
}

impl Prepared {
    /// Name of its files, without ending.
    #[must_use]
    pub fn stem(&self) -> String {
        format!("report-{:04}-{}", self.number, self.kind.as_str())
    }
}

/// Makes the next message; enters nothing.
///
/// # Errors
/// What the journal says.
pub fn prepare(v: &Voyage, kind: Kind, delta: bool, now: Utc) -> Result<Prepared, Problem> {
    let (list, treatments) = v.survey(AsOf::Latest)?;
    prepare_of(v, (&list, &treatments), kind, delta, now)
}

/// As [`prepare`], from a survey that was made already.
///
/// # Errors
/// What the journal says.
pub fn prepare_of(
    v: &Voyage,
    (list, treatments): (&WatchList, &[TreatmentView]),
    kind: Kind,
    delta: bool,
    now: Utc,
) -> Result<Prepared, Problem> {
    let log = v.log_root()?;
    let previous = previous(v, kind)?;
    let since = previous.as_ref().map(|p| p.number);
    let facts = Facts {
        kind,
        number: v.next_message_number(),
        ship: v.ship_line(),
        made_at: now,
        next_port: v.next_port().map(|(port, eta)| {
            let said = v.arrival(&port);
            (port, said.or(eta))
        }),
        list,
        treatments,
        notes: &v.acts().notes,
        missed: &v.acts().missed,
        log_entries: log.0,
        root: log.1,
        previous,
        delta,
    };
    let message = compose(&facts);
    let (rows, table_bytes, packed) = packed_table(&facts, &message);
    Ok(Prepared {
        kind,
        number: facts.number,
        delta: delta && since.is_some(),
        since,
        message,
        rows,
        packed,
        table_bytes,
        log,
    })
}

/// The fullest table that keeps to the budget.
fn packed_table(facts: &Facts<'_>, message: &Message) -> (usize, usize, Vec<u8>) {
    let mut out = (0, 0, Vec::new());
    for detail in Detail::ALL {
        let all = rows(facts, detail);
        let told: Vec<Row> = match &message.changes {
            None => all,
            Some(changes) => changes
                .iter()
                .filter_map(|c| {
                    if c.gone {
                        return Some(gone(&c.unit));
                    }
                    all.iter().find(|r| r.unit == c.unit).cloned()
                })
                .collect(),
        };
        let text = table(&told);
        out = (told.len(), text.len(), gzip(text.as_bytes()));
        if out.2.len() <= TABLE_MAX {
            break;
        }
    }
    out
}

/// What the office knows from the messages before.
fn previous(v: &Voyage, kind: Kind) -> Result<Option<Previous>, Problem> {
    let known = v.messages_known_ashore(kind.as_str());
    let Some(last) = known.last() else { return Ok(None) };
    let tables: Vec<Vec<Row>> =
        known.iter().map(|s| Ok(read(&v.message_table(s)?))).collect::<Result<_, Problem>>()?;
    let rows = after(&tables);
    debug_assert!(rows.iter().all(|r| r.state != GONE));
    Ok(Some(Previous { number: last.message.number, at: last.at, rows }))
}

/// Enters a prepared message as sent.
///
/// # Errors
/// When something came in since it was prepared; what the journal says.
pub fn send(v: &mut Voyage, p: &Prepared, who: &str, now: Utc) -> Result<i64, Problem> {
    let message = MessageSent {
        kind: p.kind.as_str().to_owned(),
        number: p.number,
        delta: p.delta,
        log_entries: p.log.0,
        root: p.log.1.to_string(),
        text_sha256: Digest::of(p.message.text.as_bytes()).to_string(),
        text: p.message.text.clone(),
    };
    let table = NamedBytes { name: format!("{}.csv.gz", p.stem()), bytes: p.packed.clone() };
    v.enter_message(message, table, who, now)
}
