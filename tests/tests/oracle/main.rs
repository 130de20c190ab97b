//! The simulated room against scipy: the same equations, solved by somebody else. Installed by `tests/run`.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod calendar;
mod exports;
mod pooling;
mod statistics;
mod traces;

use serde_json::{Value, json};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use testkit::program;
use units::Time;

const START: &str = "2031-03-01T00:00:00Z";

/// The JSON list that a Python program makes of some JSON.
fn python(program: &str, asked: &str) -> Vec<Value> {
    let mut child = Command::new("python3")
        .args(["-c", program])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(asked.as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "python with scipy; run tests/run once to install it");
    serde_json::from_slice(&out.stdout).unwrap()
}

/// A recorded room: readings as values by the names of their records, and lines of truth, both with seconds after the
/// start.
struct Played {
    readings: Vec<(f64, String, f64)>,
    truths: Vec<(f64, Value)>,
}

fn play(scenario: &str, length: &str) -> Played {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("room.toml");
    std::fs::write(&file, scenario).unwrap();
    let out = folder.path().join("out");
    let made = Command::new(program("hatchwarden-sim"))
        .args(["record", file.to_str().unwrap(), "--out", out.to_str().unwrap()])
        .args(["--for", length, "--start", START])
        .output()
        .unwrap();
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let readings = lines(&out.join("messages.jsonl")).into_iter().filter_map(reading).collect();
    Played { readings, truths: lines(&out.join("truth.jsonl")) }
}

/// The lines of a file with their seconds after the start.
fn lines(file: &Path) -> Vec<(f64, Value)> {
    let start = Time::parse_rfc3339(START).unwrap();
    let text = std::fs::read_to_string(file).unwrap();
    let read = |line: &str| {
        let value: Value = serde_json::from_str(line).unwrap();
        let at = Time::parse_rfc3339(value["at"].as_str().unwrap()).unwrap();
        ((at - start).as_seconds(), value)
    };
    text.lines().map(read).collect()
}

/// The record of a device with one probe.
fn reading((at, line): (f64, Value)) -> Option<(f64, String, f64)> {
    let pack: Value = serde_json::from_str(line["payload"].as_str()?).ok()?;
    Some((at, pack[0]["n"].as_str()?.to_owned(), pack[0]["v"].as_f64()?))
}

impl Played {
    fn readings_of(&self, name: &str) -> Vec<(f64, f64)> {
        self.readings.iter().filter(|(_, n, _)| n == name).map(|(at, _, v)| (*at, *v)).collect()
    }

    /// A figure of the water of V1 hour by hour.
    fn truth(&self, figure: &str) -> Vec<(f64, f64)> {
        let water = self.truths.iter().filter(|(_, v)| v["what"] == "water");
        water.map(|(at, v)| (*at, v[figure].as_f64().unwrap())).collect()
    }
}

/// What scipy makes of the task at the times of these values.
fn scipy(mut task: Value, ours: &[(f64, f64)]) -> Vec<f64> {
    task["times"] = ours.iter().map(|(at, _)| *at).collect();
    let answer = python(include_str!("ask.py"), &task.to_string());
    answer.iter().map(|v| v.as_f64().unwrap()).collect()
}

/// The largest difference, which must be under the tolerance.
fn agree(what: &str, ours: &[(f64, f64)], task: Value, tolerance: f64) {
    let theirs = scipy(task, ours);
    assert!(ours.len() > 20 && ours.len() == theirs.len());
    let off = ours.iter().zip(theirs).map(|((at, v), want)| ((v - want).abs(), *at));
    let (most, at) = off.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap();
    println!("{what}: {} values within {most:.2e}", ours.len());
    assert!(most <= tolerance, "{what}: off by {most} after {at} s, more than {tolerance}");
}

/// With a heater that switches, in a room with a daily wave. scipy finds the crossing of a threshold as an event and
/// switches at the next look, as ours does; its air is half a look late, since ours is held from look to look. Left is
/// under 1e-7 K, and half of the probe's step of 1e-6 K. Without that half look the heater would, some times a day, switch
/// a look later, and the two would be up to 0.008 K apart by the evening.
#[test]
fn a_day_of_a_heated_tank() {
    let played = play(
        "room = 'lab'\n[room_air]\nmean_celsius = 19.0\nswing_celsius = 2.5\nwarmest = '15:00'\n\
         [[tank]]\nvessel = 'V1'\nlitres = 90\nset_point = 27.0\nheater_watts = 150\nloss_w_per_k = 7.5\n\
         start_celsius = 25.1\n[[device]]\nname = 'b1'\nevery = '30 s'\nshape = 'senml'\n\
         probes = [{ probe = 'V1/temperature', noise = 0, step = 0.000001 }]\n",
        "1 d",
    );
    let task = json!({
        "what": "tank", "mean": 19.0, "swing": 2.5, "warmest": 54_000, "loss": 7.5, "capacity": 90.0 * 4170.0,
        "set_point": 27.0, "hysteresis": 0.5, "watts": 150.0, "start": 25.1, "look": 10,
    });
    agree("truth, K", &played.truth("celsius"), task.clone(), 1e-6);
    agree("readings, K", &played.readings_of("V1.temperature"), task, 1e-6);
}

/// Ours goes by steps of a second.
#[test]
fn a_header_that_runs_empty() {
    let played = play(
        "room = 'lab'\n[[tank]]\nvessel = 'V1'\nlitres = 500\n[[jar_loop]]\nname = 'A'\nheader_litres = 40\n\
         [[jar]]\nvessel = 'J1'\n[[jar]]\nvessel = 'J2'\nlitres_per_minute = 4.0\ndry_at = 0.35\n\
         [[device]]\nname = 'b1'\nevery = '10 s'\nshape = 'senml'\n\
         probes = [{ probe = 'J1/level', of = 'A', noise = 0, step = 0.00001 }]\n\
         [[event]]\nat = '0 s'\nfault = { strainer-blocked = { jar_loop = 'A', part = 1.0 } }\n",
        "40 min",
    );
    // The level is worked out at the thermostats' looks, so readings tell that of the last one.
    let looked = |(at, v): (f64, f64)| ((at / 10.0).floor() * 10.0, v / 100.0);
    let ours: Vec<(f64, f64)> = played.readings_of("J1.level").into_iter().map(looked).collect();
    assert!(ours.last().unwrap().1 < 0.2, "{:?}", ours.last());
    let task = json!({"what": "header", "litres": 40.0, "jars": [[2.7, 0.1], [4.0, 0.35]]});
    agree("header, share", &ours, task, 0.001);
}

/// Saturation at 26 °C is the figure of gsw 3.6.23, 8.1124 mg/L within 0.01; exchange and breath are the room's planning
/// values: 0.03 m/h through 0.25 m² into 100 L, 0.33 mg an hour for each of 20 g.
#[test]
fn oxygen_under_a_steady_load() {
    let played = play(
        "room = 'lab'\n[room_air]\nmean_celsius = 26.0\nswing_celsius = 0\n[[tank]]\nvessel = 'V1'\nlitres = 100\n\
         size_m = [0.5, 0.5, 0.4]\nfish_grams = 20\nfilter_mg_per_h = 0\n",
        "2 d",
    );
    let task = json!({
        "what": "oxygen", "rate": 0.03 * 0.25 * 10.0 / 3600.0, "saturation": 8.1124, "taken": 0.33 * 20.0 / 100.0 / 3600.0,
        "start": 0.97 * 8.1124,
    });
    agree("oxygen, mg/L", &played.truth("oxygen"), task, 0.01);
}
