//! Every shape, read by somebody else's parser, says the same.

use crate::{calm, json, readings};
use sensors_sim::Sent;
use serde_json::Value;
use std::collections::BTreeMap;
use units::Span;

const SHAPES: [&str; 8] =
    ["json", "plain", "flat-json", "list-json", "senml", "key-value", "comma-list", "float32-le"];

/// Probe, what it measures where that is something else, its SenML unit and what makes one of it from ours. Units are
/// those of the registry as RFC 8428 (table 1) and RFC 8798 (`/100`) began it.
const PROBES: [(&str, &str, &str, f64); 13] = [
    ("V1/temperature", "", "Cel", 1.0),
    ("TU1/air-flow", "", "l/s", 1.0 / 60.0),
    ("TU1/bubble-rate", "", "Hz", 1.0),
    ("TU1/line-pressure", "", "Pa", 1000.0),
    ("V1/ph", "", "pH", 1.0),
    ("V1/dissolved-oxygen", "", "kg/m3", 0.001),
    ("V1/conductivity", "", "S/m", 0.0001),
    ("V1/level", "", "/100", 1.0),
    ("V1/level-switch", "", "/", 1.0),
    ("V1/power", "P1", "W", 1.0),
    ("V1/room-temperature", "", "Cel", 1.0),
    ("V1/humidity", "", "%RH", 1.0),
    ("TU1/air-switch", "", "/", 1.0),
];

fn short(probe: &str) -> String {
    probe.replace('/', ".")
}

/// The last word of a device on each probe by its short name, in our units.
fn said(shape: &str, all: &[Sent]) -> BTreeMap<String, f64> {
    let text = |s: &Sent| String::from_utf8(s.payload.clone()).unwrap();
    let mut found = BTreeMap::new();
    for sent in all {
        let own = || short(sent.topic.strip_prefix("hatchwarden/lab/").unwrap());
        match shape {
            "json" => found.extend([(own(), json(sent)["v"].as_f64().unwrap())]),
            "plain" => found.extend([(own(), text(sent).parse().unwrap())]),
            "float32-le" => {
                let bytes: [u8; 4] = sent.payload.as_slice().try_into().unwrap();
                found.extend([(own(), f64::from(f32::from_le_bytes(bytes)))]);
            }
            "flat-json" => {
                let pairs = json(sent).as_object().unwrap().clone();
                let of_probes = pairs.into_iter().filter(|(k, _)| k.contains('.'));
                found.extend(of_probes.map(|(k, v)| (k, v.as_f64().unwrap())));
            }
            "list-json" => {
                let pair = |p: &Value| (p["id"].as_str().unwrap().to_owned(), p["value"].as_f64().unwrap());
                found.extend(json(sent)["probes"].as_array().unwrap().iter().map(pair));
            }
            "senml" => found.extend(pack(&json(sent))),
            "key-value" => found.extend(text(sent).split(' ').map(|pair| {
                let (key, value) = pair.split_once('=').unwrap();
                (key.to_owned(), value.parse().unwrap())
            })),
            _ => {
                let columns: Vec<f64> = text(sent).split(',').map(|v| v.parse().unwrap()).collect();
                assert_eq!(columns.len(), PROBES.len());
                found.extend(PROBES.iter().map(|p| short(p.0)).zip(columns));
            }
        }
    }
    found
}

/// A pack, resolved as RFC 8428 says: the base name stands before each name.
fn pack(records: &Value) -> Vec<(String, f64)> {
    let base = records[0]["bn"].as_str().unwrap();
    let resolve = |record: &Value| {
        let full = format!("{base}{}", record["n"].as_str().unwrap());
        let name = full.strip_prefix("d-senml/").unwrap().to_owned();
        let (_, _, unit, factor) = PROBES.iter().find(|p| short(p.0) == name).unwrap();
        assert_eq!(record["u"], *unit, "{name}");
        (name, record["v"].as_f64().unwrap() / factor)
    };
    records.as_array().unwrap().iter().map(resolve).collect()
}

fn devices() -> String {
    let probe = |(key, of, _, _): &(&str, &str, &str, f64)| {
        let of = if of.is_empty() { String::new() } else { format!(", of = '{of}'") };
        format!("{{ probe = '{key}', noise = 0{of} }}")
    };
    let probes: Vec<String> = PROBES.iter().map(probe).collect();
    let device = |shape| {
        format!("[[device]]\nname = 'd-{shape}'\nshape = '{shape}'\nprobes = [{}]\n", probes.join(", "))
    };
    SHAPES.map(device).concat()
}

#[test]
fn all_shapes_say_the_same() {
    let mut room = calm(&devices());
    // By then the oxygen has come to rest.
    readings(&mut room, Span::days(3));
    let sent = readings(&mut room, Span::seconds(10));
    let of = |shape: &str| -> Vec<Sent> {
        sent.iter().filter(|s| *s.device == format!("d-{shape}")).cloned().collect()
    };
    let exact = said("senml", &of("senml"));
    assert_eq!(exact.len(), PROBES.len());
    assert!(
        exact["V1.temperature"] == 26.0625 && (exact["TU1.line-pressure"] - 3.94).abs() < 1e-9,
        "{exact:?}"
    );
    for shape in SHAPES {
        let found = said(shape, &of(shape));
        assert!(found.keys().eq(exact.keys()), "{shape}: {found:?}");
        for (probe, value) in &exact {
            // Text has two places after the point, a float 24 bits.
            let close = 0.005_000_1_f64.max(value.abs() * 1e-7);
            assert!((found[probe] - value).abs() <= close, "{shape}, {probe}: {} and {value}", found[probe]);
        }
    }
}

/// What a shape makes of a probe that says `null`, a word, or nothing.
#[test]
fn what_is_no_number_is_written_as_each_shape_can() {
    let first = |shape: &str, glitch: &str| {
        let text = format!(
            "[[device]]\nname = 'b1'\nshape = '{shape}'\nnumbers = false\nclock = 'absent'\n\
             probes = ['V1/temperature', 'V2/temperature']\n[device.glitches]\n{glitch} = 1.0\n"
        );
        readings(&mut calm(&text), Span::seconds(10))
            .first()
            .map(|s| String::from_utf8(s.payload.clone()).unwrap())
    };
    let table = [
        ("json", "null", Some("{\"v\":null}")),
        ("json", "word", Some("{\"v\":\"unavailable\"}")),
        ("json", "nan", Some("{\"v\":nan}")),
        ("plain", "word", Some("unavailable")),
        ("flat-json", "null", Some("{\"V1.temperature\":null,\"V2.temperature\":null}")),
        ("key-value", "word", Some("V1.temperature=unavailable V2.temperature=unavailable")),
        ("comma-list", "null", Some(",")),
        ("float32-le", "null", Some("")),
        ("senml", "null", None), // a pack has at least one record
    ];
    for (shape, glitch, want) in table {
        assert_eq!(first(shape, glitch).as_deref(), want, "{shape}, {glitch}");
    }
    for shape in SHAPES {
        assert_eq!(first(shape, "missing"), None, "{shape}");
    }
}
