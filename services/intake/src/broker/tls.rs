//! TLS to the broker: whom we trust, and who we are.

use rumqttc::{TlsConfiguration, Transport};
use rustls::ClientConfig;
use rustls::RootCertStore;
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use std::fmt;
use std::sync::Arc;

/// Whose word we take for who the broker is.
#[derive(Debug, Clone)]
pub enum Roots {
    /// The authorities that this machine trusts.
    Machine,
    /// These alone: PEM, one or more certificates of authorities, as a broker of one's own has.
    Only(Vec<u8>),
}

/// A certificate with its chain and the key to it, both PEM.
#[derive(Clone)]
pub struct Identity {
    /// The certificate and those between it and the authority.
    pub chain: Vec<u8>,
    /// Its private key, without a password.
    pub key: Vec<u8>,
}

impl fmt::Debug for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Identity(hidden)")
    }
}

/// Checked settings of TLS.
#[derive(Debug, Clone)]
pub struct Tls(Arc<ClientConfig>);

/// Certificates or keys that will not do; names the piece and the cure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TlsError(String);

impl fmt::Display for TlsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for TlsError {}

impl Tls {
    /// Checks the pieces.
    ///
    /// # Errors
    /// [`TlsError`] naming the piece that will not do and the cure.
    pub fn new(roots: &Roots, identity: Option<&Identity>) -> Result<Self, TlsError> {
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let builder = ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(|e| TlsError(format!("TLS cannot be set up: {e}")))?
            .with_root_certificates(authorities(roots)?);
        let config = match identity {
            None => builder.with_no_client_auth(),
            Some(identity) => {
                let (chain, key) = (certificates("certificate", &identity.chain)?, key(&identity.key)?);
                builder
                    .with_client_auth_cert(chain, key)
                    .map_err(|e| TlsError(format!("certificate and key do not belong together: {e}")))?
            }
        };
        Ok(Self(Arc::new(config)))
    }

    pub(super) fn transport(&self) -> Transport {
        Transport::tls_with_config(TlsConfiguration::Rustls(Arc::clone(&self.0)))
    }
}

fn authorities(roots: &Roots) -> Result<RootCertStore, TlsError> {
    let mut store = RootCertStore::empty();
    let pem = match roots {
        Roots::Only(pem) => certificates("ca", pem)?,
        Roots::Machine => rustls_native_certs::load_native_certs().certs,
    };
    let (added, _) = store.add_parsable_certificates(pem);
    if added == 0 {
        let cure = "this machine trusts no authority; install ca-certificates, or name the broker's own authority as ca";
        return Err(TlsError(cure.to_owned()));
    }
    Ok(store)
}

fn certificates(role: &str, pem: &[u8]) -> Result<Vec<CertificateDer<'static>>, TlsError> {
    let all: Result<Vec<_>, _> = CertificateDer::pem_slice_iter(pem).collect();
    let wrong = |why: String| {
        TlsError(format!("{role}: {why}; give a PEM file that holds -----BEGIN CERTIFICATE-----"))
    };
    let all = all.map_err(|e| wrong(e.to_string()))?;
    if all.is_empty() { Err(wrong("it holds no certificate".to_owned())) } else { Ok(all) }
}

fn key(pem: &[u8]) -> Result<PrivateKeyDer<'static>, TlsError> {
    PrivateKeyDer::from_pem_slice(pem).map_err(|e| {
        TlsError(format!("key: {e}; give a PEM file that holds the private key, without a password on it"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(roots: &Roots, identity: Option<&Identity>) -> String {
        Tls::new(roots, identity).unwrap_err().to_string()
    }

    #[test]
    fn each_piece_that_will_not_do_is_named_with_its_cure() {
        let nonsense = Roots::Only(b"no certificate".to_vec());
        assert!(fault(&nonsense, None).starts_with("ca: it holds no certificate; give a PEM file"));
        let made = rcgen::generate_simple_self_signed(vec!["broker.lan".to_owned()]).unwrap();
        let other = rcgen::generate_simple_self_signed(vec!["broker.lan".to_owned()]).unwrap();
        let roots = Roots::Only(made.cert.pem().into_bytes());
        let us = |chain: String, key: String| Identity { chain: chain.into_bytes(), key: key.into_bytes() };
        let key = made.signing_key.serialize_pem();
        assert!(Tls::new(&roots, Some(&us(made.cert.pem(), key.clone()))).is_ok());
        assert!(fault(&roots, Some(&us(String::new(), key.clone()))).starts_with("certificate: "));
        assert!(fault(&roots, Some(&us(made.cert.pem(), String::new()))).starts_with("key: "));
        assert!(fault(&roots, Some(&us(other.cert.pem(), key))).contains("belong together"));
    }

    #[test]
    fn a_key_is_not_printed() {
        let us = Identity { chain: b"c".to_vec(), key: b"moonfish".to_vec() };
        assert!(!format!("{us:?}").contains("moonfish"));
    }
}
