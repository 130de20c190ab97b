//! Spoilt readings come as often as they are set.

use crate::{as_often, calm, device, json, readings, start};
use sensors_sim::{Fault, Room, Scenario, Sent};
use std::collections::BTreeMap;
use units::{Quantity, Span, Time};

const PROBES: &str = "'V1/temperature', 'V2/temperature', 'TU1/air-flow'";
const SHARES: &str = "[device.glitches]\npower_on = 0.01\nno_probe = 0.2\nall_ones = 0.008\nnan = 0.006\nnull = 0.007\n\
                      word = 0.004\nmissing = 0.009\n";

/// Each message by topic and moment.
fn by_moment(all: &[Sent]) -> BTreeMap<(String, Time), String> {
    let text = |s: &Sent| String::from_utf8(s.payload.clone()).unwrap();
    all.iter().map(|s| ((s.topic.to_string(), s.at), text(s))).collect()
}

/// What stands after `"v":`.
fn value(message: &str) -> &str {
    message.strip_prefix("{\"v\":").unwrap().split([',', '}']).next().unwrap()
}

#[test]
fn every_kind_comes_as_often_as_set() {
    let days = Span::days(12);
    let clean = by_moment(&readings(&mut calm(&device(PROBES, "numbers = false")), days));
    let spoilt =
        by_moment(&readings(&mut calm(&device(PROBES, &format!("numbers = false\n{SHARES}"))), days));
    let temperature = [("85.00", 0.01), ("-127.00", 0.2), ("-0.06", 0.008)];
    let both = [("nan", 0.006), ("null", 0.007), ("\"unavailable\"", 0.004)];
    for topic in ["V1/temperature", "V2/temperature", "TU1/air-flow"] {
        let of = |all: &BTreeMap<(String, Time), String>| -> Vec<String> {
            all.iter().filter(|((t, _), _)| t.ends_with(topic)).map(|(_, m)| value(m).to_owned()).collect()
        };
        let (n, got) = (of(&clean).len(), of(&spoilt));
        assert_eq!(n, 12 * 8640);
        let count = |text: &str| got.iter().filter(|v| *v == text).count();
        for (text, share) in temperature {
            let share = if topic.ends_with("flow") { 0.0 } else { share };
            as_often(&format!("{topic} {text}"), count(text), n, share);
        }
        for (text, share) in both {
            as_often(&format!("{topic} {text}"), count(text), n, share);
        }
        as_often(&format!("{topic} missing"), n - got.len(), n, 0.009);
    }
}

#[test]
fn a_spoilt_reading_changes_no_other() {
    let days = Span::days(2);
    let clean = by_moment(&readings(&mut calm(&device(PROBES, "numbers = false")), days));
    let spoilt =
        by_moment(&readings(&mut calm(&device(PROBES, &format!("numbers = false\n{SHARES}"))), days));
    let strange = ["85.00", "-127.00", "-0.06", "nan", "null", "\"unavailable\""];
    let sound: Vec<_> = spoilt.iter().filter(|(_, m)| !strange.contains(&value(m))).collect();
    assert!(sound.len() > 2 * 8640 * 3 * 8 / 10);
    assert!(sound.into_iter().all(|(at, m)| clean[at] == *m));
}

#[test]
fn a_line_that_does_not_answer_strikes_all_temperatures_at_once_and_nothing_else() {
    let all = readings(&mut calm(&device(PROBES, "[device.glitches]\nno_probe = 0.03")), Span::days(2));
    let mut struck: BTreeMap<Time, Vec<bool>> = BTreeMap::new();
    for s in &all {
        let lost = json(s)["v"] == -127.0;
        assert!(!lost || s.topic.ends_with("temperature"));
        if s.topic.ends_with("temperature") {
            struck.entry(s.at).or_default().push(lost);
        }
    }
    assert!(struck.values().all(|two| two.len() == 2 && two[0] == two[1]));
    as_often("-127", struck.values().filter(|two| two[0]).count(), struck.len(), 0.03);
}

/// The chip's own -0.0625 to the last bit where a shape has the places for it.
#[test]
fn all_ones_are_a_sixteenth_below_zero() {
    let glitch = "[device.glitches]\nall_ones = 1.0";
    let pack = device("'V1/temperature'", &format!("shape = 'senml'\n{glitch}"));
    assert_eq!(json(&readings(&mut calm(&pack), Span::minutes(1))[0])[0]["v"], -0.0625);
    let float = device("'V1/temperature'", &format!("shape = 'float32-le'\n{glitch}"));
    assert_eq!(readings(&mut calm(&float), Span::minutes(1))[0].payload, (-0.0625_f32).to_le_bytes());
}

#[test]
fn after_a_start_the_first_readings_are_85_as_many_as_set() {
    let mut room = calm(&device(PROBES, "wrong_after_start = 3"));
    room.inject(room.now() + Span::minutes(5), Fault::Unplugged("b1".into())).unwrap();
    room.mend(room.now() + Span::minutes(6), Fault::Unplugged("b1".into())).unwrap();
    readings(&mut room, Span::minutes(6));
    let all = readings(&mut room, Span::minutes(2));
    let v1: Vec<bool> = all.iter().filter(|s| s.topic.contains("V1")).map(|s| json(s)["v"] == 85.0).collect();
    assert_eq!(v1[..4], [true, true, true, false]);
    assert!(v1[4..].iter().all(|wrong| !wrong));
    assert!(all.iter().filter(|s| s.topic.contains("TU1")).all(|s| json(s)["v"] != 85.0));
}

#[test]
fn a_thermometer_out_of_the_water_tells_the_air_and_comes_back() {
    let tank = "room = 'lab'\n[[tank]]\nvessel = 'V1'\nlitres = 90\nset_point = 27.0\n";
    let text = format!("{tank}{}", device("'V1/temperature'", "numbers = false"));
    let mut room = Room::new(Scenario::from_toml(&text).unwrap(), 11, start());
    let out = Fault::ProbeInAir("V1/temperature".parse().unwrap());
    room.inject(start() + Span::hours(1), out.clone()).unwrap();
    room.mend(start() + Span::hours(2), out).unwrap();
    let told = |room: &mut Room| -> f64 {
        let all = readings(room, Span::hours(1));
        value(std::str::from_utf8(&all.last().unwrap().payload).unwrap()).parse().unwrap()
    };
    let (before, out, after) = (told(&mut room), told(&mut room), told(&mut room));
    let air = room.truth("V1", Quantity::RoomTemperature).unwrap();
    assert!((out - air).abs() < 0.5 && (after - before).abs() < 0.6, "{before} {out} {after}, air {air}");
    let none = room.inject(start(), Fault::ProbeInAir("V1/ph".parse().unwrap())).unwrap_err();
    assert!(none.to_string().contains("V1/ph"), "{none}");
}
