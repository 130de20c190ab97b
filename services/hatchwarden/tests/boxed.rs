//! A whole day of the simulated room through the whole service, on a clock that is moved by hand.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use hatchwarden::boxed::{Boxed, Published};
use hatchwarden::config::{Config, read};
use sensors_sim::{Fault, Room, Scenario};
use serde_json::{Value, json};
use std::path::Path;
use std::process::Command;
use store::{AlarmRow, Options, Store};
use units::{Grade, Span, Time};
use web::keeper::{Keeper, NewClutch, Record};
use web::view::{RoomView, Turning};

/// Settings of the alarm (`alarms::Settings::air_stopped`) and rhythm of the room's devices.
const ON_DELAY: Span = Span::seconds(20);
const OFF_DELAY: Span = Span::seconds(30);
const RHYTHM: Span = Span::minutes(1);

const ALARM: &str = "TU2.air-stopped";

fn at(text: &str) -> Time {
    Time::parse_rfc3339(text).unwrap()
}

/// Lisbon keeps UTC in November.
fn begin() -> Time {
    at("2026-11-20T12:00:00Z")
}

fn stop() -> Time {
    at("2026-11-21T02:17:00Z")
}

fn back() -> Time {
    stop() + Span::minutes(40)
}

fn config(folder: &Path) -> Config {
    let text = include_str!("../../../config/room.toml");
    Config { store: folder.join("room.db"), ..read(text, "room.toml", Path::new("")).unwrap() }
}

async fn open_clutch(service: &Boxed) {
    let id: units::ClutchId = "C11".parse().unwrap();
    let new = NewClutch {
        id: id.clone(),
        fish: "Astatotilapia burtoni".to_owned(),
        species: "generic-mouthbrooder".to_owned(),
        mother: None,
        day0_earliest: begin() - Span::days(4),
        day0_latest: None,
        day0_grade: Grade::Seen,
        vessel: "V1".parse().unwrap(),
    };
    service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
    let vessel = "TU2".parse().unwrap();
    let strip = Record::Strip { at: begin() - Span::hours(2), vessel, alive: 44, dead: 0 };
    service.desk().record(id, strip, "keeper".to_owned()).await.unwrap();
}

async fn page(service: &Boxed) -> RoomView {
    service.desk().look().await.unwrap();
    service.desk().room().borrow().as_ref().clone()
}

/// What the day has left behind.
struct Day {
    log: Vec<AlarmRow>,
    /// The page in the middle of the stop, and at the end of the day.
    during: RoomView,
    after: RoomView,
    published: Vec<Published>,
    /// What `hatchwarden export` wrote while the service was running.
    record: String,
}

