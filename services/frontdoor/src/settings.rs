//! What an installer may set: where to listen and how much to stand.

use crate::access::{Access, DeviceFault};
use crate::tls::Tls;
use std::net::SocketAddr;
use std::time::Duration;

/// Where the front door listens, to whom, and what it stands.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Address and port; port 0 takes a free one. Loopback only, unless devices have passwords.
    pub listen: SocketAddr,
    /// Who may connect, and what each may publish and subscribe to.
    pub access: Access,
    /// The certificate to show. Without one, passwords and readings cross the network for all to read.
    pub tls: Option<Tls>,
    /// Bounds of everything that grows with what clients send.
    pub limits: Limits,
}

impl Settings {
    /// Everybody on this machine may connect; the usual limits.
    pub fn anonymous(listen: SocketAddr) -> Self {
        Settings { listen, access: Access::Anonymous, tls: None, limits: Limits::default() }
    }
}

/// Bounds of everything that grows with what clients send, so that one bad client never costs the others their service.
///
/// ```
/// let limits = frontdoor::Limits { connections: 50, ..frontdoor::Limits::default() };
/// assert_eq!(limits.unacknowledged, 1_000);
/// ```
#[derive(Debug, Clone)]
pub struct Limits {
    /// Connections at one time; further ones are closed at once. Default 2,000.
    pub connections: usize,
    /// Largest packet accepted, in bytes with its header. Default 64 KiB.
    pub packet_bytes: usize,
    /// A connection must have sent a whole CONNECT within this time. Default 5 s.
    pub connect_within: Duration,
    /// QoS 1 messages of one connection that may wait for their [`crate::Ack`]. MQTT 5 clients are told (receive
    /// maximum); from 3.1.1 clients nothing more is read until an ack is done. It is also the most that is
    /// sent to one subscriber without its acknowledgement. Default 1,000.
    pub unacknowledged: usize,
    /// Topic filters that one client may hold. Default 100.
    pub filters: usize,
    /// Messages that may wait for one subscriber; further ones are dropped and counted. Default 10,000.
    pub queue_messages: usize,
    /// Bytes (topic and payload) that may wait for one subscriber. Default 8 MiB.
    pub queue_bytes: usize,
    /// Persistent sessions, connected or not; a client that asks for one more is refused. Default 1,000.
    pub sessions: usize,
    /// Topics with a retained message; a further topic is not retained. Default 10,000.
    pub retained: usize,
    /// Bytes (topic and payload) of all retained messages. Default 32 MiB.
    pub retained_bytes: usize,
    /// Levels of a topic or filter. Default 16.
    pub topic_levels: usize,
    /// Bytes of a topic or filter. Default 512.
    pub topic_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            connections: 2_000,
            packet_bytes: 64 * 1024,
            connect_within: Duration::from_secs(5),
            unacknowledged: 1_000,
            filters: 100,
            queue_messages: 10_000,
            queue_bytes: 8 * 1024 * 1024,
            sessions: 1_000,
            retained: 10_000,
            retained_bytes: 32 * 1024 * 1024,
            topic_levels: 16,
            topic_bytes: 512,
        }
    }
}

impl Limits {
    /// Limits below which the protocol cannot work are raised: at least one of each, and room for any CONNECT header.
    pub(crate) fn sound(mut self) -> Self {
        self.connections = self.connections.max(1);
        self.packet_bytes = self.packet_bytes.clamp(128, 268_435_460);
        self.unacknowledged = self.unacknowledged.clamp(1, 65_535);
        self.queue_messages = self.queue_messages.max(1);
        // The walk over a filter's levels is recursive, so its depth needs a bound of its own.
        self.topic_levels = self.topic_levels.clamp(1, 512);
        self.topic_bytes = self.topic_bytes.clamp(1, 65_535);
        self
    }
}

/// Why the front door did not open; each names the address and the cure.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Without passwords anything but loopback is refused: everyone on the network could publish readings.
    #[error(
        "listen = \"{listen}\": without device passwords the MQTT front door listens on loopback only; \
         give every device a name, a password and its topics, or use 127.0.0.1:{port} or [::1]:{port}",
        port = listen.port()
    )]
    NotLoopback {
        /// The address that was asked for.
        listen: SocketAddr,
    },
    /// Passwords are asked for and nobody has one.
    #[error(
        "listen = \"{listen}\": devices must sign in, but there is none, so nobody could; \
         give every device a name, a password and its topics"
    )]
    NoDevices {
        /// The address that was asked for.
        listen: SocketAddr,
    },
    /// A device cannot be used as it is given.
    #[error("device \"{device}\": {fault}")]
    Device {
        /// Its name.
        device: String,
        /// What is wrong, and the cure.
        fault: DeviceFault,
    },
    /// Another program holds the port.
    #[error(
        "listen = \"{listen}\": another program already listens on port {port}; stop it, or set another port here \
         and in the devices",
        port = listen.port()
    )]
    Busy {
        /// The address that was asked for.
        listen: SocketAddr,
    },
    /// The system refused for another reason.
    #[error(
        "listen = \"{listen}\": {source}; check that the address exists and that the port may be used by this account"
    )]
    Io {
        /// The address that was asked for.
        listen: SocketAddr,
        /// What the system said.
        source: std::io::Error,
    },
}
