//! Why the broker is away, in words that name the cure.

use rumqttc::mqttbytes;
use rumqttc::{ConnectReturnCode, ConnectionError, StateError, TlsError};
use rustls::CertificateError;
use std::io;

/// The reason to show for a failed or lost connection to `at` ("host:port").
pub(super) fn away(at: &str, error: &ConnectionError) -> String {
    match error {
        ConnectionError::Io(io) | ConnectionError::MqttState(StateError::Io(io)) => io_words(at, io),
        ConnectionError::MqttState(StateError::Deserialization(mqttbytes::Error::Io(io))) => io_words(at, io),
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
        ConnectionError::Tls(TlsError::Io(io)) => io_words(at, io),
        ConnectionError::Tls(TlsError::TLS(tls)) => tls_words(at, tls),
        ConnectionError::Tls(other) => {
            format!("TLS with the broker at {at} failed ({other}); correct host in [mqtt.broker]")
        }
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

/// What TLS itself says of a connection; a refusal of our certificate comes only after the handshake.
fn tls_words(at: &str, error: &rustls::Error) -> String {
    match error {
        rustls::Error::InvalidCertificate(why) => bad_certificate(at, why),
        rustls::Error::AlertReceived(alert) => format!(
            "the broker at {at} does not accept our certificate ({alert:?}); check certificate and key in [mqtt.broker.tls]"
        ),
        rustls::Error::InvalidMessage(_) => {
            format!(
                "what answers at {at} does not speak TLS; correct port in [mqtt.broker] or take out [mqtt.broker.tls]"
            )
        }
        other => format!("TLS with the broker at {at} failed ({other}); see [mqtt.broker.tls]"),
    }
}

fn bad_certificate(at: &str, why: &CertificateError) -> String {
    match why {
        CertificateError::UnknownIssuer => format!(
            "the broker at {at} shows a certificate of an authority that we do not know; name its authority as ca in [mqtt.broker.tls]"
        ),
        CertificateError::NotValidForName | CertificateError::NotValidForNameContext { .. } => format!(
            "the certificate of the broker at {at} is for another name; write as host the name that stands in it"
        ),
        CertificateError::Expired | CertificateError::ExpiredContext { .. } => {
            format!(
                "the certificate of the broker at {at} has expired; renew it, and check the clock of this machine"
            )
        }
        other => format!("the certificate of the broker at {at} will not do ({other}); renew it"),
    }
}

fn timeout(at: &str) -> String {
    format!("no answer from {at} in time; check the network, its firewall and host in [mqtt.broker]")
}

fn closed(at: &str) -> String {
    format!(
        "the broker at {at} closed the connection; if this repeats, check that no other client uses our client_id"
    )
}

fn io_words(at: &str, error: &io::Error) -> String {
    if let Some(tls) = error.get_ref().and_then(|e| e.downcast_ref()) {
        return tls_words(at, tls);
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
    fn what_is_wrong_with_a_certificate_is_told_with_its_cure() {
        for (why, cure) in [
            (CertificateError::UnknownIssuer, "ca in [mqtt.broker.tls]"),
            (CertificateError::NotValidForName, "another name"),
            (CertificateError::Expired, "expired"),
        ] {
            let error = io::Error::new(io::ErrorKind::InvalidData, rustls::Error::InvalidCertificate(why));
            let words = away(AT, &ConnectionError::Tls(TlsError::Io(error)));
            assert!(words.contains(AT) && words.contains(cure), "{words}");
        }
    }
}
