//! What a room sends, and what faults do to it.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use sensors_sim::{Fault, Kind, Room, Scenario, Sent, shipped};
use std::collections::HashMap;
use units::{Quantity, Span, Time};

fn start() -> Time {
    Time::parse_rfc3339("2031-03-14T10:00:00Z").unwrap()
}

fn room(seed: u64) -> Room {
    Room::new(Scenario::undercroft_cut(), seed, start())
}

/// The readings up to a moment, without words on the state of devices.
fn readings(room: &mut Room, to: Time) -> Vec<Sent> {
    room.advance(to).into_iter().filter(|s| s.kind == Kind::Reading).collect()
}

/// Fowler-Noll-Vo 1a, 64 bit, over everything that is in the messages.
fn hash(all: &[Sent]) -> u64 {
    let mut h = 0xcbf2_9ce4_8422_2325_u64;
    let mut eat = |bytes: &[u8]| {
        for b in bytes {
            h = (h ^ u64::from(*b)).wrapping_mul(0x100_0000_01b3);
        }
    };
    for s in all {
        eat(&s.at.millis().to_le_bytes());
        eat(s.device.as_bytes());
        eat(s.topic.as_bytes());
        eat(&s.payload);
        eat(&[u8::from(s.retain), s.qos]);
    }
    h
}

fn value(sent: &Sent) -> f64 {
    let json: serde_json::Value = serde_json::from_slice(&sent.payload).unwrap();
    json["v"].as_f64().unwrap()
}

fn values(all: &[Sent], topic_end: &str) -> Vec<f64> {
    all.iter().filter(|s| s.topic.ends_with(topic_end)).map(value).collect()
}

#[test]
fn the_same_seed_gives_the_same_bytes_for_ever() {
    let day = readings(&mut room(7), start() + Span::days(1));
    assert_eq!(day.len(), 6 * 1440);
    assert_eq!(hash(&day), GOLDEN, "the bytes of seed 7 have changed: {:#x}", hash(&day));
    assert_ne!(hash(&readings(&mut room(8), start() + Span::days(1))), GOLDEN);
}

const GOLDEN: u64 = 0xb698_a3e4_e024_4723;

#[test]
fn the_steps_in_which_time_passes_make_no_difference() {
    let at_once = readings(&mut room(7), start() + Span::hours(6));
    let (mut stepped, mut all) = (room(7), Vec::new());
    let mut step = 1;
    while stepped.now() < start() + Span::hours(6) {
        step = step * 31 % 40_009;
        let to = (stepped.now() + Span::from_millis(step)).min(start() + Span::hours(6));
        all.extend(readings(&mut stepped, to));
    }
    assert_eq!(all, at_once);
    assert_eq!(stepped.advance(start()), []);
}

#[test]
fn messages_come_in_order_in_our_own_shape_with_numbers_that_rise_by_one() {
    let all = readings(&mut room(7), start() + Span::hours(3));
    assert!(all.is_sorted_by_key(|s| s.at));
    let mut last: HashMap<&str, u64> = HashMap::new();
    for s in &all {
        let json: serde_json::Value = serde_json::from_slice(&s.payload).unwrap();
        let n = json["n"].as_u64().unwrap();
        assert_eq!(n, last.insert(&s.device, n).unwrap_or(0) + 1);
        assert_eq!(Time::from_seconds(json["t"].as_f64().unwrap()).unwrap(), s.at);
        assert!(s.topic.starts_with("hatchwarden/undercroft/") && !s.retain && s.qos == 1);
    }
    assert_eq!(last.len(), 2);
}

#[test]
fn temperatures_go_in_sixteenths_and_flows_in_hundredths_about_the_truth() {
    let all = readings(&mut room(7), start() + Span::days(1));
    for v in values(&all, "/V1/temperature") {
        let nearest = (v * 16.0).round() / 16.0;
        assert!((v - nearest).abs() < 0.0051 && (v - 27.0).abs() < 0.45, "{v}");
    }
    let flows = values(&all, "/TU1/air-flow");
    let mean = flows.iter().sum::<f64>() / flows.len() as f64;
    assert!((mean - 0.42).abs() < 0.002, "{mean}");
    assert!(flows.iter().any(|f| *f != flows[0]), "no pulsation");
}

