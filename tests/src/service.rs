//! The service's own program under test.

use crate::http::Api;
use crate::process::{Child, free_port};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use tempfile::TempDir;
use tokio::process::Command;

/// Path of the service's program; `cargo build --bins` makes it.
///
/// # Panics
/// When it has not been built.
pub fn binary() -> PathBuf {
    program("hatchwarden")
}

/// Path of one of our programs; `cargo build --workspace --bins` makes them.
///
/// # Panics
/// When it has not been built.
pub fn program(name: &str) -> PathBuf {
    let test = std::env::current_exe().unwrap();
    let folder = test.ancestors().find(|p| p.ends_with("deps")).and_then(Path::parent).unwrap();
    let program = folder.join(name);
    assert!(program.exists(), "{} is missing: run `cargo build --workspace --bins` first", program.display());
    program
}

/// A configuration file in a folder of its own.
pub struct RoomFile {
    /// The folder, removed at the end.
    pub folder: TempDir,
    /// The file.
    pub path: PathBuf,
}

impl RoomFile {
    /// The demo's vessels behind a broker on this port. `more` is added at the end.
    pub fn behind_broker(port: u16, more: &str) -> Self {
        Self::new(
            &format!("[mqtt.broker]\nhost = \"127.0.0.1\"\nport = {port}\nclient_id = \"hw-test\"\n"),
            more,
        )
    }

    /// The demo's vessels behind a broker that asks for a user name and a password.
    pub fn behind_broker_as(port: u16, user: &str, password: &str) -> Self {
        Self::behind_broker_with(&format!("port = {port}\n"), user, password)
    }

    /// The same with the lines of `[mqtt.broker]` from its port on, tables below it included.
    pub fn behind_broker_with(lines: &str, user: &str, password: &str) -> Self {
        let broker = format!(
            "[mqtt.broker]\nhost = \"127.0.0.1\"\nclient_id = \"hw-test\"\n\
             username = \"{user}\"\npassword_file = \"broker-password.txt\"\n{lines}"
        );
        let room = Self::new(&broker, "");
        std::fs::write(room.folder.path().join("broker-password.txt"), password).unwrap();
        room
    }

    /// The demo's vessels behind the service's own front door on a free port.
    pub fn with_front_door(more: &str) -> (Self, u16) {
        let port = free_port();
        (Self::new(&format!("[mqtt]\nfront_door = \"127.0.0.1:{port}\"\n"), more), port)
    }

    /// The demo's vessels with this way in; `more` is added at the end.
    pub fn new(way_in: &str, more: &str) -> Self {
        let mut text = String::from(
            "[room]\nname = \"undercroft\"\ntime_zone = \"Europe/Lisbon\"\n\
             [store]\nfile = \"store/room.db\"\n[page]\nlisten = \"127.0.0.1:0\"\n",
        );
        text.push_str(way_in);
        text.push_str("[[vessel]]\nid = \"V1\"\nkind = \"tank\"\nband = [25.5, 28.5]\n");
        text.push_str("[[vessel]]\nid = \"V2\"\nkind = \"tank\"\nband = [27.5, 30.0]\n");
        for (id, host) in [("TU1", "V1"), ("TU2", "V1"), ("TU3", "V1"), ("TU4", "V2")] {
            let _ = write!(text, "[[vessel]]\nid = \"{id}\"\nkind = \"tumbler\"\nhost = \"{host}\"\n");
        }
        text.push_str(more);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("room.toml");
        std::fs::write(&path, text).unwrap();
        Self { folder, path }
    }

    /// Where the store is.
    pub fn store(&self) -> PathBuf {
        self.folder.path().join("store/room.db")
    }
}

/// A running service.
pub struct Hatchwarden {
    /// Its process.
    pub child: Child,
    /// Its API.
    pub api: Api,
}

impl Hatchwarden {
    /// `hatchwarden run`, waited for until its page is announced.
    pub async fn run(room: &RoomFile) -> Self {
        Self::run_with(room, &[]).await
    }

    /// The same with these variables in its environment.
    pub async fn run_with(room: &RoomFile, variables: &[(&str, &str)]) -> Self {
        let mut command = Command::new(binary());
        command.arg("run").arg("--config").arg(&room.path).envs(variables.iter().copied());
        Self::await_page(Child::start("hatchwarden run", &mut command)).await
    }

    /// SIGKILL, and the program once more on the same store.
    pub async fn kill_and_run(self, room: &RoomFile) -> Self {
        self.child.kill().await;
        Self::run(room).await
    }

    /// `hatchwarden demo` with these arguments, waited for until its page is announced.
    pub async fn demo(arguments: &[&str]) -> Self {
        let mut command = Command::new(binary());
        command.arg("demo").args(arguments);
        Self::await_page(Child::start("hatchwarden demo", &mut command)).await
    }

    async fn await_page(mut child: Child) -> Self {
        let line = child.early_line_with("http://").await;
        let address = line.split_whitespace().find(|w| w.starts_with("http://")).unwrap().to_owned();
        Self { child, api: Api::new(address) }
    }
}
