//! The mail server of the tests, and certificates for it.
#![allow(clippy::unwrap_used, missing_docs, unreachable_pub, reason = "test code")]

use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, DnType, IsCa, KeyPair};
use serde_json::Value;
use std::process::Stdio;
use tokio::io::{AsyncBufReadExt, BufReader, Lines};
use tokio::process::{Child, ChildStdout, Command};

/// A running server; it is killed when this value is dropped.
pub struct Postbox {
    pub port: u16,
    said: Lines<BufReader<ChildStdout>>,
    _child: Child,
}

/// A message as the server took it.
pub struct Taken {
    pub json: Value,
}

impl Postbox {
    /// Starts a server with the settings of `smtp_server.py` and waits until it listens.
    pub async fn start(settings: &Value) -> Self {
        let mut command = Command::new("python3");
        command
            .args(["-c", include_str!("../smtp_server.py"), &settings.to_string()])
            .stdin(Stdio::null())
            .stdout(Stdio::piped());
        let mut child = command.kill_on_drop(true).spawn().expect("tests/run installs python3");
        let said = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut postbox = Self { port: 0, said, _child: child };
        let first = postbox.next().await;
        postbox.port = u16::try_from(first["port"].as_u64().unwrap()).unwrap();
        postbox
    }

    async fn next(&mut self) -> Value {
        let line = self.said.next_line().await.unwrap();
        serde_json::from_str(&line.expect("the server ended; tests/run installs aiosmtpd")).unwrap()
    }

    /// The next message that it takes.
    pub async fn letter(&mut self) -> Taken {
        loop {
            let json = self.next().await;
            if json["event"] == "message" {
                return Taken { json };
            }
        }
    }
}

impl Taken {
    fn headers(&self) -> impl Iterator<Item = (&str, &str)> {
        let pairs = self.json["headers"].as_array().unwrap().iter();
        pairs.map(|pair| (pair[0].as_str().unwrap(), pair[1].as_str().unwrap()))
    }

    /// The one header of that name.
    pub fn header(&self, name: &str) -> String {
        let values: Vec<&str> = self.headers().filter(|(n, _)| *n == name).map(|(_, v)| v).collect();
        assert_eq!(values.len(), 1, "{name}: {}", self.json);
        values[0].to_owned()
    }

    pub fn names(&self) -> Vec<&str> {
        self.headers().map(|(name, _)| name).collect()
    }
}

/// An authority, and a certificate that it has signed.
pub struct Certificates {
    /// PEM.
    pub authority: String,
    folder: tempfile::TempDir,
}

impl Certificates {
    pub fn new(host: &str) -> Self {
        let mut params = CertificateParams::new([]).unwrap();
        params.distinguished_name.push(DnType::CommonName, "the authority of a test");
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        let issuer = CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap();
        let key = KeyPair::generate().unwrap();
        let certificate =
            CertificateParams::new([host.to_owned()]).unwrap().signed_by(&key, &issuer).unwrap();
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("server.pem"), certificate.pem()).unwrap();
        std::fs::write(folder.path().join("key.pem"), key.serialize_pem()).unwrap();
        Self { authority: issuer.pem(), folder }
    }

    /// Paths of certificate and key.
    pub fn files(&self) -> [String; 2] {
        ["server.pem", "key.pem"].map(|name| self.folder.path().join(name).to_str().unwrap().to_owned())
    }
}
