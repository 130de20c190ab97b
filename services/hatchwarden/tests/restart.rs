//! A restart equals no restart: the room is dropped at random points and restored from its store, in virtual time.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::settle;
use development::SpeciesTable;
use hatchwarden::config::{Config, read};
use hatchwarden::engine::restore;
use hatchwarden::room::{Outcome, Room, Setup, Wish};
use proptest::prelude::*;
use readings::Message;
use std::path::Path;
use std::sync::Arc;
use store::{AlarmRow, Options, Store};
use units::{Grade, Span, Time};
use web::keeper::{NewClutch, Record};

/// Messages that are one batch; a crash loses at most one batch, which then comes again.
const BATCH: usize = 7;

fn config() -> Config {
    let text = include_str!("../../../config/room.toml");
    read(text, "room.toml", Path::new("")).unwrap()
}

fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

#[derive(Clone, Debug)]
struct Sent {
    at: Time,
    topic: String,
    payload: String,
}

/// Six hours of a tank and a tumbler, a message each half minute in turn: the water leaves its band and comes back,
/// the air stops for a while, and for a quarter of an hour nobody is heard.
fn messages() -> Vec<Sent> {
    let mut sent = Vec::new();
    for i in 0..720_i64 {
        let at = begin() + Span::seconds(30 * i);
        if (300..330).contains(&i) {
            continue;
        }
        let (topic, value) = if i % 2 == 0 {
            ("V1/temperature", 27.0 + 2.2 * (i as f64 / 90.0).sin())
        } else {
            ("TU3/air-flow", if (401..460).contains(&i) { 0.0 } else { 0.8 })
        };
        let payload = match i % 5 {
            0 => format!("{value:.2}"),
            1 => format!(r#"{{"v":{value:.2},"n":{i}}}"#),
            _ => format!(r#"{{"v":{value:.2},"t":{},"n":{i}}}"#, at.millis() / 1000),
        };
        sent.push(Sent { at, topic: format!("hatchwarden/undercroft/{topic}"), payload });
        if i % 97 == 0 {
            sent.push(Sent {
                at,
                topic: "hatchwarden/undercroft/V1/temperature".to_owned(),
                payload: "85.0".to_owned(),
            });
        }
    }
    sent
}

struct Play {
    store: Store,
    setup: Arc<Setup>,
    room: Room,
}

impl Play {
    async fn start(file: &Path) -> Self {
        let store = Store::open(file, Options { synchronous_full: false, ..Options::default() }).unwrap();
        let setup = Arc::new(Setup::new(&config(), SpeciesTable::shipped()).unwrap());
        let room = restore(store.clone(), setup.clone(), begin()).await.unwrap();
        let mut play = Self { store, setup, room };
        play.open_clutch().await;
        play
    }

    async fn open_clutch(&mut self) {
        let new = NewClutch {
            id: "C06".parse().unwrap(),
            fish: "Pseudocrenilabrus philander".to_owned(),
            species: "generic-mouthbrooder".to_owned(),
            mother: None,
            day0_earliest: begin() - Span::hours(30),
            day0_latest: None,
            day0_grade: Grade::Seen,
            vessel: "V1".parse().unwrap(),
        };
        self.wish(Wish::OpenClutch(new)).await;
        let strip = Record::Strip {
            at: begin() - Span::hours(2),
            vessel: "TU3".parse().unwrap(),
            alive: 33,
            dead: 1,
        };
        self.wish(Wish::Record("C06".parse().unwrap(), strip)).await;
    }

    async fn wish(&mut self, wish: Wish) {
        let mut out = Outcome::default();
        self.room.wish(wish, "keeper", begin(), &mut out).unwrap();
        self.close(begin(), out).await;
    }

    async fn close(&mut self, now: Time, out: Outcome) {
        settle(&mut self.room, &self.store, now, out).await;
    }

    async fn batch(&mut self, batch: &[Sent]) {
        let mut out = Outcome::default();
        for sent in batch {
            self.room.tick(sent.at, &mut out);
            let message = Message {
                topic: &sent.topic,
                payload: sent.payload.as_bytes(),
                retained: false,
                received: sent.at,
            };
            self.room.message(&message, sent.at, &mut out);
        }
        self.close(batch.last().unwrap().at, out).await;
    }

    /// Forgets everything that is not in the store.
    async fn crash(&mut self, now: Time) {
        self.room = restore(self.store.clone(), self.setup.clone(), now).await.unwrap();
    }
}

/// What the world has seen of a room: its alarms' history, its page, its readings.
async fn played(cuts: &[usize]) -> (Vec<AlarmRow>, serde_json::Value, Vec<(Time, f64)>) {
    let folder = tempfile::tempdir().unwrap();
    let mut play = Play::start(&folder.path().join("room.db")).await;
    let sent = messages();
    for (i, batch) in sent.chunks(BATCH).enumerate() {
        if cuts.contains(&i) {
            let mut lost = Outcome::default();
            for sent in batch.iter().take(BATCH / 2) {
                let message = Message {
                    topic: &sent.topic,
                    payload: sent.payload.as_bytes(),
                    retained: false,
                    received: sent.at,
                };
                play.room.message(&message, sent.at, &mut lost); // never committed
            }
            play.crash(batch[0].at).await;
        }
        play.batch(batch).await;
    }
    let end = sent.last().unwrap().at;
    let mut page = serde_json::to_value(play.room.view(end)).unwrap();
    page["feed"] = web::calendar::feed(&play.room.calendar_view()).into();
    let reader = play.store.reader().unwrap();
    let log = reader.alarm_log_between(begin(), end + Span::hours(1)).unwrap();
    let readings = reader.range(&"V1/temperature".parse().unwrap(), begin(), end).unwrap();
    (log, page, readings)
}

fn run<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap().block_on(work)
}

#[test]
fn the_scene_has_alarms_of_every_kind() {
    let (log, page, readings) = run(played(&[]));
    for condition in ["air-stopped", "too-warm", "too-cold", "silent"] {
        assert!(log.iter().any(|r| r.key.contains(condition)), "no {condition} in {log:#?}");
    }
    assert!(readings.len() > 300);
    assert!(page["refusals"].as_array().unwrap().iter().any(|r| r["reason"] == "sensor_power_on_reset"));
    assert!(page["clutches"][0]["hatch"].is_object(), "{page}");
    assert!(page["feed"].as_str().unwrap().contains("BEGIN:VEVENT"), "{page}");
    assert!(!page["work"].as_array().unwrap().is_empty(), "{page}");
}

#[test]
fn no_single_batch_is_a_bad_one_to_crash_in() {
    let calm = run(played(&[]));
    let batches = messages().len().div_ceil(BATCH);
    for cut in 0..batches {
        assert_eq!(run(played(&[cut])), calm, "cut at batch {cut}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn a_room_restored_at_random_points_goes_on_as_if_nothing_had_happened(
        cuts in proptest::collection::btree_set(0_usize..98, 1..6)
    ) {
        let cuts: Vec<usize> = cuts.into_iter().collect();
        let calm = run(played(&[]));
        let cut = run(played(&cuts));
        prop_assert_eq!(&cut.2, &calm.2);
        prop_assert_eq!(&cut.0, &calm.0);
        prop_assert_eq!(&cut.1, &calm.1);
    }
}
