//! Payloads as devices send them, each with what is to come of it.
//!
//! `payloads.json` holds examples of our own, written down by hand and decoded by two separately written readers
//! before this crate existed. Here are those whose format this crate reads so far.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use readings::{Decoded, Format, Judge, MapEntry, Message, Reading, Reason, TimeSource, TopicMap, Verdict};
use serde_json::Value;
use units::{ProbeKey, Quantity, Span, Time, Unit};

const CASES: &str = include_str!("payloads.json");

/// In the file, but what they need comes later: an age field, a quantity and a sign of life that we do not have.
const LATER: [&str; 3] = ["P038", "P069", "P088"];
/// Not in the file, since their formats come later: csv, f32le, word, word in JSON.
const OTHER_FORMATS: [&str; 8] = ["P014", "P046", "P073", "P074", "P077", "P083", "P084", "P086"];
/// All that were written down.
const ALL: usize = 66;

#[derive(Debug)]
enum Outcome {
    Stands(Reading),
    Refused(Reason),
}

#[test]
fn every_case_comes_out_as_written_down() {
    let cases: Vec<Value> = serde_json::from_str(CASES).unwrap();
    let mut failed = Vec::new();
    let mut tried = 0;
    for case in cases.iter().filter(|c| !LATER.contains(&text(&c["id"]))) {
        tried += 1;
        let outcome = run(case);
        if let Some(problem) = differs(case, &outcome) {
            failed.push(format!("{}: {problem}; got {outcome:?}", case["id"]));
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    assert_eq!(tried + LATER.len() + OTHER_FORMATS.len(), ALL, "a case was forgotten");
}

fn text(v: &Value) -> &str {
    v.as_str().unwrap_or_default()
}

fn run(case: &Value) -> Outcome {
    let map = TopicMap::new("undercroft".parse().unwrap(), entry(case).into_iter().collect()).unwrap();
    let received = Time::parse_rfc3339(text(&case["received_at"])).unwrap();
    let message = Message {
        topic: text(&case["topic"]),
        payload: text(&case["payload"]).as_bytes(),
        retained: case["mqtt"]["retain"].as_bool().unwrap(),
        received,
    };
    let mut judge = Judge::new();
    for came_before in case["context"].as_array().into_iter().flatten() {
        context(text(came_before), &map, message, &mut judge);
    }
    step(&map, message, &mut judge)
}

/// What came before: the same message, or a value and its time.
fn context(words: &str, map: &TopicMap, message: Message<'_>, judge: &mut Judge) {
    if words.contains("already stored") {
        assert!(matches!(step(map, message, judge), Outcome::Stands(_)));
    } else if let Some((value, at)) = words.split_once(" at ") {
        let received = Time::parse_rfc3339(at).unwrap();
        let before = Message { payload: value.as_bytes(), received, ..message };
        assert!(matches!(step(map, before, judge), Outcome::Stands(_)));
    }
}

fn step(map: &TopicMap, message: Message<'_>, judge: &mut Judge) -> Outcome {
    let all = map.decode(&message);
    let [decoded] = all.as_slice() else { panic!("one item expected, got {all:?}") };
    let raw = match decoded {
        Decoded::Value(raw) => raw.clone(),
        Decoded::Refused(r) => return Outcome::Refused(r.reason),
        Decoded::Nothing => panic!("{message:?} is a reading"),
    };
    let probe = raw.probe.clone();
    match judge.judge(raw, message.retained, message.received) {
        Verdict::Accept(mut readings) => Outcome::Stands(readings.pop().unwrap()),
        Verdict::Refuse(r) => Outcome::Refused(r.reason),
        Verdict::Hold => {
            // The jump is refused once the next reading is back at the old level.
            let received = message.received + Span::seconds(5);
            step(map, Message { payload: b"26.95", received, ..message }, judge);
            Outcome::Refused(judge.take_dropped(&probe).unwrap().reason)
        }
    }
}

fn entry(case: &Value) -> Option<MapEntry> {
    let how = &case["how_to_read"];
    let own = |key: &str| how[key].as_str().map(str::to_owned);
    let format = match text(&how["format"]) {
        "plain" => Format::Plain,
        _ => Format::Json {
            pointer: own("pointer")?,
            time: own("time_pointer"),
            sequence: own("seq_pointer"),
            unit: own("unit_pointer"),
        },
    };
    Some(MapEntry {
        filter: text(&case["topic"]).to_owned(),
        probe: ProbeKey::new("V1".parse().unwrap(), quantity(how["channel"].as_str()?)),
        format,
        unit: unit(text(&how["unit_in"])),
        scale: how["scale"].as_f64(),
        decimal_comma: how["decimal_comma"].as_bool().unwrap_or(false),
    })
}

fn quantity(channel: &str) -> Quantity {
    match channel {
        "temperature" => Quantity::Temperature,
        "air_flow" => Quantity::AirFlow,
        "air_pressure" => Quantity::LinePressure,
        "pump_power" => Quantity::Power,
        "ph" => Quantity::Ph,
        "conductivity" => Quantity::Conductivity,
        "dissolved_oxygen" => Quantity::DissolvedOxygen,
        // Not ours; both cases end before the quantity matters, so one with the same unit stands in.
        "pressure" => Quantity::LinePressure,
        "humidity" => Quantity::Level,
        other => panic!("no quantity for {other}"),
    }
}

fn unit(word: &str) -> Option<Unit> {
    match word {
        "auto" | "" => None,
        // The scale makes degrees of them.
        "mC" | "1/16 C" => Some(Unit::Celsius),
        word => Some(word.parse().unwrap()),
    }
}

fn differs(case: &Value, outcome: &Outcome) -> Option<String> {
    let expected = &case["expected"];
    let wanted = match (case["expected_rejection"].as_str(), expected["time_source"].as_str()) {
        (Some(word), _) => Some(word),
        // Kept by the broker and of unknown age: shown as a refusal, since no time can be given.
        (None, Some("unknown")) => expected["flag"].as_str(),
        _ => None,
    };
    match (wanted, outcome) {
        (Some(word), Outcome::Refused(reason)) => (reason.word() != word).then(|| format!("wanted {word}")),
        (Some(word), Outcome::Stands(_)) => Some(format!("wanted {word}")),
        (None, Outcome::Refused(_)) => Some("wanted a reading".to_owned()),
        (None, Outcome::Stands(r)) => reading_differs(expected, r),
    }
}

fn reading_differs(expected: &Value, r: &Reading) -> Option<String> {
    let source = match r.time_source {
        TimeSource::Arrival => "arrival",
        TimeSource::Payload => "payload",
        TimeSource::PayloadRelative => "payload_relative",
    };
    let flag_good = match expected["flag"].as_str() {
        Some("retained_not_fresh") => !r.fresh,
        Some(flag) => r.flags.words() == [flag],
        None => r.fresh && r.flags.words().is_empty(),
    };
    let good = (r.value - expected["value"].as_f64().unwrap()).abs() <= 0.001
        && r.time.to_string() == text(&expected["time"])
        && source == text(&expected["time_source"])
        && flag_good;
    (!good).then(|| format!("wanted {expected}"))
}
