//! The topic map: the default shape, entries, and what is wrong with an entry.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use readings::{Decoded, Format, MapEntry, Message, OwnTime, Raw, Reason, Refusal, TopicMap};
use units::{ProbeKey, Time, Unit};

const NOW: Time = Time::from_millis(1_931_221_060_000);

fn map(entries: Vec<MapEntry>) -> TopicMap {
    TopicMap::new("undercroft".parse().unwrap(), entries).unwrap()
}

fn plain(filter: &str, probe: &str) -> MapEntry {
    let ProbeKey { vessel, quantity, mark } = probe.parse().unwrap();
    MapEntry {
        topic: filter.into(),
        vessel: Some(vessel.to_string()),
        quantity: Some(quantity),
        mark,
        ..MapEntry::default()
    }
}

fn json(filter: &str, probe: &str, pointer: &str) -> MapEntry {
    MapEntry { format: Format::Json, pointer: Some(pointer.into()), ..plain(filter, probe) }
}

fn decode(map: &TopicMap, topic: &str, payload: impl AsRef<[u8]>) -> Vec<Decoded> {
    map.decode(&Message { topic, payload: payload.as_ref(), retained: false, received: NOW })
}

fn own(tail: &str, payload: impl AsRef<[u8]>) -> Result<Raw, Refusal> {
    match decode(&map(vec![]), &format!("hatchwarden/undercroft/{tail}"), payload).pop().unwrap() {
        Decoded::Value(raw) => Ok(raw),
        Decoded::Refused(refusal) => Err(refusal),
        other => panic!("{tail} is a reading, not {other:?}"),
    }
}

fn refused(tail: &str, payload: impl AsRef<[u8]>) -> Reason {
    own(tail, payload).unwrap_err().reason
}

