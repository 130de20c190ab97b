//! Where the broker is.

use std::fmt;
use std::net::SocketAddr;
use std::str::FromStr;

/// Host and port of an MQTT broker.
///
/// ```
/// use sensors_sim::publish::Broker;
/// let broker: Broker = "mqtt://localhost".parse().unwrap();
/// assert_eq!(broker.to_string(), "mqtt://localhost:1883");
/// assert_eq!("mqtt://[::1]:1884".parse::<Broker>().unwrap().to_string(), "mqtt://[::1]:1884");
/// assert!("http://localhost".parse::<Broker>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broker {
    pub(super) host: String,
    pub(super) port: u16,
}

/// Text that is no broker's address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadBroker(String);

impl fmt::Display for BadBroker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} is not a broker; write mqtt://host or mqtt://host:port", self.0)
    }
}

impl std::error::Error for BadBroker {}

impl From<SocketAddr> for Broker {
    fn from(a: SocketAddr) -> Self {
        Self { host: bracketed(&a.ip().to_string()), port: a.port() }
    }
}

/// The client library joins host and port with a colon, so an IPv6 address needs its brackets.
fn bracketed(host: &str) -> String {
    if host.contains(':') && !host.starts_with('[') { format!("[{host}]") } else { host.to_owned() }
}

impl FromStr for Broker {
    type Err = BadBroker;
    fn from_str(text: &str) -> Result<Self, BadBroker> {
        let bad = || BadBroker(text.to_owned());
        let rest = text.trim().strip_prefix("mqtt://").ok_or_else(bad)?.trim_end_matches('/');
        let after_brackets = rest.rfind(']').map_or(0, |i| i + 1);
        let (host, port) = match rest[after_brackets..].rfind(':') {
            Some(i) => {
                let colon = after_brackets + i;
                (&rest[..colon], rest[colon + 1..].parse().map_err(|_| bad())?)
            }
            None => (rest, 1883),
        };
        let wrong = |c: char| c.is_whitespace() || matches!(c, '/' | '@' | '?' | '#');
        if host.is_empty() || port == 0 || host.contains(wrong) {
            return Err(bad());
        }
        Ok(Self { host: host.to_owned(), port })
    }
}

impl fmt::Display for Broker {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "mqtt://{}:{}", self.host, self.port)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_read_or_refused_with_a_cure() {
        let ok = |text: &str| text.parse::<Broker>().unwrap();
        assert_eq!(ok("mqtt://10.0.0.7:1884/"), Broker { host: "10.0.0.7".into(), port: 1884 });
        assert_eq!(ok("mqtt://[::1]").port, 1883);
        assert_eq!(Broker::from("[::1]:9".parse::<SocketAddr>().unwrap()), ok("mqtt://[::1]:9"));
        for bad in
            ["", "localhost", "mqtt://", "mqtt://a:b", "mqtt://a:70000", "mqtt://u:p@h:1", "mqtt://a:0"]
        {
            assert!(bad.parse::<Broker>().unwrap_err().to_string().contains("mqtt://host"), "{bad}");
        }
    }
}
