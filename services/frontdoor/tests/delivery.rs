//! Who gets which message: wildcards, overlaps, retained messages, QoS, MQTT 5 options.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::Limits;

#[tokio::test]
async fn wildcards_reach_those_who_asked() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("undercroft/+/temperature", 0).await;
    let mut lamp = Client::connected(&door, &v3("lamp")).await;
    lamp.subscribed("undercroft/V2/#", 0).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    device.send(&publish(0x32, "undercroft/V1/temperature", 1, "25.1")).await;
    device.expect(&puback(1)).await;
    device.send(&publish(0x30, "undercroft/V2/air", 0, "4.0")).await;
    page.expect(&publish(0x30, "undercroft/V1/temperature", 0, "25.1")).await;
    lamp.expect(&publish(0x30, "undercroft/V2/air", 0, "4.0")).await;
    page.expect_quiet().await;
    device.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn overlapping_subscriptions_deliver_once_with_the_highest_qos() {
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("a/#", 0).await;
    page.subscribed("a/b", 1).await;
    page.subscribed("+/b", 0).await;
    door.publish("a/b", "x".into(), false);
    page.expect(&publish(0x32, "a/b", 1, "x")).await;
    page.send(&puback(1)).await;
    page.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn the_lower_qos_of_published_and_granted_holds() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.8.4-6].
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("at0", 0).await;
    page.subscribed("at1", 1).await;
    page.send(&publish(0x32, "at0", 5, "x")).await;
    page.expect(&publish(0x30, "at0", 0, "x")).await;
    page.send(&publish(0x30, "at1", 0, "x")).await;
    page.expect(&publish(0x30, "at1", 0, "x")).await;
    door.close().await;
}

#[tokio::test]
async fn retained_messages_come_marked_and_live_ones_do_not() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.3.1-6, 3.3.1-8, 3.3.1-9, 3.3.1-10, 3.3.1-11, 3.3.1-12, 3.8.4-3].
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    device.send(&publish(0x31, "a/1", 0, "26.1")).await;
    let kept = next(&mut messages).await;
    assert!(kept.retain && !kept.dup && kept.qos == 0);
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("a/+", 1).await;
    page.expect(&publish(0x31, "a/1", 0, "26.1")).await;
    device.send(&publish(0x31, "a/1", 0, "26.2")).await;
    page.expect(&publish(0x30, "a/1", 0, "26.2")).await;
    device.send(&publish(0x30, "a/1", 0, "26.3")).await;
    page.expect(&publish(0x30, "a/1", 0, "26.3")).await;
    page.subscribed("a/+", 1).await;
    page.expect(&publish(0x31, "a/1", 0, "26.2")).await;
    device.send(&publish(0x31, "a/1", 0, "")).await;
    page.expect(&publish(0x30, "a/1", 0, "")).await;
    page.subscribed("a/+", 1).await;
    page.expect_quiet().await;
    for expected in ["26.2", "26.3", ""] {
        assert_eq!(next(&mut messages).await.payload, expected);
    }
    assert_eq!(door.counts().retained, 0);
    door.close().await;
}

#[tokio::test]
async fn the_service_publishes_with_qos_1_and_retains() {
    let (door, _messages) = open(Limits::default()).await;
    door.publish("hatchwarden/undercroft/alarm/TU1", "{}".into(), true);
    door.publish("no/+/wildcard", "x".into(), true);
    assert_eq!(door.counts().retained, 1);
    let mut lamp = Client::connected(&door, &v3("lamp")).await;
    lamp.subscribed("#", 1).await;
    lamp.expect(&publish(0x33, "hatchwarden/undercroft/alarm/TU1", 1, "{}")).await;
    door.publish("hatchwarden/undercroft/alarm/TU1", "".into(), true);
    lamp.expect(&publish(0x32, "hatchwarden/undercroft/alarm/TU1", 2, "")).await;
    assert_eq!(door.counts().retained, 0);
    door.close().await;
}

