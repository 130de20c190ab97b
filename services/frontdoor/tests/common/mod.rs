//! A tiny raw MQTT client: what is sent and what comes is written out in bytes, so that no library hides a fault.
#![allow(dead_code, reason = "each test file uses its part")]

use frontdoor::{Access, FrontDoor, Limits, Publish, Settings};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::sync::mpsc::Receiver;
use tokio::time::timeout;

/// Only so that a broken front door fails a test instead of hanging it.
const HANG: Duration = Duration::from_secs(20);

/// A front door on a free port.
pub(crate) async fn open(limits: Limits) -> (FrontDoor, Receiver<Publish>) {
    open_for(Access::Anonymous, limits).await
}

/// A front door on a free port, for those who may come.
pub(crate) async fn open_for(access: Access, limits: Limits) -> (FrontDoor, Receiver<Publish>) {
    let listen = ([127, 0, 0, 1], 0).into();
    FrontDoor::open(Settings { listen, access, tls: None, limits }).await.unwrap()
}

/// The next message for the consumer.
pub(crate) async fn next(messages: &mut Receiver<Publish>) -> Publish {
    timeout(HANG, messages.recv()).await.expect("no message came").expect("the front door closed")
}

/// Acknowledges everything for ever.
pub(crate) fn acknowledge_all(mut messages: Receiver<Publish>) {
    tokio::spawn(async move {
        while let Some(publish) = messages.recv().await {
            publish.ack.done();
        }
    });
}

/// A CONNECT to be.
#[derive(Clone)]
pub(crate) struct Hello {
    pub(crate) version: u8,
    pub(crate) client: &'static str,
    pub(crate) clean: bool,
    pub(crate) keep_alive: u16,
    /// Encoded MQTT 5 properties.
    pub(crate) properties: Vec<u8>,
    /// Topic, payload, QoS, retain.
    pub(crate) will: Option<(&'static str, &'static str, u8, bool)>,
    /// User name and password.
    pub(crate) user: Option<&'static str>,
    pub(crate) password: Option<&'static str>,
}

pub(crate) fn v3(client: &'static str) -> Hello {
    Hello {
        version: 4,
        client,
        clean: true,
        keep_alive: 0,
        properties: vec![],
        will: None,
        user: None,
        password: None,
    }
}

pub(crate) fn v5(client: &'static str) -> Hello {
    Hello { version: 5, ..v3(client) }
}

pub(crate) fn text(text: &str) -> Vec<u8> {
    [&(text.len() as u16).to_be_bytes()[..], text.as_bytes()].concat()
}

/// First byte, remaining length, body.
pub(crate) fn packet(first: u8, body: &[u8]) -> Vec<u8> {
    let mut out = vec![first];
    let mut length = body.len();
    loop {
        let more = length > 127;
        out.push((length % 128) as u8 | if more { 128 } else { 0 });
        length /= 128;
        if !more {
            return [out, body.to_vec()].concat();
        }
    }
}

impl Hello {
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let mut flags = u8::from(self.clean) << 1;
        let mut tail = text(self.client);
        if let Some((topic, payload, qos, retain)) = self.will {
            flags |= 4 | qos << 3 | u8::from(retain) << 5;
            if self.version == 5 {
                tail.push(0);
            }
            tail.extend([text(topic), text(payload)].concat());
        }
        for (given, flag) in [(self.user, 0x80), (self.password, 0x40)] {
            let Some(given) = given else { continue };
            flags |= flag;
            tail.extend(text(given));
        }
        let mut body = [text("MQTT"), vec![self.version, flags]].concat();
        body.extend(self.keep_alive.to_be_bytes());
        if self.version == 5 {
            body.push(self.properties.len() as u8);
            body.extend(&self.properties);
        }
        packet(0x10, &[body, tail].concat())
    }
}

/// The same client with user name and password.
pub(crate) fn as_user(user: &'static str, password: &'static str, hello: Hello) -> Hello {
    Hello { user: Some(user), password: Some(password), ..hello }
}

/// PUBLISH for 3.1.1; `first` carries QoS, DUP and RETAIN (0x32 = QoS 1).
pub(crate) fn publish(first: u8, topic: &str, id: u16, payload: &str) -> Vec<u8> {
    let id = if first & 6 == 0 { vec![] } else { id.to_be_bytes().to_vec() };
    packet(first, &[text(topic), id, payload.as_bytes().to_vec()].concat())
}

