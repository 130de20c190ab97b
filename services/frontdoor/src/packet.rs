//! Packets from clients: the protocol crate parses, [`crate::checks`] adds what it lets through.

use crate::checks::{self, Fault, code};
use crate::message::{Message, Will};
use bytes::Bytes;
use mqtt_protocol_core::mqtt::connection::{PacketData, RawPacket};
use mqtt_protocol_core::mqtt::packet::{Property, Qos, SubEntry, v3_1_1, v5_0};
use mqtt_protocol_core::mqtt::result_code::MqttError;
use std::sync::Arc;

/// Protocol version, from CONNECT.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Version {
    V311,
    V5,
}

/// A packet that a client may send.
#[derive(Debug)]
pub(crate) enum Packet {
    Publish(Incoming),
    Puback(u16),
    Subscribe(u16, Vec<Filter>),
    Unsubscribe(u16, Vec<String>),
    Pingreq,
    Disconnect { with_will: bool, expiry: Option<u32> },
}

/// A message as it came.
#[derive(Debug)]
pub(crate) struct Incoming {
    pub(crate) topic: String,
    pub(crate) payload: Bytes,
    pub(crate) qos: u8,
    pub(crate) retain: bool,
    pub(crate) dup: bool,
    /// 0 for QoS 0.
    pub(crate) id: u16,
    pub(crate) properties: Bytes,
    /// Message expiry in seconds.
    pub(crate) expiry: Option<u32>,
}

/// One entry of a SUBSCRIBE.
#[derive(Debug)]
pub(crate) struct Filter {
    pub(crate) filter: String,
    pub(crate) options: Options,
}

/// How a subscription wants its messages.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Options {
    /// Granted: 0 or 1.
    pub(crate) qos: u8,
    pub(crate) no_local: bool,
    pub(crate) retain_as_published: bool,
    /// 0 always, 1 only for a new subscription, 2 never.
    pub(crate) retain_handling: u8,
}

/// Turns a whole packet of a connected client into its meaning.
pub(crate) fn decode(version: Version, raw: &RawPacket) -> Result<Packet, Fault> {
    checks::flags(raw.packet_type(), raw.flags())?;
    match raw.packet_type() {
        1 => Err(Fault::protocol("second CONNECT")),
        3 => publish(version, raw).map(Packet::Publish),
        4 => puback(version, raw).map(Packet::Puback),
        8 => subscribe(version, raw),
        10 => unsubscribe(version, raw),
        12 if raw.remaining_length() == 0 => Ok(Packet::Pingreq),
        14 => disconnect(version, raw),
        5..=7 => Err(Fault::protocol("part of a QoS 2 exchange that was never begun")),
        _ => Err(Fault::protocol("packet that a client never sends")),
    }
}

/// What the crate found; its error names are close enough to the reason codes.
pub(crate) fn refused(error: MqttError) -> Fault {
    match error {
        MqttError::ProtocolError => Fault::protocol("protocol error"),
        MqttError::ClientIdentifierNotValid => Fault { code: code::CLIENT_ID, why: "client id is not valid" },
        _ => Fault::malformed("malformed packet"),
    }
}

fn whole<T>(raw: &RawPacket, parse: impl FnOnce(&[u8]) -> Result<(T, usize), MqttError>) -> Result<T, Fault> {
    raw.parse_exact(parse).map_err(refused)
}

fn publish(version: Version, raw: &RawPacket) -> Result<Incoming, Fault> {
    let PacketData::Publish(data) = &raw.data else { return Err(Fault::malformed("empty PUBLISH")) };
    let mut came = match version {
        Version::V311 => {
            let (p, _) = v3_1_1::Publish::parse(raw.flags(), Arc::clone(data)).map_err(refused)?;
            incoming(p.topic_name(), p.payload().as_slice(), p.qos(), p.packet_id())
        }
        Version::V5 => {
            let (p, _) = v5_0::Publish::parse(raw.flags(), Arc::clone(data)).map_err(refused)?;
            let header = 2 + p.topic_name().len() + if p.qos() == Qos::AtMostOnce { 0 } else { 2 };
            if data.len() <= header {
                return Err(Fault::malformed("PUBLISH without a property length"));
            }
            publish_properties(&p.props)?;
            travelling(&p.props)?;
            let (properties, expiry) = forwarded(&p.props);
            Incoming {
                properties,
                expiry,
                ..incoming(p.topic_name(), p.payload().as_slice(), p.qos(), p.packet_id())
            }
        }
    };
    came.retain = raw.flags() & 1 != 0;
    came.dup = raw.flags() & 8 != 0;
    judged(came)
}

