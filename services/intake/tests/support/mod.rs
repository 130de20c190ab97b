//! A broker that says what the test tells it to, byte by byte.

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};

/// Waits, but not for ever for what never comes.
pub async fn in_time<T>(awaited: impl Future<Output = T>) -> T {
    let patience = std::time::Duration::from_secs(60);
    tokio::time::timeout(patience, awaited).await.expect("what is awaited never comes")
}

/// One packet from the client.
#[derive(Debug, PartialEq, Eq)]
pub enum Heard {
    Connect,
    Subscribe { id: u16, filters: Vec<String> },
    Publish { topic: String, payload: Vec<u8>, retain: bool },
    PubAck(u16),
    Disconnect,
}

pub struct Broker(TcpListener);

impl Broker {
    pub async fn start() -> (Self, u16) {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        (Self(listener), port)
    }

    /// Takes the next connection and answers its CONNECT.
    pub async fn accept(&self, session_present: bool) -> Peer {
        let (stream, _) = in_time(self.0.accept()).await.unwrap();
        let mut peer = Peer(stream);
        assert_eq!(peer.hear().await, Heard::Connect);
        peer.say(&[0x20, 2, u8::from(session_present), 0]).await;
        peer
    }

    /// Takes the next connection and refuses it.
    pub async fn refuse(&self, code: u8) {
        let (stream, _) = in_time(self.0.accept()).await.unwrap();
        let mut peer = Peer(stream);
        peer.hear().await;
        peer.say(&[0x20, 2, 0, code]).await;
    }
}

pub struct Peer(TcpStream);

impl Peer {
    pub async fn say(&mut self, bytes: &[u8]) {
        self.0.write_all(bytes).await.unwrap();
    }

    /// Reads whatever comes; true once the client has gone.
    pub async fn closed(&mut self) -> bool {
        matches!(self.0.read(&mut [0; 256]).await, Ok(0) | Err(_))
    }

    pub async fn suback(&mut self, id: u16, codes: &[u8]) {
        self.say(&suback(id, codes)).await;
    }

    /// Sends a message with quality of service 1, or 0 where `id` is 0.
    pub async fn publish(&mut self, topic: &str, payload: &str, id: u16) {
        self.say(&publication(topic, payload, id)).await;
    }

    /// The next packet; publications are confirmed as they come, pings passed over.
    pub async fn hear(&mut self) -> Heard {
        in_time(self.next()).await
    }

    async fn next(&mut self) -> Heard {
        loop {
            let first = self.0.read_u8().await.unwrap();
            let mut body = vec![0; self.length().await];
            self.0.read_exact(&mut body).await.unwrap();
            match first >> 4 {
                1 => {
                    // After the name "MQTT" and the level come the flags.
                    assert_eq!(body[7] & 2, 0, "the service never asks for a clean session");
                    return Heard::Connect;
                }
                3 => {
                    let (topic, rest) = text(&body);
                    assert_eq!(first & 6, 2, "the service publishes with quality of service 1");
                    self.say(&[0x40, 2, rest[0], rest[1]]).await;
                    return Heard::Publish { topic, payload: rest[2..].to_vec(), retain: first & 1 != 0 };
                }
                4 => return Heard::PubAck(u16::from_be_bytes([body[0], body[1]])),
                8 => return subscribe(&body),
                12 => self.say(&[0xd0, 0]).await,
                14 => return Heard::Disconnect,
                other => panic!("unexpected packet type {other}"),
            }
        }
    }

    async fn length(&mut self) -> usize {
        let (mut length, mut shift) = (0, 0);
        loop {
            let byte = self.0.read_u8().await.unwrap();
            length |= usize::from(byte & 127) << shift;
            shift += 7;
            if byte < 128 {
                return length;
            }
        }
    }
}

fn text(bytes: &[u8]) -> (String, &[u8]) {
    let length = usize::from(u16::from_be_bytes([bytes[0], bytes[1]]));
    let (text, rest) = bytes[2..].split_at(length);
    (String::from_utf8(text.to_vec()).unwrap(), rest)
}

fn subscribe(body: &[u8]) -> Heard {
    let id = u16::from_be_bytes([body[0], body[1]]);
    let mut rest = &body[2..];
    let mut filters = Vec::new();
    while !rest.is_empty() {
        let (filter, after) = text(rest);
        assert_eq!(after[0], 1, "{filter} is asked for with quality of service 1");
        filters.push(filter);
        rest = &after[1..];
    }
    Heard::Subscribe { id, filters }
}

/// A SUBACK.
pub fn suback(id: u16, codes: &[u8]) -> Vec<u8> {
    let mut packet = vec![0x90, u8::try_from(2 + codes.len()).unwrap()];
    packet.extend(id.to_be_bytes());
    packet.extend(codes);
    packet
}

/// A PUBLISH with quality of service 1, or 0 where `id` is 0.
pub fn publication(topic: &str, payload: &str, id: u16) -> Vec<u8> {
    let mut body = u16::try_from(topic.len()).unwrap().to_be_bytes().to_vec();
    body.extend(topic.as_bytes());
    if id > 0 {
        body.extend(id.to_be_bytes());
    }
    body.extend(payload.as_bytes());
    let mut packet = vec![if id > 0 { 0x32 } else { 0x30 }];
    packet.extend(length(body.len()));
    packet.extend(body);
    packet
}

/// A remaining length: seven bits to a byte, the lowest first (MQTT 3.1.1, section 2.2.3).
fn length(mut length: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    loop {
        let low = u8::try_from(length & 127).unwrap();
        length >>= 7;
        if length == 0 {
            bytes.push(low);
            return bytes;
        }
        bytes.push(low | 128);
    }
}
