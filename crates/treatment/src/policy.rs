//! The words a schedule uses: what can go wrong, and what it does to the clock.

/// What a schedule says a breach does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Policy {
    /// Listed; the clock goes on.
    Warn,
    /// Warm days lengthen the treatment.
    Extend,
    /// The breach stays open until an official decides.
    InvalidUnlessVerified,
    /// The clock starts again.
    Restart,
    /// The treatment is over.
    Cancel,
}

impl Policy {
    /// All, weakest first.
    pub const ALL: [Self; 5] =
        [Self::Warn, Self::Extend, Self::InvalidUnlessVerified, Self::Restart, Self::Cancel];

    /// As written in a schedule.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Warn => "warn",
            Self::Extend => "extend",
            Self::InvalidUnlessVerified => "invalid_unless_verified",
            Self::Restart => "restart",
            Self::Cancel => "cancel",
        }
    }

    /// Reads the word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.as_str() == word)
    }
}

/// What a breach did. The order is strength: a run that was found twice keeps the stronger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effect {
    /// Nothing: by policy, by an extra probe, or because no clock ran.
    Warn,
    /// An official verified it: the clock stands as if it had not happened.
    Verified,
    /// The day counts towards the extension.
    Extend,
    /// Open until an official decides.
    InvalidUnlessVerified,
    /// An official refused it: the clock started again.
    Refused,
    /// The clock started again.
    Restart,
    /// The treatment ended.
    Cancel,
}

impl Effect {
    /// As written in the output.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Warn => "warn",
            Self::Verified => "verified",
            Self::Extend => "extend",
            Self::InvalidUnlessVerified => "invalid_unless_verified",
            Self::Refused => "refused",
            Self::Restart => "restart",
            Self::Cancel => "cancel",
        }
    }
}

impl From<Policy> for Effect {
    fn from(p: Policy) -> Self {
        match p {
            Policy::Warn => Self::Warn,
            Policy::Extend => Self::Extend,
            Policy::InvalidUnlessVerified => Self::InvalidUnlessVerified,
            Policy::Restart => Self::Restart,
            Policy::Cancel => Self::Cancel,
        }
    }
}

/// What can go wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// Pulp above the limit.
    Excursion,
    /// Pulp below the cold side.
    Cold,
    /// Too large a change between two readings of a probe.
    Step,
    /// Too long between two reading times.
    Gap,
    /// A probe without a possible reading for too long.
    Fault,
}

impl Kind {
    /// All.
    pub const ALL: [Self; 5] = [Self::Excursion, Self::Cold, Self::Step, Self::Gap, Self::Fault];

    /// As written in the output.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Excursion => "excursion",
            Self::Cold => "cold",
            Self::Step => "step",
            Self::Gap => "gap",
            Self::Fault => "fault",
        }
    }

    /// Reads the word.
    #[must_use]
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.as_str() == word)
    }
}
