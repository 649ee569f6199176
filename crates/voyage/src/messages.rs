//! Messages that left the ship.

use record::digest::Digest;
use record::{Act, MessageSent, SentEntry};
use units::Utc;

use crate::{NamedBytes, Problem, Voyage};

/// Most bytes an attachment unpacks to: a few thousand boxes.
const TABLE_MAX: u64 = 4_000_000;

impl Voyage {
    /// The number of the next message; one row of numbers for all kinds, so that the office
    /// sees a gap.
    #[must_use]
    pub fn next_message_number(&self) -> u64 {
        self.acts().sent.last().map_or(1, |s| s.message.number + 1)
    }

    /// The messages of a kind from the last full one on: what the office knows.
    #[must_use]
    pub fn messages_known_ashore(&self, kind: &str) -> Vec<&SentEntry> {
        let of_kind: Vec<&SentEntry> =
            self.acts().sent.iter().filter(|s| s.message.kind == kind).collect();
        let full = of_kind.iter().rposition(|s| !s.message.delta).unwrap_or(0);
        of_kind.into_iter().skip(full).collect()
    }

    /// The attached table of a message, unpacked.
    ///
    /// # Errors
    /// What the journal says; [`Problem::Entry`] when the attachment is missing or damaged.
    pub fn message_table(&self, sent: &SentEntry) -> Result<String, Problem> {
        let damaged = |why: &str| Problem::Entry { seq: sent.seq, why: why.to_owned() };
        let entry = self.journal().entry(sent.seq)?.ok_or_else(|| damaged("it is not held"))?;
        let original = entry.originals.first().ok_or_else(|| damaged("it has no table"))?;
        let (_, packed) =
            self.original(&original.sha256)?.ok_or_else(|| damaged("its table is not held"))?;
        let bytes = journal::gunzip(&packed, TABLE_MAX);
        bytes
            .and_then(|b| String::from_utf8(b).ok())
            .ok_or_else(|| damaged("its table cannot be unpacked"))
    }

    /// Entries so far and the root over them.
    ///
    /// # Errors
    /// What the journal says.
    pub fn log_root(&self) -> Result<(i64, Digest), Problem> {
        let tree = self.journal().tree()?;
        Ok((i64::try_from(tree.size()).unwrap_or(i64::MAX), tree.root()))
    }

    /// Enters a message as sent, with its packed table.
    ///
    /// # Errors
    /// When another message took its number or another entry came in between, or what the
    /// journal says; then nothing was stored.
    pub fn enter_message(
        &mut self,
        message: MessageSent,
        table: NamedBytes,
        who: &str,
        now: Utc,
    ) -> Result<i64, Problem> {
        self.refresh()?;
        let moved_on = message.number != self.next_message_number()
            || self.log_root()?.0 != message.log_entries;
        if moved_on {
            return Err(Problem::Act(
                "something was entered while the message was made; make it again".to_owned(),
            ));
        }
        self.enter(&Act::MessageSent(Box::new(message)), &[table], who, now)
    }
}
