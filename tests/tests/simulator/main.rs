//! The simulator's program against a real broker and a foreign client: what `run` publishes is what `record` writes.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod command_line;
mod heard;

use heard::{Heard, hear, recorded};
use std::path::Path;
use testkit::{Child, Mosquitto, mosquitto_sub, program};
use tokio::process::Command;

/// The program with these arguments, to its end.
async fn sim(arguments: &[&str]) -> (Option<i32>, String) {
    Child::start("hatchwarden-sim", Command::new(program("hatchwarden-sim")).args(arguments)).end().await
}

/// A tank, a tumbler, and devices that write, mark and lose things in different ways. `events` come in addition.
fn scenario(folder: &Path, events: &str) -> String {
    let text = format!(
        "room = 'lab'\n[[circuit]]\nname = 'rack'\n\
         [[tank]]\nvessel = 'V1'\nlitres = 90\nset_point = 27.0\n[[outlet]]\nvessel = 'TU1'\n\
         [[device]]\nname = 'a'\nkeeps = 200\nprobes = ['V1/temperature', 'TU1/air-flow']\n\
         [[device]]\nname = 'b'\nshape = 'flat-json'\nevery = '15 s'\nretain = true\nprobes = ['V1/temperature/b']\n\
         [[device]]\nname = 'c'\nshape = 'plain'\nqos = 0\nwill = false\nprobes = ['V1/temperature/c']\n\
         [[device]]\nname = 'd'\nshape = 'float32-le'\nevery = '20 s'\nkeeps = 9\ncircuit = 'rack'\n\
         probes = ['TU1/air-flow/d']\n{events}"
    );
    let file = folder.join("lab.toml");
    std::fs::write(&file, text).unwrap();
    file.to_str().unwrap().to_owned()
}

fn event(at: &str, lasts: &str, fault: &str) -> String {
    format!("[[event]]\nat = '{at}'\nlasts = '{lasts}'\nfault = {{ {fault} }}\n")
}

/// Everything that the broker passes on, until told otherwise.
async fn listen(broker: &Mosquitto) -> Child {
    mosquitto_sub(broker.port, &["-q", "1", "-t", "#", "-F", heard::FORM]).await
}

/// Everything heard so far: the broker passes on in order, so a last message of our own comes after all others.
async fn all_of(mut listener: Child, broker: &Mosquitto) -> Vec<Heard> {
    broker.publish("test/end", "end").await;
    listener.line_with("test/end").await;
    let printed = listener.printed();
    listener.kill().await;
    hear(&printed).into_iter().filter(|h| h.topic != "test/end").collect()
}

const STATES: [&str; 3] = ["a", "b", "d"];

fn goodbye(device: &str) -> Heard {
    let topic = format!("hatchwarden/lab/{device}/availability");
    Heard { topic, payload: b"offline".to_vec(), qos: 1, retain: true }
}

#[tokio::test]
async fn flat_out_the_broker_gets_what_a_record_holds() {
    let folder = tempfile::tempdir().unwrap();
    let events = [
        event("5 min", "4 min", "wifi-lost = 'a'"),
        event("12 min", "3 min", "circuit-off = 'rack'"),
        event("20 min", "10 s", "wifi-lost = 'b'"),
        event("22 min", "2 min", "wifi-lost = 'd'"),
    ];
    let file = scenario(folder.path(), &events.concat());
    let wanted = recorded(folder.path(), &file, "30 min").await;
    let broker = Mosquitto::start().await;
    let listener = listen(&broker).await;
    let url = format!("mqtt://127.0.0.1:{}", broker.port);
    let (code, said) =
        sim(&["run", &file, "--broker", &url, "--speed", "max", "--for", "30 min", "--seed", "5"]).await;
    assert_eq!(code, Some(0), "{said}");
    let got = all_of(listener, &broker).await;
    for device in ["a", "b", "c", "d"] {
        let mut want = wanted.of(device);
        if STATES.contains(&device) {
            want.push(goodbye(device)); // when the room ends, which a record does not tell
        }
        heard::same(device, &wanted.heard_of(device, &got), &want);
    }
    late_subscribers_get_what_was_retained(&broker, &got).await;
}

