//! Passwords, topic permissions, and sessions that belong to their user.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{Access, Counts, Device, FrontDoor, Limits, Publish, Secret};
use tokio::sync::mpsc::Receiver;

fn device(name: &str, publish: &[&str], subscribe: &[&str]) -> Device {
    let owned = |filters: &[&str]| filters.iter().map(|&f| f.to_owned()).collect();
    let (publish, subscribe) = (owned(publish), owned(subscribe));
    Device { name: name.to_owned(), secret: Secret::new(format!("{name}-password")), publish, subscribe }
}

/// A tumbler's device that may say only its own, and a page that hears all and says nothing.
async fn guarded() -> (FrontDoor, Receiver<Publish>) {
    let tumbler = device("tumbler", &["room/V1/+"], &["room/alarm/#", "room/V1/set"]);
    let other = device("other", &["room/V2/#"], &["room/V2/#"]);
    let page = device("page", &[], &["#"]);
    open_for(Access::Devices(vec![tumbler, other, page]), Limits::default()).await
}

fn tumbler(hello: Hello) -> Hello {
    as_user("tumbler", "tumbler-password", hello)
}

fn page(hello: Hello) -> Hello {
    as_user("page", "page-password", hello)
}

/// The CONNACK of a CONNECT that is not let in; then the connection ends.
async fn refused(door: &FrontDoor, hello: &Hello) -> Vec<u8> {
    let mut client = Client::raw(door).await;
    client.send(&hello.bytes()).await;
    let connack = client.packet().await.expect("CONNACK");
    assert_eq!(client.packet().await, None);
    connack
}

#[tokio::test]
async fn only_the_right_password_comes_in() {
    // OASIS MQTT 3.1.1 (2014) table 3.1: 4 = bad user name or password, 5 = not authorized; MQTT 5.0 (2019) table 3-1.
    let (door, _messages) = guarded().await;
    for hello in [v3("a"), v5("a")] {
        let five = hello.version == 5;
        let answer =
            |three: u8, code: u8| if five { vec![0x20, 3, 0, code, 0] } else { vec![0x20, 2, 0, three] };
        assert_eq!(refused(&door, &hello).await, answer(5, 0x87), "no name");
        let wrong = as_user("tumbler", "page-password", hello.clone());
        assert_eq!(refused(&door, &wrong).await, answer(4, 0x86), "another's password");
        Client::connected(&door, &tumbler(hello)).await.leave().await;
    }
    let counts = door.counts();
    assert_eq!((counts.refused_sign_ins, counts.refused_packets, counts.sessions), (4, 0, 0));
    door.close().await;
}

#[tokio::test]
async fn a_message_outside_the_permission_is_dropped_and_the_connection_stays() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.3.5-2]: acknowledge or close; MQTT 5.0 (2019) section 3.4.2.1, 0x87.
    let (door, mut messages) = guarded().await;
    let mut page = Client::connected(&door, &page(v3("page"))).await;
    page.subscribed("#", 1).await;
    for (hello, ack) in [(v3("old"), puback(2)), (v5("new"), vec![0x40, 3, 0, 2, 0x87])] {
        let five = hello.version == 5;
        let send = |first, topic, id, x| {
            if five { publish5(first, topic, id, &[], x) } else { publish(first, topic, id, x) }
        };
        let mut device = Client::connected(&door, &tumbler(hello)).await;
        device.send(&send(0x30, "room/V2/flow", 0, "QoS 0")).await;
        device.send(&send(0x33, "room/V2/flow", 2, "retained")).await;
        device.expect(&ack).await;
        device.send(&send(0x32, "room/V1/flow", 3, "own")).await;
        let came = next(&mut messages).await;
        assert_eq!((came.topic.as_str(), &came.payload[..]), ("room/V1/flow", &b"own"[..]));
        came.ack.done();
        device.expect(&puback(3)).await;
        let delivery = page.packet().await.unwrap();
        assert!(delivery.ends_with(b"own"), "the first that the page gets is the permitted one");
        page.send(&puback(u16::from_be_bytes([delivery[16], delivery[17]]))).await;
    }
    let expected = Counts { connections: 1, ..door.counts() };
    assert_eq!((expected.refused_publishes, expected.retained, expected.refused_packets), (4, 0, 0));
    door.close().await;
}

#[tokio::test]
async fn refusals_wait_their_turn_and_are_bounded() {
    // An MQTT 5 client that passes the receive maximum, here with refused messages, is disconnected: [MQTT-3.3.4-7] and 0x93.
    let access = Access::Devices(vec![device("tumbler", &["a"], &[])]);
    let (door, mut messages) = open_for(access, Limits { unacknowledged: 3, ..Limits::default() }).await;
    let mut client = Client::connected(&door, &tumbler(v5("new"))).await;
    client.send(&publish5(0x32, "a", 1, &[], "x")).await;
    client.send(&publish5(0x32, "b", 2, &[], "x")).await;
    let first = next(&mut messages).await;
    client.expect_quiet().await;
    first.ack.done();
    client.expect(&puback(1)).await;
    client.expect(&[0x40, 3, 0, 2, 0x87]).await;
    client.send(&publish5(0x32, "a", 1, &[], "x")).await;
    for id in 2..=4 {
        client.send(&publish5(0x32, "b", id, &[], "x")).await;
    }
    client.expect(&[0xE0, 2, 0x93, 0]).await;
    door.close().await;
}

