//! What a running service exports, read by pyarrow and Python's csv and held against its API; what pyarrow writes, imported.

use serde_json::{Value, json};
use std::path::Path;
use std::process::{Command, Output};
use testkit::{Hatchwarden, RoomFile, paho_publish, program};
use units::Time;

fn hatchwarden(arguments: &[&str]) -> Output {
    Command::new(program("hatchwarden")).args(arguments).output().unwrap()
}

fn good(arguments: &[&str]) -> String {
    let out = hatchwarden(arguments);
    assert!(out.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn read_by_python(files: &[&str]) -> Value {
    let out = Command::new("python3").args(["-c", include_str!("exports.py")]).args(files).output().unwrap();
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "python with pyarrow; run tests/run once to install it: {said}");
    serde_json::from_slice::<Value>(&out.stdout).unwrap()[0].take()
}

async fn some_readings(service: &Hatchwarden, door: u16) {
    for (vessel, value) in [("V1", "26.25"), ("V2", "28.3"), ("V1", "26.31")] {
        paho_publish(door, 4, &format!("hatchwarden/undercroft/{vessel}/temperature"), value).await;
    }
    let clutch = json!({
        "id": "C06", "fish": "gr\u{fc}ne; Lippe, \"K\u{e4}fig\"\r\n\u{5d3}\u{5d2}", "species": "generic-mouthbrooder", "mother": null,
        "day0_earliest": "2026-01-10T06:00:00Z", "day0_latest": null, "day0_grade": "seen", "vessel": "V1",
    });
    let (status, said) = service.api.post("api/v1/clutches", &clutch).await;
    assert_eq!(status, 201, "{said}");
    let compared = json!({ "probe": "V1/temperature", "since": "2026-01-01T00:00:00Z", "reference": 26.0, "against": "glass" });
    let (status, said) = service.api.post("api/v1/comparisons", &compared).await;
    assert!(status < 300, "{said}");
}

/// What the API says of a probe: times, values as they are used, and as they were read.
async fn by_api(service: &Hatchwarden, vessel: &str) -> Vec<(Time, f64, f64)> {
    let said = service.api.get(&format!("api/v1/readings/{vessel}/temperature")).await;
    let rows = said["readings"].as_array().unwrap_or_else(|| panic!("{said}"));
    rows.iter()
        .map(|r| (time(&r["time"]), r["value"].as_f64().unwrap(), r["raw"].as_f64().unwrap()))
        .collect()
}

fn time(v: &Value) -> Time {
    Time::parse_rfc3339(v.as_str().unwrap_or_else(|| panic!("{v}"))).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn other_programs_read_what_is_exported_and_write_what_is_imported() {
    let (room, door) = RoomFile::with_front_door("");
    let service = Hatchwarden::run(&room).await;
    some_readings(&service, door).await;
    let file = |name: &str| room.folder.path().join(name).to_str().unwrap().to_owned();
    let config = room.path.to_str().unwrap();
    let (parquet, sheet, account, own) =
        (file("readings.parquet"), file("readings.csv"), file("account.parquet"), file("own.parquet"));
    for (what, out) in [("readings", &parquet), ("readings", &sheet), ("account", &account)] {
        good(&["export", what, "--config", config, "--out", out]);
    }
    let said = read_by_python(&[&parquet, &sheet, &account, &own]);
    the_shape_is_as_promised(&said);
    let rows = said["rows"].as_array().unwrap();
    assert_eq!((rows.len(), said["csv"].as_array().unwrap().len()), (3, 3), "{said}");
    for vessel in ["V1", "V2"] {
        let of = rows.iter().filter(|r| r["vessel"] == vessel);
        let figures = |r: &Value| (r["corrected"].as_f64().unwrap(), r["value"].as_f64().unwrap());
        let ours: Vec<(Time, f64, f64)> = of.map(|r| (time(&r["t"]), figures(r).0, figures(r).1)).collect();
        assert_eq!(ours, by_api(&service, vessel).await, "{vessel}");
    }
    let raw: Vec<f64> = rows.iter().map(|r| r["value"].as_f64().unwrap()).collect();
    assert_eq!(raw, [26.25, 26.31, 28.3], "as they were read");
    for (n, row) in rows.iter().enumerate() {
        assert_eq!(said["csv_values"][n], row["value"]);
        let seconds = said["csv_times"][n].as_f64().unwrap();
        assert_eq!((seconds * 1000.0).round() as i64, time(&row["t"]).millis());
    }
    let opened = &said["entries"][0]["event"];
    assert_eq!(opened["fish"], "gr\u{fc}ne; Lippe, \"K\u{e4}fig\"\r\n\u{5d3}\u{5d2}", "{said}");

    // While the service runs its store is not filled; then it is.
    let refused = hatchwarden(&["import", "--config", config, &own]);
    assert_eq!(refused.status.code(), Some(2), "{}", String::from_utf8_lossy(&refused.stdout));
    service.child.kill().await;
    imported(config, Path::new(&own));
}

/// Of INT64, UTC and milliseconds pyarrow makes `timestamp[ms, tz=UTC]`.
fn the_shape_is_as_promised(said: &Value) {
    let types = json!({
        "t": "timestamp[ms, tz=UTC]", "vessel": "string", "quantity": "string", "mark": "string", "value": "double",
        "corrected": "double", "unit": "string", "received": "timestamp[ms, tz=UTC]", "sequence": "uint64",
        "fresh": "bool", "flags": "uint64",
    });
    assert_eq!(said["types"], types);
    assert_eq!(said["needed"], json!(["t", "vessel", "quantity", "value"]));
    let logical = said["logical"]["t"].as_str().unwrap();
    assert!(logical.contains("isAdjustedToUTC=true") && logical.contains("milliseconds"), "{logical}");
    assert_eq!(said["compression"], json!(["SNAPPY"]));
    let about = &said["about"];
    assert!(about["tool"].as_str().unwrap().starts_with("hatchwarden "), "{about}");
    assert_eq!((&about["room"], &about["table"]), (&json!("undercroft"), &json!("readings")));
    let columns: Value = serde_json::from_str(about["columns"].as_str().unwrap()).unwrap();
    assert!(columns["value"].as_str().unwrap().contains("without any offset"), "{columns}");
    assert!(said["created_by"].as_str().unwrap().starts_with("hatchwarden version "), "{said}");
}

fn imported(config: &str, own: &Path) {
    let own = own.to_str().unwrap();
    let took = good(&["import", "--config", config, own]);
    assert!(took.contains("readings: 3 new"), "{took}");
    let out = good(&["export", "readings", "--config", config, "--probe", "V7", "--as", "csv"]);
    let rows: Vec<&str> = out.split("\r\n").skip(1).collect();
    assert_eq!(
        rows,
        [
            "2031-03-14T02:00:00Z,V7,temperature,,26.5,26.5,\u{b0}C,2031-03-14T02:00:00Z,,false,0",
            "2031-03-14T02:01:00Z,V7,temperature,,26.625,26.625,\u{b0}C,2031-03-14T02:01:00Z,,false,0",
            "2031-03-14T02:02:00Z,V7,temperature,spare,27,27,\u{b0}C,2031-03-14T02:02:00Z,,false,0",
            "",
        ]
    );
    assert!(good(&["import", "--config", config, own]).contains("readings: 0 new, 3 stood already"));
}
