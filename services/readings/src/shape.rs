//! Our own default payload: a plain number, or `{"v":…,"t":…,"u":…,"n":…}`.

use crate::body::Body;
use crate::convert::Convert;
use crate::{Raw, Reason, Sender, json, number};
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
    let text = body.text()?;
    if text.trim_start().starts_with('{') {
        return object(probe, text);
    }
    let amount = number::payload(text, false)?;
    let value = Convert::ours(probe.quantity).apply(amount, None)?;
    Ok(Raw { sender: Sender::Vessel, ..Raw::bare(probe, value) })
}

fn object(probe: ProbeKey, text: &str) -> Result<Raw, Reason> {
    let own: Own<'_> = serde_json::from_str(text).map_err(|_| Reason::BadJson)?;
    let amount = json::amount(own.v.ok_or(Reason::MissingField)?, false)?;
    let stated = own.u.filter(|u| u.get() != "null").map(json::unit).transpose()?;
    let value = Convert::ours(probe.quantity).apply(amount, stated)?;
    let (own_time, sequence) = (json::time(own.t), own.n.and_then(json::sequence));
    Ok(Raw { own_time, sequence, sender: Sender::Vessel, ..Raw::bare(probe, value) })
}
