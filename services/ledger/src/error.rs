//! Why an event cannot be entered.

use std::fmt;

/// An event that does not fit the account; names the field, the value and the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LedgerError {
    field: &'static str,
    reason: String,
}

impl LedgerError {
    pub(crate) fn new(field: &'static str, reason: String) -> Self {
        Self { field, reason }
    }

    /// The field that is wrong: `clutch`, `at`, `count`, `stage`, `vessel`.
    pub fn field(&self) -> &'static str {
        self.field
    }

    /// What is wrong with it and what to write instead.
    pub fn reason(&self) -> &str {
        &self.reason
    }
}

impl fmt::Display for LedgerError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.field, self.reason)
    }
}

impl std::error::Error for LedgerError {}
