//! The session against a broker that does exactly what each test says.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

mod support;

use bytes::Bytes;
use intake::broker::{Link, Session, Settings, open};
use intake::{Incoming, Outlet};
use std::time::Duration;
use support::{Broker, Heard, Peer, in_time, publication, suback};
use tokio::sync::mpsc;

fn settings(port: u16) -> Settings {
    let filters = vec!["tank/+/temp".to_owned(), "tank/+/ph".to_owned()];
    let mut settings = Settings::new("127.0.0.1", port, "test", filters, "service/state");
    settings.back_off = (Duration::from_millis(1), Duration::from_millis(2));
    settings
}

async fn start() -> (Broker, Session, mpsc::Receiver<Incoming>) {
    let (broker, port) = Broker::start().await;
    let (session, incoming) = open(settings(port), 16);
    (broker, session, incoming)
}

fn retained(topic: &str, payload: &str) -> Heard {
    Heard::Publish { topic: topic.to_owned(), payload: payload.as_bytes().to_vec(), retain: true }
}

fn here() -> Heard {
    retained("service/state", "here")
}

async fn subscription(peer: &mut Peer) -> u16 {
    match peer.hear().await {
        Heard::Subscribe { id, filters } => {
            assert_eq!(filters, ["tank/+/temp", "tank/+/ph"]);
            id
        }
        other => panic!("expected a subscription, heard {other:?}"),
    }
}

/// The first connection of a session up to the point where messages flow.
async fn greeted(broker: &Broker) -> Peer {
    let mut peer = broker.accept(true).await;
    let id = subscription(&mut peer).await;
    assert_eq!(peer.hear().await, here());
    peer.suback(id, &[1, 1]).await;
    peer
}

async fn becomes(session: &Session, wanted: impl FnMut(&Link) -> bool) -> Link {
    in_time(session.link().wait_for(wanted)).await.unwrap().clone()
}

async fn up(session: &Session, resumed: bool) {
    becomes(session, |link| *link == Link::Up { resumed }).await;
}

async fn away(session: &Session) -> String {
    match becomes(session, |link| matches!(link, Link::Away { .. })).await {
        Link::Away { reason, .. } => reason,
        other => panic!("{other:?} is not away"),
    }
}

#[tokio::test]
async fn a_fresh_session_subscribes_and_says_here() {
    let (broker, session, _incoming) = start().await;
    let mut peer = broker.accept(false).await;
    let id = subscription(&mut peer).await;
    assert_eq!(peer.hear().await, here());
    assert_eq!(*session.link().borrow(), Link::Connecting);
    peer.suback(id, &[1, 1]).await;
    up(&session, false).await;
}

#[tokio::test]
async fn a_session_resumed_after_a_confirmed_subscription_does_not_subscribe() {
    let (broker, session, _incoming) = start().await;
    // Even resumed, the first session of a start subscribes: the filters may be new.
    let mut peer = broker.accept(true).await;
    let id = subscription(&mut peer).await;
    assert_eq!(peer.hear().await, here());
    assert_eq!(*session.link().borrow(), Link::Connecting, "not up before the subscription is confirmed");
    peer.suback(id, &[1, 1]).await;
    up(&session, true).await;
    drop(peer);
    away(&session).await;
    let mut peer = broker.accept(true).await;
    assert_eq!(peer.hear().await, here());
    up(&session, true).await;
}

#[tokio::test]
async fn a_subscription_never_confirmed_is_made_again_even_when_resumed() {
    let (broker, session, _incoming) = start().await;
    let mut peer = broker.accept(false).await;
    subscription(&mut peer).await;
    drop(peer);
    let mut peer = broker.accept(true).await;
    let mut id = None;
    while id.is_none() {
        if let Heard::Subscribe { id: heard, .. } = peer.hear().await {
            id = Some(heard);
        }
    }
    peer.suback(id.unwrap(), &[1, 1]).await;
    // The second connection was resumed, but the first had lost what there was before.
    up(&session, false).await;
}

#[tokio::test]
async fn a_broker_that_does_not_confirm_is_left_and_asked_again() {
    let (broker, port) = Broker::start().await;
    let mut impatient = settings(port);
    impatient.suback_within = Duration::from_millis(50);
    let (session, _incoming) = open(impatient, 16);
    let mut silent = broker.accept(false).await;
    let reason = away(&session).await;
    assert!(reason.contains("does not confirm") && reason.contains(&port.to_string()), "{reason}");
    while !silent.closed().await {}
    let mut peer = broker.accept(true).await;
    while !matches!(peer.hear().await, Heard::Subscribe { .. }) {}
}

