//! `hatchwarden replay` as a command.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::{Value, json};
use std::process::{Command, Output};

const CONFIG: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../config/room.toml");

fn replay(record: &str, args: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("night.jsonl");
    std::fs::write(&file, record).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_hatchwarden"));
    command.arg("replay").arg(&file).args(args).output().unwrap()
}

fn moves(record: &str, args: &[&str]) -> Vec<Value> {
    let out = replay(record, &[args, &["--json"]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap().lines().map(|l| serde_json::from_str(l).unwrap()).collect()
}

/// Seconds since 2031-03-14T02:00:00Z as a time.
fn at(s: i64) -> String {
    format!("2031-03-14T{:02}:{:02}:{:02}Z", 2 + s / 3600, s / 60 % 60, s % 60)
}

fn readings(vessel: &str, quantity: &str, every: i64, values: &[(i64, f64)]) -> String {
    let mut lines = String::new();
    for w in values.windows(2) {
        let mut s = w[0].0;
        while s < w[1].0 {
            let line = json!({ "t": at(s), "vessel": vessel, "quantity": quantity, "value": w[0].1 });
            lines += &format!("{line}\n");
            s += every;
        }
    }
    lines
}

/// Turning for ten minutes, still for five, turning for five.
fn stop() -> String {
    readings("TU7", "air-flow", 10, &[(0, 0.9), (600, 0.0), (900, 0.9), (1200, 0.0)])
}

/// Time, condition and states of each transition.
fn short(moves: &[Value]) -> Vec<String> {
    let text = |m: &Value, field: &str| m[field].as_str().unwrap().to_owned();
    let one =
        |m| format!("{} {}: {} -> {}", text(m, "t"), text(m, "condition"), text(m, "from"), text(m, "to"));
    moves.iter().map(one).collect()
}

/// 20 s after the first reading without flow it is raised, 30 s after the first with flow again it is over.
#[test]
fn a_bare_file_is_watched_by_the_defaults_of_its_quantities() {
    let moved = moves(&stop(), &[]);
    assert_eq!(
        short(&moved),
        [
            "2031-03-14T02:10:20Z air stopped: normal -> unacknowledged",
            "2031-03-14T02:15:30Z air stopped: unacknowledged -> returned unacknowledged",
        ]
    );
    assert_eq!(moved[0]["vessel"], "TU7");
    let text = moved[0]["text"].as_str().unwrap();
    assert!(text.starts_with("TU7 lies still since 02:10. Air flow 0.00 L/min."), "{text}");

    // A minute beyond 24 to 29 °C; a probe that is given up is silent after three minutes.
    let cold = readings("V7", "temperature", 60, &[(0, 26.0), (600, 23.5), (1200, 26.0), (1800, 0.0)]);
    let moved = moves(&cold, &["--until", &at(3600)]);
    assert_eq!(
        short(&moved),
        [
            "2031-03-14T02:11:00Z too cold: normal -> unacknowledged",
            "2031-03-14T02:21:00Z too cold: unacknowledged -> returned unacknowledged",
            "2031-03-14T02:32:30Z silent: normal -> unacknowledged",
        ]
    );
}

/// A reading every ten minutes is no silence; half an hour without one is.
#[test]
fn the_rhythm_of_a_bare_file_is_its_own() {
    let slow = readings("V7", "temperature", 600, &[(0, 26.0), (7_200, 0.0)]);
    let moved = moves(&slow, &["--until", &at(10_800)]);
    assert_eq!(short(&moved), ["2031-03-14T04:25:00Z silent: normal -> unacknowledged"]);
}

#[test]
fn the_same_file_gives_the_same_bytes_in_any_order_of_its_lines() {
    let mut lines: Vec<String> = stop().lines().map(|l| format!("{l}\n")).collect();
    let first = replay(&lines.concat(), &["--json"]).stdout;
    assert_eq!(replay(&lines.concat(), &["--json"]).stdout, first);
    lines.reverse();
    assert_eq!(replay(&lines.concat(), &["--json"]).stdout, first);
    assert!(!first.is_empty());
}

/// What was acknowledged in the record need not stand by the settings that are tried: that is said, and the rest is played.
#[test]
fn an_acknowledgement_of_what_does_not_stand_here_is_passed_over() {
    let taken = json!({ "t": at(300), "acknowledge": "TU7.air-stopped" });
    let out = replay(&format!("{taken}\n{}", stop()), &["--json"]);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{said}");
    assert!(said.contains("TU7.air-stopped: acknowledged then, and it does not stand here (1)"), "{said}");
    assert_eq!(out.stdout, replay(&stop(), &["--json"]).stdout);
}

/// A clutch in TU2 of the example room, its air stops, and somebody takes the alarm on.
#[test]
fn events_are_played_with_the_readings() {
    let opened = json!({ "event": "clutch-opened", "clutch": "C11", "fish": "Astatotilapia burtoni",
        "species": "generic-mouthbrooder", "mother": null, "vessel": "TU2",
        "day0": { "earliest": "2031-03-10T00:00:00Z", "latest": "2031-03-10T00:00:00Z", "grade": "seen" } });
    let air = stop().replace("TU7", "TU2");
    let opened = json!({ "t": at(0), "by": "keeper", "event": opened });
    let seen = json!({ "t": at(700), "by": "keeper", "acknowledge": "TU2.air-stopped" });
    let moved = moves(&format!("{opened}\n{air}{seen}\n"), &["--config", CONFIG]);
    let to: Vec<&str> = moved.iter().map(|m| m["to"].as_str().unwrap()).collect();
    assert_eq!(to, ["unacknowledged", "acknowledged", "normal"]);
    assert!(moved[0]["text"].as_str().unwrap().contains("C11"), "{}", moved[0]);
    // A tumbler of the room that holds no clutch may stand still.
    assert_eq!(moves(&air, &["--config", CONFIG]), Vec::<Value>::new());
}

/// Water that swings by half a kelvin about the end of its band: three calls with the usual deadband of 0.2 K, one with 0.6 K,
/// and none if it may be outside for a quarter of an hour.
#[test]
fn settings_are_tried_on_what_was_read() {
    let swings: Vec<(i64, f64)> = (0..8).map(|i| (600 * i, if i % 2 == 0 { 25.9 } else { 25.4 })).collect();
    let record = readings("V1", "temperature", 60, &swings);
    let folder = tempfile::tempdir().unwrap();
    let trial = |keys: &str| {
        let file = folder.path().join("trial.toml");
        let band = "band = [25.5, 28.5]";
        let text = include_str!("../../../config/room.toml").replace(band, &format!("{band}\n{keys}"));
        std::fs::write(&file, text).unwrap();
        let moved = moves(&record, &["--config", file.to_str().unwrap()]);
        moved.iter().filter(|m| m["to"] == "unacknowledged").count()
    };
    assert_eq!([trial(""), trial("band_deadband_k = 0.6"), trial("band_on_delay_s = 900")], [3, 1, 0]);
}

#[test]
fn people_are_told_in_lines() {
    let said = String::from_utf8(replay(&stop(), &[]).stdout).unwrap();
    let first = said.lines().next().unwrap();
    assert!(
        first.starts_with("Fri 14 Mar 02:10 TU7.air-stopped: normal -> unacknowledged. TU7 lies"),
        "{said}"
    );
}

#[test]
fn a_line_that_cannot_be_is_named_with_its_cure() {
    let good = r#"{"t":"2031-03-14T02:00:00Z","vessel":"V1","quantity":"temperature","value":26.9}"#;
    for (line, want) in [
        ("what", "write one JSON object in a line"),
        (r#"{"vessel":"V1","quantity":"temperature","value":1}"#, "t is missing"),
        (r#"{"t":"noon","vessel":"V1","quantity":"temperature","value":1}"#, "t is \"noon\"; write a time"),
        (r#"{"t":1,"quantity":"temperature","value":1}"#, "vessel is missing"),
        (r#"{"t":1,"vessel":"V 1","quantity":"temperature","value":1}"#, "vessel: "),
        (r#"{"t":1,"vessel":"V1","quantity":"bubbles","value":1}"#, "quantity: "),
        (r#"{"t":1,"vessel":"V1","quantity":"temperature"}"#, "value is missing"),
        (
            r#"{"t":1,"vessel":"V1","quantity":"temperature","value":"warm"}"#,
            "value is \"warm\"; write a number",
        ),
        (r#"{"t":1,"vessel":"V1","availability":"away"}"#, "write online or offline"),
        (r#"{"t":1,"acknowledge":"V1"}"#, "acknowledge: "),
        (r#"{"t":1,"event":{"event":"party"}}"#, "event: "),
    ] {
        let out = replay(&format!("# ours\n\n{good}\n{line}\n"), &["--json"]);
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!((out.status.code(), out.stdout.len()), (Some(2), 0), "{line}: {said}");
        assert!(said.contains("line 4: ") && said.contains(want), "{want}: {said}");
    }
    let empty = replay("\n# nothing\n", &[]);
    assert!(String::from_utf8_lossy(&empty.stderr).contains("no line in it"));
}

#[test]
fn an_export_of_a_store_that_is_not_there_says_so_and_makes_none() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.toml");
    let text = include_str!("../../../config/room.toml").replace("../data/undercroft.db", "none.db");
    std::fs::write(&file, text).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_hatchwarden"));
    let out = command.args(["export", "--config"]).arg(&file).output().unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!((out.status.code(), out.stdout.len()), (Some(2), 0), "{said}");
    assert!(said.contains("none.db") && said.contains("check"), "{said}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

/// 23.5 °C is too cold by the defaults, but the thermometer reads 1.1 K too little.
#[test]
fn comparisons_of_thermometers_are_played_too() {
    let water = readings("V7", "temperature", 60, &[(0, 24.5), (600, 23.5), (3000, 0.0)]);
    let comparison = |read: f64| {
        let known = json!({ "probe": "V7/temperature", "at": at(60), "read": read, "reference": 25.6, "against": "the better one" });
        json!({ "t": at(60), "by": "Ada", "comparison": known })
    };
    assert_eq!(short(&moves(&water, &[])), ["2031-03-14T02:11:00Z too cold: normal -> unacknowledged"]);
    assert_eq!(short(&moves(&format!("{}\n{water}", comparison(24.5)), &[])), [""; 0]);
    let withdrawn = json!({ "t": at(1200), "by": "Ada", "withdrawn_comparison": 1 });
    let moved = moves(&format!("{}\n{withdrawn}\n{water}", comparison(24.5)), &[]);
    assert_eq!(short(&moved), ["2031-03-14T02:21:00Z too cold: normal -> unacknowledged"]);

    let cannot_be = replay(&format!("{}\n{water}", comparison(2.0)), &[]);
    assert_eq!(cannot_be.status.code(), Some(2));
    let said = String::from_utf8(cannot_be.stderr).unwrap();
    assert!(said.contains("line 1: ") && said.contains("read"), "{said}");
}
