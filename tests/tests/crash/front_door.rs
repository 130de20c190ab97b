//! SIGKILL of a service with its own front door: a PUBACK means that the reading is on disk.

use crate::{finish, reach};
use testkit::{Chance, Hatchwarden, Publisher, RoomFile, Rows, Stream};

const KILLS: usize = 50;

#[tokio::test(flavor = "multi_thread")]
async fn fifty_kills_behind_the_front_door_lose_nothing_acknowledged() {
    let stream = Stream::of_four(100_000);
    let (room, port) = RoomFile::with_front_door("");
    let mut service = Hatchwarden::run(&room).await;
    let rows = Rows::open(&room.store());
    let publisher = Publisher::start(port, stream);
    for point in Chance::seeded().points(KILLS, stream.len) {
        reach(&publisher, point).await;
        service = service.kill_and_run(&room).await;
        // By now more is acknowledged than at the kill; all of it must be there.
        let acknowledged = publisher.known();
        rows.assert_hold(&acknowledged);
    }
    finish(publisher, &rows, &service.api, &stream).await;
}
