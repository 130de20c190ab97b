//! The publisher against a responder of a few lines that can withhold its acknowledgements or hang up.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use sensors_sim::publish::{PublishError, publish_all, run_live};
use sensors_sim::{Fault, Kind, Room, Scenario, Sent, Wish};
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};
use units::{Span, Time};

/// What the responder reads.
#[derive(Debug, Clone, PartialEq)]
enum Packet {
    Connect(Vec<u8>),
    Publish { packet: u16, topic: String, payload: String, retain: bool },
    Disconnect,
    Other,
}

async fn listen() -> (TcpListener, SocketAddr) {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    (listener, address)
}

/// Lets the next client in. The session is always a new one.
async fn welcome(listener: &TcpListener) -> (TcpStream, Vec<u8>) {
    let (mut socket, _) = listener.accept().await.unwrap();
    let Packet::Connect(body) = read(&mut socket).await.unwrap() else { panic!("no CONNECT") };
    socket.write_all(&[0x20, 2, 0, 0]).await.unwrap();
    (socket, body)
}

/// MQTT 3.1.1 part 2: fixed header, remaining length, rest. `None` when the client has hung up.
async fn read(socket: &mut TcpStream) -> Option<Packet> {
    let head = socket.read_u8().await.ok()?;
    let (mut length, mut shift) = (0_usize, 0);
    loop {
        let byte = socket.read_u8().await.ok()?;
        length |= usize::from(byte & 0x7f) << shift;
        shift += 7;
        if byte & 0x80 == 0 {
            break;
        }
    }
    let mut body = vec![0; length];
    socket.read_exact(&mut body).await.ok()?;
    Some(match head >> 4 {
        1 => Packet::Connect(body),
        3 => publish(head, &body),
        14 => Packet::Disconnect,
        _ => Packet::Other,
    })
}

fn publish(head: u8, body: &[u8]) -> Packet {
    assert_eq!(head >> 1 & 3, 1, "quality of service 1");
    let text = |b: &[u8]| String::from_utf8(b.to_vec()).unwrap();
    let end = 2 + usize::from(u16::from_be_bytes([body[0], body[1]]));
    Packet::Publish {
        topic: text(&body[2..end]),
        packet: u16::from_be_bytes([body[end], body[end + 1]]),
        payload: text(&body[end + 2..]),
        retain: head & 1 == 1,
    }
}

async fn acknowledge(socket: &mut TcpStream, packet: u16) {
    let [high, low] = packet.to_be_bytes();
    socket.write_all(&[0x40, 2, high, low]).await.unwrap();
}

fn messages(count: usize) -> Vec<Sent> {
    let message = |i: usize| Sent {
        at: Time::from_millis(0),
        device: "b1".into(),
        topic: "hatchwarden/undercroft/V1/temperature".into(),
        payload: i.to_string().into_bytes(),
        retain: false,
        qos: 1,
        kind: Kind::Reading,
    };
    (0..count).map(message).collect()
}

/// Reads `count` messages and returns packet ids and payloads.
async fn take(socket: &mut TcpStream, count: usize) -> Vec<(u16, String)> {
    let mut all = Vec::new();
    while all.len() < count {
        if let Packet::Publish { packet, payload, .. } = read(socket).await.unwrap() {
            all.push((packet, payload));
        }
    }
    all
}

#[tokio::test]
async fn it_returns_only_after_the_last_acknowledgement() {
    let (listener, address) = listen().await;
    let (tell, mut told) = watch::channel((0, 0));
    let sending = tokio::spawn(publish_all(address, messages(20), move |done, total| {
        tell.send_replace((done, total));
    }));
    let (mut socket, _) = welcome(&listener).await;
    let all = take(&mut socket, 20).await;
    assert_eq!(all.last().unwrap().1, "19");
    assert_eq!(*told.borrow(), (0, 0), "written is not acknowledged");
    for (packet, _) in &all[..19] {
        acknowledge(&mut socket, *packet).await;
    }
    told.wait_for(|t| *t == (19, 20)).await.unwrap();
    // Give it every chance to return too early.
    for _ in 0..100 {
        tokio::task::yield_now().await;
    }
    assert!(!sending.is_finished());
    acknowledge(&mut socket, all[19].0).await;
    assert_eq!(read(&mut socket).await, Some(Packet::Disconnect));
    drop(socket);
    sending.await.unwrap().unwrap();
}

