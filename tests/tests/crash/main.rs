//! What is killed, cut or full loses nothing that was acknowledged and doubles nothing.
//!
//! A numbered QoS 1 stream of 200,000 readings, each with a time of its own, in four parts: 100,000 through the front door
//! and 60,000 behind mosquitto with 50 SIGKILLs of the service each, 20,000 with 20 cuts of the network between mosquitto and
//! service, 20,000 with 5 SIGKILLs of mosquitto. The last part is the small one, because a mosquitto that saves after
//! every change needs 0.8 ms of processor time a message (measured). Beside them a disk is full for a minute.
//!
//! Whatever is random is drawn from a printed seed; `HATCHWARDEN_SEED` plays it again.
#![allow(clippy::unwrap_used, reason = "test code")]

mod broker_kills;
mod cuts;
mod dates;
mod front_door;
mod full_disk;
mod service_kills;

use testkit::{Publisher, Rows, Stream};

/// Numbers that may still be sent when a point is reached: traffic flows during the trouble, and there is some left after it.
const FLOWING: u64 = 500;

/// Lets the stream flow up to and over a point and waits until the point is reached.
async fn reach(publisher: &Publisher, point: u64) {
    publisher.release(point + FLOWING);
    publisher.acknowledged(point).await;
}

/// Lets the rest through, waits until the service has stored all of it, and compares every row.
async fn finish(mut publisher: Publisher, rows: &Rows, api: &testkit::Api, stream: &Stream) {
    let resent = publisher.finish().await;
    println!("all {} acknowledged, {resent} sent again", stream.len);
    let all = |_: &serde_json::Value| (rows.count() >= stream.len).then_some(());
    api.until("all readings are stored", "api/v1/room", all).await;
    rows.assert_whole(stream);
}