#[test]
fn a_faster_rhythm_begins_at_the_last_reading() {
    let mut room = room(7);
    room.advance(start() + Span::minutes(10));
    room.set_interval("b2", Span::seconds(2)).unwrap();
    let all = readings(&mut room, start() + Span::minutes(11));
    assert_eq!(all.iter().filter(|s| &*s.device == "b2").count(), 30);
    assert_eq!(all.iter().filter(|s| &*s.device == "b1").count(), 5);
    assert!(room.set_interval("b9", Span::seconds(2)).unwrap_err().to_string().contains("b1, b2"));
}

#[test]
fn an_air_stop_makes_that_outlet_still_and_the_others_a_little_stronger() {
    let mut room = room(7);
    let before = room.truth("TU1", Quantity::AirFlow).unwrap();
    assert!((before - 0.42).abs() < 1e-9);
    room.inject(start() + Span::hours(1), Fault::AirStop("TU2".into())).unwrap();
    room.advance(start() + Span::hours(1));
    let during = room.truth("TU1", Quantity::AirFlow).unwrap();
    assert_eq!(room.truth("TU2", Quantity::AirFlow), Some(0.0));
    assert!(during > before * 1.02 && during < before * 1.15, "{during}");
    let sent = readings(&mut room, start() + Span::hours(2));
    assert!(values(&sent, "/TU2/air-flow").iter().all(|v| *v == 0.0));
    room.mend(start() + Span::hours(2), Fault::AirStop("TU2".into())).unwrap();
    room.advance(start() + Span::hours(3));
    assert!((room.truth("TU2", Quantity::AirFlow).unwrap() - 0.45).abs() < 1e-9);
}

#[test]
fn a_tube_that_is_off_takes_air_from_the_others() {
    let mut room = room(7);
    room.inject(start(), Fault::TubeOff("TU4".into())).unwrap();
    room.advance(start());
    assert_eq!(room.truth("TU4", Quantity::AirFlow), Some(0.0));
    assert!(room.truth("TU1", Quantity::AirFlow).unwrap() < 0.42);
}

#[test]
fn a_dead_pump_stops_every_outlet_and_the_pressure() {
    let mut room = room(7);
    room.inject(start(), Fault::PumpDead("P1".into())).unwrap();
    let sent = readings(&mut room, start() + Span::hours(1));
    for tumbler in ["TU1", "TU2", "TU3", "TU4"] {
        assert_eq!(room.truth(tumbler, Quantity::AirFlow), Some(0.0));
    }
    assert!(values(&sent, "/air-flow").iter().all(|v| *v == 0.0));
    // A check valve keeps the pressure of the water over the tubes, and that leaks away.
    assert!(room.truth("air", Quantity::LinePressure).unwrap() < 0.7);
}

#[test]
fn a_dead_heater_cools_its_tank_alone() {
    let mut room = room(7);
    room.inject(start(), Fault::HeaterDead("V1".into())).unwrap();
    room.advance(start() + Span::hours(6));
    let t = room.truth("V1", Quantity::Temperature).unwrap();
    assert!((24.3..25.3).contains(&t), "{t}");
    assert!((room.truth("V2", Quantity::Temperature).unwrap() - 28.5).abs() < 0.3);
    assert_eq!(room.truth("V1", Quantity::Power), Some(0.0));
}

#[test]
fn cold_water_cools_v2_within_minutes_but_never_in_a_jump() {
    let mut room = room(7);
    let fault = Fault::ColdInflow { tank: "V2".into(), litres_per_minute: 4.0, celsius: 14.0 };
    room.inject(start(), fault).unwrap();
    let mut course = vec![room.truth("V2", Quantity::Temperature).unwrap()];
    for second in 1..=600 {
        room.advance(start() + Span::seconds(second));
        course.push(room.truth("V2", Quantity::Temperature).unwrap());
    }
    assert!(course[0] - course[180] > 1.0, "{}", course[180]);
    assert!(course.windows(31).all(|w| (w[0] - w[30]).abs() < 2.0 && w[30] < w[0]));
    room.mend(start(), Fault::ColdInflow { tank: "V2".into(), litres_per_minute: 1.0, celsius: 1.0 })
        .unwrap();
    room.advance(start() + Span::hours(1));
    assert!(room.truth("V2", Quantity::Temperature).unwrap() > course[600], "the heater should win again");
}

