//! Those who open a connection and then say nothing, or begin a CONNECT and never end it.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::Limits;
use std::time::Duration;

#[tokio::test]
async fn silent_and_slow_openers_are_cut_and_delay_nobody() {
    // The limit is shortened here. That it is 5 s, and that a byte a second does not stretch it, is shown with paused time beside
    // the code (`a_trickled_connect_ends_at_the_limit`, and the same behind TLS).
    let limits = Limits { connect_within: Duration::from_millis(500), ..Limits::default() };
    let (door, messages) = open(limits).await;
    acknowledge_all(messages);
    let mut openers = Vec::new();
    for n in 0..400 {
        let mut client = Client::raw(&door).await;
        client.send(&v3("slow").bytes()[..n % 10]).await;
        openers.push(client);
    }
    let mut device = Client::connected(&door, &v3("device")).await;
    for id in 1..=2_000 {
        device.send(&publish(0x32, "room/V1/flow", id, "1.9")).await;
        device.expect(&puback(id)).await;
    }
    for client in &mut openers {
        assert_eq!(client.packet().await, None);
    }
    while door.counts().connections > 1 {
        tokio::task::yield_now().await;
    }
    assert_eq!(door.counts().sessions, 1, "none of them came in");
    device.expect_quiet().await;
    door.close().await;
}
