//! The life cycle, deadbands and delays against the cases of `standards.json`; each case carries its source and how it
//! was got. The table of ISA-18.2-2016 is from memory, cross-checked against public documents named there.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod delays;
mod driver;
mod opcua;
mod rows;
mod sequences;

use serde_json::Value;

fn cases(area: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("../standards.json")).unwrap();
    all["cases"].as_array().unwrap().iter().filter(|c| c["area"] == area).cloned().collect()
}

fn words(list: &Value) -> Vec<&str> {
    list.as_array().unwrap().iter().map(|e| e.as_str().unwrap()).collect()
}
