//! The topic map at work, and devices that come and go: the room alone, in virtual time.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use development::SpeciesTable;
use hatchwarden::config::read;
use hatchwarden::engine::restore;
use hatchwarden::room::{Outcome, Room, Setup, Wish};
use readings::{MapEntry, Message};
use std::path::Path;
use std::sync::Arc;
use store::{Options, Store};
use units::{Quantity, Span, Time};
use web::keeper::{Trial, Trouble};
use web::probes::RhythmFrom;

const EXAMPLE: &str = include_str!("../../../config/room.toml");

fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

fn at(s: i64) -> Time {
    begin() + Span::seconds(s)
}

fn setup(text: &str) -> Arc<Setup> {
    let config = read(text, "room.toml", Path::new("")).unwrap();
    Arc::new(Setup::new(&config, SpeciesTable::shipped()).unwrap())
}

/// A room and everything it has wanted kept.
struct Play {
    room: Room,
    out: Outcome,
}

impl Play {
    fn new() -> Self {
        Self { room: Room::new(setup(EXAMPLE)).unwrap(), out: Outcome::default() }
    }

    fn hear(&mut self, topic: &str, payload: &str, s: i64) {
        self.message(topic, payload, false, s);
    }

    fn message(&mut self, topic: &str, payload: &str, retained: bool, s: i64) {
        let m = Message { topic, payload: payload.as_bytes(), retained, received: at(s) };
        self.room.message(&m, at(s), &mut self.out);
        self.room.tick(at(s), &mut self.out);
        self.room.close_batch(at(s), &mut self.out);
    }

    fn tick(&mut self, s: i64) {
        self.room.tick(at(s), &mut self.out);
        self.room.close_batch(at(s), &mut self.out);
    }

    fn wish(&mut self, wish: Wish, s: i64) -> Result<(), Trouble> {
        self.room.wish(wish, "Mara", at(s), &mut self.out)
    }

    fn claim(&mut self, entry: MapEntry, s: i64) -> Result<(), Trouble> {
        self.wish(Wish::Claim(Box::new(entry)), s)
    }

    fn alarms(&mut self, s: i64) -> Vec<String> {
        self.room.view(at(s)).alarms.iter().filter(|a| a.standing).map(|a| a.text.clone()).collect()
    }
}

fn entry(topic: &str, vessel: &str) -> MapEntry {
    MapEntry {
        topic: topic.into(),
        vessel: Some(vessel.into()),
        quantity: Some(Quantity::Temperature),
        ..MapEntry::default()
    }
}

fn field(trouble: Trouble) -> String {
    match trouble {
        Trouble::Refused { field, .. } => field,
        other => panic!("{other}"),
    }
}

#[test]
fn a_topic_is_listed_until_it_is_claimed_and_again_once_it_is_released() {
    let mut play = Play::new();
    play.hear("rack/n9/t", "26.8", 0);
    play.hear("rack/n9/t", "26.9", 10);
    let view = play.room.probes_view();
    assert_eq!((view.unmapped[0].topic.as_str(), view.unmapped[0].count), ("rack/n9/t", 2));
    assert_eq!(view.unmapped[0].payload, "26.9");
    assert!(play.out.batch.readings.is_empty(), "nothing unmapped is guessed");

    play.claim(entry("rack/n9/t", "V2"), 20).unwrap();
    assert!(play.room.probes_view().unmapped.is_empty());
    play.hear("rack/n9/t", "27.0", 30);
    assert_eq!(play.out.batch.readings.last().unwrap().probe.to_string(), "V2/temperature");

    let claimed = play.room.probes_view().map.pop().unwrap();
    assert_eq!((claimed.claim, claimed.by.as_deref()), (Some(1), Some("Mara")));
    play.wish(Wish::Release(1), 40).unwrap();
    assert!(matches!(play.wish(Wish::Release(1), 41), Err(Trouble::NotFound(_))));
    play.hear("rack/n9/t", "27.1", 50);
    assert_eq!(play.room.probes_view().unmapped.len(), 1);
    assert_eq!(play.out.batch.readings.len(), 1);
}

#[test]
fn a_claim_that_will_not_do_names_its_field_and_changes_nothing() {
    let mut play = Play::new();
    for (wrong, name) in [
        (entry("rack/t+", "V1"), "topic"),
        (entry("rack/t", "V9"), "vessel"),
        (MapEntry { quantity: None, ..entry("rack/t", "V1") }, "quantity"),
        (MapEntry { pointer: Some("/t".into()), ..entry("rack/t", "V1") }, "pointer"),
    ] {
        assert_eq!(field(play.claim(wrong, 0).unwrap_err()), name);
    }
    play.claim(entry("rack/t", "V1"), 1).unwrap();
    assert_eq!(field(play.claim(entry("rack/t", "V1"), 2).unwrap_err()), "topic", "said twice");
    assert_eq!(play.room.probes_view().map.iter().filter(|e| e.claim.is_some()).count(), 1);
}

