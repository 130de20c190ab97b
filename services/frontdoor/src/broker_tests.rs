//! Sessions over time: expiry, delayed wills, limits. No socket, no waiting.

use super::*;
use crate::access::{Device, Secret};
use crate::message::Message;
use crate::routing::Parts;
use bytes::Bytes;
use std::time::Duration;

fn broker(limits: Limits) -> Broker {
    // The receiver is dropped: nobody takes wills here, they are returned.
    Broker::new(limits, Gate::anonymous(), mpsc::channel(1).0)
}

fn connect(client: &str, clean: bool, expiry: u32) -> Connect {
    Connect {
        version: Version::V5,
        client: client.into(),
        assigned: false,
        clean,
        patience: None,
        expiry,
        receive_maximum: u16::MAX,
        packet_maximum: u32::MAX,
        will: None,
        user: None,
        password: None,
    }
}

fn will(delay: u32) -> Option<Will> {
    let (payload, properties) = (Bytes::from_static(b"gone"), Bytes::new());
    let message = Message { topic: "w".into(), payload, qos: 1, properties, expires: None };
    Some(Will { client: "TU1".into(), message, retain: false, delay, expiry: None })
}

fn rights(user: Option<&str>) -> Arc<Rights> {
    let Some(name) = user else { return Arc::new(Rights::everybody()) };
    let (name, secret, all) = (name.to_owned(), Secret::new("s3"), vec!["#".to_owned()]);
    Arc::new(Rights::of(&Device { name, secret, publish: all.clone(), subscribe: all }))
}

fn enter(broker: &Broker, clean: bool, expiry: u32) -> (Arc<Link>, Attached) {
    let link = Arc::new(Link::default());
    let attached = broker.attach(&connect("TU1", clean, expiry), &rights(None), &link).unwrap();
    (link, attached)
}

fn later(seconds: u64) -> Instant {
    Instant::now() + Duration::from_secs(seconds)
}

#[tokio::test(start_paused = true)]
async fn a_session_goes_on_until_it_expires() {
    let broker = broker(Limits::default());
    let (link, first) = enter(&broker, false, 60);
    assert!(!first.present);
    broker.detach(&first.session, &link, Close::Gone, Instant::now());
    broker.sweep(later(59));
    let (link, again) = enter(&broker, false, 60);
    assert!(again.present);
    broker.detach(&again.session, &link, Close::Gone, Instant::now());
    broker.sweep(later(60));
    assert_eq!(broker.counts().sessions, 0);
    assert!(!enter(&broker, false, 60).1.present);
}

#[tokio::test(start_paused = true)]
async fn a_clean_start_discards_the_session_and_its_subscriptions() {
    let broker = broker(Limits::default());
    let (_, first) = enter(&broker, false, u32::MAX);
    let options = Options { qos: 1, no_local: false, retain_as_published: false, retain_handling: 0 };
    let wanted = Filter { filter: "#".into(), options };
    assert_eq!(broker.subscribe(&first.session, Version::V5, std::slice::from_ref(&wanted)), [1]);
    let (_, second) = enter(&broker, true, u32::MAX);
    assert!(!second.present);
    let (payload, properties) = (Bytes::from_static(b"x"), Bytes::new());
    let parts = Parts {
        from: None,
        topic: "t",
        payload: &payload,
        qos: 1,
        retain: false,
        properties: &properties,
        expiry: None,
    };
    broker.route(&parts);
    assert_eq!(first.session.waiting().0 + second.session.waiting().0, 0);
    assert_eq!(broker.subscribe(&first.session, Version::V5, &[wanted]), [0x80], "the old session is over");
}

#[tokio::test(start_paused = true)]
async fn the_end_of_an_old_connection_leaves_the_new_session_alone() {
    let broker = broker(Limits::default());
    let (old, first) = enter(&broker, true, 0);
    let (_, second) = enter(&broker, true, 0);
    assert_eq!(broker.detach(&first.session, &old, Close::TakenOver, Instant::now()).map(|w| w.delay), None);
    assert_eq!(broker.counts().sessions, 1);
    assert!(second.session.link().is_some());
}