/// PUBLISH for MQTT 5 with encoded properties.
pub(crate) fn publish5(first: u8, topic: &str, id: u16, properties: &[u8], payload: &str) -> Vec<u8> {
    let id = if first & 6 == 0 { vec![] } else { id.to_be_bytes().to_vec() };
    let properties = [&[properties.len() as u8][..], properties].concat();
    packet(first, &[text(topic), id, properties, payload.as_bytes().to_vec()].concat())
}

pub(crate) fn subscribe(id: u16, filter: &str, options: u8) -> Vec<u8> {
    packet(0x82, &[id.to_be_bytes().to_vec(), text(filter), vec![options]].concat())
}

pub(crate) fn subscribe5(id: u16, filter: &str, options: u8) -> Vec<u8> {
    packet(0x82, &[id.to_be_bytes().to_vec(), vec![0], text(filter), vec![options]].concat())
}

pub(crate) fn puback(id: u16) -> Vec<u8> {
    packet(0x40, &id.to_be_bytes())
}

pub(crate) const PING: [u8; 2] = [0xC0, 0];
pub(crate) const PONG: [u8; 2] = [0xD0, 0];
pub(crate) const GOODBYE: [u8; 2] = [0xE0, 0];

/// A socket, or TLS over one.
pub(crate) trait Socket: AsyncRead + AsyncWrite + Unpin + Send {}
impl<S: AsyncRead + AsyncWrite + Unpin + Send> Socket for S {}

/// One socket to the front door.
pub(crate) struct Client {
    pub(crate) stream: Box<dyn Socket>,
}

impl Client {
    pub(crate) async fn raw(door: &FrontDoor) -> Client {
        Client::over(TcpStream::connect(door.local_addr()).await.unwrap())
    }

    pub(crate) fn over(stream: impl Socket + 'static) -> Client {
        Client { stream: Box::new(stream) }
    }

    /// Connects and returns the client and its CONNACK.
    pub(crate) async fn connect(door: &FrontDoor, hello: &Hello) -> (Client, Vec<u8>) {
        let mut client = Client::raw(door).await;
        let connack = client.enter(hello).await;
        (client, connack)
    }

    /// Sends CONNECT and returns the CONNACK, which accepts.
    pub(crate) async fn enter(&mut self, hello: &Hello) -> Vec<u8> {
        self.send(&hello.bytes()).await;
        let connack = self.packet().await.expect("CONNACK");
        assert_eq!((connack[0], connack[3]), (0x20, 0), "not accepted: {connack:?}");
        connack
    }

    pub(crate) async fn connected(door: &FrontDoor, hello: &Hello) -> Client {
        Client::connect(door, hello).await.0
    }

    pub(crate) async fn send(&mut self, bytes: &[u8]) {
        timeout(HANG, self.stream.write_all(bytes)).await.expect("the front door does not read").unwrap();
    }

    /// The next whole packet; `None` when the connection has ended.
    pub(crate) async fn packet(&mut self) -> Option<Vec<u8>> {
        timeout(HANG, self.read_packet()).await.expect("nothing came")
    }

    async fn read_packet(&mut self) -> Option<Vec<u8>> {
        let mut bytes = vec![self.stream.read_u8().await.ok()?];
        let (mut length, mut shift) = (0, 0);
        loop {
            let byte = self.stream.read_u8().await.ok()?;
            bytes.push(byte);
            length |= usize::from(byte & 127) << shift;
            shift += 7;
            if byte < 128 {
                break;
            }
        }
        let mut body = vec![0; length];
        self.stream.read_exact(&mut body).await.ok()?;
        Some([bytes, body].concat())
    }

    pub(crate) async fn expect(&mut self, bytes: &[u8]) {
        let came = self.packet().await;
        assert_eq!(came.as_deref(), Some(bytes));
    }

    /// Nothing more comes before the answer to a ping.
    pub(crate) async fn expect_quiet(&mut self) {
        self.send(&PING).await;
        self.expect(&PONG).await;
    }

    /// Subscribes with one filter at the given QoS and expects it granted.
    pub(crate) async fn subscribed(&mut self, filter: &str, qos: u8) {
        self.send(&subscribe(9, filter, qos)).await;
        self.expect(&[0x90, 3, 0, 9, qos]).await;
    }

    /// Leaves and waits until the front door has closed the connection.
    pub(crate) async fn leave(mut self) {
        self.send(&GOODBYE).await;
        while self.packet().await.is_some() {}
    }
}

/// A client that comes now gets the acknowledgement of its message; the consumer must be acknowledging.
pub(crate) async fn still_serves(door: &FrontDoor) {
    let mut fresh = Client::connected(door, &v3("fresh")).await;
    fresh.send(&publish(0x32, "fresh", 1, "x")).await;
    fresh.expect(&puback(1)).await;
    fresh.leave().await;
}
