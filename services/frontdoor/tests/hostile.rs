//! Malformed and hostile packets, one class at a time. Each ends its own connection and nothing else: afterwards a fresh client gets its
//! PUBACK. The statements are those of OASIS MQTT 3.1.1 (2014) in the first two tests and of MQTT 5.0 (2019) in the third; "section"
//! where the text has no number; "limit" where the bound is our own.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{FrontDoor, Limits};

/// Class, statement, bytes.
type Case = (&'static str, &'static str, Vec<u8>);

/// The same, and the answer before the end if there is one.
type FirstPacket = (&'static str, &'static str, Vec<u8>, Option<Vec<u8>>);

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

#[tokio::test]
async fn version_3_packets() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut bystander = Client::connected(&door, &v3("bystander")).await;
    let cases: Vec<Case> = vec![
        ("PUBLISH with packet id 0", "MQTT-2.3.1-1", publish(0x32, "a", 0, "x")),
        ("SUBSCRIBE with packet id 0", "MQTT-2.3.1-1", subscribe(0, "a", 0)),
        ("UNSUBSCRIBE with packet id 0", "MQTT-2.3.1-1", packet(0xA2, &[vec![0, 0], text("a")].concat())),
        ("PUBACK with packet id 0", "MQTT-2.3.1-6", puback(0)),
        ("PUBACK of a wrong length", "section 3.4.1", vec![0x40, 3, 0, 1, 0]),
        ("PUBACK cut short", "section 3.4.2", vec![0x40, 1, 0]),
        ("+ in a topic", "MQTT-3.3.2-2", publish(0x30, "a/+", 0, "x")),
        ("# in a topic", "MQTT-3.3.2-2", publish(0x30, "#", 0, "x")),
        ("NUL in a topic", "MQTT-1.5.3-2", publish(0x30, "a\0", 0, "x")),
        ("NUL in a filter", "MQTT-1.5.3-2", subscribe(1, "a\0", 0)),
        ("NUL in an unsubscribed filter", "MQTT-1.5.3-2", packet(0xA2, &[vec![0, 1], text("a\0")].concat())),
        ("empty topic", "MQTT-4.7.3-1", publish(0x30, "", 0, "x")),
        ("topic is not UTF-8", "MQTT-1.5.3-1", vec![0x30, 3, 0, 1, 0xFF]),
        ("overlong UTF-8 in a topic", "MQTT-1.5.3-1", vec![0x30, 4, 0, 2, 0xC0, 0xAF]),
        ("surrogate in a topic", "MQTT-1.5.3-1", vec![0x30, 5, 0, 3, 0xED, 0xA0, 0x80]),
        ("filter is not UTF-8", "MQTT-3.8.3-1", vec![0x82, 6, 0, 1, 0, 1, 0xFF, 0]),
        ("topic longer than the packet", "section 1.5.3", vec![0x30, 3, 0, 9, b'a']),
        ("no room for the packet id", "section 3.3.2.2", vec![0x32, 4, 0, 1, b'a', 0]),
        ("QoS 3", "MQTT-3.3.1-4", publish(0x36, "a", 1, "x")),
        ("DUP with QoS 0", "MQTT-3.3.1-2", publish(0x38, "a", 0, "x")),
        ("empty PUBLISH", "MQTT-3.3.2-1", vec![0x30, 0]),
        ("remaining length of five bytes", "section 2.2.3", vec![0x30, 0xFF, 0xFF, 0xFF, 0xFF, 1]),
        ("second CONNECT", "MQTT-3.1.0-2", v3("again").bytes()),
        (
            "SUBSCRIBE with wrong flags",
            "MQTT-3.8.1-1",
            [vec![0x80], subscribe(1, "a", 0)[1..].to_vec()].concat(),
        ),
        ("UNSUBSCRIBE with wrong flags", "MQTT-3.10.1-1", packet(0xA0, &[vec![0, 1], text("a")].concat())),
        ("SUBSCRIBE without a filter", "MQTT-3.8.3-3", packet(0x82, &[0, 1])),
        ("SUBSCRIBE without a packet id", "section 3.8.2", packet(0x82, &[])),
        ("SUBSCRIBE without a QoS", "section 3.8.3", packet(0x82, &[vec![0, 1], text("a")].concat())),
        ("UNSUBSCRIBE without a filter", "MQTT-3.10.3-2", packet(0xA2, &[0, 1])),
        ("SUBSCRIBE with QoS 3", "MQTT-3.8.3-4", subscribe(1, "a", 3)),
        ("SUBSCRIBE with reserved bits", "MQTT-3.8.3-4", subscribe(1, "a", 0x10)),
        ("SUBSCRIBE with bits of version 5", "MQTT-3.8.3-4", subscribe(1, "a", 0x04)),
        ("CONNACK from a client", "MQTT-4.8.0-1", vec![0x20, 2, 0, 0]),
        ("SUBACK from a client", "MQTT-4.8.0-1", vec![0x90, 3, 0, 1, 0]),
        ("UNSUBACK from a client", "MQTT-4.8.0-1", vec![0xB0, 2, 0, 1]),
        ("PINGRESP from a client", "MQTT-4.8.0-1", vec![0xD0, 0]),
        ("PINGREQ with a body", "section 3.12.1", vec![0xC0, 1, 0]),
        ("PINGREQ with flags", "MQTT-2.2.2-2", vec![0xC1, 0]),
        ("packet type 0", "section 2.2.1", vec![0x00, 0]),
        ("packet type 15", "section 2.2.1", vec![0xF0, 0]),
        ("DISCONNECT with a body", "section 3.14.1", vec![0xE0, 1, 0]),
        ("DISCONNECT with flags", "MQTT-3.14.1-1", vec![0xE1, 0]),
        ("PUBREL out of nowhere", "MQTT-4.8.0-1", vec![0x62, 2, 0, 1]),
        ("PUBREL with wrong flags", "MQTT-3.6.1-1", vec![0x60, 2, 0, 1]),
        ("PUBREC out of nowhere", "MQTT-4.8.0-1", vec![0x50, 2, 0, 1]),
        ("packet of 64 KiB and more", "limit", packet(0x30, &vec![0; 65 * 1024])[..100].to_vec()),
        ("packet of 256 MiB announced", "limit", vec![0x30, 0xFF, 0xFF, 0xFF, 0x7F]),
        ("QoS 2, which is not served", "limit", publish(0x34, "a", 1, "x")),
        ("$ topic", "MQTT-4.7.2-1", publish(0x30, "$SYS/a", 0, "x")),
        ("topic too deep", "limit", publish(0x30, &"a/".repeat(16), 0, "x")),
        ("topic of 10,000 levels", "limit", publish(0x30, &"/".repeat(10_000), 0, "x")),
        ("topic too long", "limit", publish(0x30, &"a".repeat(513), 0, "x")),
    ];
    for (class, statement, bytes) in &cases {
        closed(&door, &format!("{class} [{statement}]"), Some(v3("bad")), bytes, None).await;
    }
    bystander.expect_quiet().await;
    assert!(messages.try_recv().is_err(), "none of it reached the consumer");
    acknowledge_all(messages);
    still_serves(&door).await;
    door.close().await;
}

