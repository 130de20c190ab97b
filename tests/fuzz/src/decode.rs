//! Any bytes on any topic: decoded by a map with every format, judged, and never a panic.
#![no_main]

use libfuzzer_sys::fuzz_target;
use readings::{Decoded, Format, Judge, MapEntry, Message, Outliers, TopicMap};
use std::cell::LazyCell;
use units::{Quantity, Span, Time};

thread_local! {
    static MAP: LazyCell<TopicMap> = LazyCell::new(map);
}

fn entry(topic: &str, format: Format) -> MapEntry {
    MapEntry {
        topic: topic.into(),
        vessel: Some("V1".into()),
        quantity: Some(Quantity::Temperature),
        format,
        ..MapEntry::default()
    }
}

fn map() -> TopicMap {
    let at = |p: &str| Some(p.to_owned());
    let json = MapEntry {
        pointer: at("/v"),
        time: at("/t"),
        age: at("/a"),
        sequence: at("/n"),
        unit_at: at("/u"),
        ..entry("1", Format::Json)
    };
    let entries = vec![
        MapEntry { outliers: Some(Outliers { of: 5, beyond: 3.0 }), ..entry("0", Format::Plain) },
        MapEntry { mark: at("w"), window: at("/w"), ..json.clone() },
        MapEntry { mark: at("s"), pointer: at("/s[id=x]/0/v"), ..json.clone() },
        json,
        MapEntry { name: at("a"), ..entry("2", Format::Senml) },
        MapEntry { words: [("ON".to_owned(), 26.0)].into(), any_case: true, ..entry("3", Format::Words) },
        MapEntry { column: Some(1), decimal_comma: true, ..entry("4", Format::List) },
        MapEntry { key: at("t"), ..entry("5", Format::KeyValue) },
        entry("6", Format::Float32Le),
        MapEntry { vessel: at("+1"), mark: at("+2"), ..entry("7/+/+", Format::Plain) },
    ];
    TopicMap::new("room".parse().expect("a name"), entries).expect("a map")
}

// The first byte chooses the topic and whether the message is retained; the rest is its payload.
fuzz_target!(|bytes: &[u8]| {
    let Some((first, payload)) = bytes.split_first() else { return };
    let topics = [
        "0",
        "1",
        "2",
        "3",
        "4",
        "5",
        "6",
        "7/V2/x",
        "hatchwarden/room/V1/temperature",
        "hatchwarden/room/V1/availability",
    ];
    let topic = topics[usize::from(*first) % topics.len()];
    let received = Time::from_millis(1_931_221_060_000);
    let message = Message { topic, payload, retained: *first >= 128, received };
    let mut judge = Judge::new();
    for decoded in MAP.with(|map| map.decode(&message)) {
        if let Decoded::Value(raw) = decoded {
            assert!(raw.probe.quantity.hard_band().contains(raw.value));
            judge.judge(raw.clone(), message.retained, received);
            judge.judge(raw, false, received + Span::seconds(1));
        }
    }
});
