//! PUBACK follows the consumer, in arrival order, and no subscriber delays it.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::Limits;

#[tokio::test]
async fn nothing_is_acknowledged_before_the_consumer_is_done() {
    for hello in [v3("device"), v5("device")] {
        let (door, mut messages) = open(Limits::default()).await;
        let mut device = Client::connected(&door, &hello).await;
        let bytes =
            if hello.version == 5 { publish5(0x32, "a", 7, &[], "x") } else { publish(0x32, "a", 7, "x") };
        device.send(&bytes).await;
        let came = next(&mut messages).await;
        device.expect_quiet().await;
        came.ack.done();
        device.expect(&puback(7)).await;
        door.close().await;
    }
}

#[tokio::test]
async fn acknowledgements_in_bulk_leave_in_arrival_order() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    let all: Vec<u8> = (1..=500).flat_map(|id| publish(0x32, "a", id, "x")).collect();
    device.send(&all).await;
    let mut waiting = Vec::new();
    for _ in 0..500 {
        waiting.push(next(&mut messages).await);
    }
    // The consumer's order must not matter.
    waiting.into_iter().rev().for_each(|publish| publish.ack.done());
    for id in 1..=500 {
        device.expect(&puback(id)).await;
    }
    door.close().await;
}

#[tokio::test]
async fn a_dropped_ack_is_never_acknowledged() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    device.send(&[publish(0x32, "a", 1, "lost"), publish(0x32, "a", 2, "stored")].concat()).await;
    drop(next(&mut messages).await);
    next(&mut messages).await.ack.done();
    device.expect(&puback(2)).await;
    device.expect_quiet().await;
    // The client comes back and sends it again.
    device.leave().await;
    let mut device = Client::connected(&door, &v3("device")).await;
    device.send(&publish(0x3A, "a", 1, "lost")).await;
    let again = next(&mut messages).await;
    assert!(again.dup);
    again.ack.done();
    device.expect(&puback(1)).await;
    door.close().await;
}

#[tokio::test]
async fn a_repeated_packet_id_is_a_new_message() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-4.3.2-2].
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    for first in [0x32, 0x3A] {
        device.send(&publish(first, "a", 10, "x")).await;
        next(&mut messages).await.ack.done();
        device.expect(&puback(10)).await;
    }
    door.close().await;
}

#[tokio::test]
async fn an_ack_that_outlives_its_connection_does_no_harm() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    device.send(&publish(0x32, "a", 1, "x")).await;
    let came = next(&mut messages).await;
    device.leave().await;
    came.ack.done();
    door.close().await;
}

#[tokio::test]
async fn a_version_5_client_that_passes_the_limit_is_disconnected() {
    let (door, mut messages) = open(Limits { unacknowledged: 2, ..Limits::default() }).await;
    let (mut device, connack) = Client::connect(&door, &v5("device")).await;
    assert_eq!(connack[5..8], [0x21, 0, 2], "receive maximum is told");
    device.send(&(1..=3).flat_map(|id| publish5(0x32, "a", id, &[], "x")).collect::<Vec<u8>>()).await;
    device.expect(&[0xE0, 2, 0x93, 0]).await;
    assert_eq!(device.packet().await, None);
    drop((next(&mut messages).await, next(&mut messages).await));
    assert!(messages.try_recv().is_err());
    door.close().await;
}

#[tokio::test]
async fn a_stalled_subscriber_delays_nobody() {
    // 4,000 messages of 8 KiB are far more than the sockets hold and than the queue takes.
    let (door, messages) = open(Limits { queue_messages: 100, ..Limits::default() }).await;
    acknowledge_all(messages);
    let mut stuck = Client::connected(&door, &v3("stuck")).await;
    stuck.subscribed("#", 1).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    let payload = "x".repeat(8 * 1024);
    for id in 1..=4_000 {
        device.send(&publish(0x32, "a", id, &payload)).await;
        device.expect(&puback(id)).await;
    }
    // The device got every PUBACK while the other's queue was full: it was dropped from 4,000 times less what the queue (100) and two
    // socket buffers can hold, and waited for never. So the delay of a PUBACK has no part that the subscriber could lengthen.
    let counts = door.counts();
    assert!(counts.dropped_messages > 1_000, "{counts:?}");
    assert_eq!((counts.connections, counts.sessions), (2, 2), "it is still there, and still stuck");
    drop(stuck);
    door.close().await;
}

#[tokio::test]
async fn a_consumer_that_is_gone_ends_the_publishers() {
    let (door, messages) = open(Limits::default()).await;
    drop(messages);
    let mut device = Client::connected(&door, &v5("device")).await;
    device.send(&publish5(0x32, "a", 1, &[], "x")).await;
    device.expect(&[0xE0, 2, 0x8B, 0]).await;
    assert_eq!(device.packet().await, None);
    door.close().await;
}

#[tokio::test]
async fn a_full_channel_holds_the_socket_up_and_loses_nothing() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut device = Client::connected(&door, &v3("device")).await;
    let sender = tokio::spawn(async move {
        let batch: Vec<u8> = (0..1_000).flat_map(|_| publish(0x30, "a", 0, "x")).collect();
        for _ in 0..30 {
            device.send(&batch).await;
        }
        device.leave().await;
    });
    // The channel holds 20,000: wait until it is full before taking anything.
    while messages.len() < 20_000 {
        tokio::task::yield_now().await;
    }
    for _ in 0..30_000 {
        next(&mut messages).await;
    }
    sender.await.unwrap();
    door.close().await;
    assert!(messages.recv().await.is_none());
}
