//! The first packet: CONNECT, which fixes the version and everything that holds for the connection.

use crate::access::Secret;
use crate::checks::{self, Fault, code};
use crate::message::Will;
use crate::packet::{Version, WillParts, refused, will};
use mqtt_protocol_core::mqtt::connection::RawPacket;
use mqtt_protocol_core::mqtt::packet::{Property, v3_1_1, v5_0};
use std::sync::Arc;
use std::time::Duration;

/// Most bytes of a client id; the standard asks for 23 at least.
const CLIENT_BYTES: usize = 512;

/// What a client asks for.
#[derive(Debug)]
pub(crate) struct Connect {
    pub(crate) version: Version,
    pub(crate) client: Arc<str>,
    /// The client gave no id and must be told the one it got (MQTT 5).
    pub(crate) assigned: bool,
    pub(crate) clean: bool,
    /// Silence after which the client counts as lost; none if it asked for none.
    pub(crate) patience: Option<Duration>,
    /// Seconds that the session outlives the connection; `u32::MAX` = without end.
    pub(crate) expiry: u32,
    pub(crate) receive_maximum: u16,
    pub(crate) packet_maximum: u32,
    pub(crate) will: Option<Will>,
    pub(crate) user: Option<Box<str>>,
    pub(crate) password: Option<Secret>,
}

/// A CONNECT that is answered with a refusal, or not answered at all.
#[derive(Debug)]
pub(crate) struct Refused {
    /// How to word the CONNACK; `None` = close without a word, as the standard wants for what is not MQTT.
    pub(crate) answer: Option<Version>,
    pub(crate) fault: Fault,
    /// Already counted and logged by what refused it.
    pub(crate) counted: bool,
}

impl Refused {
    pub(crate) fn silent(fault: Fault) -> Self {
        Refused { answer: None, fault, counted: false }
    }
}

/// Reads the CONNECT; `fresh_id` is for a client without an id.
pub(crate) fn decode(raw: &RawPacket, fresh_id: impl FnOnce() -> String) -> Result<Connect, Refused> {
    if raw.packet_type() != 1 {
        return Err(Refused::silent(Fault::protocol("first packet is not CONNECT")));
    }
    checks::flags(1, raw.flags()).map_err(Refused::silent)?;
    let data = raw.data_as_slice();
    let version = version(data)?;
    connect_flags(version, data).map_err(Refused::silent)?;
    let refuse = |fault| Refused { answer: Some(version), fault, counted: false };
    let connect = match version {
        Version::V311 => v311(raw, fresh_id),
        Version::V5 => v5(raw, fresh_id),
    };
    connect.map_err(refuse)
}

fn version(data: &[u8]) -> Result<Version, Refused> {
    let unknown = Fault { code: code::VERSION, why: "protocol version is neither 3.1.1 nor 5" };
    match data {
        [0, 4, b'M', b'Q', b'T', b'T', 4, ..] => Ok(Version::V311),
        [0, 4, b'M', b'Q', b'T', b'T', 5, ..] => Ok(Version::V5),
        [0, 4, b'M', b'Q', b'T', b'T', _, ..] | [0, 6, b'M', b'Q', b'I', b's', b'd', b'p', ..] => {
            Err(Refused { answer: Some(Version::V311), fault: unknown, counted: false })
        }
        _ => Err(Refused::silent(Fault::protocol("not MQTT"))),
    }
}

/// The flags byte must agree with itself; the crate reads it without judging it.
fn connect_flags(version: Version, data: &[u8]) -> Result<(), Fault> {
    let Some(flags) = data.get(7) else { return Err(Fault::malformed("CONNECT cut short")) };
    let (will, will_qos, will_retain) = (flags & 4 != 0, (flags >> 3) & 3, flags & 0x20 != 0);
    if flags & 1 != 0 || will_qos == 3 || (!will && (will_qos != 0 || will_retain)) {
        return Err(Fault::malformed("CONNECT flags"));
    }
    let (user, password) = (flags & 0x80 != 0, flags & 0x40 != 0);
    if version == Version::V311 && password && !user {
        return Err(Fault::malformed("password without a user name"));
    }
    Ok(())
}

