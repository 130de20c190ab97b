//! The parts under measurement: a large room, a service for it, a broker that drops nothing and writes nothing.

use crate::load::{CLUTCHES, Probe, ROOM, tank, tumbler};
use crate::machine::{folder, unix_micros};
use rusqlite::{Connection, OpenFlags};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::PathBuf;
use testkit::{Hatchwarden, Mosquitto, RoomFile, free_port};
use units::{Span, Time};

/// The way in of a room.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Way {
    /// Behind a broker on this port.
    Broker(u16),
    /// Through the service's own listener.
    Door,
}

/// A running service with its room.
pub(crate) struct Rig {
    /// The service.
    pub(crate) service: Hatchwarden,
    /// Where devices publish.
    pub(crate) port: u16,
    room: RoomFile,
}

/// A broker with no limit on what waits, and nothing on disk.
pub(crate) async fn mosquitto() -> Mosquitto {
    Mosquitto::start_with(free_port(), "max_inflight_messages 0\nmax_queued_messages 0\npersistence false\n")
        .await
}

/// Every topic of the room.
pub(crate) fn everything() -> String {
    format!("hatchwarden/{ROOM}/+/+")
}

impl Rig {
    /// Starts a service for these probes with its clutches in hand.
    pub(crate) async fn start(probes: &[Probe], way: Way) -> Self {
        let (port, way_in) = match way {
            Way::Broker(port) => (
                port,
                format!("[mqtt.broker]\nhost = \"127.0.0.1\"\nport = {port}\nclient_id = \"hw-bench\"\n"),
            ),
            Way::Door => {
                let port = free_port();
                (port, format!("[mqtt]\nfront_door = \"127.0.0.1:{port}\"\n"))
            }
        };
        let room = room_file(probes, &way_in);
        let mut service = Hatchwarden::run(&room).await;
        if matches!(way, Way::Broker(_)) {
            service.child.line_with("subscribed").await;
        }
        let rig = Self { service, port, room };
        rig.open_clutches(probes).await;
        rig
    }

    /// Its process.
    pub(crate) fn id(&self) -> u32 {
        self.service.child.id()
    }

    async fn open_clutches(&self, probes: &[Probe]) {
        let begin = Time::from_millis(unix_micros() / 1000) - Span::hours(72);
        for n in 0..clutches(probes) {
            let new = json!({
                "id": format!("C{n}"), "fish": "Oreochromis niloticus", "species": "oreochromis-niloticus",
                "mother": format!("til-{n}"), "day0_earliest": begin, "day0_latest": begin + Span::hours(6),
                "day0_grade": "window", "vessel": tumbler(n)
            });
            let (status, body) = self.service.api.post("api/v1/clutches", &new).await;
            assert!((200..300).contains(&status), "{status}: {body}");
        }
    }

    /// Asserts on the page that what was measured really happened: every probe heard, every clutch with a date, the
    /// alarm of the tumbler that has stopped.
    pub(crate) async fn assert_fed(&self, probes: &[Probe]) {
        let wanted = (probes.len(), clutches(probes));
        let fed = |room: &Value| {
            let dated = room["clutches"].as_array()?.iter().filter(|c| !c["hatch"].is_null()).count();
            let heard = room["heard"]["probes"].as_u64()? as usize;
            let alarms = room["alarms"].as_array()?;
            let stopped = alarms.iter().any(|a| a["vessel"] == "TU2" && a["condition"] == "air stopped");
            ((heard, dated) == wanted && stopped).then_some(())
        };
        self.service.api.until("probes heard, clutches dated, an alarm up", "api/v1/room", fed).await;
    }

    /// Reads the store beside the service.
    pub(crate) fn store(&self) -> Connection {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY;
        Connection::open_with_flags(self.store_file(), flags).unwrap()
    }

    fn store_file(&self) -> PathBuf {
        self.room.folder.path().join("store/room.db")
    }

    /// Ends the service in good order; asserts that the store holds `published` readings and not one refusal.
    pub(crate) async fn end(self, published: usize) {
        let (code, said) = self.service.child.stop().await;
        assert_eq!(code, Some(0), "{said}");
        let file = self.room.folder.path().join("store/room.db");
        let store = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
        let count = |sql| store.query_row(sql, [], |r| r.get::<_, i64>(0)).unwrap();
        assert_eq!(count("SELECT count(*) FROM readings"), published as i64, "delivered = published");
        assert_eq!(count("SELECT count(*) FROM readings WHERE fresh = 0"), 0, "all of them fresh");
        assert_eq!(count("SELECT coalesce(sum(count), 0) FROM refusals"), 0, "none refused");
    }
}

fn clutches(probes: &[Probe]) -> usize {
    CLUTCHES.min(probes.len() / 5)
}

fn room_file(probes: &[Probe], way_in: &str) -> RoomFile {
    let mut text = format!(
        "[room]\nname = \"{ROOM}\"\ntime_zone = \"Europe/Lisbon\"\n[store]\nfile = \"store/room.db\"\n\
         [page]\nlisten = \"127.0.0.1:0\"\n{way_in}"
    );
    let vessels: BTreeSet<&str> = probes.iter().filter_map(|p| p.key.split('/').next()).collect();
    for tank in vessels.iter().filter(|v| v.starts_with('V')) {
        let _ = write!(text, "[[vessel]]\nid = \"{tank}\"\nkind = \"tank\"\nband = [25.5, 28.5]\n");
    }
    for (n, probe) in probes.iter().enumerate().filter(|(_, p)| p.key.ends_with("/air-flow")) {
        let (id, host) = (probe.key.split('/').next().unwrap(), tank(n));
        let _ = write!(text, "[[vessel]]\nid = \"{id}\"\nkind = \"tumbler\"\nhost = \"{host}\"\n");
    }
    let folder = tempfile::tempdir_in(folder()).unwrap();
    let path = folder.path().join("room.toml");
    std::fs::write(&path, text).unwrap();
    RoomFile { folder, path }
}
