//! Certificates of the tests' own: one authority, a server, a client.

use rcgen::{BasicConstraints, CertificateParams, DnType, IsCa, Issuer, KeyPair};
use std::path::{Path, PathBuf};

/// A folder of PEM files: `ca.pem`, `server.pem`, `server-key.pem`, `client.pem`, `client-key.pem`.
pub struct Certificates {
    folder: tempfile::TempDir,
}

impl Certificates {
    /// Makes them: the server is `127.0.0.1` and `localhost`, the client `hatchwarden`.
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut params = CertificateParams::new(Vec::new()).unwrap();
        params.distinguished_name.push(DnType::CommonName, "the authority of a test");
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        let key = KeyPair::generate().unwrap();
        std::fs::write(folder.path().join("ca.pem"), params.self_signed(&key).unwrap().pem()).unwrap();
        let issuer = Issuer::new(params, key);
        leaf(folder.path(), "server", &["127.0.0.1", "localhost"], &issuer);
        leaf(folder.path(), "client", &["hatchwarden"], &issuer);
        Self { folder }
    }

    /// Path of one of the files.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

impl Default for Certificates {
    fn default() -> Self {
        Self::new()
    }
}

fn leaf(folder: &Path, name: &str, names: &[&str], issuer: &Issuer<'_, KeyPair>) {
    let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    let key = KeyPair::generate().unwrap();
    let mut params = CertificateParams::new(names).unwrap();
    // Of the same name as its authority it would pass for one that signed itself.
    params.distinguished_name.push(DnType::CommonName, name);
    let certificate = params.signed_by(&key, issuer).unwrap();
    std::fs::write(folder.join(format!("{name}.pem")), certificate.pem()).unwrap();
    std::fs::write(folder.join(format!("{name}-key.pem")), key.serialize_pem()).unwrap();
}