/// The command with these arguments; it must do well.
fn hatchwarden(args: &[&str]) -> String {
    let out = Command::new(env!("CARGO_BIN_EXE_hatchwarden")).args(args).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

/// What the running service has kept so far.
fn exported(config: &Config) -> String {
    let text = include_str!("../../../config/room.toml");
    let file = config.store.with_file_name("room.toml");
    std::fs::write(&file, text.replace("../data/undercroft.db", "room.db")).unwrap();
    hatchwarden(&["export", "--config", file.to_str().unwrap()])
}

/// Plays what the room sends up to `to`.
async fn play(service: &Boxed, room: &mut Room, to: Time) {
    for sent in room.advance(to) {
        service.move_to(sent.at).await.unwrap();
        service.deliver(&sent.topic, sent.payload, false).await.unwrap();
    }
    service.move_to(to).await.unwrap();
}

async fn day(seed: u64) -> Day {
    let folder = tempfile::tempdir().unwrap();
    let config = config(folder.path());
    let service = Boxed::start(&config, begin()).await.unwrap();
    open_clutch(&service).await;
    let mut room = Room::new(Scenario::undercroft_cut(), seed, begin());
    let air = Fault::AirStop("TU2".to_owned());
    room.inject(stop(), air.clone()).unwrap();
    room.mend(back(), air).unwrap();
    play(&service, &mut room, stop() + Span::minutes(20)).await;
    let during = page(&service).await;
    let end = begin() + Span::hours(24);
    play(&service, &mut room, end).await;
    let after = page(&service).await;
    let published = service.announcements();
    let record = exported(&config);
    service.stop().await;
    let store = Store::open(&config.store, Options::default()).unwrap();
    let log = store.reader().unwrap().alarm_log_between(begin(), end).unwrap();
    Day { log, during, after, published, record }
}

#[tokio::test]
async fn a_stop_at_night_is_raised_within_its_delay_and_cleared_after() {
    let day = day(7).await;
    let moves: Vec<&AlarmRow> = day.log.iter().filter(|r| r.key == ALARM).collect();
    assert_eq!(moves.len(), day.log.len(), "the rest of the day is calm: {:#?}", day.log);
    let [raised, again @ .., cleared] = &moves[..] else { panic!("{moves:#?}") };
    // Nobody takes it on, so it calls again every five minutes of the forty.
    assert!((7..=8).contains(&again.len()) && again.iter().all(|r| r.from == r.to), "{again:#?}");
    // The probe tells of the stop within its rhythm; from there the delay runs on the room's clock, to the millisecond.
    let since = raised.at - ON_DELAY;
    assert!(since >= stop() && since <= stop() + RHYTHM, "{}", raised.at);
    assert!(cleared.at >= back() + OFF_DELAY && cleared.at <= back() + RHYTHM + RHYTHM, "{}", cleared.at);
    assert!(raised.text.contains("TU2") && raised.text.contains("C11"), "{}", raised.text);

    let alarm = &day.during.alarms[0];
    assert_eq!((alarm.id.as_str(), alarm.standing, alarm.since), (ALARM, true, since));
    assert_eq!(day.during.now, stop() + Span::minutes(20));
    let turning =
        |page: &RoomView| page.tumblers.iter().find(|t| t.vessel.as_str() == "TU2").unwrap().turning;
    assert_eq!((turning(&day.during), turning(&day.after)), (Turning::Still, Turning::Turning));
    assert!(
        !day.after.alarms[0].standing && day.after.alarms[0].ended.is_some(),
        "gone, and nobody has seen it"
    );
    assert_eq!(day.after.heard.probes, 6);
    assert!(day.after.heard.silent.is_empty() && day.after.refusals.is_empty());
}

#[tokio::test]
async fn what_is_published_comes_at_the_moment_of_the_alarm() {
    let day = day(7).await;
    let topic = "hatchwarden/undercroft/alarm/TU2";
    let told: Vec<&Published> = day.published.iter().filter(|p| p.topic == topic && p.at > begin()).collect();
    let times: Vec<Time> = told.iter().map(|p| p.at).collect();
    assert_eq!(times, day.log.iter().map(|r| r.at).collect::<Vec<_>>());
    let said: Value = serde_json::from_slice(&told[0].payload).unwrap();
    assert_eq!(said["alarms"][0]["clutch"]["id"], "C11");
    assert!(told.iter().all(|p| p.retain));
}

/// What the service kept of the day, played again by the command, gives the alarms that it had, word for word.
#[tokio::test]
async fn a_day_is_replayed_to_the_same_alarms() {
    let day = day(7).await;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("day.jsonl");
    std::fs::write(&file, &day.record).unwrap();
    let config = concat!(env!("CARGO_MANIFEST_DIR"), "/../../config/room.toml");
    let until = (begin() + Span::hours(24)).to_string();
    let said =
        hatchwarden(&["replay", file.to_str().unwrap(), "--config", config, "--until", &until, "--json"]);
    let lines: Vec<Value> = said.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let expected = |r: &AlarmRow| {
        let (vessel, _) = r.key.split_once('.').unwrap();
        json!({ "t": r.at, "vessel": vessel, "condition": "air stopped", "from": r.from, "to": r.to, "text": r.text })
    };
    // Repeated calls are in the log and are no transitions.
    let transitions = day.log.iter().filter(|r| r.from != r.to);
    assert_eq!(lines, transitions.map(expected).collect::<Vec<_>>());
    assert_eq!(lines.len(), 2);
}

#[tokio::test]
async fn the_same_seed_gives_the_same_alarm_log() {
    assert_eq!(day(7).await.log, day(7).await.log);
}

/// With no message at all only the clock moves: the probe falls silent at its own moment, however far the hand goes.
#[tokio::test]
async fn what_falls_due_on_the_way_is_done_at_its_own_moment() {
    let folder = tempfile::tempdir().unwrap();
    let service = Boxed::start(&config(folder.path()), begin()).await.unwrap();
    for vessel in ["V1", "V2"] {
        service
            .deliver(&format!("hatchwarden/undercroft/{vessel}/temperature"), "28.0", false)
            .await
            .unwrap();
        service.move_to(service.clock().now() + Span::seconds(130)).await.unwrap();
    }
    service.move_to(begin() + Span::days(1)).await.unwrap();
    let raised: Vec<(String, Span)> = service
        .announcements()
        .iter()
        .filter(|p| p.at > begin() && !p.payload.is_empty())
        .map(|p| (p.topic.clone(), p.at - begin()))
        .collect();
    let topic = |v: &str| format!("hatchwarden/undercroft/alarm/{v}");
    let silent = Span::minutes(3); // config::SILENT_AFTER
    assert_eq!(raised, [(topic("V1"), silent), (topic("V2"), silent + Span::seconds(130))]);
    service.stop().await;
}
