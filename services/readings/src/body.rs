//! A payload as bytes, as text, as JSON and as a SenML pack: each found out once, however many entries read it.

use crate::{Reason, number, senml};
use serde_json::value::RawValue;
use std::cell::OnceCell;

/// Longest payload that is looked at, in bytes. A reading needs less than 1 % of it.
const LONGEST: usize = 64 * 1024;

/// One payload.
#[derive(Debug)]
pub(crate) struct Body<'a> {
    pub(crate) bytes: &'a [u8],
    text: OnceCell<Result<&'a str, Reason>>,
    whole: OnceCell<Result<&'a RawValue, Reason>>,
    pack: OnceCell<Result<Vec<senml::Record>, Reason>>,
}

impl<'a> Body<'a> {
    pub(crate) fn new(payload: &'a [u8]) -> Result<Self, Reason> {
        if payload.len() > LONGEST {
            return Err(Reason::TooLong);
        }
        let (text, whole, pack) = (OnceCell::new(), OnceCell::new(), OnceCell::new());
        Ok(Self { bytes: payload, text, whole, pack })
    }

    /// The text without byte-order mark.
    pub(crate) fn text(&self) -> Result<&'a str, Reason> {
        *self.text.get_or_init(|| {
            let text = std::str::from_utf8(self.bytes).map_err(|_| Reason::NotText)?;
            Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
        })
    }

    /// The whole as one JSON value.
    pub(crate) fn json(&self) -> Result<&'a RawValue, Reason> {
        *self.whole.get_or_init(|| {
            let text = self.text()?;
            // A word such as "offline" tells more than "bad_json" does.
            serde_json::from_str(text).map_err(|_| number::absent(text).unwrap_or(Reason::BadJson))
        })
    }

    /// The records of a SenML pack, resolved.
    pub(crate) fn pack(&self) -> Result<&[senml::Record], Reason> {
        let pack = self.pack.get_or_init(|| senml::read(self));
        pack.as_deref().map_err(|r| *r)
    }
}
