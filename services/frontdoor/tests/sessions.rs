//! Sessions, takeover and wills.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::Limits;

fn keeping(client: &'static str) -> Hello {
    Hello { clean: false, ..v3(client) }
}

#[tokio::test]
async fn a_kept_session_delivers_what_came_meanwhile() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.1.2-5, 3.2.2-2, 3.2.2-3]; sending again only after a reconnect: 5.0 [MQTT-4.4.0-1].
    let (door, _messages) = open(Limits::default()).await;
    let (mut page, connack) = Client::connect(&door, &keeping("page")).await;
    assert_eq!(connack[2], 0, "no session before");
    page.subscribed("a", 1).await;
    door.publish("a", "1".into(), false);
    page.expect(&publish(0x32, "a", 1, "1")).await;
    page.leave().await;
    door.publish("a", "2".into(), false);
    assert_eq!(door.counts().sessions, 1);
    let (mut page, connack) = Client::connect(&door, &keeping("page")).await;
    assert_eq!(connack[2], 1, "the session goes on");
    page.expect(&publish(0x3A, "a", 1, "1")).await;
    page.expect(&publish(0x32, "a", 2, "2")).await;
    page.send(&[puback(1), puback(2)].concat()).await;
    page.expect_quiet().await;
    page.leave().await;
    let (mut page, _) = Client::connect(&door, &keeping("page")).await;
    page.expect_quiet().await;
    page.leave().await;
    let (mut page, connack) = Client::connect(&door, &v3("page")).await;
    assert_eq!(connack[2], 0, "a clean session discards the old one");
    door.publish("a", "3".into(), false);
    page.expect_quiet().await;
    page.leave().await;
    assert_eq!(door.counts().sessions, 0);
    door.close().await;
}

#[tokio::test]
async fn a_version_5_session_expiry_keeps_the_session() {
    let (door, _messages) = open(Limits::default()).await;
    let hello = Hello { clean: false, properties: vec![0x11, 0, 0, 1, 0], ..v5("page") };
    let (mut page, connack) = Client::connect(&door, &hello).await;
    assert_eq!(connack[2], 0);
    page.send(&subscribe5(1, "a", 1)).await;
    page.expect(&[0x90, 4, 0, 1, 0, 1]).await;
    page.leave().await;
    door.publish("a", "1".into(), false);
    let (mut page, connack) = Client::connect(&door, &hello).await;
    assert_eq!(connack[2], 1);
    page.expect(&publish5(0x32, "a", 1, &[], "1")).await;
    // DISCONNECT with session expiry 0 ends the session.
    page.send(&packet(0xE0, &[0, 5, 0x11, 0, 0, 0, 0])).await;
    assert_eq!(page.packet().await, None);
    assert_eq!(door.counts().sessions, 0);
    door.close().await;
}

#[tokio::test]
async fn a_queue_that_overflows_is_counted() {
    let (door, _messages) = open(Limits { queue_messages: 2, ..Limits::default() }).await;
    let mut page = Client::connected(&door, &keeping("page")).await;
    page.subscribed("a", 1).await;
    page.leave().await;
    ["1", "2", "3"].iter().for_each(|payload| door.publish("a", (*payload).into(), false));
    assert_eq!(door.counts().dropped_messages, 1);
    let mut page = Client::connected(&door, &keeping("page")).await;
    page.expect(&publish(0x32, "a", 1, "1")).await;
    page.expect(&publish(0x32, "a", 2, "2")).await;
    page.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn the_second_client_of_an_id_closes_the_first() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.1.4-2].
    let (door, _messages) = open(Limits::default()).await;
    let mut first = Client::connected(&door, &keeping("page")).await;
    first.subscribed("a", 1).await;
    let (mut second, connack) = Client::connect(&door, &keeping("page")).await;
    assert_eq!(connack[2], 1);
    assert_eq!(first.packet().await, None);
    door.publish("a", "1".into(), false);
    second.expect(&publish(0x32, "a", 1, "1")).await;
    assert_eq!(door.counts().sessions, 1);
    door.close().await;
}

