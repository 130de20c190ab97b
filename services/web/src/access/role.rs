//! Roles of people, scopes of programs, and what each may do.

use serde::Serialize;
use std::str::FromStr;
use utoipa::ToSchema;

/// What a person may do. Each may also do what those before it may.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Reads.
    Looker,
    /// Records, and takes alarms on.
    Helper,
    /// Everything: also people, probes, species, and trying calls.
    Keeper,
}

/// What a program may do with its token.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Scope {
    /// As a looker.
    Read,
    /// As a helper.
    Record,
    /// As a keeper.
    Manage,
}

/// What a route asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Need {
    /// Nothing: what is behind it is no secret, or its address is the secret.
    Public,
    /// That it may be read.
    Read,
    /// That alarms may be taken on.
    Acknowledge,
    /// That what was seen or done may be recorded.
    Record,
    /// That everything may be changed.
    Manage,
    /// That it is a person, about herself.
    Own,
}

impl Role {
    /// All of them, the one that may least first.
    pub const ALL: [Self; 3] = [Self::Looker, Self::Helper, Self::Keeper];

    /// Its word, as it is kept.
    pub fn word(self) -> &'static str {
        match self {
            Self::Looker => "looker",
            Self::Helper => "helper",
            Self::Keeper => "keeper",
        }
    }

    /// Whether that suffices.
    pub(crate) fn may(self, need: Need) -> bool {
        match need {
            Need::Public | Need::Read | Need::Own => true,
            Need::Acknowledge | Need::Record => self >= Self::Helper,
            Need::Manage => self == Self::Keeper,
        }
    }
}

impl FromStr for Role {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|r| r.word() == word);
        found.ok_or_else(|| format!("{word:?} is no role; use looker, helper or keeper"))
    }
}

impl Scope {
    /// All of them, the one that may least first.
    pub const ALL: [Self; 3] = [Self::Read, Self::Record, Self::Manage];

    /// Its word, as it is kept.
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Record => "record",
            Self::Manage => "manage",
        }
    }

    /// The role that may do the same.
    pub fn role(self) -> Role {
        match self {
            Self::Read => Role::Looker,
            Self::Record => Role::Helper,
            Self::Manage => Role::Keeper,
        }
    }
}

impl FromStr for Scope {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let found = Self::ALL.into_iter().find(|s| s.word() == word);
        found.ok_or_else(|| format!("{word:?} is no scope; use read, record or manage"))
    }
}
