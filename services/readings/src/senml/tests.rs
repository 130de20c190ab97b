//! The cases of the standard; each names its source in the file.

use super::fields::{Content, Fields, LABELS};
use super::{amount, cbor, json, read, resolve, units};
use crate::body::Body;
use crate::{OwnTime, Reason};
use ::units::{Time, Unit};
use serde_json::Value;

const CASES: &str = include_str!("../../tests/standards.json");

fn cases(area: &str, how_many: usize) -> Vec<Value> {
    let all: Vec<Value> = serde_json::from_str(CASES).unwrap();
    let ours: Vec<Value> = all.into_iter().filter(|c| c["area"] == area).collect();
    assert_eq!(ours.len(), how_many, "{area}");
    ours
}

fn records(pack: &str) -> Result<Vec<resolve::Record>, Reason> {
    read(&Body::new(pack.as_bytes()).unwrap())
}

fn at(record: &resolve::Record, now: Time) -> f64 {
    let t = match record.time {
        None => now,
        Some(OwnTime::At(t)) => t,
        Some(OwnTime::Ago(ago)) => now - ago,
        other => panic!("{other:?}"),
    };
    t.millis() as f64 / 1e3
}

fn same(record: &resolve::Record, wanted: &Value, now: Time) -> bool {
    let value = match &record.value {
        resolve::Value::Number(x) => wanted["v"].as_f64().is_some_and(|w| (w - x).abs() < 1e-6),
        resolve::Value::Truth(b) => wanted["vb"].as_bool() == Some(*b),
        resolve::Value::Text(t) => wanted["vs"].as_str() == Some(t),
        resolve::Value::Other => wanted["vd"].is_string(),
    };
    value
        && wanted["n"].as_str() == Some(&record.name)
        && wanted["u"].as_str() == record.unit.as_deref()
        && (wanted["t"].as_f64().unwrap() - at(record, now)).abs() < 1e-6
}

#[test]
fn packs_resolve_as_the_standard_says() {
    for case in cases("senml.resolve", 14) {
        let now = Time::from_seconds(case["input"]["now"].as_f64().unwrap()).unwrap();
        let found = records(&case["input"]["pack"].to_string()).unwrap();
        let wanted = case["expected"].as_array().unwrap();
        assert_eq!(found.len(), wanted.len(), "{}", case["name"]);
        for (r, w) in found.iter().zip(wanted) {
            assert!(same(r, w, now), "{}: {r:?} is not {w}", case["name"]);
        }
    }
}

#[test]
fn what_the_standard_rejects_is_refused_and_nothing_else() {
    for case in cases("senml.validate", 11) {
        let found = records(&case["input"]["pack"].to_string());
        let wanted = case["expected"] == "accept";
        assert_eq!(found.is_ok(), wanted, "{}: {found:?}", case["name"]);
        assert!(wanted || found == Err(Reason::BadSenml), "{}", case["name"]);
    }
}

#[test]
fn cbor_labels_and_encodings() {
    let cases = cases("senml.cbor", 3);
    let labels: serde_json::Map<String, Value> =
        LABELS.iter().map(|(name, l)| ((*name).to_owned(), Value::from(*l as i64))).collect();
    assert_eq!(Value::Object(labels), cases[0]["expected"]);
    for case in &cases[1..] {
        let bytes = bytes(case["expected"]["one_valid_encoding"].as_str().unwrap());
        // The same pack as JSON, where data is text: what it holds is not read.
        let as_json = json::read(&case["input"]["records"].to_string()).unwrap();
        assert_eq!(cbor::read(&bytes).unwrap(), as_json, "{}", case["name"]);
    }
}

fn bytes(hex: &str) -> Vec<u8> {
    (0..hex.len()).step_by(2).map(|i| u8::from_str_radix(&hex[i..i + 2], 16).unwrap()).collect()
}

#[test]
fn units_in_their_primary_unit() {
    for case in cases("senml.units", 13) {
        let (input, wanted) = (&case["input"], &case["expected"]);
        let Some(value) = input["value"].as_f64() else {
            // The percent sign: one half, not half a percent.
            assert_eq!(amount(0.5, "%").map(|(x, u)| u.to_base(x)), Some(50.0), "{}", case["source"]);
            continue;
        };
        let (primary, name) = match input["unit"].as_str() {
            Some(unit) => units::primary(value, unit),
            None => in_words(value, case["name"].as_str().unwrap()),
        };
        assert!((primary - wanted["value"].as_f64().unwrap()).abs() < 1e-12, "{}: {primary}", case["name"]);
        assert_eq!(wanted["unit"], name, "{}", case["name"]);
    }
}

/// The cases that go from a unit written out to the registered one: there and back through our table.
fn in_words(value: f64, name: &str) -> (f64, &'static str) {
    let (from, to, symbol) = match name {
        n if n.contains("litre per minute") => (Unit::LitrePerMinute, Unit::CubicMetrePerSecond, "m3/s"),
        // 1 kg/m³ is 1 g/L.
        n if n.contains("mg per litre") => (Unit::MilligramPerLitre, Unit::GramPerLitre, "kg/m3"),
        n if n.contains("Fahrenheit") => (Unit::Fahrenheit, Unit::Celsius, "Cel"),
        n => panic!("{n}"),
    };
    assert_eq!(amount(1.0, symbol).map(|(_, u)| u), Some(to));
    let rounded = |x: f64| (x * 1e12).round() / 1e12;
    (rounded(to.from_base(from.to_base(value))), symbol)
}

#[test]
fn decimal_fractions_and_the_tag_of_cbor_are_read() {
    // [{0: "a", 2: 4([-2, 2606])}] within tag 55799; RFC 8949 sections 3.4.4 and 3.4.6.
    let bytes = bytes("d9d9f781a200616102c48221190a2e");
    let wanted = Fields { name: Some("a".into()), value: Some(26.06), ..Fields::default() };
    assert_eq!(cbor::read(&bytes), Ok(vec![wanted]));
    assert_eq!(cbor::read(&[0x81, 0xa0, 0x00]), Err(Reason::BadCbor), "bytes behind the pack");
    assert_eq!(cbor::read(&[0x9f]), Err(Reason::BadCbor), "cut short");
}

#[test]
fn a_field_that_stands_twice_is_an_error() {
    let mut fields = Fields::default();
    fields.put("n", Content::Text("a".into())).unwrap();
    assert_eq!(fields.put("n", Content::Text("b".into())), Err(Reason::BadSenml));
    assert_eq!(records(r#"[{"n":"a","v":1,"v":2}]"#), Err(Reason::BadSenml));
    assert_eq!(records(r#"[{"n":"a","v":"1"}]"#), Err(Reason::BadSenml));
    assert_eq!(records("[{"), Err(Reason::BadJson));
    assert_eq!(records("offline"), Err(Reason::UnavailableWord));
}
