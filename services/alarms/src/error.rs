//! What a person asked of an alarm and does not get.

use std::fmt;

/// An act that an alarm refuses: why, and what to do instead.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmError(pub(crate) String);

impl fmt::Display for AlarmError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for AlarmError {}