#[test]
fn the_default_shape_needs_no_entry() {
    let raw =
        own("V1/temperature", r#"{"x":[{}],"v":80.6,"u":"F","t":1931221050.5,"n":4411,"rssi":-61}"#).unwrap();
    assert_eq!(raw.probe, "V1/temperature".parse().unwrap());
    assert!((raw.value - 27.0).abs() < 1e-9);
    assert_eq!(raw.own_time, Some(OwnTime::At(Time::from_millis(1_931_221_050_500))));
    assert_eq!(raw.sequence, Some(4411));
    let marked = own("V1/temperature/28-00b7", "27.1").unwrap();
    assert_eq!(marked.probe.to_string(), "V1/temperature/28-00b7");
    assert_eq!(own("TU1/air-flow", r#"{"v":"1.21 L/min"}"#).unwrap().value, 1.21);
    assert_eq!(own("V1/temperature", r#"{"v":26.9,"u":null,"t":null,"n":null}"#).unwrap().own_time, None);
}

#[test]
fn what_the_default_shape_refuses() {
    for (payload, reason) in [
        (r#"{"value":26.9}"#, Reason::MissingField),
        (r#"{"v":null}"#, Reason::NullValue),
        (r#"{"v":true}"#, Reason::WrongType),
        (r#"{"v":[26.9]}"#, Reason::WrongType),
        (r#"{"v":nan}"#, Reason::BadJson),
        (r#"{"v":26.9"#, Reason::BadJson),
        (r#"{"v":26.9} x"#, Reason::BadJson),
        (r#"{"v":26.9,"v":27}"#, Reason::BadJson),
        (r#"{"v":1e400}"#, Reason::NotANumber),
        (r#"{"v":"unknown"}"#, Reason::UnavailableWord),
        (r#"{"v":26.9,"u":"R"}"#, Reason::UnknownUnit),
        (r#"{"v":26.9,"u":"kPa"}"#, Reason::UnknownUnit),
        (r#"{"v":"26.9 F","u":"C"}"#, Reason::UnknownUnit),
        (r#"{"v":185,"u":"F"}"#, Reason::SensorPowerOnReset),
        ("[26.4]", Reason::WrongType),
        ("-127", Reason::SensorDisconnected),
        ("45.01", Reason::OutOfRange),
    ] {
        assert_eq!(refused("V1/temperature", payload), reason, "{payload}");
    }
    assert_eq!(refused("V1/temperature", [0xff, 0xfe]), Reason::NotText);
    assert_eq!(refused("V1/temperature", " ".repeat(65_537)), Reason::TooLong);
    assert_eq!(refused("V1/temperature", " ".repeat(65_536)), Reason::Empty);
}

#[test]
fn topics_without_a_probe_are_refused_by_name_and_never_guessed() {
    for tail in
        ["V1", "V1/bubbles", "V1/temperature/a/b", "V 1/temperature", "V1/temperature/", "/temperature"]
    {
        let refusal = own(tail, "26.9").unwrap_err();
        assert_eq!(
            (refusal.reason, refusal.place),
            (Reason::UnmappedTopic, format!("hatchwarden/undercroft/{tail}"))
        );
        assert_eq!((refusal.excerpt.as_str(), refusal.at), ("26.9", NOW));
    }
    let other = decode(&map(vec![]), "hatchwarden/attic/V1/temperature", "26.9");
    assert!(matches!(other.as_slice(), [Decoded::Refused(r)] if r.reason == Reason::UnmappedTopic));
}

#[test]
fn our_own_words_are_nothing_and_availability_tells_of_the_device() {
    let all = map(vec![plain("#", "V1/temperature")]);
    for tail in ["alarm/TU1", "alarm/V1/temperature", "service"] {
        assert_eq!(
            decode(&all, &format!("hatchwarden/undercroft/{tail}"), "26.9"),
            [Decoded::Nothing],
            "{tail}"
        );
    }
    let said = |payload: &str| decode(&map(vec![]), "hatchwarden/undercroft/V1/availability", payload);
    for (payload, online) in [("online", true), ("Offline\n", false)] {
        assert_eq!(said(payload), [Decoded::Availability { device: "V1".into(), online }], "{payload}");
    }
    assert_eq!(said(""), [Decoded::Nothing]);
    assert!(matches!(said("soon").as_slice(), [Decoded::Refused(r)] if r.reason == Reason::UnknownWord));
}

#[test]
fn one_message_may_speak_of_several_probes() {
    let map = map(vec![
        json("cellar/+/state", "V1/temperature", "/t"),
        json("cellar/n7/state", "TU1/air-flow", "/air"),
        json("cellar/n7/state", "V2/temperature", "/t2"),
        json("cellar/n8/state", "V2/temperature", "/t"),
    ]);
    let all = decode(&map, "cellar/n7/state", r#"{"t":26.9,"air":1.2}"#);
    let said: Vec<String> = all
        .iter()
        .map(|d| match d {
            Decoded::Value(r) => format!("{} {}", r.probe, r.value),
            Decoded::Refused(r) => format!("{} {}", r.place, r.reason),
            other => format!("{other:?}"),
        })
        .collect();
    assert_eq!(said, ["TU1/air-flow 1.2", "V2/temperature missing_field", "V1/temperature 26.9"]);
    let broken = decode(&map, "cellar/n7/state", r#"{"t":26.9,"air":nan}"#);
    assert_eq!(broken.len(), 3);
    assert!(broken.iter().all(|d| matches!(d, Decoded::Refused(r) if r.reason == Reason::BadJson)));
}

#[test]
fn an_entry_goes_before_the_default_shape() {
    let mapped = map(vec![plain("hatchwarden/undercroft/V1/temperature", "V2/temperature")]);
    let all = decode(&mapped, "hatchwarden/undercroft/V1/temperature", "26.9");
    assert!(matches!(all.as_slice(), [Decoded::Value(r)] if r.probe.vessel.as_str() == "V2"));
}

#[test]
fn units_of_map_and_payload_must_not_contradict() {
    let mut entry = plain("c/t", "V1/temperature");
    entry.unit = Some(Unit::Fahrenheit);
    let map = map(vec![entry]);
    let value = |payload: &str| match decode(&map, "c/t", payload).pop().unwrap() {
        Decoded::Value(r) => Ok(r.value),
        Decoded::Refused(r) => Err(r.reason),
        other => panic!("{other:?}"),
    };
    assert!((value("80.6").unwrap() - 27.0).abs() < 1e-9);
    assert!((value("80.6 °F").unwrap() - 27.0).abs() < 1e-9);
    assert_eq!(value("26.8 C"), Err(Reason::UnknownUnit));
    assert!((value("85.0").unwrap() - 29.444).abs() < 1e-3, "85 °F is a warm tank");
}

#[test]
fn faults_name_entry_field_value_and_cure() {
    let good = || plain("a/b", "V1/temperature");
    let wrong_unit = MapEntry { unit: Some(Unit::Psi), ..good() };
    let no_scale = MapEntry { scale: Some(0.0), ..good() };
    let mut bad_mark = good();
    bad_mark.mark = Some("a b".into());
    let pointer = json("a/b", "V1/temperature", "t");
    for (entry, field, value) in [
        (plain("a/#/b", "V1/temperature"), "topic", "a/#/b"),
        (wrong_unit, "unit", "psi"),
        (no_scale, "scale", "0"),
        (bad_mark, "mark", "a b"),
        (pointer, "pointer", "t"),
        (plain("x", "V2/temperature"), "topic", "x"),
    ] {
        let entries = vec![plain("x", "V2/temperature"), entry];
        let e = TopicMap::new("undercroft".parse().unwrap(), entries).unwrap_err();
        assert_eq!((e.entry, e.field, e.value.as_str()), (2, field, value), "{e}");
        assert!(!e.cure.is_empty());
    }
}

#[test]
fn a_filter_that_another_one_holds_is_not_subscribed_twice() {
    let map = map(vec![
        json("cellar/n7", "V1/temperature", "/t"),
        json("cellar/n7", "TU1/air-flow", "/air"),
        plain("hatchwarden/undercroft/V1/temperature", "V2/temperature"),
        plain("rack/a/t", "V1/temperature/a"),
        plain("rack/#", "V1/temperature/b"),
    ]);
    let ours = ["hatchwarden/undercroft/+/+", "hatchwarden/undercroft/+/+/+"];
    assert_eq!(map.filters(&[]), [ours[0], ours[1], "cellar/n7", "rack/#"]);
    let beside = ["cellar/#".to_owned(), "attic".to_owned()];
    assert_eq!(map.filters(&beside), [ours[0], ours[1], "rack/#", "cellar/#", "attic"]);
}
