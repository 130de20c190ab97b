//! A disk that is full for a minute: readings wait unacknowledged and are all stored once there is room.

use crate::finish;
use serde_json::json;
use std::time::Duration;
use testkit::{Api, Hatchwarden, Publisher, RoomFile, Rows, SmallDisk, Stream};
use tokio::time::timeout;

/// The store tries again every 2 s, so some thirty tries fail. The length is the requirement's, not a measure of speed; the
/// other tests of this file run meanwhile.
const SPELL: Duration = Duration::from_secs(60);

#[tokio::test(flavor = "multi_thread")]
async fn a_full_disk_loses_nothing_and_work_goes_on_when_there_is_room() {
    let Some(disk) = SmallDisk::new().await else {
        println!("no right to mount a small file system here; the store's own tests cover a full disk");
        return;
    };
    let stream = Stream::of_four(3_000);
    let (room, port) = RoomFile::with_front_door("");
    let store = disk.file("room.db");
    let config = std::fs::read_to_string(&room.path).unwrap();
    std::fs::write(&room.path, config.replace("store/room.db", store.to_str().unwrap())).unwrap();
    let service = Hatchwarden::run(&room).await;
    let rows = Rows::open(&store);
    let publisher = Publisher::start(port, stream);
    publisher.release(1_000);
    publisher.acknowledged(1_000).await;

    disk.fill();
    publisher.release(stream.len);
    assert_said(&service.api).await;
    // What the last good commit stored is acknowledged by now or will be in a moment.
    publisher.acknowledged(rows.count()).await;
    let mut count = publisher.count();
    let before = *count.borrow_and_update();
    assert!(timeout(SPELL, count.changed()).await.is_err(), "acknowledged what is not on disk");
    assert_eq!(rows.count(), before, "more or less is stored than is acknowledged");
    assert!(service.api.page("ready").await.contains("no room left"));

    disk.clear();
    finish(publisher, &rows, &service.api, &stream).await;
    assert_over(&service.api).await;
}

/// That an alarm names the file, the fault and the cure.
async fn assert_said(api: &Api) {
    let words = api.until("cannot store", "api/v1/alarms", |a| {
        let found = a.as_array()?.iter().find(|a| a["id"] == "room.cannot-store")?;
        Some(found["text"].as_str()?.to_owned())
    });
    let words = words.await;
    for part in ["room.db", "no room left", "make room"] {
        assert!(words.contains(part), "{part:?} is not in: {words}");
    }
}

async fn assert_over(api: &Api) {
    let over = |a: &serde_json::Value| a["id"] != "room.cannot-store" || a["standing"] == json!(false);
    api.until("the alarm is over", "api/v1/alarms", |a| a.as_array()?.iter().all(over).then_some(())).await;
}