#[test]
fn at_a_broker_only_what_is_heard_can_be_claimed() {
    let text = EXAMPLE.replace(
        "front_door = \"127.0.0.1:1883\"",
        "listen = [\"rack/#\"]\n[mqtt.broker]\nhost = \"127.0.0.1\"",
    );
    let mut play = Play { room: Room::new(setup(&text)).unwrap(), out: Outcome::default() };
    assert!(play.room.filters().contains(&"rack/#".to_owned()));
    play.claim(entry("rack/+/t", "V1"), 0).unwrap();
    let said = play.claim(entry("attic/t", "V1"), 0).unwrap_err().to_string();
    assert!(said.contains("attic/t") && said.contains("listen in [mqtt]"), "{said}");
}

#[test]
fn an_entry_is_tried_on_the_last_payload_and_nothing_is_saved() {
    let mut play = Play::new();
    play.hear("rack/n9/t", "80.4", 0);
    let mut trial = Trial { entry: entry("rack/n9/t", "V2"), topic: None, payload: None, retained: false };
    let refused = play.room.try_entry(&trial, at(9)).unwrap();
    assert_eq!(refused[0].reason, Some("out_of_range"), "80.4 is no °C");
    trial.entry.unit = Some(units::Unit::Fahrenheit);
    let tried = play.room.try_entry(&trial, at(9)).unwrap();
    assert!((tried[0].value.unwrap() - 26.889).abs() < 1e-3);
    trial.payload = Some("85".into());
    assert!((play.room.try_entry(&trial, at(9)).unwrap()[0].value.unwrap() - 29.444).abs() < 1e-3);
    let elsewhere = Trial { entry: entry("rack/+/t", "V2"), ..trial.clone() };
    assert_eq!(field(play.room.try_entry(&elsewhere, at(9)).unwrap_err()), "topic", "a filter is no topic");
    let unheard = Trial { entry: entry("rack/n8/t", "V2"), topic: None, payload: None, retained: false };
    assert_eq!(field(play.room.try_entry(&unheard, at(9)).unwrap_err()), "topic");
    assert_eq!(play.room.probes_view().map.iter().filter(|e| e.claim.is_some()).count(), 0);
}

#[test]
fn offline_makes_the_probes_of_that_device_silent_soon_and_says_nothing_of_air() {
    let mut play = Play::new();
    let (air, water) = ("hatchwarden/undercroft/TU2/air-flow", "hatchwarden/undercroft/V1/temperature");
    for s in [0, 600, 1_200] {
        play.hear(air, "0.8", s); // every ten minutes: by that alone it would be missed after half an hour
        play.hear(water, "27.0", s);
    }
    play.hear("hatchwarden/undercroft/TU2/availability", "offline", 1_210);
    play.tick(1_389);
    assert!(play.alarms(1_389).is_empty(), "most losses of Wi-Fi are over by then");
    play.tick(1_390);
    let alarms = play.alarms(1_390);
    assert_eq!(alarms.len(), 1, "{alarms:?}");
    assert!(alarms[0].starts_with("The air-flow probe of TU2 is silent since 12:20"), "{alarms:?}");
    assert!(alarms[0].contains("Its device TU2 has gone offline"), "{alarms:?}");
    assert!(!alarms[0].contains("still"), "it does not say that the air has stopped");
    let device = play.room.probes_view().devices.pop().unwrap();
    assert_eq!((device.name.as_str(), device.online, device.since), ("TU2", Some(false), Some(at(1_210))));
    play.hear("hatchwarden/undercroft/TU2/availability", "online", 1_400);
    assert_eq!(play.alarms(1_400).len(), 1, "only a reading ends the silence");
    play.hear(air, "0.8", 1_410);
    assert!(play.alarms(1_410).is_empty());
}

