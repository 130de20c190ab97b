//! Connections scripted byte by byte, and those where time matters.

use super::*;
use crate::gate::Gate;
use crate::greet::FAREWELL;
use crate::settings::Limits;
use bytes::Bytes;
use tokio::sync::mpsc;
use tokio_test::io::Builder;

/// MQTT 3.1.1 CONNECT, clean session, client id "TU1", the given keep-alive in seconds.
fn connect(keep_alive: u8) -> Vec<u8> {
    [&[0x10, 15, 0, 4][..], b"MQTT", &[4, 2, 0, keep_alive, 0, 3], b"TU1"].concat()
}

const CONNACK: [u8; 4] = [0x20, 2, 0, 0];
/// PUBLISH QoS 1, topic "t", packet id 7, payload "x".
const PUBLISH: [u8; 8] = [0x32, 6, 0, 1, b't', 0, 7, b'x'];

fn broker(limits: Limits) -> (Arc<Broker>, mpsc::Receiver<Publish>) {
    let (sender, receiver) = mpsc::channel(100);
    (Arc::new(Broker::new(limits, Gate::anonymous(), sender)), receiver)
}

fn start(broker: &Arc<Broker>, socket: tokio_test::io::Mock) -> tokio::task::JoinHandle<()> {
    tokio::spawn(serve(Arc::clone(broker), Arc::new(Guest::default()), socket))
}

#[tokio::test]
async fn version_3_is_answered_to_the_byte() {
    let (broker, _messages) = broker(Limits::default());
    let socket = Builder::new()
        .read(&connect(60))
        .write(&CONNACK)
        .read(&[0x82, 6, 0, 1, 0, 1, b't', 2]) // SUBSCRIBE t with QoS 2
        .write(&[0x90, 3, 0, 1, 1]) // granted QoS 1
        .read(&[0xC0, 0])
        .write(&[0xD0, 0])
        .read(&[0xA2, 5, 0, 2, 0, 1, b't']) // UNSUBSCRIBE
        .write(&[0xB0, 2, 0, 2])
        .read(&[0xE0, 0])
        .build();
    start(&broker, socket).await.unwrap();
    assert_eq!(broker.counts().sessions, 0, "a clean session ends with its connection");
}

#[tokio::test]
async fn version_5_is_told_what_is_served() {
    let (broker, _messages) = broker(Limits::default());
    let socket = Builder::new()
        .read(&[&[0x10, 13, 0, 4][..], b"MQTT", &[5, 2, 0, 60, 0, 0, 0]].concat())
        .write(&[0x20, 33, 0, 0, 30])
        .write(&[0x21, 0x03, 0xE8, 0x24, 1, 0x27, 0, 1, 0, 0, 0x22, 0, 0, 0x29, 0, 0x2A, 0])
        .write(&[&[0x12, 0, 10][..], b"assigned-1"].concat())
        .read(&[0x82, 11, 0, 1, 0, 0, 5])
        .read(b"a/#/b")
        .read(&[0])
        .write(&[0x90, 4, 0, 1, 0, 0x8F])
        .read(&[0xE0, 0])
        .build();
    start(&broker, socket).await.unwrap();
}

#[tokio::test]
async fn a_message_is_acknowledged_only_when_the_consumer_is_done() {
    let (broker, mut messages) = broker(Limits::default());
    // The answer to the ping comes first: nothing was acknowledged until `done`.
    let (socket, mut handle) = Builder::new()
        .read(&connect(60))
        .write(&CONNACK)
        .read(&PUBLISH)
        .read(&[0xC0, 0])
        .write(&[0xD0, 0])
        .build_with_handle();
    let task = start(&broker, socket);
    let publish = messages.recv().await.unwrap();
    assert_eq!((publish.topic.as_str(), &publish.payload[..], publish.qos), ("t", &b"x"[..], 1));
    assert_eq!(&*publish.client, "TU1");
    for _ in 0..20 {
        tokio::task::yield_now().await;
    }
    assert!(!task.is_finished(), "an acknowledgement before its time would have broken the script");
    handle.write(&[0x40, 2, 0, 7]).read(&[0xE0, 0]);
    publish.ack.done();
    task.await.unwrap();
}

#[tokio::test]
async fn one_read_may_hold_many_packets_and_one_packet_many_reads() {
    let (broker, mut messages) = broker(Limits::default());
    let stream = [connect(0), PUBLISH.to_vec(), PUBLISH.to_vec(), vec![0xE0, 0]].concat();
    let mut socket = Builder::new();
    socket.read(&stream[..3]).read(&stream[3..20]).read(&stream[20..]).write(&CONNACK);
    start(&broker, socket.build()).await.unwrap();
    assert_eq!(messages.recv().await.unwrap().topic, "t");
    assert_eq!(messages.recv().await.unwrap().topic, "t");
}

#[tokio::test(start_paused = true)]
async fn without_connect_the_connection_ends_at_the_limit() {
    let (broker, _messages) = broker(Limits::default());
    let begun = Instant::now();
    let (client, socket) = tokio::io::duplex(1_024);
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    task.await.unwrap();
    assert_eq!(begun.elapsed().as_secs(), 5);
    drop(client);
}

