//! A mosquitto of the test's own.

use crate::process::{Child, free_port};
use std::path::Path;
use tempfile::TempDir;
use tokio::process::Command;

/// A running broker with the settings that deploy/mosquitto recommends.
pub struct Mosquitto {
    /// Where it listens, on loopback.
    pub port: u16,
    child: Child,
    _folder: TempDir,
}

impl Mosquitto {
    /// Starts a broker on a free port and waits until it runs.
    pub async fn start() -> Self {
        let port = free_port();
        Self::start_on(port).await
    }

    /// Starts a broker on the given port.
    pub async fn start_on(port: u16) -> Self {
        let shipped = Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/mosquitto/hatchwarden.conf");
        Self::start_with(port, &std::fs::read_to_string(shipped).unwrap()).await
    }

    /// Starts a broker on the given port with other settings than those recommended.
    pub async fn start_with(port: u16, settings: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let own = format!(
            "listener {port} 127.0.0.1\nallow_anonymous true\npersistence_location {}/\nlog_dest stderr\nuser root\n",
            folder.path().display()
        );
        let file = folder.path().join("mosquitto.conf");
        std::fs::write(&file, format!("{own}{settings}")).unwrap();
        let mut command = Command::new("mosquitto");
        command.arg("-c").arg(&file).env("PATH", path_with_sbin());
        let mut child = Child::start("mosquitto", &mut command);
        child.line_with("running").await;
        Self { port, child, _folder: folder }
    }

    /// Its process id.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// Ends the broker at once.
    pub async fn kill(self) {
        self.child.kill().await;
    }

    /// Publishes one message with mosquitto_pub and waits until the broker has acknowledged it.
    pub async fn publish(&self, topic: &str, payload: &str) {
        let port = self.port.to_string();
        let status = Command::new("mosquitto_pub")
            .args(["-h", "127.0.0.1", "-p", &port, "-q", "1", "-t", topic, "-m", payload])
            .status()
            .await
            .unwrap();
        assert!(status.success(), "mosquitto_pub failed");
    }

    /// A mosquitto_sub that prints each message as `topic payload`.
    pub fn subscribe(&self, filter: &str) -> Child {
        let port = self.port.to_string();
        let mut command = Command::new("mosquitto_sub");
        command.args(["-h", "127.0.0.1", "-p", &port, "-q", "1", "-v", "-t", filter]);
        Child::start("mosquitto_sub", &mut command)
    }
}

fn path_with_sbin() -> String {
    format!("{}:/usr/sbin:/usr/local/sbin", std::env::var("PATH").unwrap_or_default())
}
