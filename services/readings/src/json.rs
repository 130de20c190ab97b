//! Single values inside JSON text, read where they lie.

use crate::number::{self, Amount};
use crate::{OwnTime, Reason, moment};
use serde_json::value::RawValue;
use std::borrow::Cow;
use units::Unit;

/// The text of a JSON string; `None` if the value is not a string or its escapes are broken.
pub(crate) fn text(raw: &RawValue) -> Option<Cow<'_, str>> {
    let inside = raw.get().strip_prefix('"')?.strip_suffix('"')?;
    if inside.contains('\\') {
        return serde_json::from_str(raw.get()).ok().map(Cow::Owned);
    }
    Some(Cow::Borrowed(inside))
}

/// A number, or a number sent as text.
pub(crate) fn amount(raw: &RawValue, decimal_comma: bool) -> Result<Amount, Reason> {
    match raw.get().as_bytes().first() {
        Some(b'"') => number::amount(&text(raw).ok_or(Reason::BadJson)?, decimal_comma),
        Some(b'n') => Err(Reason::NullValue),
        Some(b'-' | b'0'..=b'9') => number::amount(raw.get(), false),
        _ => Err(Reason::WrongType),
    }
}

/// A running number; anything else than a whole number from 0 on is as good as none.
pub(crate) fn sequence(raw: &RawValue) -> Option<u64> {
    match text(raw) {
        Some(t) => t.trim().parse().ok(),
        None => raw.get().parse().ok(),
    }
}

/// A unit's name.
pub(crate) fn unit(raw: &RawValue) -> Result<Unit, Reason> {
    text(raw).and_then(|t| t.parse().ok()).ok_or(Reason::UnknownUnit)
}

/// What a time field says.
pub(crate) fn time(raw: Option<&RawValue>) -> Option<OwnTime> {
    raw.and_then(moment::read)
}