fn incoming(topic: &str, payload: &[u8], qos: Qos, id: Option<u16>) -> Incoming {
    let payload = Bytes::copy_from_slice(payload);
    let (topic, qos, id) = (topic.to_owned(), qos as u8, id.unwrap_or(0));
    Incoming { topic, payload, qos, retain: false, dup: false, id, properties: Bytes::new(), expiry: None }
}

fn judged(came: Incoming) -> Result<Incoming, Fault> {
    checks::topic_name(&came.topic)?;
    match came.qos {
        0 if came.dup => return Err(Fault::malformed("QoS 0 with DUP")),
        0 => {}
        1 => drop(checks::packet_id(came.id)?),
        _ => return Err(Fault { code: code::QOS, why: "QoS 2 is not served: publish with QoS 1" }),
    }
    Ok(came)
}

fn publish_properties(properties: &[Property]) -> Result<(), Fault> {
    for property in properties {
        match property {
            Property::TopicAlias(_) => {
                return Err(Fault { code: code::TOPIC_ALIAS, why: "topic alias; none is allowed" });
            }
            Property::SubscriptionIdentifier(_) => {
                return Err(Fault::protocol("subscription identifier from a client"));
            }
            _ => {}
        }
    }
    Ok(())
}

/// What travels on to subscribers must be good, or they would end their connections.
fn travelling(properties: &[Property]) -> Result<(), Fault> {
    for property in properties {
        match property {
            Property::ResponseTopic(topic) if topic.val().contains(['+', '#']) => {
                return Err(Fault::protocol("wildcard in a response topic"));
            }
            Property::ResponseTopic(text) => checks::no_nul(text.val())?,
            Property::ContentType(text) => checks::no_nul(text.val())?,
            Property::UserProperty(pair) => {
                checks::no_nul(pair.key())?;
                checks::no_nul(pair.val())?;
            }
            _ => {}
        }
    }
    Ok(())
}

/// The properties that travel on to subscribers, encoded, and the expiry.
fn forwarded(properties: &[Property]) -> (Bytes, Option<u32>) {
    let mut encoded = Vec::new();
    let mut expiry = None;
    for property in properties {
        match property {
            Property::MessageExpiryInterval(value) => expiry = Some(value.val()),
            Property::PayloadFormatIndicator(_)
            | Property::ContentType(_)
            | Property::ResponseTopic(_)
            | Property::CorrelationData(_)
            | Property::UserProperty(_) => encoded.extend(property.to_continuous_buffer()),
            _ => {}
        }
    }
    (encoded.into(), expiry)
}

fn puback(version: Version, raw: &RawPacket) -> Result<u16, Fault> {
    if version == Version::V311 {
        return match raw.data_as_slice() {
            [high, low] => checks::packet_id(u16::from_be_bytes([*high, *low])),
            _ => Err(Fault::malformed("PUBACK of a wrong length")),
        };
    }
    // Any answer, success or not, ends the delivery.
    checks::packet_id(whole(raw, v5_0::Puback::parse)?.packet_id())
}

fn subscribe(version: Version, raw: &RawPacket) -> Result<Packet, Fault> {
    let (id, filters) = match version {
        Version::V311 => {
            let packet = whole(raw, v3_1_1::Subscribe::parse)?;
            (
                packet.packet_id(),
                packet.entries().iter().map(|e| entry(version, e)).collect::<Result<_, _>>()?,
            )
        }
        Version::V5 => {
            let packet = whole(raw, v5_0::Subscribe::parse)?;
            if packet.props().iter().any(|p| matches!(p, Property::SubscriptionIdentifier(_))) {
                return Err(Fault {
                    code: code::SUBSCRIPTION_ID,
                    why: "subscription identifiers are not served",
                });
            }
            (
                packet.packet_id(),
                packet.entries().iter().map(|e| entry(version, e)).collect::<Result<_, _>>()?,
            )
        }
    };
    Ok(Packet::Subscribe(checks::packet_id(id)?, filters))
}