#[tokio::test]
async fn the_first_packet() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let mut connect_flags = v3("x").bytes();
    connect_flags[0] = 0x11;
    let flags = |version: u8, flags: u8| {
        packet(0x10, &[text("MQTT"), vec![version, flags, 0, 0], text("x")].concat())
    };
    let named = |name: &str, level: u8| packet(0x10, &[text(name), vec![level, 2, 0, 0], text("x")].concat());
    let properties = |properties: &[u8]| Hello { properties: properties.to_vec(), ..v5("x") }.bytes();
    let will =
        |version, topic, qos| Hello { version, will: Some((topic, "x", qos, false)), ..v3("x") }.bytes();
    let response = [&[8][..], &text("a/+")].concat();
    let nul = [&[0x26][..], &text("k"), &text("v\0")].concat();
    let will_to = |properties: &[u8]| {
        let head =
            [&text("MQTT")[..], &[5, 2 | 4, 0, 0, 0], &text("x"), &[properties.len() as u8], properties];
        packet(0x10, &[&head.concat()[..], &text("w"), &text("gone")].concat())
    };
    let three = |code: u8| Some(vec![0x20, 2, 0, code]);
    let five = |code: u8| Some(vec![0x20, 3, 0, code, 0]);
    let long: &'static str = "x".repeat(513).leak();
    let cases: Vec<FirstPacket> = vec![
        ("PUBLISH first", "MQTT-3.1.0-1", publish(0x30, "a", 0, "x"), None),
        ("PINGREQ first", "MQTT-3.1.0-1", PING.to_vec(), None),
        ("HTTP", "MQTT-3.1.0-1", b"GET / HTTP/1.1\r\nHost: x\r\n\r\n".to_vec(), None),
        ("TLS on the open port", "MQTT-3.1.0-1", vec![0x16, 3, 1, 0, 5, 1, 0, 0, 1, 0], None),
        ("CONNECT with header flags", "MQTT-2.2.2-2", connect_flags, None),
        ("another protocol name", "MQTT-3.1.2-1", named("MQTX", 4), None),
        ("protocol name in small letters", "MQTT-3.1.2-1", named("mqtt", 4), None),
        ("version 3.1", "MQTT-3.1.2-2", named("MQIsdp", 3), three(1)),
        ("version 6", "MQTT-3.1.2-2", named("MQTT", 6), three(1)),
        ("version 0x84, a bridge's", "MQTT-3.1.2-2", named("MQTT", 0x84), three(1)),
        ("reserved flag", "MQTT-3.1.2-3", flags(4, 3), None),
        ("will QoS without a will", "MQTT-3.1.2-13", flags(4, 2 | 8), None),
        ("will retain without a will", "MQTT-3.1.2-15", flags(4, 2 | 0x20), None),
        ("will QoS 3", "MQTT-3.1.2-14", flags(4, 2 | 4 | 0x18), None),
        ("password without a user name", "MQTT-3.1.2-22", flags(4, 2 | 0x40), None),
        ("user name flag without one", "MQTT-3.1.2-19", flags(4, 2 | 0x80), three(5)),
        ("will flag without one", "MQTT-3.1.2-9", flags(4, 2 | 4), three(5)),
        ("too large", "limit", vec![0x10, 0xFF, 0xFF, 0xFF, 0x7F], None),
        ("empty CONNECT", "MQTT-3.1.0-1", vec![0x10, 0], None),
        ("CONNECT cut short", "section 3.1.2.3", packet(0x10, &[&text("MQTT")[..], &[4]].concat()), None),
        (
            "no client id",
            "MQTT-3.1.3-3",
            packet(0x10, &[&text("MQTT")[..], &[4, 2, 0, 0]].concat()),
            three(2),
        ),
        (
            "bytes after the end",
            "MQTT-3.1.4-1",
            packet(0x10, &[&v3("x").bytes()[2..], &[0]].concat()),
            three(5),
        ),
        ("session to keep without an id", "MQTT-3.1.3-8", Hello { clean: false, ..v3("") }.bytes(), three(2)),
        ("NUL in the client id", "MQTT-1.5.3-2", v3("a\0b").bytes(), three(5)),
        ("line break in the client id", "MQTT-3.1.3-9", v3("a\nb").bytes(), three(2)),
        ("client id too long", "MQTT-3.1.3-9", v5(long).bytes(), five(0x85)),
        ("NUL in the user name", "MQTT-1.5.3-2", as_user("a\0", "x", v3("x")).bytes(), three(5)),
        ("will to a wildcard", "MQTT-3.3.2-2", will(4, "a/#", 0), three(5)),
        ("will to nothing", "MQTT-4.7.3-1", will(4, "", 0), three(5)),
        ("will to $", "limit", will(5, "$a", 0), five(0x87)),
        ("will too deep", "limit", will(5, "/a/a/a/a/a/a/a/a/a/a/a/a/a/a/a/a", 0), five(0x90)),
        ("will with QoS 2", "5.0 MQTT-3.2.2-12", will(5, "a", 2), five(0x9B)),
        ("wildcard in the will's response topic", "5.0 MQTT-3.3.2-14", will_to(&response), five(0x82)),
        ("NUL in the will's user property", "5.0 MQTT-1.5.4-2", will_to(&nul), five(0x81)),
        ("authentication method", "5.0 section 4.12", properties(&[0x15, 0, 1, b'm']), five(0x8C)),
        ("authentication data alone", "5.0 section 3.1.2.11.10", properties(&[0x16, 0, 1, b'm']), five(0x82)),
        ("receive maximum 0", "5.0 section 3.1.2.11.3", properties(&[0x21, 0, 0]), five(0x82)),
        ("packet maximum 0", "5.0 section 3.1.2.11.4", properties(&[0x27, 0, 0, 0, 0]), five(0x82)),
        ("a property twice", "5.0 section 3.1.2.11", properties(&[0x21, 0, 9, 0x21, 0, 9]), five(0x82)),
        ("a property of PUBLISH", "5.0 section 2.2.2.2", properties(&[0x23, 0, 1]), five(0x82)),
        ("an unknown property", "5.0 section 2.2.2.2", properties(&[0x7F, 0]), five(0x81)),
        ("property cut short", "5.0 section 2.2.2", properties(&[0x21, 0]), five(0x81)),
    ];
    for (class, statement, bytes, last) in &cases {
        closed(&door, &format!("{class} [{statement}]"), None, bytes, last.as_deref()).await;
    }
    assert_eq!(door.counts().sessions, 0);
    still_serves(&door).await;
    door.close().await;
}

