//! SIGKILL of a service behind mosquitto. There a PUBACK means that mosquitto has the reading; the service acknowledges to
//! mosquitto after its own commit, so mosquitto keeps and sends again whatever the service had not stored.

use crate::{finish, reach};
use testkit::{Chance, Hatchwarden, Mosquitto, Publisher, RoomFile, Rows, Saves, Stream, free_port};

const KILLS: usize = 50;

#[tokio::test(flavor = "multi_thread")]
async fn fifty_kills_behind_mosquitto_lose_nothing() {
    let stream = Stream::of_four(60_000);
    let broker = Mosquitto::start_saving(free_port(), Saves::EverySecond).await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    let publisher = Publisher::start(broker.port, stream);
    for point in Chance::seeded().points(KILLS, stream.len) {
        reach(&publisher, point).await;
        // Back before it has subscribed, let alone caught up: the next kill may hit it in the middle of that.
        service = service.kill_and_run(&room).await;
    }
    finish(publisher, &Rows::open(&room.store()), &service.api, &stream).await;
}
