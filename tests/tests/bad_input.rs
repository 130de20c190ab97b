//! What is wrong is said with the thing and the cure, and the service keeps or resumes its work.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::json;
use std::path::Path;
use testkit::{Child, Hatchwarden, Mosquitto, RoomFile, binary, free_port};
use tokio::process::Command;

async fn run(arguments: &[&str]) -> (Option<i32>, String) {
    Child::start("hatchwarden", Command::new(binary()).args(arguments)).end().await
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[tokio::test]
async fn the_shipped_example_is_good() {
    let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../config/room.toml");
    let (code, said) = run(&["check", "--config", text(&example)]).await;
    assert_eq!(code, Some(0), "{said}");
}

#[tokio::test]
async fn a_broken_configuration_names_every_fault_with_line_and_cure() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.toml");
    let broken = "[room]\nname = \"under croft\"\ntime_zone = \"Europe/Lisbonne\"\n[store]\nfile = \"a.db\"\n\
                  [page]\nlisten = \"0.0.0.0:80\"\n[mqtt]\nfront_dor = \"127.0.0.1:1883\"\n\
                  [[vessel]]\nid = \"TU1\"\nkind = \"tumbler\"\nhost = \"V9\"\nband = [28, 26]\n";
    std::fs::write(&file, broken).unwrap();
    for command in ["check", "run"] {
        let (code, said) = run(&[command, "--config", text(&file)]).await;
        assert_eq!(code, Some(if command == "check" { 1 } else { 2 }), "{said}");
        for part in [
            "room.toml:2: room.name",
            "under croft",
            "room.toml:3: room.time_zone",
            "room.toml:7: page.listen",
            "sign-in",
            "front_dor",
            "did you mean \"front_door\"?",
            "vessel \"TU1\".host",
            "V9",
            "room.toml:14: vessel \"TU1\".band",
        ] {
            assert!(said.contains(part), "{command}: {part:?} is not in:\n{said}");
        }
    }
}

#[tokio::test]
async fn a_missing_file_and_wrong_syntax_are_said() {
    let (code, said) = run(&["run", "--config", "no-such-file.toml"]).await;
    assert_eq!(code, Some(2));
    assert!(said.contains("no-such-file.toml") && said.contains("config/room.toml"), "{said}");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.toml");
    std::fs::write(&file, "[room\nname = 3\n").unwrap();
    let (_, said) = run(&["check", "--config", text(&file)]).await;
    assert!(said.contains("room.toml:1: syntax"), "{said}");
}

#[tokio::test]
async fn ports_in_use_are_named_with_the_cure() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let (room, port) = RoomFile::with_front_door("");
    let config = std::fs::read_to_string(&room.path).unwrap();

    std::fs::write(
        &room.path,
        config.replace("listen = \"127.0.0.1:0\"", &format!("listen = \"{address}\"")),
    )
    .unwrap();
    let (code, said) = run(&["run", "--config", text(&room.path)]).await;
    assert_eq!(code, Some(2));
    assert!(said.contains(&address) && said.contains("[page] listen"), "{said}");

    std::fs::write(&room.path, config.replace(&format!("127.0.0.1:{port}"), &address)).unwrap();
    let (code, said) = run(&["run", "--config", text(&room.path)]).await;
    assert_eq!(code, Some(2));
    assert!(said.contains(&address) && said.contains("front_door"), "{said}");
}

