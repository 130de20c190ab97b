//! What is refused without an end of the connection. What ends it is in hostile.rs.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::Limits;

#[tokio::test]
async fn filters_are_refused_one_by_one() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.9.3-2, 3.8.4-5]; MQTT 5.0 (2019) section 3.9.3.
    let (door, _messages) = open(Limits { filters: 2, ..Limits::default() }).await;
    let body = |filters: &[&str], version: u8| {
        let mut body = vec![0, 1];
        body.extend(if version == 5 { vec![0] } else { vec![] });
        filters.iter().for_each(|filter| body.extend([text(filter), vec![2]].concat()));
        packet(0x82, &body)
    };
    let deep = "a/".repeat(16);
    let filters = ["a", "a/#/b", "b+", deep.as_str(), "b", "c", "a"];
    let mut old = Client::connected(&door, &v3("old")).await;
    old.send(&body(&filters, 4)).await;
    old.expect(&[0x90, 9, 0, 1, 1, 0x80, 0x80, 0x80, 1, 0x80, 1]).await;
    let mut new = Client::connected(&door, &v5("new")).await;
    new.send(&body(&["$share/g/a", "a", "a/#/b", "b", "c"], 5)).await;
    new.expect(&[0x90, 8, 0, 1, 0, 0x9E, 1, 0x8F, 1, 0x97]).await;
    new.send(&packet(0xA2, &[vec![0, 2, 0], text("a"), text("never")].concat())).await;
    new.expect(&[0xB0, 5, 0, 2, 0, 0, 0x11]).await;
    door.close().await;
}

#[tokio::test]
async fn a_version_5_message_that_is_not_allowed_is_answered_in_its_turn() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v5("device")).await;
    device.send(&publish5(0x32, "a", 1, &[], "x")).await;
    device.send(&publish5(0x32, "$SYS/a", 2, &[], "x")).await;
    device.send(&publish5(0x32, &"a".repeat(513), 3, &[], "x")).await;
    let first = next(&mut messages).await;
    device.expect_quiet().await;
    first.ack.done();
    device.expect(&puback(1)).await;
    device.expect(&[0x40, 3, 0, 2, 0x87]).await;
    device.expect(&[0x40, 3, 0, 3, 0x90]).await;
    assert!(messages.try_recv().is_err());
    assert_eq!(door.counts().refused_packets, 2);
    door.close().await;
}

#[tokio::test]
async fn thousands_of_filters_in_one_packet_get_what_one_client_may_hold() {
    // OASIS MQTT 5.0 (2019) [MQTT-3.8.4-6]: a reason code for each, here 0x97 (quota exceeded) beyond the limit of 100.
    let (door, _messages) = open(Limits::default()).await;
    let mut client = Client::connected(&door, &v5("client")).await;
    let filters = (0..5_000).flat_map(|n| [text(&format!("a/{n}/+")), vec![0]].concat());
    let body: Vec<u8> = [0, 1, 0].into_iter().chain(filters).collect();
    client.send(&packet(0x82, &body)).await;
    let suback = client.packet().await.unwrap();
    let reasons = &suback[suback.len() - 5_000..];
    assert!(
        reasons[..100].iter().all(|reason| *reason == 0)
            && reasons[100..].iter().all(|reason| *reason == 0x97)
    );
    assert_eq!(door.counts().refused_subscriptions, 4_900);
    client.expect_quiet().await;
    door.close().await;
}
