//! A payload as text, and as JSON when somebody asks.

use crate::{Reason, number};
use serde_json::value::RawValue;
use std::cell::OnceCell;

/// Longest payload that is looked at, in bytes. A reading needs less than 1 % of it.
const LONGEST: usize = 64 * 1024;

/// A payload that is text. Whether it is JSON is found out once, however many entries read it.
#[derive(Debug)]
pub(crate) struct Body<'a> {
    /// The text without byte-order mark.
    pub(crate) text: &'a str,
    whole: OnceCell<Result<&'a RawValue, Reason>>,
}

impl<'a> Body<'a> {
    pub(crate) fn new(payload: &'a [u8]) -> Result<Self, Reason> {
        if payload.len() > LONGEST {
            return Err(Reason::TooLong);
        }
        let text = std::str::from_utf8(payload).map_err(|_| Reason::NotText)?;
        Ok(Self { text: text.strip_prefix('\u{feff}').unwrap_or(text), whole: OnceCell::new() })
    }

    /// The whole as one JSON value.
    pub(crate) fn json(&self) -> Result<&'a RawValue, Reason> {
        *self.whole.get_or_init(|| {
            // A word such as "offline" tells more than "bad_json" does.
            serde_json::from_str(self.text).map_err(|_| number::absent(self.text).unwrap_or(Reason::BadJson))
        })
    }
}
