//! Why no encrypted connection to the broker came about, in words that name the cure.

use rustls::{AlertDescription, CertificateError, Error};
use std::io;

/// The fault of TLS inside an error of the connection, if that is what it is.
pub(super) fn inside(error: &io::Error) -> Option<&Error> {
    error.get_ref()?.downcast_ref()
}

/// The reason to show for a connection that ended before it was encrypted.
pub(super) fn handshake(at: &str, error: &io::Error) -> String {
    match inside(error) {
        Some(error) => away(at, error),
        None => format!(
            "the broker at {at} ended the connection before it was encrypted ({error}); name its TLS port (often 8883)"
        ),
    }
}

/// The reason to show for it; `at` is "host:port".
pub(super) fn away(at: &str, error: &Error) -> String {
    match error {
        Error::InvalidCertificate(fault) => certificate(at, fault),
        Error::AlertReceived(alert) => refused(at, *alert),
        Error::InvalidMessage(_)
        | Error::InappropriateMessage { .. }
        | Error::InappropriateHandshakeMessage { .. } => {
            format!("what answers at {at} does not speak TLS; name the broker's TLS port (often 8883)")
        }
        Error::PeerIncompatible(why) => {
            format!("the broker at {at} offers no TLS 1.2 or 1.3 that we share ({why:?}); renew the broker")
        }
        other => format!("no encrypted connection to the broker at {at} ({other}); see the broker's own log"),
    }
}

fn certificate(at: &str, fault: &CertificateError) -> String {
    let broker = format!("the certificate of the broker at {at}");
    match fault {
        CertificateError::Expired | CertificateError::ExpiredContext { .. } => {
            format!("{broker} has expired; renew it there, or set the clock here if that is wrong")
        }
        CertificateError::NotValidYet | CertificateError::NotValidYetContext { .. } => {
            format!("{broker} is not valid yet; set the clock here if that is wrong")
        }
        CertificateError::NotValidForName => other_name(&broker, ""),
        CertificateError::NotValidForNameContext { presented, .. } => {
            other_name(&broker, &format!(" but to {}", presented.join(", ")))
        }
        CertificateError::UnknownIssuer => format!(
            "{broker} is signed by no authority that counts here; name the file with the certificate of the one that signed it as ca in [mqtt.broker.tls]"
        ),
        other => format!("{broker} cannot be accepted ({other}); have a sound one made for it"),
    }
}

fn other_name(broker: &str, but: &str) -> String {
    format!(
        "{broker} is not made out to this host{but}; set host in [mqtt.broker] to a name it carries, or have one made for this host"
    )
}

fn refused(at: &str, alert: AlertDescription) -> String {
    match alert {
        AlertDescription::CertificateRequired | AlertDescription::NoCertificate => {
            format!(
                "the broker at {at} asks for a client certificate; name ours as certificate and its key as key in [mqtt.broker.tls]"
            )
        }
        AlertDescription::BadCertificate
        | AlertDescription::UnsupportedCertificate
        | AlertDescription::CertificateRevoked
        | AlertDescription::CertificateExpired
        | AlertDescription::CertificateUnknown
        | AlertDescription::UnknownCA
        | AlertDescription::AccessDenied => format!(
            "the broker at {at} does not accept our client certificate ({alert:?}); use one that is valid and signed by an authority it knows"
        ),
        // What TLS 1.2 says to a client without a certificate, and both versions to much else.
        _ => format!(
            "the broker at {at} breaks off the encrypted connection ({alert:?}); see its own log, and whether it asks for a client certificate"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: &str = "tank-room:8883";

    fn wrapped(error: Error) -> io::Error {
        io::Error::new(io::ErrorKind::InvalidData, error)
    }

    #[test]
    fn faults_of_tls_are_told_from_those_of_the_line() {
        let error = wrapped(Error::DecryptError);
        assert_eq!(inside(&error), Some(&Error::DecryptError));
        assert!(inside(&io::ErrorKind::ConnectionReset.into()).is_none());
        assert!(inside(&io::Error::other("anything")).is_none());
    }

    #[test]
    fn a_certificate_from_the_future_points_to_the_clock() {
        let words = away(AT, &Error::InvalidCertificate(CertificateError::NotValidYet));
        assert!(words.contains(AT) && words.contains("not valid yet; set the clock"), "{words}");
    }

    #[test]
    fn a_missing_and_a_refused_client_certificate_read_differently() {
        let missing = away(AT, &Error::AlertReceived(AlertDescription::CertificateRequired));
        let refused = away(AT, &Error::AlertReceived(AlertDescription::UnknownCA));
        assert!(missing.contains("asks for a client certificate; name ours"), "{missing}");
        assert!(refused.contains("does not accept our client certificate (UnknownCA)"), "{refused}");
    }

    #[test]
    fn anything_else_still_names_the_place_and_the_fault() {
        let words = away(AT, &Error::DecryptError);
        assert!(words.contains(AT) && words.contains("decrypt"), "{words}");
    }
}
