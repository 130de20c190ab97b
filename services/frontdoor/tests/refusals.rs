//! What is not taken: malformed packets, broken rules, things not served. After each the front door still serves others.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{FrontDoor, Limits};

/// Sends bytes on a fresh connection and expects it closed, after the given last packet if there is one.
async fn closed(door: &FrontDoor, name: &str, hello: Option<Hello>, bytes: &[u8], last: Option<&[u8]>) {
    let mut client = match hello {
        Some(hello) => Client::connected(door, &hello).await,
        None => Client::raw(door).await,
    };
    let before = door.counts().refused_packets;
    client.send(bytes).await;
    if let Some(last) = last {
        assert_eq!(client.packet().await.as_deref(), Some(last), "{name}");
    }
    assert_eq!(client.packet().await, None, "{name}");
    assert_eq!(door.counts().refused_packets, before + 1, "{name}");
}

async fn still_serves(door: &FrontDoor) {
    Client::connected(door, &v3("fresh")).await.expect_quiet().await;
}

#[tokio::test]
async fn malformed_packets_close_their_connection_and_nothing_else() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut bystander = Client::connected(&door, &v3("bystander")).await;
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("packet id 0", publish(0x32, "a", 0, "x")),
        ("subscribe with packet id 0", subscribe(0, "a", 0)),
        ("unsubscribe with packet id 0", packet(0xA2, &[vec![0, 0], text("a")].concat())),
        ("puback with packet id 0", puback(0)),
        ("puback of a wrong length", vec![0x40, 3, 0, 1, 0]),
        ("+ in a topic", publish(0x30, "a/+", 0, "x")),
        ("# in a topic", publish(0x30, "#", 0, "x")),
        ("NUL in a topic", publish(0x30, "a\0", 0, "x")),
        ("NUL in a filter", subscribe(1, "a\0", 0)),
        ("empty topic", publish(0x30, "", 0, "x")),
        ("topic is not UTF-8", vec![0x30, 3, 0, 1, 0xFF]),
        ("topic longer than the packet", vec![0x30, 3, 0, 9, b'a']),
        ("QoS 3", publish(0x36, "a", 1, "x")),
        ("DUP with QoS 0", publish(0x38, "a", 0, "x")),
        ("empty PUBLISH", vec![0x30, 0]),
        ("remaining length of five bytes", vec![0x30, 0xFF, 0xFF, 0xFF, 0xFF, 1]),
        ("second CONNECT", v3("again").bytes()),
        ("subscribe with wrong flags", [vec![0x80], subscribe(1, "a", 0)[1..].to_vec()].concat()),
        ("unsubscribe with wrong flags", packet(0xA0, &[vec![0, 1], text("a")].concat())),
        ("subscribe without a filter", packet(0x82, &[0, 1])),
        ("unsubscribe without a filter", packet(0xA2, &[0, 1])),
        ("subscribe with QoS 3", subscribe(1, "a", 3)),
        ("subscribe with reserved bits", subscribe(1, "a", 0x10)),
        ("CONNACK from a client", vec![0x20, 2, 0, 0]),
        ("PINGRESP from a client", vec![0xD0, 0]),
        ("PINGREQ with a body", vec![0xC0, 1, 0]),
        ("PINGREQ with flags", vec![0xC1, 0]),
        ("packet type 0", vec![0x00, 0]),
        ("packet type 15", vec![0xF0, 0]),
        ("DISCONNECT with a body", vec![0xE0, 1, 0]),
        ("PUBREL out of nowhere", vec![0x62, 2, 0, 1]),
        ("packet of 64 KiB and more", packet(0x30, &vec![0; 65 * 1024])[..100].to_vec()),
        ("QoS 2", publish(0x34, "a", 1, "x")),
        ("$ topic", publish(0x30, "$SYS/a", 0, "x")),
        ("topic too deep", publish(0x30, &"a/".repeat(16), 0, "x")),
        ("topic too long", publish(0x30, &"a".repeat(513), 0, "x")),
    ];
    for (name, bytes) in &cases {
        closed(&door, name, Some(v3("bad")), bytes, None).await;
    }
    bystander.expect_quiet().await;
    still_serves(&door).await;
    assert!(messages.try_recv().is_err(), "none of it reached the consumer");
    door.close().await;
}