fn v311(raw: &RawPacket, fresh_id: impl FnOnce() -> String) -> Result<Connect, Fault> {
    let packet = raw.parse_exact(v3_1_1::Connect::parse).map_err(refused)?;
    texts(packet.client_id(), packet.user_name())?;
    let clean = packet.clean_session();
    if packet.client_id().is_empty() && !clean {
        return Err(Fault { code: code::CLIENT_ID, why: "a session to keep needs a client id" });
    }
    let (client, _) = client_id(packet.client_id(), fresh_id)?;
    let parts = packet.will_topic().map(|topic| WillParts {
        topic,
        payload: packet.will_payload().unwrap_or_default(),
        qos: packet.will_qos() as u8,
        retain: packet.will_retain(),
        properties: &[],
    });
    Ok(Connect {
        version: Version::V311,
        will: parts.map(|parts| will(&client, parts)).transpose()?,
        user: packet.user_name().map(Into::into),
        password: packet.password().map(Secret::new),
        client,
        assigned: false,
        clean,
        patience: patience(packet.keep_alive()),
        expiry: if clean { 0 } else { u32::MAX },
        receive_maximum: u16::MAX,
        packet_maximum: u32::MAX,
    })
}

fn v5(raw: &RawPacket, fresh_id: impl FnOnce() -> String) -> Result<Connect, Fault> {
    let packet = raw.parse_exact(v5_0::Connect::parse).map_err(refused)?;
    texts(packet.client_id(), packet.user_name())?;
    if packet.will_qos() as u8 > 1 {
        return Err(Fault { code: code::QOS, why: "will with QoS 2; the most is 1" });
    }
    let (client, assigned) = client_id(packet.client_id(), fresh_id)?;
    let parts = packet.will_topic().map(|topic| WillParts {
        topic,
        payload: packet.will_payload().unwrap_or_default(),
        qos: packet.will_qos() as u8,
        retain: packet.will_retain(),
        properties: packet.will_props(),
    });
    let mut connect = Connect {
        version: Version::V5,
        will: parts.map(|parts| will(&client, parts)).transpose()?,
        user: packet.user_name().map(Into::into),
        password: packet.password().map(Secret::new),
        client,
        assigned,
        clean: packet.clean_start(),
        patience: patience(packet.keep_alive()),
        expiry: 0,
        receive_maximum: u16::MAX,
        packet_maximum: u32::MAX,
    };
    let has_method = packet.props().iter().any(|p| matches!(p, Property::AuthenticationMethod(_)));
    for property in packet.props() {
        match property {
            Property::SessionExpiryInterval(value) => connect.expiry = value.val(),
            Property::ReceiveMaximum(value) => connect.receive_maximum = value.val(),
            Property::MaximumPacketSize(value) => connect.packet_maximum = value.val(),
            Property::AuthenticationMethod(_) => {
                return Err(Fault { code: code::AUTH_METHOD, why: "no authentication method is served" });
            }
            Property::AuthenticationData(_) if !has_method => {
                return Err(Fault::protocol("authentication data without a method"));
            }
            _ => {}
        }
    }
    Ok(connect)
}

fn texts(client: &str, user: Option<&str>) -> Result<(), Fault> {
    checks::no_nul(client)?;
    checks::no_nul(user.unwrap_or_default())
}

fn client_id(given: &str, fresh_id: impl FnOnce() -> String) -> Result<(Arc<str>, bool), Fault> {
    // Client ids are kept with sessions and written to the log, so neither their size nor a line break is free.
    if given.len() > CLIENT_BYTES || given.contains(char::is_control) {
        return Err(Fault { code: code::CLIENT_ID, why: "client id too long or with a control character" });
    }
    Ok(if given.is_empty() { (fresh_id().into(), true) } else { (given.into(), false) })
}

/// One and a half times the keep-alive, as the standard says.
fn patience(keep_alive: u16) -> Option<Duration> {
    (keep_alive > 0).then(|| Duration::from_millis(u64::from(keep_alive) * 1_500))
}
