//! Queue bounds, acknowledgement and sending again, without a socket.

use super::*;
use crate::message::Message;
use bytes::Bytes;
use std::time::Duration;

struct Bench {
    session: Session,
    limits: Limits,
    counters: Counters,
}

impl Bench {
    fn new(limits: Limits) -> Self {
        let session = Session::new("lamp".into(), 1, Arc::new(Rights::everybody()));
        Bench { session, limits, counters: Counters::default() }
    }

    fn attach(&self, window: usize) -> Arc<Link> {
        let link = Arc::new(Link::default());
        self.session.attach(Arc::clone(&link), Terms { window, packet_maximum: 1_000 });
        link
    }

    fn push(&self, payload: &'static str, qos: u8) {
        self.push_message(payload, qos, None);
    }

    fn push_message(&self, payload: &'static str, qos: u8, expires: Option<Instant>) {
        let payload = Bytes::from_static(payload.as_bytes());
        let message =
            Arc::new(Message { topic: "t".into(), payload, qos, properties: Bytes::new(), expires });
        self.session.push(Outgoing { message, qos, retain: false }, &self.limits, &self.counters);
    }

    fn collect(&self, link: &Arc<Link>) -> Vec<u8> {
        let mut out = BytesMut::new();
        self.session.collect(link, &mut out, Version::V311, &self.limits, &self.counters);
        out.to_vec()
    }

    fn dropped(&self) -> u64 {
        self.counters.read(0, 0).dropped_messages
    }
}

const NOTHING: [u8; 0] = [];

/// PUBLISH to topic `t` with QoS 1 and a one-byte payload.
fn packet(first: u8, id: u8, payload: u8) -> Vec<u8> {
    vec![first, 6, 0, 1, b't', 0, id, payload]
}

#[test]
fn the_window_holds_until_acknowledged() {
    let bench = Bench::new(Limits::default());
    let link = bench.attach(2);
    ["a", "b", "c"].iter().for_each(|payload| bench.push(payload, 1));
    assert_eq!(bench.collect(&link), [packet(0x32, 1, b'a'), packet(0x32, 2, b'b')].concat());
    assert_eq!(bench.collect(&link), NOTHING);
    bench.session.acknowledged(1, &bench.limits);
    assert_eq!(bench.collect(&link), packet(0x32, 3, b'c'));
    bench.session.acknowledged(9, &bench.limits);
    assert_eq!(bench.session.waiting().1, 2, "an id never sent acknowledges nothing");
}

#[test]
fn what_was_unacknowledged_goes_again_first_and_marked() {
    let bench = Bench::new(Limits::default());
    let first = bench.attach(10);
    bench.push("a", 1);
    bench.push("b", 1);
    bench.collect(&first);
    assert!(bench.session.detach(&first));
    bench.push("c", 1);
    bench.push("x", 0);
    let second = bench.attach(10);
    let expected = [packet(0x3A, 1, b'a'), packet(0x3A, 2, b'b'), packet(0x32, 3, b'c')].concat();
    assert_eq!(bench.collect(&second), expected, "QoS 0 is not kept while away");
    assert_eq!(bench.collect(&second), NOTHING, "not sent again on a live connection");
}

#[test]
fn a_replaced_connection_neither_takes_nor_detaches() {
    let bench = Bench::new(Limits::default());
    let first = bench.attach(10);
    let second = bench.attach(10);
    bench.push("a", 1);
    assert_eq!(bench.collect(&first), NOTHING);
    assert!(!bench.session.detach(&first));
    assert_eq!(bench.collect(&second), packet(0x32, 1, b'a'));
}

#[test]
fn the_queue_is_bounded_by_count() {
    let bench = Bench::new(Limits { queue_messages: 2, ..Limits::default() });
    let link = bench.attach(10);
    ["a", "b", "c"].iter().for_each(|payload| bench.push(payload, 1));
    assert_eq!(bench.dropped(), 1);
    bench.collect(&link);
    bench.push("d", 1);
    assert_eq!(bench.dropped(), 2, "unacknowledged messages count too");
    bench.session.acknowledged(1, &bench.limits);
    bench.push("e", 1);
    assert_eq!(bench.dropped(), 2);
}

#[test]
fn the_queue_is_bounded_by_bytes() {
    let bench = Bench::new(Limits { queue_bytes: 11, ..Limits::default() });
    let link = bench.attach(10);
    bench.push("123456789", 1);
    bench.push("1", 1);
    assert_eq!((bench.dropped(), bench.session.waiting()), (1, (1, 0, 10)));
    bench.collect(&link);
    bench.session.acknowledged(1, &bench.limits);
    assert_eq!(bench.session.waiting(), (0, 0, 0));
}

#[test]
fn a_packet_larger_than_the_client_takes_is_dropped() {
    let bench = Bench::new(Limits::default());
    let link = Arc::new(Link::default());
    bench.session.attach(Arc::clone(&link), Terms { window: 10, packet_maximum: 8 });
    bench.push("ab", 1);
    bench.push("c", 1);
    assert_eq!(bench.collect(&link), packet(0x32, 2, b'c'));
    assert_eq!((bench.dropped(), bench.session.waiting()), (1, (0, 1, 2)));
}

#[tokio::test(start_paused = true)]
async fn an_expired_message_is_not_delivered() {
    let bench = Bench::new(Limits::default());
    let link = bench.attach(10);
    bench.push_message("a", 1, Some(Instant::now() + Duration::from_secs(10)));
    bench.push("b", 1);
    tokio::time::advance(Duration::from_secs(10)).await;
    assert_eq!(bench.collect(&link), packet(0x32, 2, b'b'));
}

#[test]
fn packet_ids_go_round_and_skip_those_in_use() {
    let bench = Bench::new(Limits::default());
    let link = bench.attach(10);
    bench.push("a", 1);
    bench.collect(&link);
    lock(&bench.session.state).last_id = u16::MAX;
    bench.push("b", 1);
    assert_eq!(bench.collect(&link), packet(0x32, 2, b'b'), "0 is no id and 1 is in use");
}
