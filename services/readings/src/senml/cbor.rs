//! A pack written as CBOR (RFC 8949): the same fields under whole numbers.

use super::fields::{Content, Fields, LABELS};
use crate::Reason;
use ciborium::Value;

/// Tag by which CBOR names itself (RFC 8949 section 3.4.6), and the one of a decimal fraction (section 3.4.4).
const SELF_DESCRIBED: u64 = 55_799;
const DECIMAL: u64 = 4;

pub(super) fn read(bytes: &[u8]) -> Result<Vec<Fields>, Reason> {
    let mut rest = bytes;
    let value: Value = ciborium::from_reader(&mut rest).map_err(|_| Reason::BadCbor)?;
    if !rest.is_empty() {
        return Err(Reason::BadCbor);
    }
    let Value::Array(records) = untagged(value) else { return Err(Reason::BadSenml) };
    records.into_iter().map(fields).collect()
}

fn untagged(value: Value) -> Value {
    match value {
        Value::Tag(SELF_DESCRIBED, inside) => *inside,
        other => other,
    }
}

fn fields(record: Value) -> Result<Fields, Reason> {
    let Value::Map(members) = record else { return Err(Reason::BadSenml) };
    let mut fields = Fields::default();
    for (label, value) in members {
        if let Some(name) = name(&label) {
            fields.put(&name, content(value))?;
        }
    }
    Ok(fields)
}

/// The field's name in JSON; a label that we do not know has none and is passed over.
fn name(label: &Value) -> Option<String> {
    match label {
        Value::Text(name) => Some(name.clone()),
        Value::Integer(i) => {
            let known = LABELS.iter().find(|(_, l)| *l == i128::from(*i));
            known.map(|(name, _)| (*name).to_owned())
        }
        _ => None,
    }
}

fn content(value: Value) -> Content {
    match value {
        Value::Integer(i) => Content::Number(i128::from(i) as f64),
        Value::Float(x) => Content::Number(x),
        Value::Text(t) => Content::Text(t),
        Value::Bool(b) => Content::Truth(b),
        Value::Bytes(_) => Content::Data,
        Value::Tag(DECIMAL, inside) => decimal(&inside).map_or(Content::Other, Content::Number),
        _ => Content::Other,
    }
}

/// A decimal fraction: exponent to the base of ten, and mantissa. Read as text, so that it is rounded once.
fn decimal(inside: &Value) -> Option<f64> {
    let [Value::Integer(exponent), Value::Integer(mantissa)] = inside.as_array()?.as_slice() else {
        return None;
    };
    let (exponent, mantissa) = (i128::from(*exponent), i128::from(*mantissa));
    format!("{mantissa}e{exponent}").parse().ok()
}
