//! One cause, one alarm: lines, devices, the room, power cuts.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use alarms::{AlarmKey, Condition, GRACE, Panel, Place, Settings, State, Transition};
use units::{Quantity, Span, Time, VesselId};

fn at(seconds: i64) -> Time {
    Time::from_millis(1_900_000_000_000 + 1_000 * seconds)
}

fn vessel(name: &str) -> VesselId {
    name.parse().unwrap()
}

fn still(name: &str) -> AlarmKey {
    AlarmKey::at(&vessel(name), Condition::AirStopped)
}

fn line() -> AlarmKey {
    AlarmKey::of(Place::Line("P1".to_owned()), Condition::AirStopped)
}

/// Whom somebody is called for, in order.
fn calls(moved: &[Transition]) -> Vec<String> {
    moved.iter().filter(|t| t.announce).map(|t| t.key.to_string()).collect()
}

/// Tumblers of one line, all of which turn.
fn tumblers(names: &[&str]) -> Panel {
    let mut panel = Panel::new();
    for name in names {
        panel.watch(still(name), Settings::air_stopped(0.15), at(0));
        panel.shares(&still(name), Some(Place::Line("P1".to_owned())));
        panel.reading(&vessel(name), Quantity::AirFlow, at(0), 0.8, at(0));
    }
    panel
}

fn flow(panel: &mut Panel, name: &str, second: i64, value: f64) -> Vec<Transition> {
    panel.reading(&vessel(name), Quantity::AirFlow, at(second), value, at(second))
}

#[test]
fn a_line_that_stops_calls_once_and_its_tumblers_stand_beneath_it() {
    let mut panel = tumblers(&["TU1", "TU2", "TU3"]);
    for (i, name) in ["TU1", "TU2", "TU3"].iter().enumerate() {
        flow(&mut panel, name, 60 + i as i64, 0.0);
    }
    let moved: Vec<Transition> = (80..90).flat_map(|s| panel.tick(at(s))).collect();
    assert_eq!(calls(&moved), ["line:P1.air-stopped"]);
    assert_eq!(panel.get(&line()).unwrap().since, Some(at(60)), "since the first of them");
    assert_eq!(panel.under(&line()).count(), 3);
    assert_eq!(panel.standing().map(|a| a.key.clone()).collect::<Vec<_>>(), [line()]);
    assert!(panel.acknowledge(&still("TU1"), "Ada", at(90)).is_err(), "one takes the line on");
    panel.acknowledge(&line(), "Ada", at(91)).unwrap();

    // The air is back in all of them: nobody is called, and nothing is left.
    for (i, name) in ["TU1", "TU2", "TU3"].iter().enumerate() {
        flow(&mut panel, name, 600 + i as i64, 0.8);
    }
    let mut back = Vec::new();
    for (i, name) in ["TU1", "TU2", "TU3"].iter().enumerate() {
        back.extend(flow(&mut panel, name, 640 + i as i64, 0.8));
    }
    assert!(calls(&back).is_empty());
    assert_eq!(panel.get(&line()).unwrap().state, State::Normal);
    assert_eq!((panel.standing().count(), panel.flagged().count()), (0, 0));
}

#[test]
fn one_tumbler_of_a_line_that_stops_calls_for_itself() {
    let mut panel = tumblers(&["TU1", "TU2", "TU3"]);
    flow(&mut panel, "TU2", 60, 0.0);
    flow(&mut panel, "TU1", 61, 0.8);
    flow(&mut panel, "TU3", 61, 0.8);
    assert_eq!(calls(&panel.tick(at(80))), ["TU2.air-stopped"]);
    // The next stops hours later: that is another cause.
    flow(&mut panel, "TU1", 7_200, 0.0);
    flow(&mut panel, "TU3", 7_201, 0.8);
    let moved = panel.tick(at(7_221));
    assert!(calls(&moved).contains(&"TU1.air-stopped".to_owned()), "{moved:?}");
}