#[tokio::test]
async fn after_a_break_everything_unacknowledged_is_sent_again_in_order() {
    let (listener, address) = listen().await;
    let sending = tokio::spawn(publish_all(address, messages(20), |_, _| ()));
    let (mut socket, _) = welcome(&listener).await;
    let first = take(&mut socket, 20).await;
    for (packet, _) in &first[..2] {
        acknowledge(&mut socket, *packet).await;
    }
    socket.shutdown().await.unwrap();
    let (mut socket, _) = welcome(&listener).await;
    let again = take(&mut socket, 18).await;
    let numbers: Vec<&str> = again.iter().map(|(_, p)| p.as_str()).collect();
    assert_eq!(numbers, (2..20).map(|i| i.to_string()).collect::<Vec<_>>());
    for (packet, _) in &again {
        acknowledge(&mut socket, *packet).await;
    }
    assert_eq!(read(&mut socket).await, Some(Packet::Disconnect));
    drop(socket);
    sending.await.unwrap().unwrap();
}

#[tokio::test]
async fn more_than_a_window_goes_through_with_every_message_counted() {
    let (listener, address) = listen().await;
    let broker = tokio::spawn(async move {
        let (mut socket, _) = welcome(&listener).await;
        let mut seen = Vec::new();
        while let Some(packet) = read(&mut socket).await {
            if let Packet::Publish { packet, payload, .. } = packet {
                seen.push(payload);
                acknowledge(&mut socket, packet).await;
            }
        }
        seen
    });
    let mut heard = 0;
    publish_all(address, messages(5000), |done, total| {
        assert!(done > heard && total == 5000);
        heard = done;
    })
    .await
    .unwrap();
    assert_eq!(heard, 5000);
    assert_eq!(broker.await.unwrap(), (0..5000).map(|i| i.to_string()).collect::<Vec<_>>());
}

#[tokio::test(start_paused = true)]
async fn a_broker_that_is_not_there_is_an_error_in_the_end() {
    let (listener, address) = listen().await;
    drop(listener);
    let error = publish_all(address, messages(3), |_, _| ()).await.unwrap_err();
    assert!(matches!(error, PublishError::Broker { tries: 8, .. }), "{error}");
}

#[tokio::test]
async fn a_topic_with_a_wildcard_is_refused() {
    let (listener, address) = listen().await;
    let mut all = messages(1);
    all[0].topic = "hatchwarden/+/V1".into();
    let sending = tokio::spawn(publish_all(address, all, |_, _| ()));
    let _socket = welcome(&listener).await;
    assert!(matches!(sending.await.unwrap(), Err(PublishError::Topic(t)) if t == "hatchwarden/+/V1"));
}

/// One device, so that one connection shows everything.
fn one_device() -> Scenario {
    let mut scenario = Scenario::undercroft_cut();
    scenario.devices.truncate(1);
    scenario
}

#[tokio::test]
async fn a_live_room_says_online_takes_wishes_and_says_offline() {
    let (listener, address) = listen().await;
    let start = Time::parse_rfc3339("2031-03-14T10:00:00Z").unwrap();
    // A clock that goes a minute further each time someone looks.
    let minutes = Arc::new(AtomicI64::new(0));
    let now = move || start + Span::minutes(minutes.fetch_add(1, Ordering::Relaxed));
    let (wish, wishes) = mpsc::channel(1);
    let (stop, stopped) = watch::channel(false);
    let room = Room::new(one_device(), 7, start);
    let wait = |_| Duration::from_millis(1);
    let living = tokio::spawn(run_live(room, address, now, wait, wishes, stopped));

    let (mut socket, connect) = welcome(&listener).await;
    let connect = String::from_utf8_lossy(&connect).into_owned();
    assert!(connect.contains("sim-undercroft-b1") && connect.contains("offline"), "{connect:?}");
    let state = "hatchwarden/undercroft/b1/availability";
    let (mut seen, mut wished) = (Vec::new(), false);
    while let Some(packet) = read(&mut socket).await {
        if let Packet::Publish { packet, topic, payload, retain } = packet {
            acknowledge(&mut socket, packet).await;
            if !wished && topic.ends_with("/TU2/air-flow") {
                wished = true;
                assert!(!payload.contains("\"v\":0.00"), "{payload}");
                wish.send(Wish::Inject(Fault::AirStop("nowhere".into()))).await.unwrap();
                wish.send(Wish::Inject(Fault::AirStop("TU2".into()))).await.unwrap();
            }
            if topic.ends_with("/TU2/air-flow") && payload.contains("\"v\":0.00") {
                stop.send_replace(true);
            }
            seen.push((topic, payload, retain));
        } else if packet == Packet::Disconnect {
            break;
        }
    }
    drop(socket);
    living.await.unwrap().unwrap();
    assert_eq!(seen.first().unwrap(), &(state.to_owned(), "online".to_owned(), true));
    assert_eq!(seen.last().unwrap(), &(state.to_owned(), "offline".to_owned(), true));
}