#[tokio::test]
async fn time_spent_waiting_for_room_is_not_held_against_the_broker() {
    let (broker, port) = Broker::start().await;
    let (session, mut incoming) = open(settings(port), 1);
    let mut peer = broker.accept(true).await;
    let id = subscription(&mut peer).await;
    let mut packets = publication("tank/1/temp", "26.1", 7);
    packets.extend(publication("tank/1/temp", "26.2", 8));
    packets.extend(suback(id, &[1, 1]));
    peer.say(&packets).await;
    while incoming.is_empty() {
        tokio::task::yield_now().await;
    }
    // The first message fills the receiver, the second waits, the confirmation lies behind it.
    tokio::time::pause();
    tokio::time::advance(Duration::from_secs(11)).await;
    tokio::time::resume();
    let mut link = session.link();
    link.mark_unchanged();
    incoming.recv().await.unwrap();
    incoming.recv().await.unwrap();
    link.changed().await.unwrap();
    assert_eq!(*link.borrow(), Link::Up { resumed: true });
}

#[tokio::test]
async fn a_filter_that_is_none_is_named() {
    let (broker, port) = Broker::start().await;
    let mut wrong = settings(port);
    wrong.filters.push("tank/#/ph".to_owned());
    let (session, _incoming) = open(wrong, 0);
    let _peer = broker.accept(false).await;
    let reason = away(&session).await;
    assert!(reason.contains("\"tank/#/ph\"") && reason.contains("correct it in [mqtt]"), "{reason}");
}

#[tokio::test]
async fn a_broker_that_lets_us_read_nothing_is_away_with_the_filters_named() {
    let (broker, session, _incoming) = start().await;
    let mut peer = broker.accept(false).await;
    let id = subscription(&mut peer).await;
    peer.suback(id, &[0x80, 0x80]).await;
    let reason = away(&session).await;
    assert!(reason.contains("none of tank/+/temp, tank/+/ph"), "{reason}");
}

#[tokio::test]
async fn what_is_known_of_a_message_is_handed_over() {
    let (broker, _session, mut incoming) = start().await;
    let mut peer = greeted(&broker).await;
    for flags in [0x32, 0x33, 0x3a] {
        let mut packet = publication("tank/1/temp", "26.1", 7);
        packet[0] = flags;
        peer.say(&packet).await;
    }
    let mut told = Vec::new();
    for _ in 0..3 {
        let message = incoming.recv().await.unwrap();
        told.push((message.qos, message.retained, message.dup));
    }
    assert_eq!(told, [(1, false, false), (1, true, false), (1, false, true)]);
}

#[tokio::test]
async fn messages_are_acknowledged_when_done_and_in_the_order_done() {
    let (broker, _session, mut incoming) = start().await;
    let mut peer = greeted(&broker).await;
    peer.publish("tank/1/temp", "26.1", 7).await;
    peer.publish("tank/2/temp", "26.2", 8).await;
    peer.publish("tank/3/temp", "26.3", 0).await;
    let first = incoming.recv().await.unwrap();
    let second = incoming.recv().await.unwrap();
    let third = incoming.recv().await.unwrap();
    assert_eq!((first.topic.as_str(), first.qos), ("tank/1/temp", 1));
    assert_eq!((&third.payload[..], third.qos), (&b"26.3"[..], 0));
    third.ack.done();
    second.ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(8));
    first.ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(7));
}

#[tokio::test]
async fn a_dropped_acknowledgement_says_nothing() {
    let (broker, session, mut incoming) = start().await;
    let mut peer = greeted(&broker).await;
    peer.publish("tank/1/temp", "26.1", 7).await;
    drop(incoming.recv().await.unwrap());
    session.publish("next", Bytes::from_static(b"heard"), true);
    assert_eq!(peer.hear().await, retained("next", "heard"));
}