/// What the broker keeps is the last word on every topic that was to be kept.
async fn late_subscribers_get_what_was_retained(broker: &Mosquitto, got: &[Heard]) {
    let late = all_of(listen(broker).await, broker).await;
    let mut topics: Vec<&str> = late.iter().map(|h| h.topic.as_str()).collect();
    topics.sort_unstable();
    assert_eq!(
        topics,
        [
            "hatchwarden/lab/a/availability",
            "hatchwarden/lab/b/availability",
            "hatchwarden/lab/d/availability",
            "lab/b/probes"
        ]
    );
    for kept in late {
        let last = got.iter().rev().find(|h| h.topic == kept.topic).unwrap();
        assert!(kept.retain && kept.payload == last.payload && kept.qos == 1, "{kept:?}, not {last:?}");
    }
}

#[tokio::test]
async fn a_living_room_loses_devices_and_gets_them_back_with_what_they_kept() {
    let folder = tempfile::tempdir().unwrap();
    let events = [event("20 s", "60 s", "wifi-lost = 'a'"), event("40 s", "60 s", "circuit-off = 'rack'")];
    let file = scenario(folder.path(), &events.concat());
    let wanted = recorded(folder.path(), &file, "2 h").await;
    let broker = Mosquitto::start().await;
    let mut listener = listen(&broker).await;
    let url = format!("mqtt://127.0.0.1:{}", broker.port);
    let mut command = Command::new(program("hatchwarden-sim"));
    command.args(["run", &file, "--broker", &url, "--speed", "60", "--for", "2 h", "--seed", "5"]);
    let running = Child::start("hatchwarden-sim run", &mut command);
    for (device, word) in [("a", "offline"), ("a", "online"), ("d", "online")] {
        let line = format!("hatchwarden/lab/{device}/availability {}", heard::hex(word));
        listener.line_with(&line).await;
    }
    for topic in ["TU1/air-flow/d", "TU1/air-flow "] {
        listener.line_with(&format!("M 1 0 hatchwarden/lab/{topic}")).await;
    }
    let (code, said) = interrupt(running).await;
    assert_eq!(code, Some(0), "{said}");
    let got = all_of(listener, &broker).await;
    for device in ["a", "b", "c", "d"] {
        let mut heard = wanted.heard_of(device, &got);
        if STATES.contains(&device) {
            assert_eq!(heard.pop().unwrap().payload, b"offline", "{device} says goodbye");
        }
        let want = wanted.of(device);
        heard::same(device, &heard, &want[..heard.len()]);
    }
    // The will, the return, and at once what was kept: seconds 20 to 80 of a device with two probes each 10 s.
    let a = wanted.heard_of("a", &got);
    let gone = a.iter().position(|h| h.payload == b"offline").unwrap();
    assert_eq!(a[gone + 1].payload, b"online");
    assert!(a.len() > gone + 2 + 12, "{} of a", a.len());
}

/// Begun in the middle of a loss, the device is not there at first, and comes with what it has kept until then.
#[tokio::test]
async fn a_room_that_is_entered_in_the_middle_of_a_loss_begins_without_that_device() {
    let folder = tempfile::tempdir().unwrap();
    let file = scenario(folder.path(), &event("5 min", "10 min", "wifi-lost = 'a'"));
    let broker = Mosquitto::start().await;
    let mut listener = listen(&broker).await;
    let url = format!("mqtt://127.0.0.1:{}", broker.port);
    let mut command = Command::new(program("hatchwarden-sim"));
    command.args(["run", &file, "--broker", &url, "--speed", "60", "--from", "13 min", "--seed", "5"]);
    let running = Child::start("hatchwarden-sim run", &mut command);
    listener.line_with(&format!("hatchwarden/lab/a/availability {}", heard::hex("online"))).await;
    listener.line_with("M 1 0 hatchwarden/lab/TU1/air-flow ").await;
    let (code, said) = interrupt(running).await;
    assert_eq!(code, Some(0), "{said}");
    let got = all_of(listener, &broker).await;
    let first = |part: &str| got.iter().position(|h| h.topic.contains(part)).unwrap();
    assert!(first("lab/b/probes") < first("/a/availability"), "b was heard before a came");
    // Two probes each 10 s for ten minutes.
    let kept =
        got.iter().filter(|h| h.topic.ends_with("/TU1/air-flow") || h.topic.ends_with("/V1/temperature"));
    assert!(kept.count() >= 120);
}

/// Ctrl-C.
async fn interrupt(child: Child) -> (Option<i32>, String) {
    let id = child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().await.unwrap().success());
    child.end().await
}