#[test]
fn a_device_with_a_name_in_the_map_takes_all_its_probes_with_it() {
    let mut play = Play::new();
    for (topic, vessel) in [("n7/a", "V1"), ("n7/b", "V2")] {
        play.claim(MapEntry { device: Some("n7".into()), ..entry(topic, vessel) }, 0).unwrap();
        play.hear(topic, "27.9", 1);
    }
    let status = MapEntry {
        topic: "n7/status".into(),
        says: readings::Says::Availability,
        device: Some("n7".into()),
        ..MapEntry::default()
    };
    play.claim(status, 2).unwrap();
    play.hear("n7/status", "offline", 3);
    play.tick(183);
    let [told] = &play.alarms(183)[..] else { panic!("one cause, one alarm") };
    assert!(told.contains("Device n7 is silent since") && told.contains("It has gone offline."), "{told}");
    assert!(told.contains("Not heard: V1 temperature and V2 temperature."), "{told}");
}

#[test]
fn two_clocks_tell_the_device_from_the_probe() {
    let mut play = Play::new();
    let topic = "hatchwarden/undercroft/V1/temperature";
    play.hear(topic, "27.0", 0);
    play.hear(topic, "85.0", 60);
    play.message(topic, "27.0", true, 90);
    let probe = play.room.probes_view().probes.pop().unwrap();
    assert_eq!((probe.last_message, probe.last_accepted), (Some(at(60)), Some(at(0))));
}

#[test]
fn a_slow_probe_is_given_its_own_rhythm_before_it_is_called_silent() {
    let mut play = Play::new();
    let topic = "hatchwarden/undercroft/V1/ph";
    for i in 0..4 {
        play.hear(topic, "8.1", 600 * i);
    }
    let probe = play.room.probes_view().probes.pop().unwrap();
    assert_eq!((probe.every, probe.every_from), (Some(Span::minutes(10)), RhythmFrom::Learnt));
    assert_eq!(probe.silent_after, Span::minutes(35));
    play.room.tick(at(1_800 + 2_090), &mut play.out);
    assert!(play.alarms(1_800 + 2_090).is_empty());
    play.room.tick(at(1_800 + 2_101), &mut play.out);
    assert_eq!(play.alarms(1_800 + 2_101).len(), 1);
}

#[test]
fn what_is_set_for_a_vessel_or_told_by_a_pack_goes_before_what_is_learnt() {
    let mut play = Play::new();
    play.hear("hatchwarden/undercroft/TU4/air-flow", "0.8", 0);
    assert_eq!(play.room.probes_view().probes[0].silent_after, Span::minutes(2), "silent_after_s = 120");
    let pack = MapEntry { format: readings::Format::Senml, name: Some("t".into()), ..entry("pack", "V2") };
    play.claim(pack, 0).unwrap();
    play.hear("pack", r#"[{"n":"t","u":"Cel","v":28.5,"ut":900}]"#, 1);
    let probe = play.room.probes_view().probes.into_iter().find(|p| p.probe.vessel.as_str() == "V2").unwrap();
    assert_eq!((probe.every, probe.every_from), (Some(Span::minutes(15)), RhythmFrom::Told));
    assert_eq!(probe.silent_after, Span::seconds(3_150));
}

#[tokio::test]
async fn claims_devices_and_the_list_outlive_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("room.db"), Options::default()).unwrap();
    let setup = setup(EXAMPLE);
    let mut play =
        Play { room: restore(store.clone(), setup.clone(), begin()).await.unwrap(), out: Outcome::default() };
    play.claim(entry("rack/n9/t", "V2"), 0).unwrap();
    play.claim(entry("rack/n8/t", "V1"), 0).unwrap();
    play.wish(Wish::Release(2), 1).unwrap();
    play.hear("rack/n7/t", "26.9", 2);
    play.hear("rack/n9/t", "28.9", 3);
    play.hear("hatchwarden/undercroft/TU2/availability", "offline", 4);
    store.commit(std::mem::take(&mut play.out.batch)).await.unwrap();
    let before = play.room.probes_view();
    let room = restore(store.clone(), setup, at(5)).await.unwrap();
    assert_eq!(before, room.probes_view());
    // What is left of a payload is an excerpt: no entry is tried on that.
    let trial = Trial { entry: entry("rack/n7/t", "V1"), topic: None, payload: None, retained: false };
    assert_eq!(field(room.try_entry(&trial, at(6)).unwrap_err()), "topic");
}

#[test]
fn endless_new_topics_fill_neither_list_nor_store() {
    let mut play = Play::new();
    for i in 0..5_000 {
        play.hear(&format!("flood/{i}"), "1", i);
    }
    let places: std::collections::BTreeSet<&str> =
        play.out.batch.refusals.iter().map(|r| r.place.as_str()).collect();
    assert!(places.len() <= 2_001, "{}", places.len());
    assert_eq!(play.out.batch.refusals.len(), 5_000, "each is counted somewhere");
    assert_eq!(play.room.probes_view().unmapped.len(), 500);
}
