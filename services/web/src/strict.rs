//! Reading what was sent, with the field named that will not do.

use crate::keeper::Trouble;
use crate::problem::Problem;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// So much of a value is said back.
const SAID_BACK: usize = 80;
/// Where it stands what each field takes.
const CURE: &str = "GET /api/v1/openapi.json says what each field takes";

/// A value with fields, all of them known.
pub(crate) fn strict<T: DeserializeOwned>(object: Map<String, Value>) -> Result<T, Problem> {
    let sent = object.clone();
    serde_path_to_error::deserialize(Value::Object(object)).map_err(|e| {
        let path = e.path().to_string();
        let said = e.into_inner().to_string();
        let place = match named(&said) {
            Some(name) if path == "." || path == name => Some(name),
            Some(name) if path.ends_with(&format!(".{name}")) => Some(path),
            Some(name) => Some(format!("{path}.{name}")),
            None => Some(path).filter(|p| p != "."),
        };
        match place {
            Some(field) => Problem::field(&field, reason(&sent, &field, &said)),
            None => Problem::from(Trouble::Refused {
                field: "body".to_owned(),
                reason: format!("{said}; {CURE}"),
            }),
        }
    })
}

/// One of several kinds of things, told apart by the field `tag`.
///
/// Serde reads the fields of such a one after all have been taken in, and forgets by then which one it reads; so where the whole
/// will not do, each field is tried alone.
pub(crate) fn tagged<T: DeserializeOwned>(tag: &str, object: &Map<String, Value>) -> Result<T, Trouble> {
    let read = |object: &Map<String, Value>| serde_json::from_value::<T>(Value::Object(object.clone()));
    let error = match read(object) {
        Ok(whole) => return Ok(whole),
        Err(error) => error,
    };
    let kind = object.get_key_value(tag).map(|(k, v)| (k.clone(), v.clone()));
    let alone = |field: &(&String, &Value)| {
        let pair = Some((field.0.clone(), field.1.clone()));
        read(&kind.clone().into_iter().chain(pair).collect()).err().map(|e| e.to_string())
    };
    let bad = |field: &(&String, &Value)| alone(field).filter(|said| !said.starts_with("missing field"));
    let kind_is_known = kind.as_ref().is_some_and(|(k, v)| bad(&(k, v)).is_none());
    if !kind_is_known {
        return Err(refused(tag, reason(object, tag, &error.to_string())));
    }
    let found = object.iter().filter(|f| f.0 != tag).find_map(|f| Some((f.0.clone(), bad(&f)?)));
    let (field, said) = found.unwrap_or_else(|| {
        let said = error.to_string();
        (named(&said).unwrap_or_else(|| tag.to_owned()), said)
    });
    let words = reason(object, &field, &said);
    Err(refused(&field, words))
}

fn refused(field: &str, reason: String) -> Trouble {
    Trouble::Refused { field: field.to_owned(), reason }
}

/// The field that a reader of JSON speaks of by its name.
fn named(said: &str) -> Option<String> {
    let rest = ["missing field `", "unknown field `", "duplicate field `"]
        .iter()
        .find_map(|p| said.strip_prefix(p))?;
    rest.split('`').next().map(str::to_owned)
}

/// The value, what is wrong with it, and where the cure stands.
fn reason(sent: &Map<String, Value>, field: &str, said: &str) -> String {
    match sent.get(field) {
        _ if said.starts_with("unknown field") => said.to_owned(),
        None => format!("{said}; {CURE}"),
        Some(value) => {
            let value: String = value.to_string().chars().take(SAID_BACK).collect();
            format!("{value} will not do: {said}; {CURE}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ledger::Event;
    use serde_json::json;

    fn object(value: &Value) -> Map<String, Value> {
        value.as_object().unwrap().clone()
    }

    /// Every value of an event that will not do is refused under its own name, with the value.
    #[test]
    fn the_field_of_an_event_is_named_that_will_not_do() {
        let lost = json!({"event": "lost", "clutch": "C06", "at": "2026-11-25T02:00:00Z", "count": 3, "reason": "fungus"});
        assert!(tagged::<Event>("event", &object(&lost)).is_ok());
        for (field, value) in [
            ("event", json!("forgotten")),
            ("event", json!(7)),
            ("clutch", json!("a b")),
            ("clutch", json!(null)),
            ("at", json!("yesterday")),
            ("count", json!(-3)),
            ("count", json!(2.0)),
            ("count", json!("3")),
            ("reason", json!(["fungus"])),
            ("from", json!(4)),
            ("colour", json!("red")),
        ] {
            let mut sent = object(&lost);
            sent.insert(field.to_owned(), value.clone());
            let Err(Trouble::Refused { field: said, reason }) = tagged::<Event>("event", &sent) else {
                panic!("{field} {value} was taken")
            };
            assert_eq!(said, field, "{reason}");
            assert!(field == "colour" || reason.contains(&value.to_string()), "{field}: {reason}");
        }
        for field in ["event", "clutch", "at", "count", "reason"] {
            let mut sent = object(&lost);
            sent.remove(field);
            let Err(Trouble::Refused { field: said, reason }) = tagged::<Event>("event", &sent) else {
                panic!("{field} was not missed")
            };
            assert_eq!(said, field, "{reason}");
            assert!(reason.contains("missing"), "{reason}");
        }
    }

    #[test]
    fn of_two_bad_fields_one_is_named_and_nested_ones_by_their_place() {
        let two = json!({"event": "lost", "clutch": 1, "at": 2, "count": 3, "reason": "x"});
        let Err(Trouble::Refused { field, .. }) = tagged::<Event>("event", &object(&two)) else {
            panic!("taken")
        };
        assert!(["clutch", "at"].contains(&field.as_str()), "{field}");
        let trial = json!({"entry": {"topic": "a", "scale": "much"}});
        let problem = strict::<crate::keeper::Trial>(object(&trial)).unwrap_err();
        assert_eq!(problem.field_name(), Some("entry.scale"));
    }
}