#[test]
fn what_does_not_come_back_with_its_line_calls_for_itself() {
    let mut panel = tumblers(&["TU1", "TU2"]);
    flow(&mut panel, "TU1", 60, 0.0);
    flow(&mut panel, "TU2", 60, 0.0);
    assert_eq!(calls(&panel.tick(at(80))).len(), 1);
    flow(&mut panel, "TU1", 600, 0.8);
    assert!(calls(&flow(&mut panel, "TU1", 640, 0.8)).is_empty());
    assert_eq!(panel.get(&line()).unwrap().state, State::Unacknowledged, "TU2 still hangs on it");
    let until = at(640) + GRACE;
    assert!(calls(&panel.tick(until - Span::seconds(1))).iter().all(|key| key == "line:P1.air-stopped"));
    assert_eq!(calls(&panel.tick(until)), ["TU2.air-stopped"]);
    assert!(!panel.get(&line()).unwrap().state.standing());
}

/// Tumblers are read one after the other, once a minute; the pump dies just before the first is read.
#[test]
fn a_line_is_told_as_soon_as_two_say_so_and_none_denies_it() {
    let mut panel = tumblers(&["TU1", "TU2", "TU3", "TU4"]);
    let mut moved = Vec::new();
    for (second, name) in [(0, "TU1"), (15, "TU2"), (30, "TU3"), (45, "TU4")] {
        flow(&mut panel, name, 60 + second, 0.8);
    }
    for (second, name) in [(0, "TU1"), (15, "TU2"), (30, "TU3"), (45, "TU4")] {
        moved.extend(panel.tick(at(120 + second)));
        moved.extend(flow(&mut panel, name, 120 + second, 0.0));
    }
    moved.extend((120..300).flat_map(|s| panel.tick(at(s))));
    assert_eq!(calls(&moved), ["line:P1.air-stopped"]);
    assert_eq!(panel.under(&line()).count(), 4);
}

fn silence(name: &str, quantity: Quantity) -> AlarmKey {
    AlarmKey::silent(&vessel(name), quantity)
}

/// Devices with their probes; everything is heard at 0.
fn devices(of: &[(&str, &[(&str, Quantity)])]) -> Panel {
    let mut panel = Panel::new();
    for (device, probes) in of {
        for (name, quantity) in *probes {
            let key = silence(name, *quantity);
            panel.watch(key.clone(), Settings::silent(Span::minutes(3)), at(0));
            panel.shares(&key, Some(Place::Device((*device).to_owned())));
        }
    }
    panel
}

fn hear(panel: &mut Panel, name: &str, quantity: Quantity, second: i64) -> Vec<Transition> {
    panel.reading(&vessel(name), quantity, at(second), 1.0, at(second))
}

const B1: [(&str, Quantity); 3] =
    [("V1", Quantity::Temperature), ("TU1", Quantity::AirFlow), ("TU2", Quantity::AirFlow)];
const B2: [(&str, Quantity); 2] = [("V2", Quantity::Temperature), ("JR1", Quantity::WaterFlow)];

#[test]
fn a_device_that_goes_is_one_call_and_a_probe_that_goes_is_its_own() {
    let mut panel = devices(&[("b1", &B1), ("b2", &B2)]);
    let mut moved = Vec::new();
    for second in (60..=600).step_by(60) {
        B2.iter().for_each(|(v, q)| drop(hear(&mut panel, v, *q, second)));
        moved.extend(panel.tick(at(second)));
    }
    assert_eq!(calls(&moved), ["device:b1.silent"]);
    let head: AlarmKey = "device:b1.silent".parse().unwrap();
    assert_eq!((panel.under(&head).count(), panel.standing().count()), (3, 1));

    // One of its probes is heard: the device is back, and the others have their usual time.
    let back = hear(&mut panel, "V1", Quantity::Temperature, 660);
    assert!(calls(&back).is_empty());
    assert!(!panel.get(&head).unwrap().state.standing());
    let mut moved = Vec::new();
    for second in (661..1_400).step_by(30) {
        B2.iter().for_each(|(v, q)| drop(hear(&mut panel, v, *q, second)));
        hear(&mut panel, "V1", Quantity::Temperature, second);
        hear(&mut panel, "TU1", Quantity::AirFlow, second);
        moved.extend(panel.tick(at(second)));
    }
    assert_eq!(calls(&moved), ["TU2.silent.air-flow"], "its probe was broken on the way");
}

