//! A pack written as JSON.

use super::fields::{Content, Fields};
use crate::{Reason, number};
use serde::de::{Deserializer, MapAccess, Visitor};
use serde_json::Value;
use std::fmt;

pub(super) fn read(text: &str) -> Result<Vec<Fields>, Reason> {
    let records: Vec<Record> = serde_json::from_str(text).map_err(|e| match e.classify() {
        // JSON, but not a list of objects.
        serde_json::error::Category::Data => Reason::BadSenml,
        _ => number::absent(text).unwrap_or(Reason::BadJson),
    })?;
    records.into_iter().map(Record::fields).collect()
}

/// The members of an object as they come: a map would hide one that stands there twice.
struct Record(Vec<(String, Value)>);

impl Record {
    fn fields(self) -> Result<Fields, Reason> {
        let mut fields = Fields::default();
        for (name, value) in self.0 {
            fields.put(&name, content(value))?;
        }
        Ok(fields)
    }
}

fn content(value: Value) -> Content {
    match value {
        Value::Number(n) => n.as_f64().map_or(Content::Other, Content::Number),
        Value::String(t) => Content::Text(t),
        Value::Bool(b) => Content::Truth(b),
        _ => Content::Other,
    }
}

impl<'de> serde::Deserialize<'de> for Record {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        d.deserialize_map(Members)
    }
}

struct Members;

impl<'de> Visitor<'de> for Members {
    type Value = Record;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a SenML record")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Record, A::Error> {
        let mut members = Vec::new();
        while let Some(member) = map.next_entry()? {
            members.push(member);
        }
        Ok(Record(members))
    }
}
