//! The few packets of MQTT 3.1.1 that a publisher needs, written by hand so that they cost next to nothing.

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Connects with a clean session and without keep-alive ([MQTT-3.1]).
pub(crate) async fn connect(port: u16, client: &str) -> TcpStream {
    let mut socket = TcpStream::connect(("127.0.0.1", port)).await.unwrap();
    socket.set_nodelay(true).unwrap();
    let mut packet = vec![0x10, 12 + client.len() as u8, 0, 4];
    packet.extend_from_slice(b"MQTT\x04\x02\x00\x00");
    text(&mut packet, client);
    socket.write_all(&packet).await.unwrap();
    let mut answer = [0; 4];
    socket.read_exact(&mut answer).await.unwrap();
    assert_eq!(answer, [0x20, 2, 0, 0], "CONNACK: accepted, no session [MQTT-3.2]");
    socket
}

/// Subscribes and waits for the SUBACK ([MQTT-3.8]).
pub(crate) async fn subscribe(socket: &mut TcpStream, filter: &str, qos: u8) {
    let mut packet = vec![0x82, 5 + filter.len() as u8, 0, 1];
    text(&mut packet, filter);
    packet.push(qos);
    socket.write_all(&packet).await.unwrap();
    let mut answer = [0; 5];
    socket.read_exact(&mut answer).await.unwrap();
    assert_eq!(answer, [0x90, 3, 0, 1, qos], "SUBACK [MQTT-3.9]");
}

/// Adds a QoS 1 PUBLISH ([MQTT-3.3]).
pub(crate) fn publish(out: &mut Vec<u8>, topic: &str, payload: &str, id: u16) {
    let length = 4 + topic.len() + payload.len();
    assert!(length < 16_384, "two bytes of remaining length");
    out.push(0x32);
    if length < 128 {
        out.push(length as u8);
    } else {
        out.extend_from_slice(&[(length % 128) as u8 | 0x80, (length / 128) as u8]);
    }
    text(out, topic);
    out.extend_from_slice(&id.to_be_bytes());
    out.extend_from_slice(payload.as_bytes());
}

fn text(out: &mut Vec<u8>, text: &str) {
    out.extend_from_slice(&(text.len() as u16).to_be_bytes());
    out.extend_from_slice(text.as_bytes());
}

/// The packet id of message number `n` of a connection: 1 to 65,535 and round again.
pub(crate) fn id_of(n: usize) -> u16 {
    (n % 65_535) as u16 + 1
}

/// Cuts PUBACKs out of what comes in and checks that they come in order ([MQTT-4.6.0-2]).
#[derive(Debug, Default)]
pub(crate) struct Acks {
    part: Vec<u8>,
    seen: usize,
}

impl Acks {
    /// Takes bytes in; how many PUBACKs were completed by them.
    pub(crate) fn feed(&mut self, bytes: &[u8]) -> usize {
        self.part.extend_from_slice(bytes);
        let whole = self.part.len() / 4;
        for (i, ack) in self.part[..whole * 4].chunks_exact(4).enumerate() {
            let [high, low] = id_of(self.seen + i).to_be_bytes();
            assert_eq!(ack, [0x40, 2, high, low], "PUBACK number {}", self.seen + i);
        }
        self.part.drain(..whole * 4);
        self.seen += whole;
        whole
    }
}
