//! What the protocol crate lets through and the standard does not: packet id 0, wildcards in a topic name, NUL, wrong flags,
//! and our own limits. Pure.

use crate::matching::{FilterFault, check_filter, levels, split_share, valid_topic};
use crate::settings::Limits;

/// A fault of the client that ends its connection.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Fault {
    /// MQTT 5 reason code.
    pub(crate) code: u8,
    /// For the log.
    pub(crate) why: &'static str,
}

/// MQTT 5 reason codes, as the standard numbers them.
pub(crate) mod code {
    pub(crate) const MALFORMED: u8 = 0x81;
    pub(crate) const PROTOCOL: u8 = 0x82;
    pub(crate) const VERSION: u8 = 0x84;
    pub(crate) const CLIENT_ID: u8 = 0x85;
    pub(crate) const BAD_USER: u8 = 0x86;
    pub(crate) const NOT_AUTHORIZED: u8 = 0x87;
    pub(crate) const SHUTTING_DOWN: u8 = 0x8B;
    pub(crate) const AUTH_METHOD: u8 = 0x8C;
    pub(crate) const KEEP_ALIVE: u8 = 0x8D;
    pub(crate) const TAKEN_OVER: u8 = 0x8E;
    pub(crate) const FILTER_INVALID: u8 = 0x8F;
    pub(crate) const TOPIC_INVALID: u8 = 0x90;
    pub(crate) const RECEIVE_MAXIMUM: u8 = 0x93;
    pub(crate) const TOPIC_ALIAS: u8 = 0x94;
    pub(crate) const TOO_LARGE: u8 = 0x95;
    pub(crate) const QUOTA: u8 = 0x97;
    pub(crate) const QOS: u8 = 0x9B;
    pub(crate) const SHARED: u8 = 0x9E;
    pub(crate) const SUBSCRIPTION_ID: u8 = 0xA1;
}

impl Fault {
    pub(crate) const fn malformed(why: &'static str) -> Self {
        Fault { code: code::MALFORMED, why }
    }

    pub(crate) const fn protocol(why: &'static str) -> Self {
        Fault { code: code::PROTOCOL, why }
    }
}

/// The low four bits of the first byte are fixed for every packet but PUBLISH.
pub(crate) fn flags(packet_type: u8, flags: u8) -> Result<(), Fault> {
    let wanted = match packet_type {
        3 => return Ok(()),
        6 | 8 | 10 => 2,
        _ => 0,
    };
    if flags == wanted { Ok(()) } else { Err(Fault::malformed("reserved header flags")) }
}

/// A packet id is never 0.
pub(crate) fn packet_id(id: u16) -> Result<u16, Fault> {
    if id == 0 { Err(Fault::malformed("packet id 0")) } else { Ok(id) }
}

/// Text must not hold a NUL character.
pub(crate) fn no_nul(text: &str) -> Result<(), Fault> {
    if text.contains('\0') { Err(Fault::malformed("NUL character in a string")) } else { Ok(()) }
}

/// A topic name without wildcard or NUL, not empty.
pub(crate) fn topic_name(topic: &str) -> Result<(), Fault> {
    no_nul(topic)?;
    if valid_topic(topic) {
        Ok(())
    } else {
        Err(Fault { code: code::TOPIC_INVALID, why: "empty topic name or wildcard in a topic name" })
    }
}

/// A correct topic that is not taken from clients: its reason code and words.
pub(crate) fn topic_allowed(topic: &str, limits: &Limits) -> Result<(), Fault> {
    if topic.starts_with('$') {
        return Err(Fault {
            code: code::NOT_AUTHORIZED,
            why: "topic starts with $, which is the service's own",
        });
    }
    if topic.len() > limits.topic_bytes || levels(topic) > limits.topic_levels {
        return Err(Fault { code: code::TOPIC_INVALID, why: "topic longer or deeper than the limit" });
    }
    Ok(())
}

/// A filter that may be subscribed to; else the MQTT 5 reason code of its refusal.
pub(crate) fn filter_allowed(filter: &str, v5: bool, limits: &Limits) -> Result<(), u8> {
    if v5 {
        match split_share(filter) {
            Ok((Some(_), inner)) if check_filter(inner).is_ok() => return Err(code::SHARED),
            Ok((None, _)) => {}
            _ => return Err(code::FILTER_INVALID),
        }
    }
    let fault: Result<(), FilterFault> = check_filter(filter);
    if fault.is_err() || filter.len() > limits.topic_bytes || levels(filter) > limits.topic_levels {
        return Err(code::FILTER_INVALID);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_fixed_flags_pass() {
        for (packet, good) in [(1, 0), (4, 0), (6, 2), (8, 2), (10, 2), (12, 0), (14, 0)] {
            assert_eq!(flags(packet, good), Ok(()));
            assert!(flags(packet, good ^ 1).is_err(), "packet type {packet}");
        }
        assert_eq!(flags(3, 0b1011), Ok(()));
    }

    #[test]
    fn topics_beyond_the_limits_are_refused() {
        let limits = Limits { topic_levels: 3, topic_bytes: 10, ..Limits::default() };
        assert_eq!(topic_allowed("a/b/c", &limits), Ok(()));
        assert_eq!(topic_allowed("a/b/c/d", &limits).map_err(|f| f.code), Err(code::TOPIC_INVALID));
        assert_eq!(topic_allowed("abcdefghijk", &limits).map_err(|f| f.code), Err(code::TOPIC_INVALID));
        assert_eq!(topic_allowed("$SYS/a", &limits).map_err(|f| f.code), Err(code::NOT_AUTHORIZED));
    }

    #[test]
    fn filters_are_refused_with_their_reason() {
        let limits = Limits { topic_levels: 3, ..Limits::default() };
        let verdict = |filter| filter_allowed(filter, true, &limits);
        assert_eq!(verdict("a/+/#"), Ok(()));
        assert_eq!(verdict("a/#/b"), Err(code::FILTER_INVALID));
        assert_eq!(verdict("a/b/c/d"), Err(code::FILTER_INVALID));
        assert_eq!(verdict("$share/g/a"), Err(code::SHARED));
        assert_eq!(verdict("$share//a"), Err(code::FILTER_INVALID));
        assert_eq!(filter_allowed("$share/g/a", false, &limits), Ok(()), "3.1.1 knows no shared filters");
    }
}