fn entry(version: Version, entry: &SubEntry) -> Result<Filter, Fault> {
    let (filter, options) = (entry.topic_filter().to_owned(), entry.sub_opts());
    checks::no_nul(&filter)?;
    let retain_handling = options.rh() as u8;
    if version == Version::V311 && (options.nl() || options.rap() || retain_handling != 0) {
        return Err(Fault::malformed("reserved bits in a requested QoS"));
    }
    if version == Version::V5 && options.nl() && filter.starts_with("$share/") {
        return Err(Fault::protocol("no local on a shared filter"));
    }
    // QoS 2 is granted as 1.
    let qos = (options.qos() as u8).min(1);
    let options =
        Options { qos, no_local: options.nl(), retain_as_published: options.rap(), retain_handling };
    Ok(Filter { filter, options })
}

fn unsubscribe(version: Version, raw: &RawPacket) -> Result<Packet, Fault> {
    let (id, filters): (u16, Vec<String>) = match version {
        Version::V311 => {
            let packet = whole(raw, v3_1_1::Unsubscribe::parse)?;
            (packet.packet_id(), packet.entries().iter().map(|e| e.as_str().to_owned()).collect())
        }
        Version::V5 => {
            let packet = whole(raw, v5_0::Unsubscribe::parse)?;
            (packet.packet_id(), packet.entries().iter().map(|e| e.as_str().to_owned()).collect())
        }
    };
    if filters.is_empty() {
        return Err(Fault::protocol("UNSUBSCRIBE without a filter"));
    }
    filters.iter().try_for_each(|filter| checks::no_nul(filter))?;
    Ok(Packet::Unsubscribe(checks::packet_id(id)?, filters))
}

fn disconnect(version: Version, raw: &RawPacket) -> Result<Packet, Fault> {
    if version == Version::V311 {
        return match raw.remaining_length() {
            0 => Ok(Packet::Disconnect { with_will: false, expiry: None }),
            _ => Err(Fault::malformed("DISCONNECT of a wrong length")),
        };
    }
    let packet = whole(raw, v5_0::Disconnect::parse)?;
    let expiry = packet.props().iter().flatten().find_map(|property| match property {
        Property::SessionExpiryInterval(value) => Some(value.val()),
        _ => None,
    });
    // Every reason but "normal" keeps the will.
    let with_will = raw.data_as_slice().first().is_some_and(|reason| *reason != 0);
    Ok(Packet::Disconnect { with_will, expiry })
}

/// The will of a CONNECT, not yet tied to its moment of publication.
pub(crate) fn will(client: &Arc<str>, parts: WillParts<'_>) -> Result<Will, Fault> {
    checks::topic_name(parts.topic)?;
    travelling(parts.properties)?;
    let (properties, expiry) = forwarded(parts.properties);
    let delay = parts.properties.iter().find_map(|property| match property {
        Property::WillDelayInterval(value) => Some(value.val()),
        _ => None,
    });
    let message = Message {
        topic: parts.topic.into(),
        payload: Bytes::copy_from_slice(parts.payload),
        qos: parts.qos.min(1),
        properties,
        expires: None,
    };
    Ok(Will { client: Arc::clone(client), message, retain: parts.retain, delay: delay.unwrap_or(0), expiry })
}

/// The parts of a will as CONNECT carries them.
#[derive(Clone, Copy)]
pub(crate) struct WillParts<'a> {
    pub(crate) topic: &'a str,
    pub(crate) payload: &'a [u8],
    pub(crate) qos: u8,
    pub(crate) retain: bool,
    pub(crate) properties: &'a [Property],
}