#[tokio::test]
async fn a_subscription_must_lie_within_a_permitted_filter() {
    // OASIS MQTT 3.1.1 (2014) [MQTT-3.9.3-2]; MQTT 5.0 (2019) table 3-8, 0x87.
    let (door, mut messages) = guarded().await;
    let filters = [
        "room/alarm/#",
        "room/alarm/V2",
        "room/V1/set",
        "room/V1/+",
        "room/V2/flow",
        "room/#",
        "#",
        "+/alarm/#",
    ];
    let body = |version: u8| {
        let head = if version == 5 { vec![0, 1, 0] } else { vec![0, 1] };
        packet(0x82, &filters.iter().fold(head, |body, filter| [body, text(filter), vec![1]].concat()))
    };
    let mut old = Client::connected(&door, &tumbler(v3("old"))).await;
    old.send(&body(4)).await;
    old.expect(&[0x90, 10, 0, 1, 1, 1, 1, 0x80, 0x80, 0x80, 0x80, 0x80]).await;
    let mut new = Client::connected(&door, &tumbler(v5("new"))).await;
    new.send(&body(5)).await;
    new.expect(&[0x90, 11, 0, 1, 0, 1, 1, 1, 0x87, 0x87, 0x87, 0x87, 0x87]).await;
    assert_eq!(door.counts().refused_subscriptions, 10);

    let mut other = Client::connected(&door, &as_user("other", "other-password", v3("other"))).await;
    other.send(&publish(0x33, "room/V2/flow", 1, "secret")).await;
    next(&mut messages).await.ack.done();
    other.expect(&puback(1)).await;
    door.publish("room/V1/flow", "not subscribed".into(), true);
    door.publish("room/alarm/V1", "air stopped".into(), true);
    assert!(
        old.packet().await.unwrap().ends_with(b"air stopped"),
        "live: the first that comes is the permitted one"
    );
    let mut late = Client::connected(&door, &tumbler(v3("late"))).await;
    late.send(&body(4)).await;
    late.expect(&[0x90, 10, 0, 1, 1, 1, 1, 0x80, 0x80, 0x80, 0x80, 0x80]).await;
    assert!(late.packet().await.unwrap().ends_with(b"air stopped"), "retained");
    late.expect_quiet().await;
    door.close().await;
}

#[tokio::test]
async fn a_will_outside_the_permission_refuses_the_client() {
    let (door, mut messages) = guarded().await;
    let will = |topic| Some((topic, "gone", 1, true));
    let stranger = Hello { will: will("room/V2/flow"), ..tumbler(v3("old")) };
    assert_eq!(refused(&door, &stranger).await, [0x20, 2, 0, 5]);
    assert_eq!(refused(&door, &Hello { version: 5, ..stranger }).await, [0x20, 3, 0, 0x87, 0]);
    assert_eq!((door.counts().refused_publishes, door.counts().sessions), (2, 0));
    let own = Hello { will: will("room/V1/status"), ..tumbler(v3("own")) };
    drop(Client::connected(&door, &own).await);
    assert_eq!(next(&mut messages).await.topic, "room/V1/status");
    door.close().await;
}

#[tokio::test]
async fn a_session_is_never_given_to_another_user() {
    let (door, mut messages) = guarded().await;
    let kept = |client| Hello { clean: false, ..v3(client) };
    let mut page_client = Client::connected(&door, &page(kept("shared"))).await;
    page_client.subscribed("#", 1).await;
    // Connected, and then away: neither is taken over, continued nor discarded by another user.
    let rejected = [0x20, 2, 0, 2];
    assert_eq!(refused(&door, &tumbler(kept("shared"))).await, rejected);
    page_client.expect_quiet().await;
    page_client.leave().await;
    let mut device = Client::connected(&door, &tumbler(v3("device"))).await;
    device.send(&publish(0x32, "room/V1/flow", 1, "for the page")).await;
    next(&mut messages).await.ack.done();
    device.expect(&puback(1)).await;
    assert_eq!(refused(&door, &tumbler(kept("shared"))).await, rejected);
    assert_eq!(refused(&door, &tumbler(v3("shared"))).await, rejected);
    let (mut page_client, connack) = Client::connect(&door, &page(kept("shared"))).await;
    assert_eq!(connack[2], 1, "session present");
    assert!(page_client.packet().await.unwrap().ends_with(b"for the page"));
    door.close().await;
}

#[tokio::test]
async fn without_passwords_a_given_one_is_not_looked_at() {
    let (door, mut messages) = open(Limits::default()).await;
    let mut client = Client::connected(&door, &as_user("anyone", "anything", v3("client"))).await;
    client.send(&publish(0x32, "a", 1, "x")).await;
    next(&mut messages).await.ack.done();
    client.expect(&puback(1)).await;
    // Another name may take the client id over: without passwords a name proves nothing.
    Client::connected(&door, &as_user("other", "anything", v3("client"))).await;
    door.close().await;
}
