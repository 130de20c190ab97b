use super::Tls;
use rumqttc::{LastWill, MqttOptions, QoS};
use std::fmt;
use std::time::Duration;

/// The largest packet there can be, in bytes: MQTT 3.1.1, section 2.2.3. All are read, since refusing
/// one would cost the connection, and the broker would send it again on the next.
const LARGEST_PACKET: usize = 268_435_455;

/// A password: it goes to the broker and nowhere else.
#[derive(Clone)]
pub struct Secret(pub(super) String);

impl From<String> for Secret {
    fn from(text: String) -> Self {
        Self(text)
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("(hidden)")
    }
}

/// Everything a session needs to know about its broker.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Name or address of the broker.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// Our name to the broker; the broker keeps our session under it, so it must not change.
    pub client_id: String,
    /// User name, where the broker asks for one.
    pub username: Option<String>,
    /// Password, where the broker asks for one.
    pub password: Option<Secret>,
    /// Encryption, where the broker offers it; without, user name and password can be read on the way.
    pub tls: Option<Tls>,
    /// Topic filters to subscribe, all with quality of service 1.
    pub filters: Vec<String>,
    /// Where "here" and "away" are kept retained.
    pub service_topic: String,
    /// Largest packet sent, in bytes.
    pub packet_limit: usize,
    /// Largest payload handed over whole, in bytes; of a larger one only the beginning is.
    pub message_limit: usize,
    /// How often a silent connection is tried; whole seconds, at least one.
    pub keep_alive: Duration,
    /// How long the broker may take to confirm the subscription.
    pub suback_within: Duration,
    /// Shortest and longest wait between attempts.
    pub back_off: (Duration, Duration),
}

impl Settings {
    /// Settings with the usual limits and no credentials.
    #[must_use]
    pub fn new(host: &str, port: u16, client_id: &str, filters: Vec<String>, service_topic: &str) -> Self {
        Self {
            host: host.to_owned(),
            port,
            client_id: client_id.to_owned(),
            username: None,
            password: None,
            tls: None,
            filters,
            service_topic: service_topic.to_owned(),
            packet_limit: 256 * 1024,
            message_limit: 64 * 1024,
            keep_alive: Duration::from_secs(20),
            suback_within: Duration::from_secs(10),
            back_off: (Duration::from_millis(500), Duration::from_secs(30)),
        }
    }

    /// "host:port", as it is written in messages.
    pub(super) fn at(&self) -> String {
        format!("{}:{}", self.host, self.port)
    }

    pub(super) fn options(&self) -> MqttOptions {
        // A persistent session needs a name, and a keep-alive is sent as 16 bits of seconds.
        let client_id = match self.client_id.as_str() {
            "" => "hatchwarden",
            id => id,
        };
        let (least, most) = (Duration::from_secs(1), Duration::from_secs(u16::MAX.into()));
        let mut options = MqttOptions::new(client_id, &self.host, self.port);
        options
            .set_keep_alive(self.keep_alive.clamp(least, most))
            .set_max_packet_size(LARGEST_PACKET, self.packet_limit)
            .set_clean_session(false)
            .set_manual_acks(true)
            .set_last_will(LastWill::new(&self.service_topic, "away", QoS::AtLeastOnce, true));
        if let Some(tls) = &self.tls {
            options.set_transport(tls.transport());
        }
        if let Some(username) = &self.username {
            let password = self.password.as_ref().map_or("", |Secret(text)| text);
            options.set_credentials(username, password);
        }
        options
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_is_not_printed() {
        let mut settings = Settings::new("h", 1883, "c", Vec::new(), "s");
        settings.password = Some(Secret::from("moonfish".to_owned()));
        let printed = format!("{settings:?}");
        assert!(printed.contains("(hidden)") && !printed.contains("moonfish"));
    }
}