#[tokio::test(start_paused = true)]
async fn a_delayed_will_waits_and_a_return_cancels_it() {
    // OASIS MQTT 5.0 (2019) [MQTT-3.1.3-9]: will delay 60 s, the client reconnects after 20 s: the will is not published.
    let broker = broker(Limits::default());
    let (link, first) = enter(&broker, false, 300);
    link.set_will(will(60));
    assert!(broker.detach(&first.session, &link, Close::Gone, Instant::now()).is_none());
    assert_eq!(broker.sweep(later(20)).len(), 0);
    let (link, again) = enter(&broker, false, 300);
    assert_eq!((again.present, again.wills.len()), (true, 0));
    assert_eq!(broker.sweep(later(100)).len(), 0);
    link.set_will(will(60));
    broker.detach(&again.session, &link, Close::Gone, Instant::now());
    assert_eq!(broker.sweep(later(60)).len(), 1);
    assert_eq!(broker.sweep(later(61)).len(), 0, "published once");
}

#[tokio::test(start_paused = true)]
async fn the_end_of_the_session_publishes_a_delayed_will() {
    let broker = broker(Limits::default());
    let (link, first) = enter(&broker, false, 10);
    link.set_will(will(60));
    broker.detach(&first.session, &link, Close::Gone, Instant::now());
    assert_eq!(broker.sweep(later(10)).len(), 1);
    assert_eq!(broker.counts().sessions, 0);
}

#[tokio::test(start_paused = true)]
async fn takeover_publishes_a_will_at_once() {
    let broker = broker(Limits::default());
    let (link, _first) = enter(&broker, false, 300);
    link.set_will(will(0));
    assert_eq!(enter(&broker, false, 300).1.wills.len(), 1);
    // Paused time: a connection that is not told to end fails here at once instead of hanging.
    let told = tokio::time::timeout(Duration::from_secs(1), link.closed()).await;
    assert_eq!(told, Ok(Close::TakenOver));
}

#[tokio::test(start_paused = true)]
async fn persistent_sessions_are_bounded_and_the_refusal_is_seen() {
    let broker = broker(Limits { sessions: 1, ..Limits::default() });
    let link = Arc::new(Link::default());
    assert!(broker.attach(&connect("TU1", false, 60), &rights(None), &link).is_ok());
    let refused = broker.attach(&connect("TU2", false, 60), &rights(None), &link).unwrap_err();
    assert_eq!(refused.code, code::QUOTA);
    assert!(
        broker.attach(&connect("TU3", true, 0), &rights(None), &link).is_ok(),
        "clean sessions are not counted"
    );
    assert!(
        broker.attach(&connect("TU1", true, 60), &rights(None), &link).is_ok(),
        "its own place is its own"
    );
}

#[tokio::test(start_paused = true)]
async fn a_session_is_only_its_users_own() {
    let broker = broker(Limits::default());
    let (first, second) = (Arc::new(Link::default()), Arc::new(Link::default()));
    for clean in [false, true] {
        let ours = connect("TU1", false, 60);
        let attached = broker.attach(&ours, &rights(Some("tumbler")), &first).unwrap();
        for stranger in [Some("lamp"), None] {
            let refused = broker.attach(&connect("TU1", clean, 60), &rights(stranger), &second).unwrap_err();
            assert_eq!(refused.code, code::CLIENT_ID);
        }
        assert!(
            attached.session.link().is_some_and(|link| Arc::ptr_eq(&link, &first)),
            "it was not taken over"
        );
        broker.detach(&attached.session, &first, Close::Gone, Instant::now());
        assert!(
            broker.attach(&connect("TU1", clean, 60), &rights(Some("lamp")), &second).is_err(),
            "kept for its user"
        );
    }
    broker.sweep(later(60));
    assert!(
        broker.attach(&connect("TU1", false, 60), &rights(Some("lamp")), &second).is_ok(),
        "the session is over"
    );
}

#[test]
fn disconnect_may_lengthen_only_what_connect_began() {
    let broker = broker(Limits::default());
    let (_, clean) = enter(&broker, true, 0);
    assert!(broker.set_expiry(&clean.session, 60).is_err());
    let (_, kept) = enter(&broker, true, 10);
    assert!(broker.set_expiry(&kept.session, 60).is_ok());
}
