//! The shapes of bodies, derived from the types and laid flat.

use serde_json::{Map, Value, json};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// Every shape by its name.
#[derive(Default)]
pub(super) struct Schemas(Map<String, Value>);

fn value(schema: &RefOr<Schema>) -> Value {
    // Made of text alone, which always serialises.
    serde_json::to_value(schema).unwrap_or_default()
}

pub(super) fn reference(name: &str) -> Value {
    json!({"$ref": format!("#/components/schemas/{name}")})
}

pub(super) fn list(of: &Value) -> Value {
    json!({"type": "array", "items": of})
}

/// An object with these fields, all of them there.
pub(super) fn object(fields: &[(&str, Value)]) -> Value {
    let names: Vec<&str> = fields.iter().map(|f| f.0).collect();
    let properties: Map<String, Value> = fields.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect();
    json!({"type": "object", "required": names, "properties": properties})
}

impl Schemas {
    pub(super) fn add(&mut self, name: &str, schema: Value) -> Value {
        self.0.insert(name.to_owned(), schema);
        reference(name)
    }

    /// A type with all that it is made of.
    pub(super) fn of<T: ToSchema>(&mut self) -> Value {
        let mut parts = Vec::new();
        T::schemas(&mut parts);
        for (name, schema) in &parts {
            self.0.entry(name.clone()).or_insert_with(|| value(schema));
        }
        self.add(&T::name(), value(&T::schema()))
    }

    pub(super) fn list_of<T: ToSchema>(&mut self) -> Value {
        let one = self.of::<T>();
        list(&one)
    }

    /// What is sent: the fields of a type, nothing else, and who sends it.
    pub(super) fn sent<T: ToSchema>(&mut self, more: &[(&str, Value)]) -> Value {
        self.of::<T>();
        let name = T::name();
        let whole = self.flat(&value(&<T as PartialSchema>::schema()));
        let closed = match whole.get("oneOf") {
            Some(Value::Array(kinds)) => {
                let kinds: Vec<Value> = kinds.iter().map(|k| close(self.flat(k), more)).collect();
                json!({"oneOf": kinds})
            }
            _ => close(whole, more),
        };
        self.add(&format!("Sent{name}"), closed)
    }

    /// All of them, those made of several laid flat: a closed shape in an `allOf` would refuse the fields of the others.
    pub(super) fn all(&self) -> Value {
        let each = self.0.iter().map(|(name, schema)| {
            let mut schema = self.flat(schema);
            if let Some(Value::Array(kinds)) = schema.get_mut("oneOf") {
                for kind in kinds {
                    *kind = self.flat(kind);
                }
            }
            (name.clone(), schema)
        });
        Value::Object(each.collect())
    }

    fn flat(&self, schema: &Value) -> Value {
        let Some(Value::Array(parts)) = schema.get("allOf") else { return schema.clone() };
        if let [one] = parts.as_slice() {
            return self.flat(&self.resolved(one));
        }
        let mut whole = json!({"type": "object", "required": [], "properties": {}});
        if let Some(words) = schema.get("description") {
            whole["description"] = words.clone();
        }
        for part in parts {
            let part = self.flat(&self.resolved(part));
            for (name, field) in part["properties"].as_object().into_iter().flatten() {
                whole["properties"][name] = field.clone();
            }
            if let (Some(Value::Array(all)), Some(Value::Array(more))) =
                (whole.get_mut("required"), part.get("required"))
            {
                all.extend(more.iter().cloned());
            }
        }
        whole
    }

    fn resolved(&self, schema: &Value) -> Value {
        let name = schema["$ref"].as_str().and_then(|r| r.rsplit('/').next());
        name.and_then(|n| self.0.get(n)).unwrap_or(schema).clone()
    }
}

fn close(mut schema: Value, more: &[(&str, Value)]) -> Value {
    for (name, field) in more {
        schema["properties"][*name] = field.clone();
    }
    schema["additionalProperties"] = Value::Bool(false);
    schema
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keeper::{NewClutch, NewComparison, Record, Shelving, Trial};
    use ledger::Event;
    use serde::de::DeserializeOwned;

    /// A value of a shape: with all of its fields, or with those only that it must have.
    fn example(all: &Schemas, schema: &Value, full: bool) -> Value {
        let schema = all.flat(&all.resolved(schema));
        let either = |key: &str| schema[key].as_array().and_then(|a| a.first()).cloned();
        if let Some(one) = either("oneOf").or_else(|| either("enum")) {
            return if one.is_object() { example(all, &one, full) } else { one };
        }
        let kind = schema["type"].as_str().unwrap_or_else(|| schema["type"][0].as_str().unwrap_or("object"));
        match kind {
            "string" if schema["format"] == "date-time" => json!("2026-11-25T02:00:00Z"),
            "string" => schema["examples"].get(0).cloned().unwrap_or_else(|| json!("V1")),
            "integer" => json!(3),
            "number" => json!(25.5),
            "boolean" => json!(true),
            "array" if schema["prefixItems"].is_array() => {
                schema["prefixItems"].as_array().unwrap().iter().map(|i| example(all, i, full)).collect()
            }
            "array" => json!([example(all, &schema["items"], full)]),
            _ => {
                let must = schema["required"].as_array().cloned().unwrap_or_default();
                let fields = schema["properties"].as_object().cloned().unwrap_or_default();
                let taken = fields.iter().filter(|(n, _)| full || must.contains(&json!(n)));
                Value::Object(taken.map(|(n, s)| (n.clone(), example(all, s, full))).collect())
            }
        }
    }

    fn read<T: ToSchema + DeserializeOwned>() -> usize {
        let mut all = Schemas::default();
        let place = all.sent::<T>(&[]);
        let shape = all.resolved(&place);
        let kinds = shape["oneOf"].as_array().cloned().unwrap_or_else(|| vec![shape]);
        for kind in &kinds {
            assert_eq!(kind["additionalProperties"], false, "{kind}");
            for full in [false, true] {
                let sent = example(&all, kind, full);
                let read = serde_json::from_value::<T>(sent.clone());
                assert!(read.is_ok(), "{sent}: {}", read.err().map(|e| e.to_string()).unwrap_or_default());
            }
            let mut odd = example(&all, kind, false);
            odd["of_a_field_that_is_not_described"] = json!(1);
            assert!(serde_json::from_value::<T>(odd.clone()).is_err(), "{odd} was taken");
        }
        kinds.len()
    }

    /// What the description says of events is read as events: each kind, with all fields and with the needed ones only.
    #[test]
    fn what_is_described_to_be_sent_is_read() {
        assert_eq!(read::<Event>(), EVENTS);
        assert_eq!(read::<Record>(), 6);
        read::<NewClutch>();
        read::<NewComparison>();
        read::<Shelving>();
        read::<Trial>();
    }

    /// How many kinds of events there are: as many words as serde lists when it reads none of them.
    #[test]
    fn every_kind_of_event_is_described() {
        let said = serde_json::from_value::<Event>(json!({"event": "?"})).unwrap_err().to_string();
        let words: Vec<&str> = said.split('`').skip(3).step_by(2).collect();
        assert_eq!(words.len(), EVENTS, "{said}");
        let mut all = Schemas::default();
        let place = all.sent::<Event>(&[]);
        let kinds = all.resolved(&place)["oneOf"].as_array().unwrap().clone();
        let described: Vec<String> =
            kinds.iter().map(|k| k["properties"]["event"]["enum"][0].as_str().unwrap().to_owned()).collect();
        assert_eq!(described, words);
    }

    const EVENTS: usize = 34;
}