#[tokio::test]
async fn an_acknowledgement_does_not_outlive_its_connection() {
    let (broker, session, mut incoming) = start().await;
    let mut peer = greeted(&broker).await;
    peer.publish("tank/1/temp", "26.1", 7).await;
    let stale = incoming.recv().await.unwrap();
    drop(peer);
    away(&session).await;
    let mut peer = broker.accept(true).await;
    while peer.hear().await != here() {}
    up(&session, true).await;
    // The same message comes again under an id that another had before.
    peer.publish("tank/2/temp", "26.2", 7).await;
    peer.publish("tank/1/temp", "26.1", 9).await;
    let other = incoming.recv().await.unwrap();
    let again = incoming.recv().await.unwrap();
    assert_eq!((other.topic.as_str(), again.topic.as_str()), ("tank/2/temp", "tank/1/temp"));
    stale.ack.done();
    again.ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(9), "the stale one must not confirm another's id 7");
    other.ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(7));
}

#[tokio::test]
async fn what_was_retained_is_published_again_to_a_broker_that_forgot_us() {
    let (broker, session, _incoming) = start().await;
    let mut peer = greeted(&broker).await;
    session.publish("alarm/1", Bytes::from_static(b"old"), true);
    session.publish("alarm/1", Bytes::from_static(b"new"), true);
    assert_eq!(peer.hear().await, retained("alarm/1", "old"));
    assert_eq!(peer.hear().await, retained("alarm/1", "new"));
    drop(peer);
    let mut peer = broker.accept(false).await;
    subscription(&mut peer).await;
    assert_eq!(peer.hear().await, retained("alarm/1", "new"));
    assert_eq!(peer.hear().await, here());
}

#[tokio::test]
async fn refused_credentials_are_told_from_a_missing_broker() {
    let (broker, port) = Broker::start().await;
    let (session, _incoming) = open(settings(port), 16);
    broker.refuse(5).await;
    let reason = away(&session).await;
    assert!(reason.contains("refuses user name or password"), "{reason}");
    drop(broker);
    becomes(&session, |link| {
        let missing = format!("no broker answers at 127.0.0.1:{port};");
        matches!(link, Link::Away { reason, tries } if reason.starts_with(&missing) && *tries > 1)
    })
    .await;
}

#[tokio::test]
async fn an_oversize_message_is_handed_over_cut_and_holds_nothing_up() {
    let (broker, _session, mut incoming) = start().await;
    let mut peer = greeted(&broker).await;
    // Four bytes of length: larger than any limit this client once had.
    let big = "7".repeat(3 << 20);
    peer.publish("tank/1/temp", &big, 7).await;
    peer.publish("tank/2/temp", "26.2", 8).await;
    let cut = incoming.recv().await.unwrap();
    assert_eq!((cut.topic.as_str(), cut.oversize), ("tank/1/temp", Some(3 << 20)));
    assert_eq!(&cut.payload[..], &big.as_bytes()[..512]);
    let behind = incoming.recv().await.unwrap();
    assert_eq!((&behind.payload[..], behind.oversize), (&b"26.2"[..], None));
    cut.ack.done();
    behind.ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(7));
    assert_eq!(peer.hear().await, Heard::PubAck(8));
}

#[tokio::test]
async fn garbage_costs_the_connection_and_nothing_else() {
    let (broker, session, mut incoming) = start().await;
    // Packet type 15 is reserved: MQTT 3.1.1, table 2.1. A topic longer than its packet and an answer to
    // nothing are no better: [MQTT-4.8.0-1] wants the connection closed for each.
    let garbage: [&[u8]; 4] =
        [&[0xf0, 0xff, 0xff, 0xff, 0xff], &[0xf0, 0], &[0x30, 3, 0, 200, 1], &[0x40, 2, 0, 9]];
    let mut peer = greeted(&broker).await;
    for (rounds, bytes) in garbage.iter().enumerate() {
        up(&session, true).await;
        peer.say(bytes).await;
        let reason = away(&session).await;
        assert!(reason.contains("not MQTT 3.1.1"), "{reason}");
        assert_eq!(session.malformed(), rounds as u64 + 1);
        peer = broker.accept(true).await;
        while peer.hear().await != here() {}
    }
    peer.publish("tank/1/temp", "26.1", 7).await;
    incoming.recv().await.unwrap().ack.done();
    assert_eq!(peer.hear().await, Heard::PubAck(7));
}

#[tokio::test]
async fn a_closed_session_says_away_and_goodbye() {
    let (broker, session, _incoming) = start().await;
    let mut peer = greeted(&broker).await;
    let closing = tokio::spawn(session.close());
    assert_eq!(peer.hear().await, retained("service/state", "away"));
    assert_eq!(peer.hear().await, Heard::Disconnect);
    drop(peer);
    closing.await.unwrap();
}
