//! Sensor Measurement Lists (RFC 8428) as JSON and as CBOR.
//!
//! A pack is read into fields, whatever its form; the fields are checked and resolved to records by section 4.6; a
//! record's unit is looked up in the registries of RFC 8428 and RFC 8798.

mod cbor;
mod fields;
mod json;
mod resolve;
mod units;

pub(crate) use resolve::{Record, Value};
pub(crate) use units::amount;

use crate::Reason;
use crate::body::Body;

/// Most records of one pack that are read.
const MOST_RECORDS: usize = 10_000;

/// The records of a pack with their names, units and times settled.
pub(crate) fn read(body: &Body<'_>) -> Result<Vec<Record>, Reason> {
    // No text begins with a byte of 0x80 or more that is not the start of a longer character; CBOR arrays and tags do.
    let raw = match body.bytes.first() {
        Some(0x80..=0x9f | 0xd9) => cbor::read(body.bytes)?,
        _ => json::read(body.text()?)?,
    };
    if raw.len() > MOST_RECORDS {
        return Err(Reason::TooLong);
    }
    resolve::resolve(&raw)
}

#[cfg(test)]
mod tests;
