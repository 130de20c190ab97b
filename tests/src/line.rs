//! One device's connection of a [`crate::Publisher`].

use crate::Stream;
use crate::publisher::Record;
use bytes::BytesMut;
use rumqttc::mqttbytes::v4::{Connect, ConnectReturnCode, Packet, PubAck, Publish};
use rumqttc::mqttbytes::{Error, QoS};
use std::collections::VecDeque;
use std::io;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::watch;

/// Most messages of one connection that wait for their acknowledgement.
const WINDOW: usize = 200;
/// What a device waits after a refused connection: it does not know when the other side is back.
const AGAIN_AFTER: Duration = Duration::from_millis(20);
/// Largest packet written or read, in bytes.
const PACKET: usize = 4_096;

pub(crate) struct Line {
    port: u16,
    stream: Stream,
    device: usize,
    record: Arc<Record>,
    released: watch::Receiver<u64>,
    /// The next number that has never been sent.
    next: u64,
    /// Packet id and number of what was sent, oldest first.
    under_way: VecDeque<(u16, u64)>,
    last_id: u16,
    /// The number acknowledged last on this connection.
    last: Option<u64>,
    resent: u64,
}

impl Line {
    pub(crate) fn new(
        port: u16,
        stream: Stream,
        device: usize,
        record: Arc<Record>,
        released: watch::Receiver<u64>,
    ) -> Self {
        let (next, under_way) = (device as u64, VecDeque::new());
        Self { port, stream, device, record, released, next, under_way, last_id: 0, last: None, resent: 0 }
    }

    /// Sends until all of its device's numbers are acknowledged; how many went again.
    pub(crate) async fn run(mut self) -> u64 {
        while !self.is_done() {
            // Whatever ended the connection, a device can only try again.
            if self.session().await.is_err() {
                if let Some(n) = self.last.take() {
                    self.record.note_break(n);
                }
                tokio::time::sleep(AGAIN_AFTER).await;
            }
        }
        self.resent
    }

    fn is_done(&self) -> bool {
        self.next >= self.stream.len && self.under_way.is_empty()
    }

    async fn session(&mut self) -> io::Result<()> {
        let mut socket = TcpStream::connect(("127.0.0.1", self.port)).await?;
        socket.set_nodelay(true)?;
        let (mut out, mut unread) = (BytesMut::new(), BytesMut::new());
        self.connect(&mut out);
        socket.write_all_buf(&mut out).await?;
        while !self.accepted(&mut unread)? {
            more(&mut socket, &mut unread).await?;
        }
        self.send_again(&mut out);
        while !self.is_done() {
            self.send_new(&mut out);
            socket.write_all_buf(&mut out).await?;
            tokio::select! {
                released = self.released.changed() => released.map_err(io::Error::other)?,
                read = more(&mut socket, &mut unread) => read?,
            }
            self.take(&mut unread)?;
        }
        Ok(())
    }

    /// A session of the server's is wanted, so that sending again with DUP is right [MQTT-4.4.0-1].
    fn connect(&self, out: &mut BytesMut) {
        let mut connect = Connect::new(format!("numbered-{}", self.device));
        connect.clean_session = false;
        connect.keep_alive = 0;
        Packet::Connect(connect).write(out, PACKET).unwrap();
    }

    fn accepted(&self, unread: &mut BytesMut) -> io::Result<bool> {
        match packet(unread)? {
            Some(Packet::ConnAck(ack)) if ack.code == ConnectReturnCode::Success => Ok(true),
            None => Ok(false),
            Some(other) => panic!("CONNECT was answered with {other:?}"),
        }
    }

    fn send_again(&mut self, out: &mut BytesMut) {
        for (id, n) in &self.under_way {
            self.write(*id, *n, true, out);
        }
        self.resent += self.under_way.len() as u64;
    }

    fn send_new(&mut self, out: &mut BytesMut) {
        let end = *self.released.borrow_and_update();
        while self.next < end && self.under_way.len() < WINDOW {
            // In the order of the numbers, so an id comes again only after 65,535 others.
            self.last_id = self.last_id.checked_add(1).unwrap_or(1);
            self.write(self.last_id, self.next, false, out);
            self.under_way.push_back((self.last_id, self.next));
            self.next += self.stream.devices.len() as u64;
        }
    }

    fn write(&self, id: u16, n: u64, dup: bool, out: &mut BytesMut) {
        let mut publish = Publish::new(self.stream.topic(n), QoS::AtLeastOnce, self.stream.payload(n));
        (publish.pkid, publish.dup) = (id, dup);
        Packet::Publish(publish).write(out, PACKET).unwrap();
    }

    fn take(&mut self, unread: &mut BytesMut) -> io::Result<()> {
        while let Some(packet) = packet(unread)? {
            let Packet::PubAck(PubAck { pkid }) = packet else { panic!("unexpected {packet:?}") };
            let place = self.under_way.iter().position(|(id, _)| *id == pkid);
            let (_, n) = self.under_way.remove(place.expect("PUBACK for nothing under way")).unwrap();
            self.last = Some(n);
            self.record.note(n);
        }
        Ok(())
    }
}

/// The next whole packet.
fn packet(unread: &mut BytesMut) -> io::Result<Option<Packet>> {
    match Packet::read(unread, PACKET) {
        Ok(packet) => Ok(Some(packet)),
        Err(Error::InsufficientBytes(_)) => Ok(None),
        Err(error) => Err(io::Error::other(error)),
    }
}

async fn more(socket: &mut TcpStream, unread: &mut BytesMut) -> io::Result<()> {
    match socket.read_buf(unread).await? {
        0 => Err(io::ErrorKind::UnexpectedEof.into()),
        _ => Ok(()),
    }
}
