//! A steady rate from many connections, each message written at its time and its PUBACK timed.

use crate::flood::micros;
use crate::load::Probe;
use crate::machine::unix_micros;
use crate::wire::{Acks, connect, id_of, publish};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::tcp::{OwnedReadHalf, OwnedWriteHalf};
use tokio::sync::Notify;
use tokio::task::JoinHandle;
use tokio::time::{MissedTickBehavior, interval};

/// A steady publisher.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pace {
    /// Messages in each tick.
    pub(crate) messages: usize,
    /// Between two ticks.
    pub(crate) every: Duration,
    /// Publishing connections.
    pub(crate) connections: usize,
    /// How long.
    pub(crate) length: Duration,
}

struct Shared {
    /// When each message that is under way was sent.
    sent: Mutex<VecDeque<Instant>>,
    waits: Mutex<Vec<u32>>,
    /// Another PUBACK has come.
    acknowledged: Notify,
}

struct Line {
    output: OwnedWriteHalf,
    shared: Arc<Shared>,
    reader: JoinHandle<()>,
    count: usize,
}

impl Pace {
    /// 5,000 messages a second from 50 connections.
    pub(crate) fn five_thousand(length: Duration) -> Self {
        Self { messages: 5, every: Duration::from_millis(1), connections: 50, length }
    }

    /// Publishes from a thread of its own; gives the time of each PUBACK in µs. Asserts that every message got one.
    pub(crate) async fn publish(self, port: u16, probes: Vec<Probe>) -> Vec<u32> {
        let (tell, done) = tokio::sync::oneshot::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            let _ = tell.send(runtime.block_on(self.go(port, &probes)));
        });
        let waits = done.await.unwrap();
        thread.join().unwrap();
        waits
    }

    async fn go(self, port: u16, probes: &[Probe]) -> Vec<u32> {
        let mut lines = Vec::new();
        for i in 0..self.connections {
            lines.push(Line::open(port, i).await);
        }
        let ticks = (self.length.as_secs_f64() / self.every.as_secs_f64()).round() as usize;
        let mut timer = interval(self.every);
        timer.set_missed_tick_behavior(MissedTickBehavior::Burst);
        let (mut n, mut packet, mut payload) = (0, Vec::new(), String::new());
        for _ in 0..ticks {
            timer.tick().await;
            for _ in 0..self.messages {
                let probe = &probes[n % probes.len()];
                probe.payload((n / probes.len()) as u64, unix_micros(), &mut payload);
                lines[n % self.connections].send(probe, &payload, &mut packet).await;
                n += 1;
            }
        }
        let mut waits = Vec::new();
        for line in lines {
            waits.append(&mut line.close().await);
        }
        assert_eq!(waits.len(), n, "every message is acknowledged");
        waits
    }
}

impl Line {
    async fn open(port: u16, i: usize) -> Self {
        let (input, output) = connect(port, &format!("paced-{i}")).await.into_split();
        let shared =
            Arc::new(Shared { sent: Mutex::default(), waits: Mutex::default(), acknowledged: Notify::new() });
        let reader = tokio::spawn(read(input, shared.clone()));
        Self { output, shared, reader, count: 0 }
    }

    async fn send(&mut self, probe: &Probe, payload: &str, packet: &mut Vec<u8>) {
        packet.clear();
        publish(packet, &probe.topic, payload, id_of(self.count));
        self.count += 1;
        self.shared.sent.lock().unwrap().push_back(Instant::now());
        self.output.write_all(packet).await.unwrap();
    }

    /// Waits for the last PUBACK.
    async fn close(mut self) -> Vec<u32> {
        while self.shared.waits.lock().unwrap().len() < self.count {
            tokio::select! {
                () = self.shared.acknowledged.notified() => {}
                ended = &mut self.reader => panic!("a connection was closed: {ended:?}"),
            }
        }
        self.reader.abort();
        std::mem::take(&mut *self.shared.waits.lock().unwrap())
    }
}

async fn read(mut input: OwnedReadHalf, shared: Arc<Shared>) {
    let (mut buffer, mut acks) = (vec![0; 1024], Acks::default());
    loop {
        let read = input.read(&mut buffer).await.unwrap();
        assert!(read > 0, "the broker closed the connection");
        let now = Instant::now();
        for _ in 0..acks.feed(&buffer[..read]) {
            let since = shared.sent.lock().unwrap().pop_front().unwrap();
            shared.waits.lock().unwrap().push(micros(now - since));
        }
        shared.acknowledged.notify_one();
    }
}
