//! A mosquitto of the test's own.

use crate::process::{Child, free_port};
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tokio::process::Command;

/// The name of the configuration that a test writes for its broker.
pub(crate) const CONF: &str = "mosquitto.conf";

/// When the broker writes its sessions and waiting messages to disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Saves {
    /// After every change, as shipped.
    OnChanges,
    /// Once a second. A change then costs it far less time; for tests that never kill it.
    EverySecond,
}

/// A running broker with the settings that deploy/mosquitto recommends.
pub struct Mosquitto {
    /// Where it listens, on loopback.
    pub port: u16,
    child: Child,
    folder: TempDir,
}

impl Mosquitto {
    /// Starts a broker on a free port and waits until it runs.
    pub async fn start() -> Self {
        Self::start_on(free_port()).await
    }

    /// Starts a broker on the given port.
    pub async fn start_on(port: u16) -> Self {
        Self::start_saving(port, Saves::OnChanges).await
    }

    /// Starts a broker on the given port that saves as told.
    pub async fn start_saving(port: u16, saves: Saves) -> Self {
        let mut settings = std::fs::read_to_string(shipped("hatchwarden.conf")).unwrap();
        if saves == Saves::EverySecond {
            settings = replace_once(&settings, "autosave_on_changes true", "autosave_on_changes false");
        }
        Self::start_with(port, &settings).await
    }

    /// Starts a broker on the given port with other settings than those recommended.
    pub async fn start_with(port: u16, settings: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let own = format!(
            "listener {port} 127.0.0.1\nallow_anonymous true\npersistence_location {}/\nlog_dest stderr\nuser root\n",
            folder.path().display()
        );
        std::fs::write(folder.path().join(CONF), format!("{own}{settings}")).unwrap();
        let child = run(&folder).await;
        Self { port, child, folder }
    }

    /// SIGKILL, and the broker once more on what it had written.
    pub async fn kill_and_start(self) -> Self {
        self.child.kill().await;
        let child = run(&self.folder).await;
        Self { child, ..self }
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

/// A file of deploy/mosquitto.
pub(crate) fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../deploy/mosquitto").join(name)
}

/// A text with one thing in it replaced.
///
/// # Panics
/// When the thing is not there exactly once: then the shipped file has changed and the test no longer means it.
pub(crate) fn replace_once(text: &str, old: &str, new: &str) -> String {
    assert_eq!(text.matches(old).count(), 1, "{old:?} must stand once in:\n{text}");
    text.replace(old, new)
}

/// Starts a broker on the configuration in a folder and waits until it runs.
pub(crate) async fn run(folder: &TempDir) -> Child {
    let mut command = Command::new("mosquitto");
    command.arg("-c").arg(folder.path().join(CONF)).env("PATH", path_with_sbin());
    let mut child = Child::start("mosquitto", &mut command);
    child.line_with("running").await;
    child
}

fn path_with_sbin() -> String {
    format!("{}:/usr/sbin:/usr/local/sbin", std::env::var("PATH").unwrap_or_default())
}