#[test]
fn a_silent_device_sends_nothing_and_the_other_is_not_disturbed() {
    let hour = start() + Span::hours(1);
    let healthy = readings(&mut room(7), hour);
    let mut room = room(7);
    room.inject(start() + Span::minutes(10), Fault::Silent("b2".into())).unwrap();
    room.mend(start() + Span::minutes(20), Fault::Silent("b2".into())).unwrap();
    let all = readings(&mut room, hour);
    let of = |all: &[Sent], device: &str| -> Vec<Sent> {
        all.iter().filter(|s| &*s.device == device).cloned().collect()
    };
    assert_eq!(of(&all, "b1"), of(&healthy, "b1"));
    assert_eq!(of(&all, "b2").len(), 50);
    // The values after it are those without it; only the numbers stand back.
    assert_eq!(values(&of(&all, "b2"), "")[10..], values(&of(&healthy, "b2"), "")[20..]);
}

#[test]
fn a_probe_after_power_on_says_85() {
    let mut room = room(7);
    room.inject(start(), Fault::PowerOnValue("V1".into())).unwrap();
    let sent = readings(&mut room, start() + Span::minutes(5));
    assert_eq!(values(&sent, "/V1/temperature"), [85.0; 5]);
    assert!(values(&sent, "/V2/temperature").iter().all(|v| *v < 30.0));
}

#[test]
fn the_cut_has_a_night_on_which_v1_ran_cool() {
    let mut room = room(7);
    // Day 20, 00:30.
    let off = start() + Span::days(19) + Span::minutes(30);
    let sent = readings(&mut room, start() + Span::days(21));
    let during = |from: Time, hours: i64| {
        let part: Vec<Sent> =
            sent.iter().filter(|s| s.at > from && s.at <= from + Span::hours(hours)).cloned().collect();
        let all = values(&part, "/V1/temperature");
        all.iter().sum::<f64>() / all.len() as f64
    };
    let cool = during(off + Span::minutes(90), 5);
    assert!((25.3..25.7).contains(&cool), "{cool}");
    assert!((during(off - Span::hours(8), 5) - 27.0).abs() < 0.2);
    assert_eq!(sent.len(), 21 * 1440 * 6);
}

#[test]
fn a_fault_at_a_place_that_is_not_there_is_refused_with_the_names_that_are() {
    let mut room = room(7);
    let said = room.inject(start(), Fault::AirStop("TU9".into())).unwrap_err().to_string();
    assert!(said.contains("TU9") && said.contains("TU1, TU2, TU3, TU4"), "{said}");
    let fault = Fault::ColdInflow { tank: "V2".into(), litres_per_minute: f64::NAN, celsius: 14.0 };
    assert!(room.inject(start(), fault).unwrap_err().to_string().contains("litres_per_minute = NaN"));
}

#[test]
fn a_device_without_a_clock_sends_the_bare_number() {
    let text = shipped("undercroft-cut").unwrap().text;
    let plain = text.replace("name = \"b2\"", "name = \"b2\"\nshape = \"plain\"\nclock = \"absent\"");
    let mut room = Room::new(Scenario::from_toml(&plain).unwrap(), 7, start());
    let sent = readings(&mut room, start() + Span::minutes(6));
    let plain: Vec<_> = sent.iter().filter(|s| &*s.device == "b2").collect();
    assert_eq!(plain.len(), 6);
    for s in plain {
        let v: f64 = std::str::from_utf8(&s.payload).unwrap().parse().unwrap();
        assert!((v - 28.5).abs() < 0.5);
    }
}

#[test]
fn a_scenario_with_flaws_names_all_of_them() {
    let good = shipped("undercroft-cut").unwrap().text;
    let said = |text: &str| Scenario::from_toml(text).unwrap_err().to_string();
    let bad = said(&good.replace("litres = 90", "litres = -90").replace("litres = 120", "litres = nan"));
    assert!(bad.contains("tank V1.litres = -90") && bad.contains("tank V2.litres = NaN"), "{bad}");
    let shrunk = good.replace("litres = 90", "litres = -90");
    let bad =
        said(&shrunk.replace("\"TU4/air-flow\"", "\"TU5/air-flow\"").replace("\"V1\" }\n\n", "\"V9\" }\n\n"));
    assert!(bad.contains("-90") && bad.contains("TU5/air-flow") && bad.contains("no heater \"V9\""), "{bad}");
    assert!(said(&good.replace("heater_watts", "heater_wats")).contains("heater_wats"));
    assert!(said("base = 'nowhere'").contains("no scenario that comes with the program"));
    assert_eq!(Scenario::undercroft_cut(), Scenario::from_toml(&good).unwrap());
}
