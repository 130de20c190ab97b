//! Who watches the watcher: the init system by its socket, and an outside address.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use testkit::{Hatchwarden, PATIENCE, RoomFile, free_port, receive};
use tokio::net::UnixDatagram;
use tokio::time::timeout;

/// What the service says next at the socket of an init system; sd_notify(3) of systemd (read) gives the words.
async fn told(socket: &UnixDatagram) -> Vec<String> {
    let mut bytes = [0; 4096];
    let n = timeout(PATIENCE, socket.recv(&mut bytes)).await.unwrap().unwrap();
    String::from_utf8(bytes[..n].to_vec()).unwrap().lines().map(str::to_owned).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_init_system_is_told_of_start_life_and_end() {
    let (room, _) = RoomFile::with_front_door("");
    let path = room.folder.path().join("init.sock");
    let socket = UnixDatagram::bind(&path).unwrap();
    // WATCHDOG_PID is left out: then the span is meant for whoever reads it, as sd_watchdog_enabled(3) says.
    let variables = [("NOTIFY_SOCKET", path.to_str().unwrap()), ("WATCHDOG_USEC", "3000000")];
    let service = Hatchwarden::run_with(&room, &variables).await;
    let mut said = Vec::new();
    while said.iter().filter(|s| *s == "WATCHDOG=1").count() < 3 {
        said.extend(told(&socket).await);
    }
    assert!(said.contains(&"READY=1".to_owned()), "{said:?}");
    assert!(said.iter().any(|s| s.starts_with("STATUS=room undercroft, page http://")), "{said:?}");
    let (code, log) = service.child.stop().await;
    assert_eq!(code, Some(0), "{log}");
    while !said.contains(&"STOPPING=1".to_owned()) {
        said.extend(told(&socket).await);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn signs_of_life_go_to_an_outside_address_while_the_service_lives() {
    let port = free_port();
    let mut signs = receive(port, "200 OK").await;
    let heartbeat =
        format!("[heartbeat]\nurl = \"http://127.0.0.1:{port}/beat?key=moonfish\"\nevery_s = 10\n");
    let (room, _) = RoomFile::with_front_door(&heartbeat);
    let service = Hatchwarden::run(&room).await;
    for _ in 0..2 {
        let sign = timeout(PATIENCE, signs.recv()).await.unwrap().unwrap();
        assert_eq!(sign.body, "");
    }
    let (_, log) = service.child.stop().await;
    assert!(!log.contains("moonfish"), "the address can hold a key: {log}");
}

/// What cannot be reached is said once, and nothing else suffers.
#[tokio::test(flavor = "multi_thread")]
async fn an_outside_address_that_is_away_is_said() {
    let port = free_port();
    let heartbeat = format!("[heartbeat]\nurl = \"http://127.0.0.1:{port}/\"\nevery_s = 10\n");
    let (room, _) = RoomFile::with_front_door(&heartbeat);
    let mut service = Hatchwarden::run(&room).await;
    let line = service.child.line_with("a sign of life did not arrive").await;
    assert!(line.contains("cannot be reached") && line.contains("[heartbeat] url"), "{line}");
    let (code, log) = service.child.stop().await;
    assert_eq!(code, Some(0), "{log}");
}
