//! As fast as it goes: some connections, each with a window of unacknowledged messages, packets encoded beforehand.

use crate::load::Probe;
use crate::machine::unix_micros;
use crate::wire::{Acks, connect, id_of, publish};
use std::collections::VecDeque;
use std::time::{Duration, Instant};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::task::JoinSet;

/// Publishing connections.
pub(crate) const CONNECTIONS: usize = 4;
/// Unacknowledged messages of each.
const WINDOW: usize = 200;
/// Between two readings of one probe, as its own clock has it.
const STEP_MICROS: i64 = 2_000_000;
/// The newest reading is this old when the flood is made, so that none lies ahead of the clock.
const BEFORE_MICROS: i64 = 1_000_000;

/// Packets of each connection, ready to be sent.
pub(crate) struct Flood {
    streams: Vec<Stream>,
    /// Key and time (ms since 1970) of the last reading of each connection.
    pub(crate) last: Vec<(String, i64)>,
}

struct Stream {
    bytes: Vec<u8>,
    /// Where each packet ends.
    ends: Vec<usize>,
}

/// How a flood went.
pub(crate) struct Flooded {
    /// The first byte was sent.
    pub(crate) begun: Instant,
    /// The last PUBACK was there.
    pub(crate) acknowledged: Instant,
    /// From sending to PUBACK of each message, in µs.
    pub(crate) waits: Vec<u32>,
}

impl Flood {
    /// `count` messages of these probes, round robin; each connection has probes of its own. Their times end now, 2 s
    /// apart for each probe, so that they are fresh and delays of alarms run out.
    pub(crate) fn new(probes: &[Probe], count: usize) -> Self {
        let each = count / probes.len();
        assert!(
            each * probes.len() == count && each <= 250,
            "a whole number of readings, none older than 10 min"
        );
        // A little past a whole millisecond, so that rounding and cutting give the same one.
        let begin = unix_micros() / 1_000 * 1_000 + 123 - BEFORE_MICROS - each as i64 * STEP_MICROS;
        let mut flood = Self { streams: Vec::new(), last: Vec::new() };
        for own in probes.chunks(probes.len().div_ceil(CONNECTIONS)) {
            let mut stream = Stream { bytes: Vec::new(), ends: Vec::new() };
            for n in 0..each {
                let at = begin + n as i64 * STEP_MICROS;
                own.iter().for_each(|p| stream.add(p, n as u64, at));
            }
            let last = begin + (each as i64 - 1) * STEP_MICROS;
            flood.last.push((own.last().unwrap().key.clone(), last.div_euclid(1_000)));
            flood.streams.push(stream);
        }
        flood
    }

    /// Publishes all of it from a thread of its own.
    pub(crate) async fn publish(self, port: u16) -> Flooded {
        let (tell, done) = tokio::sync::oneshot::channel();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            let _ = tell.send(runtime.block_on(self.go(port)));
        });
        let flooded = done.await.unwrap();
        thread.join().unwrap();
        flooded
    }

    async fn go(self, port: u16) -> Flooded {
        let mut ready = Vec::new();
        for (i, stream) in self.streams.into_iter().enumerate() {
            ready.push((connect(port, &format!("flood-{i}")).await, stream));
        }
        let begun = Instant::now();
        let mut tasks = JoinSet::new();
        ready.into_iter().for_each(|(socket, stream)| drop(tasks.spawn(stream.send(socket))));
        let waits = tasks.join_all().await.concat();
        Flooded { begun, acknowledged: Instant::now(), waits }
    }
}

impl Stream {
    fn add(&mut self, probe: &Probe, n: u64, micros: i64) {
        let mut payload = String::new();
        probe.payload(n, micros, &mut payload);
        publish(&mut self.bytes, &probe.topic, &payload, id_of(self.ends.len()));
        self.ends.push(self.bytes.len());
    }

    async fn send(self, mut socket: TcpStream) -> Vec<u32> {
        let (mut sent, mut acked, mut acks) = (0, 0, Acks::default());
        let mut waits = Vec::with_capacity(self.ends.len());
        let mut under_way: VecDeque<(usize, Instant)> = VecDeque::new();
        let mut buffer = vec![0; 8 * 1024];
        let start = |n: usize| n.checked_sub(1).map_or(0, |before| self.ends[before]);
        while acked < self.ends.len() {
            let until = self.ends.len().min(acked + WINDOW);
            if until > sent {
                under_way.push_back((until, Instant::now()));
                socket.write_all(&self.bytes[start(sent)..start(until)]).await.unwrap();
                sent = until;
            }
            let read = socket.read(&mut buffer).await.unwrap();
            assert!(read > 0, "the broker closed the connection");
            let now = Instant::now();
            for _ in 0..acks.feed(&buffer[..read]) {
                let (end, since) = under_way.front().unwrap();
                waits.push(micros(now - *since));
                acked += 1;
                if acked == *end {
                    under_way.pop_front();
                }
            }
        }
        waits
    }
}

/// Whole microseconds.
pub(crate) fn micros(d: Duration) -> u32 {
    u32::try_from(d.as_micros()).unwrap_or(u32::MAX)
}
