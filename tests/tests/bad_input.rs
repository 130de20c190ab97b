//! What is wrong is said with the thing and the cure, and the service keeps or resumes its work.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

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
                  [page]\nlisten = \"0.0.0.0\"\n[mqtt]\nfront_dor = \"127.0.0.1:1883\"\n\
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
            "\"0.0.0.0\" will not do",
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