#[tokio::test]
async fn version_5_is_told_the_reason() {
    let (door, _messages) = open(Limits::default()).await;
    let cases: Vec<(&str, Vec<u8>, u8)> = vec![
        ("packet id 0", publish5(0x32, "a", 0, &[], "x"), 0x81),
        ("no property length", publish(0x30, "a", 0, ""), 0x81),
        ("property length past the end", vec![0x30, 4, 0, 1, b'a', 9], 0x81),
        ("wildcard topic", publish5(0x30, "a/#", 0, &[], "x"), 0x90),
        ("topic alias", publish5(0x30, "a", 0, &[0x23, 0, 1], "x"), 0x94),
        ("QoS 2", publish5(0x34, "a", 1, &[], "x"), 0x9B),
        ("subscription identifier", packet(0x82, &[0, 1, 2, 0x0B, 1, 0, 1, b'a', 0]), 0xA1),
        ("shared filter without a name", subscribe5(1, "$share//a", 0), 0x81),
        ("second CONNECT", v5("again").bytes(), 0x82),
        ("packet too large", packet(0x30, &vec![0; 65 * 1024])[..100].to_vec(), 0x95),
        ("expiry at DISCONNECT only", packet(0xE0, &[0, 5, 0x11, 0, 0, 0, 9]), 0x82),
    ];
    for (name, bytes, code) in &cases {
        closed(&door, name, Some(v5("bad")), bytes, Some(&[0xE0, 2, *code, 0])).await;
    }
    still_serves(&door).await;
    door.close().await;
}

/// Name, bytes, and the answer before the end if there is one.
type FirstPacket = (&'static str, Vec<u8>, Option<Vec<u8>>);

#[tokio::test]
async fn before_connect_nothing_else_is_heard() {
    let (door, _messages) = open(Limits::default()).await;
    let mut hello = v3("x").bytes();
    hello[0] = 0x11;
    let flags = |flags: u8| packet(0x10, &[text("MQTT"), vec![4, flags, 0, 0], text("x")].concat());
    let cases: Vec<FirstPacket> = vec![
        ("PUBLISH first", publish(0x30, "a", 0, "x"), None),
        ("PINGREQ first", PING.to_vec(), None),
        ("HTTP", b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n".to_vec(), None),
        ("CONNECT with header flags", hello, None),
        ("reserved flag", flags(3), None),
        ("will QoS without a will", flags(2 | 8), None),
        ("will QoS 3", flags(2 | 4 | 0x18), None),
        ("too large", [vec![0x10], vec![0xFF, 0xFF, 0xFF, 0x7F]].concat(), None),
        ("empty CONNECT", vec![0x10, 0], None),
        (
            "version 3.1",
            packet(0x10, &[text("MQIsdp"), vec![3, 2, 0, 0], text("x")].concat()),
            Some(vec![0x20, 2, 0, 1]),
        ),
        (
            "version 6",
            packet(0x10, &[text("MQTT"), vec![6, 2, 0, 0], text("x")].concat()),
            Some(vec![0x20, 2, 0, 1]),
        ),
        ("NUL in the client id", v3("a\0b").bytes(), Some(vec![0x20, 2, 0, 5])),
        (
            "bytes after the end",
            packet(0x10, &[&v3("x").bytes()[2..], &[0]].concat()),
            Some(vec![0x20, 2, 0, 5]),
        ),
        (
            "will to a wildcard",
            Hello { will: Some(("a/#", "x", 0, false)), ..v3("x") }.bytes(),
            Some(vec![0x20, 2, 0, 5]),
        ),
        (
            "will to $",
            Hello { will: Some(("$a", "x", 0, false)), ..v5("x") }.bytes(),
            Some(vec![0x20, 3, 0, 0x87, 0]),
        ),
        (
            "will with QoS 2",
            Hello { will: Some(("a", "x", 2, false)), ..v5("x") }.bytes(),
            Some(vec![0x20, 3, 0, 0x9B, 0]),
        ),
        (
            "authentication method",
            Hello { properties: [vec![0x15], text("m")].concat(), ..v5("x") }.bytes(),
            Some(vec![0x20, 3, 0, 0x8C, 0]),
        ),
    ];
    for (name, bytes, last) in &cases {
        closed(&door, name, None, bytes, last.as_deref()).await;
    }
    assert_eq!(door.counts().sessions, 0);
    still_serves(&door).await;
    door.close().await;
}

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

/// A small generator of our own, so that the streams are the same in every run (xorshift; Marsaglia 2003).
fn random(state: &mut u64) -> u64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state
}

#[tokio::test]
async fn mutated_streams_never_stop_the_service() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let mut state = 0x1234_5678_9ABC_DEF1;
    for round in 0..600 {
        let parts5 =
            [v5("m").bytes(), subscribe5(1, "a/+", 1), publish5(0x33, "a/b", 2, &[1, 1], "x"), puback(1)];
        let parts3 = [v3("m").bytes(), subscribe(1, "a/+", 1), publish(0x33, "a/b", 2, "x"), puback(1)];
        let mut stream = if round % 2 == 0 { parts5.concat() } else { parts3.concat() };
        for _ in 0..=random(&mut state) % 4 {
            let place = random(&mut state) as usize % stream.len();
            stream[place] = random(&mut state) as u8;
        }
        let mut client = Client::raw(&door).await;
        // Its connection may have ended before all was written: that is an answer too.
        drop(tokio::io::AsyncWriteExt::write_all(&mut client.stream, &stream).await);
    }
    still_serves(&door).await;
    door.close().await;
}
