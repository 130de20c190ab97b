//! A mosquitto of the test's own, and certificates for it.

use rcgen::{BasicConstraints, CertificateParams, CertifiedIssuer, DnType, IsCa, KeyPair};
use std::path::Path;
use std::process::Stdio;
use tempfile::TempDir;
use tokio::io::{AsyncBufReadExt, BufReader, Lines};
use tokio::process::{Child, ChildStderr, Command};

/// A running broker; it is killed when this value is dropped.
pub struct Mosquitto {
    pub port: u16,
    log: Lines<BufReader<ChildStderr>>,
    _child: Child,
    _folder: TempDir,
}

impl Mosquitto {
    /// Starts a broker with these files beside its configuration and waits until it runs. In the
    /// configuration, "$" stands for the folder they are in.
    pub async fn start(configuration: &str, files: &[(&str, &str)]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        for (name, content) in files {
            std::fs::write(folder.path().join(name), content).unwrap();
        }
        if configuration.contains("password_file") {
            hash(&folder.path().join("passwords")).await;
        }
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let common = "log_dest stderr\nlog_type all\nuser root\nmax_inflight_messages 0\n";
        let own = configuration.replace('$', folder.path().to_str().unwrap());
        let file = folder.path().join("mosquitto.conf");
        std::fs::write(&file, format!("{common}listener {port} 127.0.0.1\n{own}\n")).unwrap();
        let mut command = Command::new("/usr/sbin/mosquitto");
        command.arg("-c").arg(&file).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
        let mut child = command.kill_on_drop(true).spawn().expect("tests/run installs mosquitto");
        let log = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut broker = Self { port, log, _child: child, _folder: folder };
        broker.says("running").await;
        broker
    }

    /// Waits for a line of its log that holds `part`.
    pub async fn says(&mut self, part: &str) {
        let mut seen = String::new();
        while let Some(line) = self.log.next_line().await.unwrap() {
            if line.contains(part) {
                return;
            }
            seen = seen + &line + "\n";
        }
        panic!("mosquitto ended without saying {part:?}:\n{seen}");
    }
}

/// Turns a file of plain passwords into what the broker reads.
async fn hash(file: &Path) {
    assert!(Command::new("mosquitto_passwd").arg("-U").arg(file).status().await.unwrap().success());
}

/// A certificate authority of the test's own.
pub struct Authority(CertifiedIssuer<'static, KeyPair>);

/// A certificate and its key, both as PEM.
pub struct Certificate {
    pub chain: String,
    pub key: String,
}

impl Authority {
    pub fn new(name: &str) -> Self {
        let mut params = named(name);
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        Self(CertifiedIssuer::self_signed(params, KeyPair::generate().unwrap()).unwrap())
    }

    pub fn pem(&self) -> String {
        self.0.pem()
    }

    /// A certificate made out to a host or an address.
    pub fn sign(&self, host: &str) -> Certificate {
        self.sign_as(&CertificateParams::new([host.to_owned()]).unwrap())
    }

    /// A certificate that was valid long ago.
    pub fn sign_expired(&self, host: &str) -> Certificate {
        let mut params = CertificateParams::new([host.to_owned()]).unwrap();
        params.not_before = rcgen::date_time_ymd(2001, 1, 1);
        params.not_after = rcgen::date_time_ymd(2002, 1, 1);
        self.sign_as(&params)
    }

    fn sign_as(&self, params: &CertificateParams) -> Certificate {
        let key = KeyPair::generate().unwrap();
        let chain = params.signed_by(&key, &self.0).unwrap().pem();
        Certificate { chain, key: key.serialize_pem() }
    }
}

fn named(name: &str) -> CertificateParams {
    let mut params = CertificateParams::new([]).unwrap();
    params.distinguished_name.push(DnType::CommonName, name);
    params
}