#[tokio::test]
async fn retained_topics_are_bounded() {
    let (door, _messages) = open(Limits { retained: 1, ..Limits::default() }).await;
    door.publish("a", "1".into(), true);
    door.publish("b", "1".into(), true);
    assert_eq!((door.counts().retained, door.counts().refused_packets), (1, 1));
    door.close().await;
}

#[tokio::test]
async fn dollar_topics_are_not_matched_by_a_leading_wildcard() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-4.7.2-1].
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("#", 0).await;
    door.publish("$SYS/a", "1".into(), false);
    page.expect_quiet().await;
    page.subscribed("$SYS/#", 0).await;
    door.publish("$SYS/a", "2".into(), false);
    page.expect(&publish(0x30, "$SYS/a", 0, "2")).await;
    door.close().await;
}

#[tokio::test]
async fn unsubscribed_is_unsubscribed() {
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v3("page")).await;
    page.subscribed("a", 0).await;
    page.send(&packet(0xA2, &[vec![0, 4], text("a")].concat())).await;
    page.expect(&[0xB0, 2, 0, 4]).await;
    door.publish("a", "1".into(), false);
    page.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn version_5_options_are_kept_and_properties_travel() {
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &v5("page")).await;
    // QoS 1, no local, retain as published, no retained messages at subscription.
    door.publish("a", "old".into(), true);
    page.send(&subscribe5(1, "a", 1 | 4 | 8 | 0x20)).await;
    page.expect(&[0x90, 4, 0, 1, 0, 1]).await;
    page.send(&publish5(0x30, "a", 0, &[], "own")).await;
    let mut device = Client::connected(&door, &v5("device")).await;
    // Payload format 1, message expiry 60 s, user property k=v.
    let properties = [&[1, 1, 2, 0, 0, 0, 60, 0x26][..], &text("k"), &text("v")].concat();
    device.send(&publish5(0x31, "a", 0, &properties, "x")).await;
    let came = page.packet().await.unwrap();
    assert_eq!(came[0], 0x31, "retain as published, and not its own message before it");
    // The expiry comes first, with the seconds that are left.
    assert_eq!(came[..7], [0x31, 19, 0, 1, b'a', 14, 2]);
    let left = u32::from_be_bytes(came[7..11].try_into().unwrap());
    assert!((50..=60).contains(&left), "{left}");
    assert_eq!(came[11..], [&[1, 1, 0x26][..], &text("k"), &text("v"), b"x"].concat());
    door.close().await;
}

#[tokio::test]
async fn a_subscription_may_ask_for_retained_messages_only_when_new() {
    let (door, _messages) = open(Limits::default()).await;
    door.publish("a", "kept".into(), true);
    let mut page = Client::connected(&door, &v5("page")).await;
    page.send(&subscribe5(1, "a", 0x10)).await;
    page.expect(&[0x90, 4, 0, 1, 0, 0]).await;
    page.expect(&publish5(0x31, "a", 0, &[], "kept")).await;
    page.send(&subscribe5(2, "a", 0x10)).await;
    page.expect(&[0x90, 4, 0, 2, 0, 0]).await;
    page.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn the_receive_maximum_of_the_client_is_honoured() {
    let (door, _messages) = open(Limits::default()).await;
    let mut page = Client::connected(&door, &Hello { properties: vec![0x21, 0, 2], ..v5("page") }).await;
    page.send(&subscribe5(1, "a", 1)).await;
    page.expect(&[0x90, 4, 0, 1, 0, 1]).await;
    ["1", "2", "3"].iter().for_each(|payload| door.publish("a", (*payload).into(), false));
    page.expect(&publish5(0x32, "a", 1, &[], "1")).await;
    page.expect(&publish5(0x32, "a", 2, &[], "2")).await;
    page.expect_quiet().await;
    page.send(&puback(1)).await;
    page.expect(&publish5(0x32, "a", 3, &[], "3")).await;
    door.close().await;
}
