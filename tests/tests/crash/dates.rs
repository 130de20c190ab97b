//! A service that is killed reckons the same dates as one that is not.

use crate::{finish, reach};
use serde_json::{Value, json};
use testkit::{Api, Chance, Hatchwarden, Mosquitto, Publisher, RoomFile, Rows, Stream};
use testkit::{Saves, free_port};
use units::{Span, Time};

const KILLS: usize = 10;

/// A fortnight of one tank, a reading a minute.
fn fortnight() -> Stream {
    let begin = Time::parse_rfc3339("2024-01-01T00:00:00Z").unwrap();
    Stream { devices: &["V1/temperature"], len: 20_000, begin, step: Span::minutes(1) }
}

async fn open_clutch(api: &Api, begin: Time) {
    let new = json!({
        "id": "C09", "fish": "Oreochromis niloticus", "species": "oreochromis-niloticus", "mother": "til-04",
        "day0_earliest": begin, "day0_latest": begin + Span::hours(6), "day0_grade": "window", "vessel": "V1"
    });
    let (status, body) = api.post("api/v1/clutches", &new).await;
    assert!((200..300).contains(&status), "{status}: {body}");
}

/// Plays the stream, kills the service at these points, and gives the windows of hatching and free swimming.
async fn play(kills: &[u64]) -> (Value, Value) {
    let stream = fortnight();
    let broker = Mosquitto::start_saving(free_port(), Saves::EverySecond).await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    open_clutch(&service.api, stream.begin).await;
    let publisher = Publisher::start(broker.port, stream);
    for point in kills {
        reach(&publisher, *point).await;
        service = service.kill_and_run(&room).await;
    }
    finish(publisher, &Rows::open(&room.store()), &service.api, &stream).await;
    let clutch = service.api.get("api/v1/clutches/C09").await;
    (clutch["clutch"]["hatch"].clone(), clutch["clutch"]["free_swimming"].clone())
}

#[tokio::test(flavor = "multi_thread")]
async fn ten_kills_move_no_date() {
    let kills = Chance::seeded().points(KILLS, fortnight().len);
    let (calm, killed) = tokio::join!(play(&[]), play(&kills));
    assert!(!calm.0.is_null() && !calm.1.is_null());
    assert_eq!(killed, calm);
}
