//! `hatchwarden decode` as a command.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::{Value, json};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn decode(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hatchwarden")).arg("decode").args(args).output().unwrap()
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").join(name)
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// Its own cases of the readings crate, by the command: the same list in the same order.
#[test]
fn a_batch_comes_out_as_a_list_of_outcomes() {
    let cases = file("services/readings/tests/payloads.json");
    let out = decode(&["--batch", text(&cases), "--json"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    let outcomes: Vec<Value> = serde_json::from_slice(&out.stdout).unwrap();
    let cases: Vec<Value> = serde_json::from_str(&std::fs::read_to_string(cases).unwrap()).unwrap();
    assert_eq!(outcomes.len(), cases.len());
    for (o, c) in outcomes.iter().zip(&cases) {
        assert_eq!(o["id"], c["id"]);
        let keys: Vec<&String> = o.as_object().unwrap().keys().collect();
        assert_eq!(keys.len(), 8, "{keys:?}");
        assert_eq!(o["outcome"], if c["expected"].is_object() { "reading" } else { "refusal" }, "{o}");
        assert_eq!(o["reason"], c["expected_rejection"], "{o}");
        assert_eq!(o["time"], c["expected"]["time"], "{o}");
    }
}

#[test]
fn a_broken_case_is_named_and_the_others_come_out_all_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("cases.json");
    let case = |id: &str, format: &str| {
        json!({"id": id, "topic": "a", "payload": "26.9", "received_at": "2031-03-14T02:17:40Z",
            "how_to_read": {"channel": "temperature", "format": format, "unit_in": "C", "unit_out": "C"}})
    };
    let cases = json!([case("X1", "plain"), case("X2", "xml"), case("X3", "plain")]);
    std::fs::write(&file, cases.to_string()).unwrap();
    let out = decode(&["--batch", text(&file), "--json"]);
    assert_eq!(out.status.code(), Some(2));
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(said.contains("case X2: how_to_read.format"), "{said}");
    let outcomes: Vec<Value> = serde_json::from_slice(&out.stdout).unwrap();
    let ids: Vec<&Value> = outcomes.iter().map(|o| &o["id"]).collect();
    assert_eq!(ids, ["X1", "X3"]);
}

#[test]
fn one_message_by_the_map_of_a_room() {
    let room = file("config/room.toml");
    let base = ["--map", text(&room), "--received", "2031-03-14T02:17:40Z"];
    let with = |more: &[&str]| decode(&[&base[..], more].concat());
    let out = with(&["--topic", "cellar/rack-c/v1/temp_f", "--payload", "80.4", "--json"]);
    assert_eq!(out.status.code(), Some(0));
    let all: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((&all[0]["place"], &all[0]["unit"]), (&json!("V1/temperature/spare"), &json!("°C")));
    let out = with(&["--topic", "cellar/rack-c/v1/temp_f", "--payload", "-196.6"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert_eq!(
        (out.status.code(), said.as_str()),
        (Some(1), "V1/temperature/spare: refused, sensor_disconnected\n")
    );
    let out = with(&["--topic", "hatchwarden/undercroft/V1/temperature", "--payload", "26.4", "--retained"]);
    assert_eq!(
        String::from_utf8(out.stdout).unwrap(),
        "V1/temperature: 26.4 °C at an unknown time (unknown, retained_not_fresh)\n"
    );
}

#[test]
fn a_map_alone_and_bytes_from_standard_input() {
    let folder = tempfile::tempdir().unwrap();
    let map = folder.path().join("map.toml");
    let entry =
        "[[map]]\ntopic = \"bin\"\nvessel = \"V1\"\nquantity = \"temperature\"\nformat = \"float32-le\"\n";
    std::fs::write(&map, entry).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_hatchwarden"))
        .args(["decode", "--map", text(&map), "--topic", "bin", "--payload", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(&26.75f32.to_le_bytes()).unwrap();
    let said = String::from_utf8(child.wait_with_output().unwrap().stdout).unwrap();
    assert!(said.starts_with("V1/temperature: 26.75 °C at "), "{said}");
}

#[test]
fn wrong_use_exits_with_two_and_says_the_cure() {
    let folder = tempfile::tempdir().unwrap();
    let bad = folder.path().join("bad");
    std::fs::write(&bad, "[[map]]\ntopic = \"a\"\nvessel = \"V1\"\nquantity = \"bubbles\"\n").unwrap();
    for (args, words) in [
        (vec!["--topic", "a"], "--payload"),
        (vec!["--batch", "/nowhere.json"], "check the path"),
        (vec!["--batch", text(&bad)], "a JSON list of messages"),
        (vec!["--map", text(&bad), "--topic", "a", "--payload", "1"], "map number 1.quantity"),
        (vec!["--map", text(&bad), "--topic", "a", "--payload", "1", "--received", "noon"], "is not a time"),
    ] {
        let out = decode(&args);
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains(words), "{args:?}: {said}");
    }
}
