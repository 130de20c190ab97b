//! Our own default payload: a plain number, or `{"v":…,"t":…,"u":…,"n":…}`.

use crate::body::Body;
use crate::entry::in_our_unit;
use crate::{Raw, Reason, json, number};
use serde::{Deserialize, Deserializer};
use serde_json::value::RawValue;
use units::ProbeKey;

/// The object form. Other fields are passed over.
#[derive(Deserialize)]
struct Own<'a> {
    #[serde(borrow, default, deserialize_with = "present")]
    v: Option<&'a RawValue>,
    #[serde(borrow, default, deserialize_with = "present")]
    t: Option<&'a RawValue>,
    #[serde(borrow, default, deserialize_with = "present")]
    u: Option<&'a RawValue>,
    #[serde(borrow, default, deserialize_with = "present")]
    n: Option<&'a RawValue>,
}

/// Keeps `null` apart from a field that is not there.
fn present<'de, D: Deserializer<'de>>(d: D) -> Result<Option<&'de RawValue>, D::Error> {
    <&RawValue>::deserialize(d).map(Some)
}

/// Reads a payload of the default shape.
pub(crate) fn read(probe: ProbeKey, body: &Body<'_>) -> Result<Raw, Reason> {
    if body.text.trim_start().starts_with('{') {
        return object(probe, body.text);
    }
    let amount = number::payload(body.text, false)?;
    let value = in_our_unit(probe.quantity, amount, None, None, None)?;
    Ok(Raw { probe, value, own_time: None, sequence: None })
}

fn object(probe: ProbeKey, text: &str) -> Result<Raw, Reason> {
    let own: Own<'_> = serde_json::from_str(text).map_err(|_| Reason::BadJson)?;
    let amount = json::amount(own.v.ok_or(Reason::MissingField)?, false)?;
    let stated = own.u.filter(|u| u.get() != "null").map(json::unit).transpose()?;
    let value = in_our_unit(probe.quantity, amount, stated, None, None)?;
    Ok(Raw { probe, value, own_time: json::time(own.t), sequence: own.n.and_then(json::sequence) })
}
