//! Cuts the byte stream into whole packets; one read may hold many.

use crate::checks::{Fault, code};
use crate::link::Close;
use mqtt_protocol_core::mqtt::common::Cursor;
use mqtt_protocol_core::mqtt::connection::{PacketBuildResult, PacketBuilder, RawPacket};
use mqtt_protocol_core::mqtt::result_code::MqttError;
use tokio::io::{AsyncRead, AsyncReadExt};

const FIRST_BYTES: usize = 4 * 1024;
const MOST_BYTES: usize = 64 * 1024;

/// Reads packets from one side of a socket.
pub(crate) struct Reader<R> {
    input: R,
    /// Grows while reads fill it: idle clients stay small, busy ones read much at a time.
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    builder: PacketBuilder,
}

impl<R: AsyncRead + Unpin> Reader<R> {
    pub(crate) fn new(input: R, packet_bytes: usize) -> Self {
        // The builder checks the announced length against this before it takes memory for the packet.
        let builder =
            PacketBuilder::with_maximum_packet_size(u32::try_from(packet_bytes).unwrap_or(u32::MAX));
        Reader { input, buffer: vec![0; FIRST_BYTES], start: 0, end: 0, builder }
    }

    /// The next packet among the bytes already read.
    pub(crate) fn ready(&mut self) -> Result<Option<RawPacket>, Fault> {
        while self.start < self.end {
            let mut cursor = Cursor::new(&self.buffer[self.start..self.end]);
            let built = self.builder.feed(&mut cursor);
            self.start += cursor.position() as usize;
            match built {
                PacketBuildResult::Complete(packet) => return Ok(Some(packet)),
                PacketBuildResult::Incomplete => {}
                PacketBuildResult::Error(MqttError::PacketTooLarge) => {
                    return Err(Fault { code: code::TOO_LARGE, why: "packet larger than the limit" });
                }
                PacketBuildResult::Error(_) => {
                    return Err(Fault::malformed("remaining length of more than four bytes"));
                }
            }
        }
        Ok(None)
    }

    /// Reads more bytes. To be called only when [`Reader::ready`] has nothing left.
    pub(crate) async fn fill(&mut self) -> Result<(), Close> {
        if self.end == self.buffer.len() && self.buffer.len() < MOST_BYTES {
            self.buffer.resize(self.buffer.len() * 2, 0);
        }
        (self.start, self.end) = (0, 0);
        match self.input.read(&mut self.buffer).await {
            Ok(0) | Err(_) => Err(Close::Gone),
            Ok(read) => {
                self.end = read;
                Ok(())
            }
        }
    }

    /// Waits for the first packet, which must be a CONNECT: anything else is known by its first byte and not waited for.
    pub(crate) async fn first(&mut self) -> Result<RawPacket, Close> {
        self.fill().await?;
        if self.buffer[0] >> 4 != 1 {
            return Err(Close::Fault(Fault::protocol("first packet is not CONNECT")));
        }
        loop {
            if let Some(packet) = self.ready().map_err(Close::Fault)? {
                return Ok(packet);
            }
            self.fill().await?;
        }
    }
}
