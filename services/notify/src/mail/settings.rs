//! Which server takes mail, and who gets it.

use crate::Secret;
use std::time::Duration;

/// The port for mail from programs (RFC 6409), which begins in the clear and goes over to TLS by STARTTLS.
const SUBMISSION: u16 = 587;
/// How long one try may take in all. Some servers keep a stranger waiting for several seconds on purpose. A planning value.
const TIMEOUT: Duration = Duration::from_secs(20);

/// How the way to the server is encrypted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tls {
    /// By STARTTLS before anything is said (RFC 3207), mostly at port 587. A server that does not offer it gets no mail.
    #[default]
    StartTls,
    /// From the first byte (RFC 8314), mostly at port 465.
    Tls,
    /// Not at all; with a password only to this machine itself.
    None,
}

/// A server that takes mail. Prints without the password.
#[derive(Debug, Clone)]
pub struct MailServer {
    /// Name or address, as the server's certificate has it.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the way there is encrypted.
    pub tls: Tls,
    /// Whom to log in as, if at all; then with a password.
    pub username: Option<String>,
    /// The password of that user.
    pub password: Option<Secret>,
    /// PEM text of the authorities that may have signed the server's certificate; without it those that this machine trusts.
    pub ca_file: Option<String>,
    /// Address that mail comes from: `hatchwarden@example.org`, or with a name before it, `Hatchwarden <hatchwarden@example.org>`.
    pub from: String,
    /// How long one try may take in all.
    pub timeout: Duration,
}

impl MailServer {
    /// Port 587 by STARTTLS without a login, twenty seconds for a try.
    pub fn new(host: String, from: String) -> Self {
        Self {
            host,
            port: SUBMISSION,
            tls: Tls::default(),
            username: None,
            password: None,
            ca_file: None,
            from,
            timeout: TIMEOUT,
        }
    }
}

/// One way out by mail.
#[derive(Debug, Clone)]
pub struct MailSettings {
    /// Name of the way, as items give it.
    pub name: String,
    /// Who gets the mail, in the form of `from`.
    pub to: Vec<String>,
    /// By which server.
    pub server: MailServer,
}

/// Settings that will not do. The password is no part of the words.
#[derive(Debug, thiserror::Error)]
pub enum MailError {
    /// No server.
    #[error(
        "host {0:?} is no name of a mail server; write a name or an address alone, e.g. \"mail.example.org\""
    )]
    Host(String),
    /// No address.
    #[error("{field} {value:?} is no mail address ({reason}); write one like \"mia@example.org\"")]
    Address {
        /// `from` or `to`.
        field: &'static str,
        /// As it is set.
        value: String,
        /// What is wrong with it.
        reason: String,
    },
    /// Nobody to write to.
    #[error("to names nobody; write at least one address, e.g. [\"mia@example.org\"]")]
    Nobody,
    /// Half a login.
    #[error("{given} is set and {missing} is not; set both, or neither if the server wants no login")]
    HalfLogin {
        /// Which is there.
        given: &'static str,
        /// Which is not.
        missing: &'static str,
    },
    /// The password would be there for everybody to read.
    #[error(
        "tls \"none\" would send the password to {host:?} in the clear; write tls = \"starttls\" or tls = \"tls\" (in the clear it only goes to this machine, host = \"127.0.0.1\")"
    )]
    InTheClear {
        /// Where to.
        host: String,
    },
    /// No certificate.
    #[error(
        "ca_file cannot be used: {0}; give the certificate of the authority that signed the mail server's, in PEM form (-----BEGIN CERTIFICATE-----)"
    )]
    Authorities(String),
    /// TLS cannot be set up.
    #[error("tls cannot be set up: {0}; this is a fault of ours, please report it")]
    Tls(String),
}
