//! The small text formats: words, comma lists and key=value pairs.

use crate::number::{self, Amount};
use crate::{Reason, json};
use serde_json::value::RawValue;
use std::collections::BTreeMap;

/// Words and what each stands for.
#[derive(Debug)]
pub(crate) struct Words {
    values: BTreeMap<String, f64>,
    any_case: bool,
}

impl Words {
    pub(crate) fn new(values: &BTreeMap<String, f64>, any_case: bool) -> Self {
        let key = |w: &String| if any_case { w.to_lowercase() } else { w.clone() };
        Self { values: values.iter().map(|(w, v)| (key(w), *v)).collect(), any_case }
    }

    /// What a device's birth and last will say where nobody wrote other words (common practice, no source).
    pub(crate) fn availability() -> Self {
        let values = [("online", 1.0), ("offline", 0.0)].map(|(w, v)| (w.to_owned(), v));
        Self { values: values.into(), any_case: true }
    }

    /// The value of a whole payload; a JSON string is read inside its quotes.
    pub(crate) fn payload(&self, text: &str) -> Result<f64, Reason> {
        let text = number::trimmed(text);
        if !text.starts_with('"') {
            return self.value(text);
        }
        let inside: String = serde_json::from_str(text).map_err(|_| Reason::BadJson)?;
        self.value(&inside)
    }

    /// The value of a field: a string, or a number or truth value as it is written.
    pub(crate) fn field(&self, raw: &RawValue) -> Result<f64, Reason> {
        match raw.get().as_bytes().first() {
            Some(b'"') => self.value(&json::text(raw).ok_or(Reason::BadJson)?),
            Some(b'{' | b'[') => Err(Reason::WrongType),
            Some(b'n') => Err(Reason::NullValue),
            _ => self.value(raw.get()),
        }
    }

    fn value(&self, word: &str) -> Result<f64, Reason> {
        let word = number::trimmed(word);
        let found = if self.any_case { self.values.get(&word.to_lowercase()) } else { self.values.get(word) };
        // A word that is written in the map goes before what it usually means.
        found.copied().ok_or_else(|| number::absent(word).unwrap_or(Reason::UnknownWord))
    }
}

/// One item of a list.
pub(crate) fn item(text: &str, column: usize, decimal_comma: bool) -> Result<Amount, Reason> {
    let mark = if decimal_comma { ';' } else { ',' };
    let text = number::trimmed(text);
    if let Some(why) = number::absent(text) {
        return Err(why);
    }
    number::amount(text.split(mark).nth(column).ok_or(Reason::MissingField)?, decimal_comma)
}

/// The value of one key; of equal keys the last one counts.
pub(crate) fn value_of(text: &str, key: &str, decimal_comma: bool) -> Result<Amount, Reason> {
    let text = number::trimmed(text);
    if let Some(why) = number::absent(text) {
        return Err(why);
    }
    let marks = |c: char| matches!(c, ';' | '&' | '|' | '\n' | '\r') || (c == ',' && !decimal_comma);
    let mut all = text.split(marks).flat_map(pairs);
    let found = all.rfind(|(k, _)| *k == key).ok_or(Reason::MissingField)?;
    number::amount(found.1, decimal_comma)
}

/// The pairs of a piece without marks: white space before a key ends the value before it, and none other does, so that
/// the unit in `t=80.4 F` is not lost.
fn pairs(piece: &str) -> Vec<(&str, &str)> {
    let mut found = Vec::new();
    let mut rest = piece;
    while let Some((left, right)) = rest.split_once('=') {
        let key = left.trim();
        let value_end = right.find('=').map_or(right.len(), |next| key_start(&right[..next]));
        found.push((key, right[..value_end].trim()));
        rest = &right[value_end..];
    }
    found
}

/// Where the last word of a text begins, past which white space and a mark `=` follow.
fn key_start(before: &str) -> usize {
    let word = before.trim_end();
    word.rfind(char::is_whitespace).map_or(0, |i| i + word[i..].chars().next().map_or(1, char::len_utf8))
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Unit;

    #[test]
    fn words_are_exact_unless_asked_otherwise() {
        let map = BTreeMap::from([("ON".to_owned(), 1.0), ("OFF".to_owned(), 0.0)]);
        let exact = Words::new(&map, false);
        assert_eq!(exact.payload(" ON\n"), Ok(1.0));
        assert_eq!(exact.payload("\"OFF\""), Ok(0.0));
        assert_eq!(exact.payload("on"), Err(Reason::UnknownWord));
        assert_eq!(exact.payload("unavailable"), Err(Reason::UnavailableWord));
        assert_eq!(exact.payload(""), Err(Reason::Empty));
        let any = Words::new(&map, true);
        assert_eq!(any.payload("oN"), Ok(1.0));
        assert_eq!(Words::availability().payload("Offline"), Ok(0.0), "a mapped word goes first");
        let raw = |t: &str| any.field(serde_json::from_str(t).unwrap());
        assert_eq!(raw("\"off\""), Ok(0.0));
        assert_eq!(raw("null"), Err(Reason::NullValue));
        assert_eq!(raw("[1]"), Err(Reason::WrongType));
        let bits = Words::new(&BTreeMap::from([("true".to_owned(), 1.0), ("1".to_owned(), 1.0)]), false);
        assert_eq!(bits.field(serde_json::from_str("true").unwrap()), Ok(1.0));
        assert_eq!(bits.field(serde_json::from_str("1").unwrap()), Ok(1.0));
    }

    #[test]
    fn items_are_counted_from_nought() {
        let at = |text: &str, i, comma| item(text, i, comma).map(|a| a.value);
        assert_eq!(at("28-4f2a91,26.93,ok", 1, false), Ok(26.93));
        assert_eq!(at("26,94;1,21", 1, true), Ok(1.21));
        assert_eq!(at("26.93", 1, false), Err(Reason::MissingField));
        assert_eq!(at("a,,b", 1, false), Err(Reason::Empty));
        assert_eq!(at("a,ok", 1, false), Err(Reason::NotANumber));
        assert_eq!(at("", 0, false), Err(Reason::Empty));
    }

    #[test]
    fn a_key_keeps_its_unit_and_ends_at_the_next_key() {
        let of = |text: &str, key| value_of(text, key, false).map(|a| (a.value, a.unit));
        for text in ["t=26.9;f=1.2", "f=1.2,t=26.9", "t=26.9 f=1.2", "f = 1.2 t = 26.9", "t=1\nt=26.9|f=1.2"]
        {
            assert_eq!(of(text, "t"), Ok((26.9, None)), "{text}");
            assert_eq!(of(text, "f"), Ok((1.2, None)), "{text}");
        }
        assert_eq!(of("t=80.4 F f=2", "t"), Ok((80.4, Some(Unit::Fahrenheit))));
        assert_eq!(of("t=26.9", "x"), Err(Reason::MissingField));
        assert_eq!(of("tt=26.9", "t"), Err(Reason::MissingField));
        assert_eq!(of("t=", "t"), Err(Reason::Empty));
        assert_eq!(of("t=nan", "t"), Err(Reason::NotANumber));
        assert_eq!(value_of("t=26,9;f=1", "t", true).map(|a| a.value), Ok(26.9));
        assert_eq!(of("é=1\u{2003}ü=2", "ü"), Ok((2.0, None)));
    }
}
