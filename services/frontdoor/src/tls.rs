//! TLS in front of MQTT: a certificate from PEM files, and the handshake within the time for CONNECT.

use crate::broker::Broker;
use crate::connection::{Guest, serve_until};
use std::fmt;
use std::sync::Arc;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::time::{Instant, timeout_at};
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::pem::{self, PemObject};
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};
use tokio_rustls::rustls::{self, ServerConfig};

/// The certificate that the front door shows and its key; TLS 1.2 and 1.3.
///
/// ```
/// let refused = frontdoor::Tls::from_pem(b"", b"").unwrap_err();
/// assert!(refused.to_string().contains("BEGIN CERTIFICATE"));
/// ```
#[derive(Clone)]
pub struct Tls(TlsAcceptor);

/// Why a certificate or key cannot be used; the words name the cure.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TlsError {
    /// The first file holds no certificate.
    #[error(
        "the certificate file holds no certificate: a PEM block \"BEGIN CERTIFICATE\" is wanted, the server's own first"
    )]
    NoCertificate,
    /// The first file is damaged.
    #[error("the certificate file cannot be read: {0}; make it anew or copy it again, in PEM form")]
    Certificate(String),
    /// The second file holds no key.
    #[error(
        "the key file holds no private key: a PEM block \"BEGIN PRIVATE KEY\" is wanted, without a passphrase \
         (or EC or RSA PRIVATE KEY)"
    )]
    NoKey,
    /// The second file is damaged, or its key of a kind that is not known.
    #[error(
        "the private key cannot be used: {0}; wanted is RSA, ECDSA (P-256, P-384) or Ed25519, in PEM form"
    )]
    Key(String),
    /// The two do not belong together.
    #[error(
        "the private key does not belong to the first certificate of the file; give the two that were made together"
    )]
    Mismatch,
    /// The two are refused for another reason.
    #[error("certificate and key cannot be used: {0}")]
    Refused(String),
}

impl Tls {
    /// Takes the contents of a certificate file (the server's certificate first, then those that lead to its authority) and of a key
    /// file, both PEM. Validity dates and names are the clients' affair.
    ///
    /// # Errors
    /// [`TlsError`] names which of the two is wrong and how.
    pub fn from_pem(chain: &[u8], key: &[u8]) -> Result<Tls, TlsError> {
        let chain = certificates(chain)?;
        let key = PrivateKeyDer::from_pem_slice(key).map_err(|error| match error {
            pem::Error::NoItemsFound => TlsError::NoKey,
            error => TlsError::Key(error.to_string()),
        })?;
        let ring = ring::default_provider();
        // Looked at by itself first, so that the words can tell a bad key from a bad certificate.
        ring.key_provider.load_private_key(key.clone_key()).map_err(|e| TlsError::Key(e.to_string()))?;
        let config = ServerConfig::builder_with_provider(Arc::new(ring))
            .with_safe_default_protocol_versions()
            .and_then(|builder| builder.with_no_client_auth().with_single_cert(chain, key))
            .map_err(refused)?;
        Ok(Tls(TlsAcceptor::from(Arc::new(config))))
    }
}

fn certificates(pem: &[u8]) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let all: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(pem).collect();
    match all {
        Ok(none) if none.is_empty() => Err(TlsError::NoCertificate),
        Ok(all) => Ok(all),
        Err(error) => Err(TlsError::Certificate(error.to_string())),
    }
}

fn refused(error: rustls::Error) -> TlsError {
    match error {
        rustls::Error::InconsistentKeys(_) => TlsError::Mismatch,
        rustls::Error::InvalidCertificate(error) => TlsError::Certificate(format!("{error:?}")),
        error => TlsError::Refused(error.to_string()),
    }
}

impl fmt::Debug for Tls {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Tls(..)")
    }
}

/// Serves one connection that must begin with a handshake. Handshake and CONNECT share one limit of time.
pub(crate) async fn serve<S>(broker: Arc<Broker>, guest: Arc<Guest>, socket: S, tls: Tls)
where
    S: AsyncRead + AsyncWrite + Unpin,
{
    let until = Instant::now() + broker.limits.connect_within;
    let shaken = tokio::select! {
        biased;
        _ = guest.link.closed() => return,
        shaken = timeout_at(until, tls.0.accept(socket)) => shaken,
    };
    match shaken {
        Ok(Ok(stream)) => serve_until(broker, guest, stream, until).await,
        Ok(Err(error)) => {
            broker.counters.refused();
            if broker.gate.line(guest.peer) {
                tracing::warn!(peer = ?guest.peer, %error, "no TLS handshake: does the device use TLS and know the certificate's \
                    authority? Further ones from this address are told once a minute");
            }
        }
        Err(_) => tracing::debug!("connection closed: no TLS handshake in time"),
    }
}

#[cfg(test)]
#[path = "tls_tests.rs"]
mod tests;
