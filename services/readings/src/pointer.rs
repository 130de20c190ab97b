//! JSON Pointer (RFC 6901), with one addition: `name[key=value]` chooses the member of the array `name` whose `key`
//! has that value, because probes are chosen by their number and never by position.

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::value::RawValue;
use std::borrow::Cow;
use std::fmt;

/// A pointer that was checked once and is followed often. Nothing is built while following: each step passes over
/// the text of the value it starts from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Pointer(Vec<Step>);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Step {
    name: String,
    choice: Option<Choice>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Choice {
    array: String,
    key: String,
    value: String,
}

impl Pointer {
    /// Checks and keeps a pointer; the error says what to do.
    pub(crate) fn parse(text: &str) -> Result<Self, &'static str> {
        if text.is_empty() {
            return Ok(Self(Vec::new()));
        }
        let steps = text.strip_prefix('/').ok_or("start it with a slash, e.g. \"/temperature\"")?;
        steps.split('/').map(step).collect::<Result<_, _>>().map(Self)
    }

    /// The value it points at, if there is one.
    pub(crate) fn follow<'de>(&self, whole: &'de RawValue) -> Option<&'de RawValue> {
        self.0.iter().try_fold(whole, |from, step| step.follow(from))
    }
}

fn step(token: &str) -> Result<Step, &'static str> {
    let name = unescape(token)?;
    let choice = name.strip_suffix(']').and_then(|n| n.split_once('[')).and_then(|(array, rest)| {
        let (key, value) = rest.split_once('=')?;
        Some(Choice { array: array.to_owned(), key: key.to_owned(), value: value.to_owned() })
    });
    Ok(Step { name, choice })
}

/// `~1` is a slash and `~0` a tilde, in that order; any other `~` is an error.
fn unescape(token: &str) -> Result<String, &'static str> {
    let mut parts = token.split('~');
    let mut name = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (c, rest) = match part.as_bytes().first() {
            Some(b'0') => ('~', &part[1..]),
            Some(b'1') => ('/', &part[1..]),
            _ => return Err("write \"~0\" for a tilde and \"~1\" for a slash inside a name"),
        };
        name.push(c);
        name.push_str(rest);
    }
    Ok(name)
}

impl Step {
    fn follow<'de>(&self, from: &'de RawValue) -> Option<&'de RawValue> {
        // A field that really has brackets in its name comes first: that is the RFC's reading.
        one_level(from, &self.name).or_else(|| self.choice.as_ref()?.follow(from))
    }
}

impl Choice {
    fn follow<'de>(&self, from: &'de RawValue) -> Option<&'de RawValue> {
        let array = if self.array.is_empty() { from } else { one_level(from, &self.array)? };
        let members: Vec<&RawValue> = serde_json::from_str(array.get()).ok()?;
        members.into_iter().find(|m| one_level(m, &self.key).is_some_and(|v| self.is(v)))
    }

    fn is(&self, found: &RawValue) -> bool {
        crate::json::text(found).map_or(found.get() == self.value, |t| t == self.value.as_str())
    }
}

/// The member of an object or array.
fn one_level<'de>(from: &'de RawValue, name: &str) -> Option<&'de RawValue> {
    let mut json = serde_json::Deserializer::from_str(from.get());
    Member(name).deserialize(&mut json).ok().flatten()
}

struct Member<'n>(&'n str);

impl<'de> DeserializeSeed<'de> for Member<'_> {
    type Value = Option<&'de RawValue>;
    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Member<'_> {
    type Value = Option<&'de RawValue>;

    // A number, word or text has no members; its visit is an error, which `one_level` makes a `None`.
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "an object or array with {:?}", self.0)
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut found = None;
        while let Some(Key(key)) = map.next_key()? {
            // Of equal names the last one counts, as in most readers of JSON.
            if key == self.0 {
                found = Some(map.next_value()?);
            } else {
                map.next_value::<IgnoredAny>()?;
            }
        }
        Ok(found)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let wanted = index(self.0);
        let mut found = None;
        let mut at = 0;
        while let Some(value) = seq.next_element::<&RawValue>()? {
            if wanted == Some(at) {
                found = Some(value);
            }
            at += 1;
        }
        Ok(found)
    }
}

/// An array index: digits without a leading zero. `-` means the member after the last, which never exists.
fn index(name: &str) -> Option<usize> {
    let digits = name.bytes().all(|b| b.is_ascii_digit());
    (digits && (name == "0" || !name.starts_with('0'))).then(|| name.parse().ok()).flatten()
}

/// An object's key, borrowed unless it has escapes.
#[derive(serde::Deserialize)]
struct Key<'a>(#[serde(borrow)] Cow<'a, str>);

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    /// RFC 6901 sections 3, 4, 5 and 7; each case names its source.
    const CASES: &str = include_str!("../tests/standards.json");

    fn find(document: &str, pointer: &str) -> Result<Option<Value>, &'static str> {
        let whole: &RawValue = serde_json::from_str(document).unwrap();
        let found = Pointer::parse(pointer)?.follow(whole);
        Ok(found.map(|v| serde_json::from_str(v.get()).unwrap()))
    }

    #[test]
    fn the_cases_of_the_standard() {
        let cases: Vec<Value> = serde_json::from_str(CASES).unwrap();
        let ours: Vec<&Value> = cases.iter().filter(|c| c["area"] == "json_pointer").collect();
        assert_eq!(ours.len(), 13);
        for c in ours {
            let found = find(&c["input"]["document"].to_string(), c["input"]["pointer"].as_str().unwrap());
            match &c["expected"] {
                Value::String(s) if s.starts_with("error") => assert!(!matches!(found, Ok(Some(_))), "{c}"),
                wanted => assert_eq!(found, Ok(Some(wanted.clone())), "{c}"),
            }
        }
    }

    #[test]
    fn the_empty_pointer_is_the_whole_and_escapes_come_off_once() {
        assert_eq!(find("[1]", ""), Ok(Some(Value::from(vec![1]))));
        assert_eq!(find(r#"{"a/b":1,"~1":2}"#, "/a~1b"), Ok(Some(1.into())));
        assert_eq!(find(r#"{"a/b":1,"~1":2}"#, "/~01"), Ok(Some(2.into())));
        assert_eq!(find(r#"{"\u0061":1}"#, "/a"), Ok(Some(1.into())));
        assert!(find("[1]", "/-").unwrap().is_none());
        assert!(find("7", "/a").unwrap().is_none());
        assert!(Pointer::parse("/a~").is_err());
    }

    #[test]
    fn a_member_is_chosen_by_its_number() {
        let text = r#"{"s":[{"id":"28-a","c":1},{"n":7,"c":2},3],"s[id=x]":{"c":4}}"#;
        assert_eq!(find(text, "/s[id=28-a]/c"), Ok(Some(1.into())));
        assert_eq!(find(text, "/s[n=7]/c"), Ok(Some(2.into())));
        assert_eq!(find(text, "/s[id=x]/c"), Ok(Some(4.into())), "a field of that very name comes first");
        assert_eq!(find(text, "/s[id=28-z]/c"), Ok(None));
        assert_eq!(find(r#"[{"id":"a","c":5}]"#, "/[id=a]/c"), Ok(Some(5.into())));
    }
}