#[tokio::test(start_paused = true)]
async fn a_trickled_connect_ends_at_the_limit() {
    let (broker, _messages) = broker(Limits::default());
    let begun = Instant::now();
    let (mut client, socket) = tokio::io::duplex(1_024);
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    let trickle = async {
        for byte in connect(0) {
            client.write_all(&[byte]).await.unwrap();
            tokio::time::sleep(Duration::from_secs(1)).await;
        }
    };
    tokio::select! {
        () = trickle => panic!("the connection outlived its limit"),
        ended = task => ended.unwrap(),
    }
    assert_eq!(begun.elapsed().as_secs(), 5);
}

/// CONNECT with will topic "w", payload "gone", keep-alive 2 s.
fn connect_with_will() -> Vec<u8> {
    [&[0x10, 24, 0, 4][..], b"MQTT", &[4, 6, 0, 2, 0, 3], b"TU1", &[0, 1, b'w', 0, 4], b"gone"].concat()
}

#[tokio::test(start_paused = true)]
async fn silence_of_one_and_a_half_keep_alives_publishes_the_will() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.1.2-24, 3.1.2-8].
    let (broker, mut messages) = broker(Limits::default());
    let begun = Instant::now();
    let (mut client, socket) = tokio::io::duplex(1_024);
    client.write_all(&connect_with_will()).await.unwrap();
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    let will = messages.recv().await.unwrap();
    assert_eq!((will.topic.as_str(), &will.payload[..]), ("w", &b"gone"[..]));
    assert_eq!(begun.elapsed().as_millis(), 3_000);
    task.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn bytes_that_are_no_whole_packet_are_no_sign_of_life() {
    let (broker, mut messages) = broker(Limits::default());
    let begun = Instant::now();
    let (mut client, socket) = tokio::io::duplex(1_024);
    client.write_all(&connect_with_will()).await.unwrap();
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    let trickle = async {
        loop {
            client.write_all(&[0x30]).await.unwrap();
            tokio::time::sleep(Duration::from_secs(1)).await;
            client.write_all(&[100]).await.unwrap();
            for _ in 0..100 {
                tokio::time::sleep(Duration::from_secs(1)).await;
                client.write_all(b"a").await.unwrap();
            }
        }
    };
    tokio::select! {
        () = trickle => unreachable!(),
        will = messages.recv() => assert_eq!(will.unwrap().topic, "w"),
    }
    assert_eq!(begun.elapsed().as_millis(), 3_000);
    task.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn pings_keep_the_connection_alive() {
    let (broker, mut messages) = broker(Limits::default());
    let (mut client, socket) = tokio::io::duplex(1_024);
    client.write_all(&connect_with_will()).await.unwrap();
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    for _ in 0..10 {
        tokio::time::sleep(Duration::from_secs(2)).await;
        client.write_all(&[0xC0, 0]).await.unwrap();
    }
    client.write_all(&[0xE0, 0]).await.unwrap();
    task.await.unwrap();
    assert!(messages.try_recv().is_err(), "a goodbye discards the will");
}

#[tokio::test(start_paused = true)]
async fn a_client_that_takes_nothing_is_cut_off() {
    let (broker, _messages) = broker(Limits::default());
    let (mut client, socket) = tokio::io::duplex(64);
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    client.write_all(&connect(0)).await.unwrap();
    client.write_all(&[0x82, 6, 0, 1, 0, 1, b't', 0]).await.unwrap();
    while broker.counts().sessions == 0 || client.write_all(&[0xC0, 0]).await.is_err() {
        tokio::task::yield_now().await;
    }
    let begun = Instant::now();
    let payload = Bytes::from_static(&[b'x'; 200]);
    let properties = &Bytes::new();
    broker.route(&Parts {
        from: None,
        topic: "t",
        payload: &payload,
        qos: 0,
        retain: false,
        properties,
        expiry: None,
    });
    task.await.unwrap();
    assert_eq!(begun.elapsed().as_secs(), STALL.as_secs() + FAREWELL.as_secs());
    assert_eq!(broker.counts().sessions, 0);
}

#[tokio::test]
async fn version_3_is_not_read_beyond_the_unacknowledged_limit() {
    let (broker, mut messages) = broker(Limits { unacknowledged: 2, ..Limits::default() });
    let (mut client, socket) = tokio::io::duplex(4_096);
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    client.write_all(&connect(0)).await.unwrap();
    for _ in 0..5 {
        client.write_all(&PUBLISH).await.unwrap();
    }
    let first = messages.recv().await.unwrap();
    let second = messages.recv().await.unwrap();
    for _ in 0..50 {
        tokio::task::yield_now().await;
    }
    assert!(messages.try_recv().is_err(), "the third waits");
    first.ack.done();
    let third = messages.recv().await.unwrap();
    second.ack.done();
    third.ack.done();
    for _ in 0..2 {
        messages.recv().await.unwrap().ack.done();
    }
    client.write_all(&[0xE0, 0]).await.unwrap();
    task.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn when_all_is_lost_the_client_must_come_back() {
    let (broker, mut messages) = broker(Limits { unacknowledged: 2, ..Limits::default() });
    let (mut client, socket) = tokio::io::duplex(4_096);
    let task = tokio::spawn(serve(Arc::clone(&broker), Arc::new(Guest::default()), socket));
    client.write_all(&connect(0)).await.unwrap();
    for _ in 0..2 {
        client.write_all(&PUBLISH).await.unwrap();
        drop(messages.recv().await.unwrap());
    }
    // Paused time: a connection that is left open fails here at once instead of hanging.
    timeout(Duration::from_secs(10), task).await.expect("still open").unwrap();
}