#[tokio::test]
async fn a_demo_beyond_loopback_is_refused_with_the_reason() {
    let (code, said) = run(&["demo", "--listen", "0.0.0.0:0"]).await;
    assert_eq!(code, Some(2));
    assert!(said.contains("sign-in") && said.contains("loopback"), "{said}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_broker_that_is_away_is_an_alarm_and_is_found_again() {
    let port = free_port();
    let room = RoomFile::behind_broker(port, "");
    let mut service = Hatchwarden::run(&room).await;
    let words = service
        .api
        .until("broker lost", "api/v1/alarms", |a| {
            let found = a.as_array()?.iter().find(|a| a["id"] == "room.broker-lost")?;
            Some(found["text"].as_str()?.to_owned())
        })
        .await;
    assert!(words.contains(&port.to_string()), "the alarm does not name the broker: {words}");
    let ready = service.api.page("ready").await;
    assert!(ready.contains(&port.to_string()), "{ready}");

    let broker = Mosquitto::start_on(port).await;
    service.child.line_with("subscribed").await;
    broker.publish("hatchwarden/undercroft/V1/temperature", "26.94").await;
    service
        .api
        .until("the reading after the broker is back", "api/v1/readings", |r| {
            (r[0]["value"] == 26.94).then_some(())
        })
        .await;
    service
        .api
        .until("the alarm is over", "api/v1/alarms", |a| {
            a.as_array()?.iter().all(|a| a["standing"] == false).then_some(())
        })
        .await;
}

/// A file system of 3 MB in memory; `None` where this user may not mount one.
struct SmallDisk(tempfile::TempDir);

impl SmallDisk {
    async fn new() -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let mount = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=3m", "tmpfs", text(folder.path())])
            .output()
            .await
            .unwrap();
        mount.status.success().then_some(Self(folder))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        // Best effort: a mount left behind goes with the machine.
        let _ = std::process::Command::new("umount").args(["-l", text(self.0.path())]).status();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_disk_loses_nothing_that_was_acknowledged_and_work_goes_on_when_there_is_room() {
    let Some(disk) = SmallDisk::new().await else {
        println!("no right to mount a small file system here; the store's own tests cover a full disk");
        return;
    };
    let (room, port) = RoomFile::with_front_door("");
    let config = std::fs::read_to_string(&room.path).unwrap();
    let store = disk.0.path().join("room.db");
    std::fs::write(&room.path, config.replace("store/room.db", text(&store))).unwrap();
    let service = Hatchwarden::run(&room).await;

    let ballast = disk.0.path().join("ballast");
    fill(&ballast);
    let topic = "hatchwarden/undercroft/V1/temperature";
    let begin = 1_790_000_000_u64;
    let publisher = tokio::spawn(publish_until_all_acknowledged(port, topic, begin, 3_000));
    let words = service
        .api
        .until("cannot store", "api/v1/alarms", |a| {
            let found = a.as_array()?.iter().find(|a| a["id"] == "room.cannot-store")?;
            Some(found["text"].as_str()?.to_owned())
        })
        .await;
    assert!(
        words.contains("room.db") && words.contains("no room left") && words.contains("make room"),
        "{words}"
    );
    assert!(!publisher.is_finished(), "messages were acknowledged that are not on disk");
    assert!(service.api.page("ready").await.contains("no room left"));

    std::fs::remove_file(&ballast).unwrap();
    publisher.await.unwrap();
    let (from, to) = ("2026-09-21T00:00:00Z", "2026-09-25T00:00:00Z");
    let stored = service.api.get(&format!("api/v1/readings/V1/temperature?from={from}&to={to}")).await;
    assert_eq!(stored["readings"].as_array().unwrap().len(), 3_000);
    service
        .api
        .until("the alarm is over", "api/v1/alarms", |a| {
            let gone =
                |a: &serde_json::Value| a["id"] != "room.cannot-store" || a["standing"] == json!(false);
            a.as_array()?.iter().all(gone).then_some(())
        })
        .await;
}

/// Writes until the disk has no byte left.
fn fill(path: &Path) {
    use std::io::Write;
    let mut file = std::fs::File::create(path).unwrap();
    for size in [64 * 1024, 4096, 1] {
        while file.write_all(&vec![0_u8; size]).is_ok() {}
    }
}

async fn publish_until_all_acknowledged(port: u16, topic: &'static str, begin: u64, count: u64) {
    let mut options = rumqttc::MqttOptions::new("filler", "127.0.0.1", port);
    options.set_clean_session(false).set_inflight(500);
    let (client, mut events) = rumqttc::AsyncClient::new(options, 5_000);
    for n in 0..count {
        let payload = format!(r#"{{"v":26.5,"t":{}}}"#, begin + n * 60);
        client.try_publish(topic, rumqttc::QoS::AtLeastOnce, false, payload).unwrap();
    }
    let mut acknowledged = 0;
    while acknowledged < count {
        if let rumqttc::Event::Incoming(rumqttc::Packet::PubAck(_)) = events.poll().await.unwrap() {
            acknowledged += 1;
        }
    }
}
