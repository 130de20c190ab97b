//! Payloads as devices send them, each with what is to come of it.
//!
//! `payloads.json` holds examples of our own, written down by hand and decoded by two separately written readers
//! before this crate existed.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use readings::case::Case;
use readings::trial::Tried;
use serde_json::Value;

const CASES: &str = include_str!("payloads.json");
/// How far a value may be off; the expected ones are rounded to three decimals.
const TOLERANCE: f64 = 0.001;

#[test]
fn every_case_comes_out_as_written_down() {
    let cases: Vec<Value> = serde_json::from_str(CASES).unwrap();
    assert_eq!(cases.len(), 66, "a case was forgotten");
    let failed: Vec<String> = cases
        .iter()
        .filter_map(|c| {
            let case: Case = serde_json::from_value(c.clone()).unwrap();
            let outcome = case.run().unwrap().tried;
            differs(c, &outcome).then(|| format!("{c}\n   came out as {outcome:?}"))
        })
        .collect();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

fn differs(case: &Value, o: &Tried) -> bool {
    if let Some(word) = case["expected_rejection"].as_str() {
        return o.outcome != "refusal" || o.reason != Some(word) || o.value.is_some();
    }
    let wanted = &case["expected"];
    let value = wanted["value"].as_f64().unwrap();
    o.outcome != "reading"
        || o.reason.is_some()
        || o.value.is_none_or(|v| (v - value).abs() > TOLERANCE)
        || o.unit.as_deref() != wanted["unit"].as_str()
        || o.time_source != wanted["time_source"].as_str()
        || o.time.map(|t| t.to_string()).as_deref() != wanted["time"].as_str()
        || o.flag != wanted["flag"].as_str()
}

#[test]
fn a_broken_case_is_named_with_its_cure() {
    let broken = |how: &str| {
        let text = format!(
            r#"{{"id":"X1","topic":"a","payload":"1","received_at":"2031-03-14T02:17:40Z","how_to_read":{how}}}"#
        );
        serde_json::from_str::<Case>(&text).unwrap().run().unwrap_err().to_string()
    };
    let said = broken(r#"{"channel":"temperature","format":"xml"}"#);
    assert!(said.contains("X1") && said.contains("how_to_read.format") && said.contains("\"xml\""), "{said}");
    let said = broken(r#"{"channel":"temperature","format":"json"}"#);
    assert!(said.contains("pointer") && said.contains("RFC 6901"), "{said}");
}

#[test]
fn a_unit_that_we_do_not_know_refuses_the_message() {
    let text = r#"{"id":"X1","topic":"a","payload":"1","received_at":"2031-03-14T02:17:40Z",
        "how_to_read":{"channel":"temperature","format":"plain","unit_in":"R"}}"#;
    let tried = serde_json::from_str::<Case>(text).unwrap().run().unwrap().tried;
    assert_eq!(tried.reason, Some("unknown_unit"));
}
