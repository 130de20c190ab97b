//! The rules of topic filters, by the cases of the standards; each case in the file names its source.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::Value;

const CASES: &str = include_str!("standards.json");

fn cases(area: &str) -> Vec<Value> {
    let all: Vec<Value> = serde_json::from_str(CASES).unwrap();
    all.into_iter().filter(|c| c["area"] == area).collect()
}

#[test]
fn topics_match_as_the_standard_says() {
    let cases = cases("mqtt.topic_match");
    assert_eq!(cases.len(), 27);
    for c in cases {
        let (filter, topic) = (c["input"]["filter"].as_str().unwrap(), c["input"]["topic"].as_str().unwrap());
        assert_eq!(readings::matches(filter, topic), c["expected"].as_bool().unwrap(), "{c}");
    }
}

#[test]
fn filters_are_valid_as_the_standard_says() {
    // Cases with a topic are about publishing, which is not done here.
    let cases: Vec<Value> =
        cases("mqtt.filter_valid").into_iter().filter(|c| c["input"]["filter"].is_string()).collect();
    assert_eq!(cases.len(), 15);
    for c in cases {
        let fault = readings::filter_fault(c["input"]["filter"].as_str().unwrap());
        assert_eq!(fault.is_none(), c["expected"]["valid"].as_bool().unwrap(), "{c}: {fault:?}");
    }
}

/// OASIS MQTT 3.1.1 (2014) [MQTT-4.7.3-3]: at most 65,535 bytes of UTF-8.
#[test]
fn a_filter_is_bounded_in_bytes_not_in_characters() {
    assert_eq!(readings::filter_fault(&"x".repeat(65_535)), None);
    assert!(readings::filter_fault(&"x".repeat(65_536)).is_some());
    assert!(readings::filter_fault(&"é".repeat(32_768)).is_some());
}