#[test]
fn a_room_that_goes_dark_is_one_call() {
    let many: Vec<String> = (0..40).map(|i| format!("T{i}")).collect();
    let mut panel = Panel::new();
    for (i, name) in many.iter().enumerate() {
        let key = silence(name, Quantity::Temperature);
        panel.watch(key.clone(), Settings::silent(Span::minutes(3)), at(0));
        panel.shares(&key, Some(Place::Device(format!("d{}", i / 4))));
    }
    for (i, name) in many.iter().enumerate() {
        hear(&mut panel, name, Quantity::Temperature, i as i64); // each at its own second of the minute
    }
    let moved: Vec<Transition> = (40..600).flat_map(|s| panel.tick(at(s))).collect();
    assert_eq!(calls(&moved), ["room.silent"]);
    assert_eq!(panel.under(&AlarmKey::room(Condition::Silent)).count(), 40);

    // All are back within a minute, but one.
    let mut moved = Vec::new();
    for second in (700..1_300).step_by(30) {
        many.iter().skip(4).for_each(|n| moved.extend(hear(&mut panel, n, Quantity::Temperature, second)));
        moved.extend(panel.tick(at(second)));
    }
    assert_eq!(calls(&moved), ["device:d0.silent"]);
    assert!(!panel.get(&AlarmKey::room(Condition::Silent)).unwrap().state.standing());
}

#[test]
fn a_power_cut_explains_silence_and_air_that_goes_with_it_but_not_air_that_stops_later() {
    let mut panel = tumblers(&["TU1", "TU2"]);
    let cut = AlarmKey::at(&vessel("R1"), Condition::PowerCut);
    panel.watch(cut.clone(), Settings::power_cut(), at(0));
    let key = silence("V1", Quantity::Temperature);
    panel.watch(key.clone(), Settings::silent(Span::minutes(3)), at(0));
    hear(&mut panel, "V1", Quantity::Temperature, 60);

    panel.reading(&vessel("R1"), Quantity::MainsSwitch, at(61), 0.0, at(61));
    flow(&mut panel, "TU1", 62, 0.0);
    let mut moved: Vec<Transition> = (62..260).flat_map(|s| panel.tick(at(s))).collect();
    assert_eq!(calls(&moved), ["R1.power-cut"]);
    panel.acknowledge(&cut, "Ada", at(260)).unwrap();
    // TU2 had a battery pump, which is empty now.
    moved = flow(&mut panel, "TU2", 3_600, 0.0);
    moved.extend(panel.tick(at(3_620)));
    assert_eq!(calls(&moved), ["TU2.air-stopped"]);

    // The mains are back; TU1 gets its air, the thermometer speaks.
    panel.reading(&vessel("R1"), Quantity::MainsSwitch, at(4_000), 1.0, at(4_000));
    let mut back = panel.reading(&vessel("R1"), Quantity::MainsSwitch, at(4_061), 1.0, at(4_061));
    back.extend(flow(&mut panel, "TU1", 4_062, 0.8));
    back.extend(flow(&mut panel, "TU1", 4_093, 0.8));
    back.extend(hear(&mut panel, "V1", Quantity::Temperature, 4_100));
    back.extend(panel.tick(at(4_200)));
    assert!(calls(&back).iter().all(|key| key == "TU2.air-stopped"), "{back:?}");
    assert_eq!(panel.flagged().count(), 0);
}

#[test]
fn what_stands_for_others_survives_a_restart() {
    let mut panel = devices(&[("b1", &B1)]);
    panel.tick(at(180));
    let kept: Vec<String> = panel
        .take_changed()
        .iter()
        .filter_map(|key| panel.get(key))
        .map(|alarm| serde_json::to_string(alarm).unwrap())
        .collect();
    let mut again = Panel::new();
    kept.iter().for_each(|json| again.restore(serde_json::from_str(json).unwrap()));
    let head: AlarmKey = "device:b1.silent".parse().unwrap();
    assert_eq!(again.under(&head).count(), panel.under(&head).count());
    assert!(calls(&hear(&mut again, "TU1", Quantity::AirFlow, 240)).is_empty());
    assert_eq!((again.standing().count(), again.flagged().count()), (1, 0), "gone, and not yet acknowledged");
}
