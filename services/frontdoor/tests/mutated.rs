//! Thousands of damaged streams. The seed is printed; `HATCHWARDEN_SEED` gives another one.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;
use common::*;
use frontdoor::{Access, Device, FrontDoor, Limits, Secret};
use tokio::io::AsyncWriteExt;

const STREAMS: usize = 3_000;
const BATCH: usize = 250;

/// A small generator of our own, so that the streams are the same in every run (xorshift; Marsaglia 2003).
struct Random(u64);

impl Random {
    fn seeded() -> Random {
        let given = std::env::var("HATCHWARDEN_SEED").ok().and_then(|text| text.parse().ok());
        let seed = given.filter(|seed| *seed != 0).unwrap_or(0x1234_5678_9ABC_DEF1);
        println!("HATCHWARDEN_SEED={seed}");
        Random(seed)
    }

    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % bound as u64) as usize
    }
}

/// An ordinary CONNECT with everything in it.
fn hello(five: bool) -> Vec<u8> {
    let user = [&[0x26][..], &text("k"), &text("v")].concat();
    let properties = [&[0x11, 0, 0, 0, 9, 0x21, 0, 9][..], &user].concat();
    let hello = if five { Hello { properties, ..v5("m") } } else { v3("m") };
    let will = Some(("w", "gone", 1, true));
    as_user("m", "s3", Hello { will, clean: false, keep_alive: 9, ..hello }).bytes()
}

/// What follows: every packet that a client may send.
fn ordinary(five: bool) -> Vec<u8> {
    let user = [&[0x26][..], &text("k"), &text("v")].concat();
    let properties = [&[1, 1, 2, 0, 0, 0, 9][..], &user].concat();
    let parts = if five {
        let end = packet(0xA2, &[&[0, 3, 0][..], &text("a/+")].concat());
        let leave = packet(0xE0, &[4, 5, 0x11, 0, 0, 0, 9]);
        [
            subscribe5(1, "a/b", 1),
            publish5(0x33, "a/b", 2, &properties, "x"),
            puback(1),
            PING.to_vec(),
            end,
            leave,
        ]
    } else {
        let end = packet(0xA2, &[&[0, 3][..], &text("a/+")].concat());
        [
            subscribe(1, "a/b", 1),
            publish(0x33, "a/b", 2, "x"),
            puback(1),
            PING.to_vec(),
            end,
            GOODBYE.to_vec(),
        ]
    };
    parts.concat()
}

/// Changes, removes, doubles or inserts up to five pieces.
fn mutated(random: &mut Random, mut stream: Vec<u8>) -> Vec<u8> {
    for _ in 0..=random.below(5) {
        let (place, byte) = (random.below(stream.len()), random.below(256) as u8);
        match random.below(8) {
            0 => stream.truncate(place + 1),
            1 => drop(stream.remove(place)),
            2 => stream.insert(place, byte),
            3 => stream.extend_from_within(place..),
            4 => stream[place] ^= 1 << random.below(8),
            _ => stream[place] = byte,
        }
        if stream.is_empty() {
            stream.push(byte);
        }
    }
    stream
}

/// Sends one stream on a connection of its own and waits for its end.
async fn send(door: &FrontDoor, stream: &[u8]) {
    let mut client = Client::raw(door).await;
    // The front door may end it before all is written or read: that is an answer too.
    if client.stream.write_all(stream).await.is_ok() && client.stream.shutdown().await.is_ok() {
        while client.packet().await.is_some() {}
    }
}

async fn attack(door: &FrontDoor, fresh: &Hello, stream: impl Fn(&mut Random, bool) -> Vec<u8>) {
    let mut random = Random::seeded();
    for batch in 0..STREAMS / BATCH {
        for n in 0..BATCH {
            send(door, &stream(&mut random, n % 2 == 0)).await;
        }
        let mut client = Client::connected(door, fresh).await;
        client.send(&publish(0x32, "fresh", 1, "x")).await;
        let answer = client.packet().await;
        assert_eq!(answer.as_deref(), Some(&puback(1)[..]), "after batch {batch}");
        client.leave().await;
    }
    while door.counts().connections > 0 {
        tokio::task::yield_now().await;
    }
}

#[tokio::test]
async fn open_to_everybody() {
    let (door, messages) = open(Limits::default()).await;
    acknowledge_all(messages);
    let all = |random: &mut Random, five| mutated(random, [hello(five), ordinary(five)].concat());
    attack(&door, &v3("fresh"), all).await;
    let counts = door.counts();
    assert!(counts.refused_packets > STREAMS as u64 / 10, "the streams are not damaged enough: {counts:?}");
    door.close().await;
}

#[tokio::test]
async fn with_passwords_nothing_outside_the_permissions_comes_through() {
    let device = |name: &str, secret: &str, publish: &[&str]| Device {
        name: name.to_owned(),
        secret: Secret::new(secret),
        publish: publish.iter().map(|&filter| filter.to_owned()).collect(),
        subscribe: vec!["a/b".to_owned()],
    };
    let access = Access::Devices(vec![device("m", "s3", &["a/b", "w"]), device("fresh", "s4", &["fresh"])]);
    let (door, mut messages) = open_for(access, Limits::default()).await;
    let consumer = tokio::spawn(async move {
        let mut stored = 0;
        while let Some(publish) = messages.recv().await {
            assert!(["a/b", "w", "fresh"].contains(&publish.topic.as_str()), "{publish:?}");
            stored += 1;
            publish.ack.done();
        }
        stored
    });
    // The CONNECT stays whole: a wrong password is slow on purpose.
    let rest = |random: &mut Random, five| [hello(five), mutated(random, ordinary(five))].concat();
    attack(&door, &as_user("fresh", "s4", v3("fresh")), rest).await;
    let counts = door.counts();
    assert!(counts.refused_publishes > 0 && counts.refused_subscriptions > 0, "{counts:?}");
    door.close().await;
    assert!(consumer.await.unwrap() > STREAMS / 10, "enough of the streams were good to test the rest");
}