#[tokio::test]
async fn version_5_packets() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let response = [&[8][..], &text("a/+")].concat();
    let nul = [&[0x26][..], &text("k\0"), &text("v")].concat();
    let cases: Vec<(&str, &str, Vec<u8>, u8)> = vec![
        ("PUBLISH with packet id 0", "MQTT-2.2.1-3", publish5(0x32, "a", 0, &[], "x"), 0x81),
        ("no property length", "MQTT-2.2.2-1", publish(0x30, "a", 0, ""), 0x81),
        ("property length past the end", "section 2.2.2.1", vec![0x30, 4, 0, 1, b'a', 9], 0x81),
        ("wildcard topic", "MQTT-3.3.2-2", publish5(0x30, "a/#", 0, &[], "x"), 0x90),
        ("topic alias", "MQTT-3.3.2-9", publish5(0x30, "a", 0, &[0x23, 0, 1], "x"), 0x94),
        ("topic alias 0", "MQTT-3.3.2-8", publish5(0x30, "a", 0, &[0x23, 0, 0], "x"), 0x82),
        ("subscription identifier in PUBLISH", "MQTT-3.3.4-6", publish5(0x30, "a", 0, &[0x0B, 1], "x"), 0x82),
        ("wildcard in the response topic", "MQTT-3.3.2-14", publish5(0x30, "a", 0, &response, "x"), 0x82),
        ("NUL in a user property", "MQTT-1.5.4-2", publish5(0x30, "a", 0, &nul, "x"), 0x81),
        ("NUL in a content type", "MQTT-1.5.4-2", publish5(0x30, "a", 0, &[3, 0, 1, 0], "x"), 0x81),
        ("payload format twice", "section 3.3.2.3.2", publish5(0x30, "a", 0, &[1, 1, 1, 1], "x"), 0x82),
        ("payload format 2", "section 3.3.2.3.2", publish5(0x30, "a", 0, &[1, 2], "x"), 0x82),
        ("a property of CONNECT", "section 2.2.2.2", publish5(0x30, "a", 0, &[0x21, 0, 1], "x"), 0x82),
        ("QoS 2", "MQTT-3.2.2-11", publish5(0x34, "a", 1, &[], "x"), 0x9B),
        ("QoS 3", "MQTT-3.3.1-4", publish5(0x36, "a", 1, &[], "x"), 0x81),
        (
            "subscription identifier",
            "section 3.2.2.3.12",
            packet(0x82, &[0, 1, 2, 0x0B, 1, 0, 1, b'a', 0]),
            0xA1,
        ),
        ("shared filter without a name", "MQTT-4.8.2-1", subscribe5(1, "$share//a", 0), 0x81),
        ("no local on a shared filter", "MQTT-3.8.3-4", subscribe5(1, "$share/g/a", 4), 0x82),
        ("retain handling 3", "section 3.8.3.1", subscribe5(1, "a", 0x30), 0x81),
        ("reserved subscription bits", "MQTT-3.8.3-5", subscribe5(1, "a", 0x40), 0x81),
        (
            "SUBSCRIBE with wrong flags",
            "MQTT-3.8.1-1",
            [vec![0x80], subscribe5(1, "a", 0)[1..].to_vec()].concat(),
            0x81,
        ),
        ("SUBSCRIBE without a filter", "MQTT-3.8.3-2", packet(0x82, &[0, 1, 0]), 0x82),
        ("UNSUBSCRIBE without a filter", "MQTT-3.10.3-2", packet(0xA2, &[0, 1, 0]), 0x82),
        ("PUBACK with an unknown reason", "MQTT-3.4.2-1", packet(0x40, &[0, 1, 0x55]), 0x81),
        ("second CONNECT", "MQTT-3.1.0-2", v5("again").bytes(), 0x82),
        ("AUTH", "section 4.12", vec![0xF0, 0], 0x82),
        ("AUTH with flags", "MQTT-3.15.1-1", vec![0xF1, 0], 0x81),
        ("packet too large", "MQTT-3.2.2-15", packet(0x30, &vec![0; 65 * 1024])[..100].to_vec(), 0x95),
        ("expiry at DISCONNECT only", "section 3.14.2.2.2", packet(0xE0, &[0, 5, 0x11, 0, 0, 0, 9]), 0x82),
        ("DISCONNECT with flags", "MQTT-3.14.1-1", vec![0xE2, 0], 0x81),
        ("PUBREL out of nowhere", "section 4.13.1", vec![0x62, 2, 0, 1], 0x82),
    ];
    for (class, statement, bytes, code) in &cases {
        let last = [0xE0, 2, *code, 0];
        closed(&door, &format!("{class} [{statement}]"), Some(v5("bad")), bytes, Some(&last)).await;
    }
    still_serves(&door).await;
    door.close().await;
}
