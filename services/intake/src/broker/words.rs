//! Why the broker is away, in words that name the cure.

use super::tls_words;
use rumqttc::mqttbytes;
use rumqttc::{ConnectReturnCode, ConnectionError, StateError, TlsError};
use std::io;

/// The reason to show for a failed or lost connection to `at` ("host:port").
pub(super) fn away(at: &str, error: &ConnectionError) -> String {
    match error {
        ConnectionError::Io(io) | ConnectionError::MqttState(StateError::Io(io)) => io_words(at, io),
        ConnectionError::MqttState(StateError::Deserialization(mqttbytes::Error::Io(io))) => io_words(at, io),
        ConnectionError::Tls(TlsError::Io(io)) => tls_words::handshake(at, io),
        ConnectionError::Tls(TlsError::DNSName(_)) => {
            format!("{at} is no name that a certificate could carry; correct host in [mqtt.broker]")
        }
        ConnectionError::ConnectionRefused(
            ConnectReturnCode::BadUserNamePassword | ConnectReturnCode::NotAuthorized,
        ) => format!(
            "the broker at {at} refuses user name or password; correct username and password in [mqtt.broker]"
        ),
        ConnectionError::ConnectionRefused(ConnectReturnCode::BadClientId) => {
            format!("the broker at {at} refuses our client id; choose another client_id in [mqtt.broker]")
        }
        ConnectionError::ConnectionRefused(code) => {
            format!("the broker at {at} refuses the connection ({code:?}); see the broker's own log")
        }
        ConnectionError::NetworkTimeout | ConnectionError::FlushTimeout => timeout(at),
        ConnectionError::MqttState(StateError::AwaitPingResp) => {
            format!("the broker at {at} has gone silent; check the network between here and there")
        }
        ConnectionError::MqttState(StateError::ConnectionAborted) => closed(at),
        ConnectionError::NotConnAck(_) => {
            format!("what answers at {at} does not speak MQTT; correct port in [mqtt.broker]")
        }
        other if malformed(other) => format!(
            "the broker at {at} sends what is not MQTT 3.1.1 ({other}); see the broker's own log and what lies between"
        ),
        other => format!("the connection to the broker at {at} failed ({other}); see the broker's own log"),
    }
}

/// The broker took our subscription and never answered it.
pub(super) fn no_suback(at: &str) -> String {
    format!("the broker at {at} does not confirm our subscription; see the broker's own log")
}

/// The broker grants none of the topics.
pub(super) fn nothing_granted(at: &str, filters: &[String]) -> String {
    format!(
        "the broker at {at} lets us read none of {}; allow them to our user in the broker's access rules",
        filters.join(", ")
    )
}

/// A filter that no broker would take.
pub(super) fn bad_filter(filter: &str) -> String {
    format!(
        "{filter:?} is no topic filter: + stands for one whole level, # for all that follow and only at the end; correct it in [mqtt]"
    )
}

/// Not even a subscription finds room.
pub(super) fn queue_full(at: &str) -> String {
    format!(
        "more waits to be sent to the broker at {at} than the queue holds; see why the broker takes so little"
    )
}

/// Whether it was what the broker sent that broke the connection.
pub(super) fn malformed(error: &ConnectionError) -> bool {
    match error {
        ConnectionError::MqttState(StateError::Deserialization(error)) => {
            !matches!(error, mqttbytes::Error::Io(_) | mqttbytes::Error::OutgoingPacketTooLarge { .. })
        }
        ConnectionError::MqttState(StateError::WrongPacket | StateError::Unsolicited(_)) => true,
        _ => false,
    }
}

fn timeout(at: &str) -> String {
    format!("no answer from {at} in time; check the network, its firewall and host in [mqtt.broker]")
}

fn closed(at: &str) -> String {
    format!(
        "the broker at {at} closed the connection; if this repeats, check that no other client uses our client_id and that this port is not one for TLS only"
    )
}

fn io_words(at: &str, error: &io::Error) -> String {
    if let Some(error) = tls_words::inside(error) {
        return tls_words::away(at, error);
    }
    match error.kind() {
        io::ErrorKind::ConnectionRefused => {
            format!("no broker answers at {at}; start it or correct [mqtt.broker]")
        }
        io::ErrorKind::TimedOut => timeout(at),
        io::ErrorKind::ConnectionReset
        | io::ErrorKind::ConnectionAborted
        | io::ErrorKind::BrokenPipe
        | io::ErrorKind::UnexpectedEof => closed(at),
        _ => format!("{at} cannot be reached ({error}); check the network and host in [mqtt.broker]"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: &str = "tank-room:1883";

    fn io(kind: io::ErrorKind) -> ConnectionError {
        ConnectionError::Io(io::Error::new(kind, "as it happened"))
    }

    #[test]
    fn nobody_listening() {
        assert_eq!(
            away(AT, &io(io::ErrorKind::ConnectionRefused)),
            "no broker answers at tank-room:1883; start it or correct [mqtt.broker]"
        );
    }

    #[test]
    fn wrong_password() {
        for code in [ConnectReturnCode::BadUserNamePassword, ConnectReturnCode::NotAuthorized] {
            let words = away(AT, &ConnectionError::ConnectionRefused(code));
            assert!(
                words.starts_with("the broker at tank-room:1883 refuses user name or password; correct"),
                "{words}"
            );
        }
    }

    #[test]
    fn both_timeouts_read_the_same() {
        let words = away(AT, &ConnectionError::NetworkTimeout);
        assert!(words.starts_with("no answer from tank-room:1883"), "{words}");
        assert_eq!(words, away(AT, &io(io::ErrorKind::TimedOut)));
    }

    #[test]
    fn anything_else_still_names_the_place_and_the_fault() {
        let words = away(AT, &io(io::ErrorKind::Other));
        assert!(words.contains(AT) && words.contains("as it happened"), "{words}");
        let words = away(AT, &ConnectionError::RequestsDone);
        assert!(words.contains(AT) && words.contains("Requests done"), "{words}");
    }

    #[test]
    fn what_is_not_mqtt_is_told_from_a_broken_line() {
        let error = |e| ConnectionError::MqttState(StateError::Deserialization(e));
        let garbage = error(mqttbytes::Error::InvalidPacketType(15));
        assert!(malformed(&garbage));
        assert!(away(AT, &garbage).contains("not MQTT 3.1.1 (") && away(AT, &garbage).contains("15"));
        assert!(!malformed(&error(mqttbytes::Error::Io(io::ErrorKind::ConnectionReset.into()))));
        assert!(!malformed(&ConnectionError::NetworkTimeout));
    }
}
