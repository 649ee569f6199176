//! The write-ahead log beside a voyage file that is open, or was not closed: damage in it before
//! its last write.
//!
//! The database reads such a log up to the first frame whose checksum fails and passes over the
//! rest in silence, because a write cut off by a loss of power looks like that. A sound frame
//! *after* a damaged one is no cut-off write (SQLite file format §4.2: each checksum continues the
//! one before).

/// What is damaged, in words; `None` when nothing is, or only the last write.
pub(crate) fn damage(log: &[u8]) -> Option<String> {
    let header = log.get(..32)?;
    let big = match word(header, 0, true)? {
        0x377f_0682 => false,
        0x377f_0683 => true,
        _ => return Some("the head of the write-ahead log beside it is damaged".to_owned()),
    };
    let size = usize::try_from(word(header, 8, true)?).ok()?;
    let stored = (word(header, 24, true)?, word(header, 28, true)?);
    if !size.is_power_of_two() || sum(header.get(..24)?, (0, 0), big) != stored {
        return Some("the head of the write-ahead log beside it is damaged".to_owned());
    }
    let salt = header.get(16..24)?;
    let (mut before, mut bad) = (stored, None);
    let frames = log.get(32..)?.chunks_exact(size.checked_add(24)?);
    for (n, frame) in frames.enumerate() {
        let (head, page) = frame.split_at_checked(24)?;
        let own = (word(head, 16, true)?, word(head, 20, true)?);
        let sound =
            head.get(8..16)? == salt && sum(page, sum(head.get(..8)?, before, big), big) == own;
        match (sound, bad) {
            (true, Some(first)) => {
                return Some(format!(
                    "the write-ahead log beside it is damaged at frame {first}; what was entered \
                     from there on cannot be trusted"
                ));
            }
            (false, None) => bad = Some(n + 1),
            _ => {}
        }
        before = own;
    }
    None
}

fn word(bytes: &[u8], at: usize, big: bool) -> Option<u32> {
    let four: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
    Some(if big { u32::from_be_bytes(four) } else { u32::from_le_bytes(four) })
}

/// The format's checksum, continued from `s`.
fn sum(bytes: &[u8], s: (u32, u32), big: bool) -> (u32, u32) {
    let (mut a, mut b) = s;
    for pair in bytes.chunks_exact(8) {
        let x = word(pair, 0, big).unwrap_or(0);
        let y = word(pair, 4, big).unwrap_or(0);
        a = a.wrapping_add(x).wrapping_add(b);
        b = b.wrapping_add(y).wrapping_add(a);
    }
    (a, b)
}
