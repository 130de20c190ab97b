//! The formats of the map beside plain and JSON, names taken from the topic, and what an entry says of devices.

#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use ciborium::value::{Integer, Value as Cbor};
use proptest::prelude::*;
use readings::{
    Decoded, Format, Judge, MapEntry, Message, Outliers, OwnTime, Raw, Reason, Says, Sender, TopicMap,
    Verdict,
};
use units::{Quantity, Span, Time, Unit};

const NOW: Time = Time::from_millis(1_931_221_060_000);

fn entry(topic: &str, format: Format) -> MapEntry {
    MapEntry {
        topic: topic.into(),
        vessel: Some("V1".into()),
        quantity: Some(Quantity::Temperature),
        format,
        ..MapEntry::default()
    }
}

fn map(entries: Vec<MapEntry>) -> TopicMap {
    TopicMap::new("undercroft".parse().unwrap(), entries).unwrap()
}

fn fault(entry: MapEntry) -> &'static str {
    TopicMap::new("undercroft".parse().unwrap(), vec![entry]).unwrap_err().field
}

fn decode(map: &TopicMap, topic: &str, payload: impl AsRef<[u8]>) -> Vec<Decoded> {
    map.decode(&Message { topic, payload: payload.as_ref(), retained: false, received: NOW })
}

fn values(map: &TopicMap, topic: &str, payload: impl AsRef<[u8]>) -> Result<Vec<Raw>, Reason> {
    let each = decode(map, topic, payload).into_iter().map(|d| match d {
        Decoded::Value(raw) => Ok(raw),
        Decoded::Refused(r) => Err(r.reason),
        other => panic!("{other:?}"),
    });
    each.collect()
}

#[test]
fn a_pack_gives_the_series_of_its_name_in_order_of_time() {
    let map = map(vec![MapEntry { name: Some("t1/temp".into()), ..entry("s", Format::Senml) }]);
    let pack = r#"[{"bn":"t1/","bu":"K","bt":1931221000,"n":"temp","v":300.15,"ut":60},
        {"n":"flow","u":"m3/s","v":1},{"n":"temp","t":-10,"v":300.05}]"#;
    let found = values(&map, "s", pack).unwrap();
    let times: Vec<_> = found.iter().map(|r| r.own_time).collect();
    let at = |s: i64| Some(OwnTime::At(Time::from_millis(s * 1_000)));
    assert_eq!(times, [at(1_931_220_990), at(1_931_221_000)]);
    assert!((found[0].value - 26.9).abs() < 1e-9 && (found[1].value - 27.0).abs() < 1e-9);
    assert_eq!(found[1].within, Some(Span::seconds(60)));
    let relative = values(&map, "s", r#"[{"n":"t1/temp","u":"Cel","t":-30,"v":26.9}]"#).unwrap();
    assert_eq!(relative[0].own_time, Some(OwnTime::Ago(Span::seconds(30))));
}

