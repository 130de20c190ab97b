//! A mosquitto on the very files of deploy/mosquitto: passwords, access list, TLS.

use crate::broker::{CONF, replace_once, run, shipped};
use crate::foreign::{mosquitto_pub, mosquitto_sub};
use crate::process::{Child, free_port};
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tokio::process::Command;

/// Where the shipped files expect the secrets.
const SECRETS: &str = "/etc/mosquitto/hatchwarden/";
/// Every user that the tests log in as.
const USERS: [&str; 5] = ["hatchwarden", "keeper", "rack-c", "V1", "V2"];

/// A running broker, set up as deploy/README.md says.
pub struct Deployed {
    /// The loopback listener.
    pub port: u16,
    /// The TLS listener.
    pub tls_port: u16,
    child: Child,
    folder: TempDir,
}

impl Deployed {
    /// Makes passwords and certificates, fills in ports and paths, and starts it.
    pub async fn start() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let (port, tls_port) = (free_port(), free_port());
        for name in ["conf.d", "secrets"] {
            fs::create_dir(folder.path().join(name)).unwrap();
        }
        copy_settings(folder.path(), port, tls_port);
        make_secrets(&folder.path().join("secrets")).await;
        let child = run(&folder).await;
        Self { port, tls_port, child, folder }
    }

    /// SIGKILL, and the broker once more on what it had written.
    pub async fn kill_and_start(self) -> Self {
        self.child.kill().await;
        let child = run(&self.folder).await;
        Self { child, ..self }
    }

    /// The certificate that devices check the broker by.
    pub fn ca(&self) -> PathBuf {
        self.folder.path().join("secrets/ca.crt")
    }

    /// The password of a user.
    pub fn password(user: &str) -> String {
        format!("{user} swims")
    }

    /// mosquitto_pub or mosquitto_sub at QoS 1 by the loopback listener, logged in as a user.
    pub fn client(&self, program: &str, user: &str) -> Command {
        let mut command = Command::new(program);
        command.args(["-h", "127.0.0.1", "-q", "1", "-p", &self.port.to_string()]);
        command.args(["-u", user, "-P", &Self::password(user)]);
        command
    }

    /// Publishes and waits for the PUBACK; `more` are further arguments of mosquitto_pub.
    pub async fn publish(&self, user: &str, topic: &str, payload: &str, more: &[&str]) {
        let login = ["-u", user, "-P", &Self::password(user)];
        let message = ["-q", "1", "-t", topic, "-m", payload];
        mosquitto_pub(self.port, &[login.as_slice(), &message, more].concat()).await;
    }

    /// A mosquitto_sub that prints each message as `topic payload`, once its subscription stands.
    pub async fn subscribe(&self, user: &str, filter: &str) -> Child {
        let login = ["-u", user, "-P", &Self::password(user)];
        mosquitto_sub(self.port, &[login.as_slice(), &["-q", "1", "-v", "-t", filter]].concat()).await
    }
}

/// As Debian lays it out: a main file that includes the shipped ones.
fn copy_settings(folder: &Path, port: u16, tls_port: u16) {
    let place = folder.display();
    let main = format!(
        "persistence true\npersistence_location {place}/\nlog_dest stderr\nuser root\ninclude_dir {place}/conf.d\n"
    );
    fs::write(folder.join(CONF), main).unwrap();
    fs::copy(shipped("hatchwarden.conf"), folder.join("conf.d/hatchwarden.conf")).unwrap();
    fs::copy(shipped("acl"), folder.join("secrets/acl")).unwrap();
    let mut access = fs::read_to_string(shipped("hatchwarden-access.conf")).unwrap();
    access = replace_once(&access, "listener 1883 127.0.0.1", &format!("listener {port} 127.0.0.1"));
    // Devices come from elsewhere; a test stays on its machine.
    access = replace_once(&access, "listener 8883", &format!("listener {tls_port} 127.0.0.1"));
    assert!(access.contains(SECRETS));
    access = access.replace(SECRETS, &format!("{place}/secrets/"));
    fs::write(folder.join("conf.d/hatchwarden-access.conf"), access).unwrap();
}

async fn make_secrets(secrets: &Path) {
    let mut certificates = Command::new(shipped("make-certificates"));
    done(certificates.arg(secrets).args(["localhost", "127.0.0.1"])).await;
    let passwords = secrets.join("passwords");
    fs::write(&passwords, "").unwrap();
    for user in USERS {
        let mut command = Command::new("mosquitto_passwd");
        done(command.arg("-b").arg(&passwords).args([user, &Deployed::password(user)])).await;
    }
}

async fn done(command: &mut Command) {
    let out = command.output().await.unwrap();
    assert!(out.status.success(), "{command:?}: {}", String::from_utf8_lossy(&out.stderr));
}
