//! The network between mosquitto and the service is cut: what was under way on it comes again.

use crate::{FLOWING, finish, reach};
use testkit::{Chance, Hatchwarden, Mosquitto, Proxy, Publisher, RoomFile, Rows, Saves, Stream, free_port};

const CUTS: usize = 20;

#[tokio::test(flavor = "multi_thread")]
async fn twenty_cuts_of_the_network_lose_nothing() {
    let stream = Stream::of_four(20_000);
    let broker = Mosquitto::start_saving(free_port(), Saves::EverySecond).await;
    let network = Proxy::start(broker.port).await;
    let room = RoomFile::behind_broker(network.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    let publisher = Publisher::start(broker.port, stream);
    for point in Chance::seeded().points(CUTS, stream.len) {
        reach(&publisher, point).await;
        assert_eq!(network.cut().await, 1, "the service was not connected");
        // Refused for as long as mosquitto takes in what was let flow.
        publisher.acknowledged(stream.len.min(point + FLOWING)).await;
        network.mend().await;
        service.child.line_with("subscribed").await;
    }
    finish(publisher, &Rows::open(&room.store()), &service.api, &stream).await;
}