#[test]
fn what_a_pack_refuses() {
    let map = map(vec![MapEntry { name: Some("a".into()), ..entry("s", Format::Senml) }]);
    for (pack, why) in [
        (r#"[{"n":"b","v":1}]"#, Reason::MissingField),
        (r#"[{"n":"a","vs":"warm"}]"#, Reason::WrongType),
        (r#"[{"n":"a","u":"lon","v":26.9}]"#, Reason::UnknownUnit),
        (r#"[{"n":"a","u":"Pa","v":26.9}]"#, Reason::UnknownUnit),
        (r#"[{"n":"a","u":"Cel","v":85}]"#, Reason::SensorPowerOnReset),
        (r#"{"n":"a","v":26.9}"#, Reason::BadSenml),
        (r#"[{"n":"a","v":26.9"#, Reason::BadJson),
        ("", Reason::Empty),
    ] {
        assert_eq!(values(&map, "s", pack), Err(why), "{pack}");
    }
    assert_eq!(values(&map, "s", [0x81, 0xff]), Err(Reason::BadCbor));
}

#[test]
fn a_switch_may_be_sent_as_a_truth_value_or_a_part_of_one() {
    let switch = MapEntry {
        quantity: Some(Quantity::AirSwitch),
        name: Some("air".into()),
        ..entry("s", Format::Senml)
    };
    let map = map(vec![switch]);
    for (pack, value) in [(r#"[{"n":"air","vb":true}]"#, 1.0), (r#"[{"n":"air","u":"/","v":0}]"#, 0.0)] {
        assert_eq!(values(&map, "s", pack).unwrap()[0].value, value);
    }
}

#[test]
fn other_formats_carry_unit_scale_and_zero_band() {
    let flow = |topic: &str, format| MapEntry {
        quantity: Some(Quantity::AirFlow),
        vessel: Some("TU1".into()),
        zero_band: Some(0.05),
        ..entry(topic, format)
    };
    let map = map(vec![
        MapEntry { column: Some(1), unit: Some(Unit::CubicFootPerHour), ..flow("list", Format::List) },
        MapEntry { key: Some("q".into()), ..flow("pairs", Format::KeyValue) },
        MapEntry { scale: Some(0.001), ..flow("bits", Format::Float32Le) },
        MapEntry {
            pointer: Some("/p".into()),
            window: Some("/s".into()),
            scale: Some(0.5),
            ..flow("pulses", Format::Json)
        },
    ]);
    let one = |topic: &str, payload: &[u8]| values(&map, topic, payload).map(|r| r[0].value);
    // 1 ft³/h = 0.471947 L/min (NIST SP 811, 2008, B.9).
    assert!((one("list", b"id,3.0").unwrap() - 3.0 * 0.471_947).abs() < 1e-5);
    assert!((one("pairs", b"t=26 q=90 L/h").unwrap() - 1.5).abs() < 1e-9);
    assert_eq!(one("pairs", b"q=-0.04"), Ok(0.0));
    assert_eq!(one("pairs", b"q=-0.06"), Err(Reason::OutOfRange));
    assert_eq!(one("bits", &1_250.0f32.to_le_bytes()), Ok(1.25));
    assert_eq!(one("bits", &f32::NAN.to_le_bytes()), Err(Reason::NotANumber));
    assert_eq!(one("bits", b"12345"), Err(Reason::WrongType));
    assert_eq!(one("pulses", br#"{"p":27,"s":10}"#), Ok(1.35));
    assert_eq!(one("pulses", br#"{"p":27,"s":0}"#), Err(Reason::NotANumber));
    assert_eq!(one("pulses", br#"{"p":27}"#), Err(Reason::MissingField));
}

#[test]
fn names_are_taken_from_the_topic() {
    let by_topic = MapEntry {
        vessel: Some("+1".into()),
        mark: Some("+2".into()),
        device: Some("+1".into()),
        vessels: [("tum1".to_owned(), "TU1".parse().unwrap())].into(),
        ..entry("rack/+/+/t", Format::Plain)
    };
    let map = map(vec![by_topic]);
    let raw = values(&map, "rack/tum1/28-a/t", "26.9").unwrap().remove(0);
    assert_eq!(
        (raw.probe.to_string().as_str(), raw.sender),
        ("TU1/temperature/28-a", Sender::Device("tum1".into()))
    );
    assert_eq!(values(&map, "rack/V2/x/t", "26.9").unwrap()[0].probe.to_string(), "V2/temperature/x");
    let odd = decode(&map, "rack/no name/x/t", "26.9");
    assert!(matches!(odd.as_slice(), [Decoded::Refused(r)]
        if r.reason == Reason::UnmappedTopic && r.place == "rack/no name/x/t"));
    assert_eq!(values(&map, "rack/tum1/28-a/t", "nan"), Err(Reason::NotANumber));
}

#[test]
fn devices_speak_of_themselves() {
    let map = map(vec![
        MapEntry {
            topic: "dev/+/status".into(),
            says: Says::Availability,
            device: Some("+1".into()),
            format: Format::Words,
            words: [("up".to_owned(), 1.0), ("lost".to_owned(), 0.0)].into(),
            ..MapEntry::default()
        },
        MapEntry {
            topic: "dev/+/rssi".into(),
            says: Says::SignOfLife,
            device: Some("+1".into()),
            ..MapEntry::default()
        },
    ]);
    let device = "n7".to_owned();
    let lost = Decoded::Availability { device: device.clone(), online: false };
    assert_eq!(decode(&map, "dev/n7/status", "lost"), [lost]);
    assert_eq!(decode(&map, "dev/n7/rssi", "-61"), [Decoded::Alive { device }]);
}

#[test]
fn a_field_that_is_missing_odd_or_without_meaning_is_named() {
    let plain = || entry("t", Format::Plain);
    let text = |t: &str| Some(t.to_owned());
    for (entry, field) in [
        (MapEntry { vessel: None, ..plain() }, "vessel"),
        (MapEntry { quantity: None, ..plain() }, "quantity"),
        (MapEntry { vessel: text("+1"), ..plain() }, "vessel"),
        (MapEntry { vessel: text("a b"), ..plain() }, "vessel"),
        (MapEntry { mark: text("+2"), topic: "a/+".into(), ..plain() }, "mark"),
        (MapEntry { vessels: [("a".to_owned(), "V1".parse().unwrap())].into(), ..plain() }, "vessels"),
        (MapEntry { pointer: text("/a"), ..plain() }, "pointer"),
        (MapEntry { key: text("a"), ..plain() }, "key"),
        (MapEntry { column: Some(1), ..plain() }, "column"),
        (entry("t", Format::Json), "pointer"),
        (entry("t", Format::Senml), "name"),
        (entry("t", Format::Words), "words"),
        (entry("t", Format::List), "column"),
        (entry("t", Format::KeyValue), "key"),
        (MapEntry { says: Says::Availability, ..plain() }, "device"),
        (MapEntry { zero_band: Some(-1.0), ..plain() }, "zero_band"),
        (MapEntry { hard_band: Some((30.0, 20.0)), ..plain() }, "hard_band"),
        (MapEntry { max_step: Some(0.0), ..plain() }, "max_step"),
        (MapEntry { max_step: Some(1.0), quantity: Some(Quantity::Ph), ..plain() }, "max_step_s"),
        (MapEntry { every_s: Some(f64::NAN), ..plain() }, "every_s"),
        (MapEntry { outliers: Some(Outliers { of: 3, beyond: 3.0 }), ..plain() }, "outliers.of"),
        (MapEntry { outliers: Some(Outliers { of: 7, beyond: 1.0 }), ..plain() }, "outliers.beyond"),
    ] {
        assert_eq!(fault(entry.clone()), field, "{entry:?}");
    }
}

#[test]
fn rules_of_an_entry_reach_the_judge() {
    let strict = MapEntry {
        hard_band: Some((20.0, 30.0)),
        max_step: Some(0.5),
        max_step_s: Some(60.0),
        outliers: Some(Outliers { of: 5, beyond: 3.0 }),
        ..entry("t", Format::Plain)
    };
    let map = map(vec![strict]);
    assert_eq!(values(&map, "t", "31"), Err(Reason::OutOfRange));
    let mut judge = Judge::new();
    let mut said = |value: &str, second: i64| {
        let raw = values(&map, "t", value).unwrap().remove(0);
        judge.judge(raw, false, NOW + Span::seconds(second))
    };
    for (i, value) in ["26.0", "26.1", "26.0", "26.1"].iter().enumerate() {
        assert!(matches!(said(value, 10 * i as i64), Verdict::Accept(_)), "{value}");
    }
    assert!(matches!(said("29.0", 100), Verdict::Refuse(r) if r.reason == Reason::Outlier));
    assert!(matches!(said("26.05", 110), Verdict::Accept(_)));
}

fn number(x: f64) -> Cbor {
    Cbor::Float(x)
}

proptest! {
    /// What is written as a pack, in either form, comes back to the bit.
    #[test]
    fn packs_survive_both_forms(values_in in prop::collection::vec(5.0f64..45.0, 1..20), bt in 1_577_836_800i64..4_000_000_000) {
        let map = map(vec![MapEntry { name: Some("t1/temp".into()), ..entry("s", Format::Senml) }]);
        let json: Vec<serde_json::Value> = values_in.iter().enumerate().map(|(i, v)| {
            serde_json::json!({"bn": "t1/", "bt": bt, "n": "temp", "u": "Cel", "t": i, "v": v})
        }).collect();
        let label = |i: i64| Cbor::Integer(Integer::from(i));
        let cbor = Cbor::Array(values_in.iter().enumerate().map(|(i, v)| Cbor::Map(vec![
            (label(-2), Cbor::Text("t1/".into())),
            (label(-3), Cbor::Integer(bt.into())),
            (label(0), Cbor::Text("temp".into())),
            (label(1), Cbor::Text("Cel".into())),
            (label(6), number(i as f64)),
            (label(2), number(*v)),
        ])).collect());
        let mut bytes = Vec::new();
        ciborium::into_writer(&cbor, &mut bytes).unwrap();
        let from_json = values(&map, "s", serde_json::to_vec(&json).unwrap());
        let from_cbor = values(&map, "s", &bytes);
        prop_assert_eq!(&from_json, &from_cbor);
        let back: Vec<f64> = from_json.unwrap().iter().map(|r| r.value).collect();
        prop_assert_eq!(back, values_in);
    }

    #[test]
    fn numbers_survive_every_small_format(value in 5.0f32..45.0) {
        let exact = f64::from(value);
        let map = map(vec![
            MapEntry { column: Some(2), ..entry("list", Format::List) },
            MapEntry { key: Some("t".into()), ..entry("pairs", Format::KeyValue) },
            entry("bits", Format::Float32Le),
        ]);
        for (topic, payload) in [
            ("list", format!("a,b,{exact}").into_bytes()),
            ("pairs", format!("x=1;t={exact}").into_bytes()),
            ("bits", value.to_le_bytes().to_vec()),
        ] {
            prop_assert_eq!(values(&map, topic, payload).unwrap()[0].value, exact);
        }
    }
}
