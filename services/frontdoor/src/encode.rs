//! Packets to clients. Written by hand: they are few and short, cannot fail, and go straight into the write buffer.

use crate::connect::Connect;
use crate::message::Outgoing;
use crate::packet::Version;
use crate::settings::Limits;
use bytes::{BufMut, BytesMut};
use tokio::time::Instant;

/// Variable byte integer: seven bits a byte, lowest first.
pub(crate) fn length(out: &mut BytesMut, mut value: usize) {
    loop {
        let byte = (value & 0x7f) as u8;
        value >>= 7;
        out.put_u8(if value > 0 { byte | 0x80 } else { byte });
        if value == 0 {
            return;
        }
    }
}

/// Bytes that [`length`] writes.
pub(crate) fn length_size(value: usize) -> usize {
    match value {
        0..=0x7f => 1,
        0x80..=0x3fff => 2,
        0x4000..=0x1f_ffff => 3,
        _ => 4,
    }
}

fn string(out: &mut BytesMut, text: &str) {
    // Every string here came in with a 16-bit length, or is our own and short.
    out.put_u16(text.len() as u16);
    out.put_slice(text.as_bytes());
}

/// CONNACK that accepts; MQTT 5 clients are told what is not served.
pub(crate) fn connack(out: &mut BytesMut, connect: &Connect, present: bool, limits: &Limits) {
    if connect.version == Version::V311 {
        return out.put_slice(&[0x20, 2, u8::from(present), 0]);
    }
    let mut properties = BytesMut::new();
    properties.put_u8(0x21); // receive maximum
    properties.put_u16(limits.unacknowledged.min(65_535) as u16);
    properties.put_slice(&[0x24, 1]); // maximum QoS
    properties.put_u8(0x27); // maximum packet size
    properties.put_u32(limits.packet_bytes as u32);
    properties.put_u8(0x22); // topic alias maximum
    properties.put_u16(0);
    properties.put_slice(&[0x29, 0, 0x2A, 0]); // no subscription identifiers, no shared subscriptions
    if connect.assigned {
        properties.put_u8(0x12);
        string(&mut properties, &connect.client);
    }
    out.put_u8(0x20);
    length(out, 2 + length_size(properties.len()) + properties.len());
    out.put_slice(&[u8::from(present), 0]);
    length(out, properties.len());
    out.put_slice(&properties);
}

/// CONNACK that refuses, by an MQTT 5 reason code.
pub(crate) fn connack_refused(out: &mut BytesMut, version: Version, reason: u8) {
    match version {
        Version::V5 => out.put_slice(&[0x20, 3, 0, reason, 0]),
        Version::V311 => out.put_slice(&[0x20, 2, 0, return_code(reason)]),
    }
}

/// The 3.1.1 return code nearest to an MQTT 5 reason.
fn return_code(reason: u8) -> u8 {
    match reason {
        crate::checks::code::VERSION => 1,
        crate::checks::code::CLIENT_ID => 2,
        crate::checks::code::QUOTA => 3,
        crate::checks::code::BAD_USER => 4,
        _ => 5,
    }
}

/// PUBACK; 3.1.1 has no reasons.
pub(crate) fn puback(out: &mut BytesMut, version: Version, id: u16, reason: u8) {
    let id = id.to_be_bytes();
    if version == Version::V5 && reason != 0 {
        out.put_slice(&[0x40, 3, id[0], id[1], reason]);
    } else {
        out.put_slice(&[0x40, 2, id[0], id[1]]);
    }
}

/// SUBACK: a granted QoS or an MQTT 5 reason for each filter, in order.
pub(crate) fn suback(out: &mut BytesMut, version: Version, id: u16, reasons: &[u8]) {
    acknowledgement(out, 0x90, version, id, reasons.len());
    for reason in reasons {
        // 3.1.1 knows only 0x80 as a refusal.
        out.put_u8(if version == Version::V311 { (*reason).min(0x80) } else { *reason });
    }
}

/// UNSUBACK.
pub(crate) fn unsuback(out: &mut BytesMut, version: Version, id: u16, reasons: &[u8]) {
    let reasons = if version == Version::V311 { &[] } else { reasons };
    acknowledgement(out, 0xB0, version, id, reasons.len());
    out.put_slice(reasons);
}

fn acknowledgement(out: &mut BytesMut, first: u8, version: Version, id: u16, reasons: usize) {
    let properties = usize::from(version == Version::V5);
    out.put_u8(first);
    length(out, 2 + properties + reasons);
    out.put_u16(id);
    out.put_bytes(0, properties);
}

/// PINGRESP.
pub(crate) fn pingresp(out: &mut BytesMut) {
    out.put_slice(&[0xD0, 0]);
}

/// DISCONNECT from the server, which only MQTT 5 has.
pub(crate) fn disconnect(out: &mut BytesMut, version: Version, reason: u8) {
    if version == Version::V5 {
        out.put_slice(&[0xE0, 2, reason, 0]);
    }
}

/// A delivery: how it is to be written.
pub(crate) struct Delivery<'a> {
    pub(crate) version: Version,
    pub(crate) outgoing: &'a Outgoing,
    /// Used with QoS 1.
    pub(crate) id: u16,
    pub(crate) dup: bool,
    pub(crate) now: Instant,
}

impl Delivery<'_> {
    fn properties(&self) -> usize {
        self.outgoing.message.properties.len() + if self.outgoing.message.expires.is_some() { 5 } else { 0 }
    }

    fn remaining(&self) -> usize {
        let message = &self.outgoing.message;
        let id = if self.outgoing.qos > 0 { 2 } else { 0 };
        let properties = match self.version {
            Version::V5 => length_size(self.properties()) + self.properties(),
            Version::V311 => 0,
        };
        2 + message.topic.len() + id + properties + message.payload.len()
    }

    /// Bytes of the whole packet.
    pub(crate) fn size(&self) -> usize {
        1 + length_size(self.remaining()) + self.remaining()
    }

    /// Appends the PUBLISH.
    pub(crate) fn write(&self, out: &mut BytesMut) {
        let message = &self.outgoing.message;
        out.reserve(self.size());
        out.put_u8(0x30 | u8::from(self.dup) << 3 | self.outgoing.qos << 1 | u8::from(self.outgoing.retain));
        length(out, self.remaining());
        string(out, &message.topic);
        if self.outgoing.qos > 0 {
            out.put_u16(self.id);
        }
        if self.version == Version::V5 {
            length(out, self.properties());
            if let Some(at) = message.expires {
                out.put_u8(2);
                out.put_u32(at.duration_since(self.now).as_secs().min(u64::from(u32::MAX)) as u32);
            }
            out.put_slice(&message.properties);
        }
        out.put_slice(&message.payload);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_as_the_table_of_the_standard() {
        // OASIS MQTT 5.0 (2019) section 1.5.5, table of the sizes of a variable byte integer.
        let cases: [(usize, &[u8]); 8] = [
            (0, &[0]),
            (127, &[0x7f]),
            (128, &[0x80, 1]),
            (16_383, &[0xff, 0x7f]),
            (16_384, &[0x80, 0x80, 1]),
            (2_097_151, &[0xff, 0xff, 0x7f]),
            (2_097_152, &[0x80, 0x80, 0x80, 1]),
            (268_435_455, &[0xff, 0xff, 0xff, 0x7f]),
        ];
        for (value, bytes) in cases {
            let mut out = BytesMut::new();
            length(&mut out, value);
            assert_eq!(&out[..], bytes);
            assert_eq!(length_size(value), bytes.len());
        }
    }
}