#[tokio::test]
async fn a_version_5_client_is_told_that_it_was_taken_over() {
    let (door, _messages) = open(Limits::default()).await;
    let mut first = Client::connected(&door, &v5("page")).await;
    let mut second = Client::connected(&door, &v5("page")).await;
    first.expect(&[0xE0, 2, 0x8E, 0]).await;
    assert_eq!(first.packet().await, None);
    second.expect_quiet().await;
    door.close().await;
}

fn with_will(client: &'static str, retain: bool) -> Hello {
    Hello { will: Some(("state", "away", 1, retain)), ..v3(client) }
}

#[tokio::test]
async fn a_lost_client_leaves_its_will_to_subscribers_and_consumer() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("state", 1).await;
    drop(Client::connected(&door, &with_will("device", true)).await);
    page.expect(&publish(0x32, "state", 1, "away")).await;
    let will = next(&mut messages).await;
    assert_eq!((will.topic.as_str(), &will.payload[..], &*will.client), ("state", &b"away"[..], "device"));
    assert!(will.retain);
    assert_eq!(door.counts().retained, 1);
    door.close().await;
}

#[tokio::test]
async fn a_goodbye_discards_the_will() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.14.4-3].
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("state", 1).await;
    Client::connected(&door, &with_will("device", false)).await.leave().await;
    page.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn a_version_5_goodbye_may_keep_the_will() {
    let (door, mut messages) = open(Limits::default()).await;
    let hello = Hello { will: Some(("state", "away", 1, false)), ..v5("device") };
    let mut device = Client::connected(&door, &hello).await;
    device.send(&packet(0xE0, &[4])).await;
    assert_eq!(next(&mut messages).await.payload, "away");
    door.close().await;
}

#[tokio::test]
async fn a_takeover_publishes_the_will_before_the_newcomer_is_answered() {
    let (door, mut messages) = open(Limits::default()).await;
    let _first = Client::connected(&door, &with_will("device", true)).await;
    let mut second = Client::connected(&door, &with_will("device", true)).await;
    second.send(&publish(0x31, "state", 0, "here")).await;
    second.expect_quiet().await;
    assert_eq!(next(&mut messages).await.payload, "away");
    assert_eq!(next(&mut messages).await.payload, "here");
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("state", 0).await;
    page.expect(&publish(0x31, "state", 0, "here")).await;
    door.close().await;
}

#[tokio::test]
async fn a_client_without_an_id_gets_one() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut first = Client::connected(&door, &v3("")).await;
    let mut second = Client::connected(&door, &v3("")).await;
    first.send(&publish(0x30, "a", 0, "1")).await;
    let one = next(&mut messages).await.client;
    second.send(&publish(0x30, "a", 0, "2")).await;
    assert_ne!(one, next(&mut messages).await.client);
    let mut refused = Client::raw(&door).await;
    refused.send(&keeping("").bytes()).await;
    refused.expect(&[0x20, 2, 0, 2]).await;
    assert_eq!(refused.packet().await, None);
    door.close().await;
}

#[tokio::test]
async fn one_persistent_session_too_many_is_refused() {
    let (door, _messages) = open(Limits { sessions: 1, ..Limits::default() }).await;
    let _first = Client::connected(&door, &keeping("page")).await;
    let mut second = Client::raw(&door).await;
    second.send(&keeping("lamp").bytes()).await;
    second.expect(&[0x20, 2, 0, 3]).await;
    let mut third = Client::raw(&door).await;
    third.send(&Hello { properties: vec![0x11, 0, 0, 1, 0], ..v5("lamp") }.bytes()).await;
    third.expect(&[0x20, 3, 0, 0x97, 0]).await;
    door.close().await;
}
