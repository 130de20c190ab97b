//! What goes out comes in again, and nothing changes when it comes twice.

use crate::house::{House, LONG, at, reading};
use serde_json::Value;
use store::Batch;

const TABLES: [&str; 3] = ["readings", "account", "comparisons"];

/// Everything that can be taken in, as CSV.
fn whole(house: &House) -> Vec<String> {
    TABLES.iter().map(|what| house.csv(what)).collect()
}

async fn there_and_back(form: &str) {
    let (from, to) = (House::filled().await, House::new());
    let mut files = Vec::new();
    for what in TABLES {
        let file = from.file(&format!("{what}.{form}"));
        let name = file.to_str().unwrap().to_owned();
        from.good("export", &[what, "--out", &name]);
        files.push(name);
    }
    assert!(from.names().iter().all(|n| !n.ends_with(".part")), "{:?}", from.names());
    let files: Vec<&str> = files.iter().map(String::as_str).collect();

    let looked = to.good("import", &[&files[..], &["--check"]].concat());
    assert!(looked.contains(&format!("good; readings: {} would be new", 44 + LONG)), "{looked}");
    assert!(!to.names().contains(&"room.db".to_owned()), "a look makes no store");

    let said = to.good("import", &files);
    for words in [
        format!("readings: {} new", 44 + LONG),
        "account entries: 5 new".to_owned(),
        "comparisons: 2 new".to_owned(),
    ] {
        assert!(said.contains(&words), "{said}");
    }
    assert_eq!(whole(&to), whole(&from), "{form}");
    for (what, file) in TABLES.iter().zip(&files) {
        let again = to.file("again").with_extension(form);
        to.good("export", &[what, "--out", again.to_str().unwrap()]);
        let (old, new) = (std::fs::read(file).unwrap(), std::fs::read(&again).unwrap());
        assert!(old == new, "{what}: the same bytes as {form}");
    }

    let twice = to.good("import", &[&files[..], &["--json"]].concat());
    let twice: Vec<Value> = serde_json::from_str(&twice).unwrap();
    assert!(
        twice.iter().all(|t| t["new"] == 0 && t["other"] == 0 && t["known"].as_u64() > Some(0)),
        "{twice:?}"
    );
    assert_eq!(whole(&to), whole(&from), "twice is once");
    let store = to.open();
    let audit = store.reader().unwrap().audit(10, None).unwrap();
    store.close();
    let mut lines: Vec<String> = audit.into_iter().map(|l| l.row.what).collect();
    lines.sort();
    assert_eq!(lines.len(), 3, "one line for each file that brought something: {lines:?}");
    assert!(lines[2].starts_with("took in 7"), "{lines:?}");
}

#[tokio::test]
async fn csv_goes_there_and_back() {
    there_and_back("csv").await;
}

#[tokio::test]
async fn json_lines_go_there_and_back() {
    there_and_back("jsonl").await;
}

#[tokio::test]
async fn parquet_goes_there_and_back() {
    there_and_back("parquet").await;
}

/// What was read stands beside what is believed, and what was odd is not lost.
#[tokio::test]
async fn a_reading_is_raw_and_corrected_in_columns_of_their_own() {
    let house = House::filled().await;
    let csv = house.csv("readings");
    let row = |start: &str| {
        csv.split("\r\n").find(|l| l.starts_with(start)).unwrap_or_else(|| panic!("{start}: {csv}"))
    };
    assert_eq!(
        csv.split("\r\n").next().unwrap(),
        "t,vessel,quantity,mark,value,corrected,unit,received,sequence,fresh,flags"
    );
    let before = row("2031-03-14T02:09:00Z,V1");
    assert_eq!(
        before,
        "2031-03-14T02:09:00Z,V1,temperature,,26.4,26.4,\u{b0}C,2031-03-14T02:09:00.250Z,,true,0"
    );
    let after = row("2031-03-14T02:12:00Z,V1");
    assert_eq!(
        after,
        "2031-03-14T02:12:00Z,V1,temperature,,26.4,26.1,\u{b0}C,2031-03-14T02:12:00.250Z,,true,0"
    );
    let late = row("2031-03-14T02:01:01Z,V1,temperature,28-00b7");
    assert!(late.ends_with(",0.30000000000000004,0.30000000000000004,\u{b0}C,2031-03-15T03:00:00Z,18446744073709551615,false,40"), "{late}");
}

#[tokio::test]
async fn a_choice_of_probes_and_time_is_kept_to() {
    let house = House::filled().await;
    let lines = |arguments: &[&str]| {
        let out = house.good("export", &[&["readings"], arguments].concat());
        out.lines().map(|l| serde_json::from_str::<Value>(l).unwrap()).collect::<Vec<_>>()
    };
    assert_eq!(lines(&["--probe", "V1"]).len(), 41);
    assert_eq!(lines(&["--probe", "V1/temperature/28-00b7"]).len(), 1);
    assert_eq!(lines(&["--probe", "TU2", "--probe", "TU2/air-flow"]).len(), 2, "none comes twice");
    let (from, to) = (at(120).to_string(), at(240).to_string());
    let some = lines(&["--probe", "V1/temperature", "--from", &from, "--to", &to]);
    let times: Vec<&str> = some.iter().map(|l| l["t"].as_str().unwrap()).collect();
    assert_eq!(times, ["2031-03-14T02:02:00Z", "2031-03-14T02:03:00Z", "2031-03-14T02:04:00Z"]);
    let withdrawn: Vec<bool> = house
        .good("export", &["account"])
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap()["stands"].as_bool().unwrap())
        .collect();
    assert_eq!(withdrawn, [true, true, false, true, true]);
    assert_eq!(
        house.csv("alarms").split("\r\n").nth(2).unwrap(),
        "2031-03-14T02:00:50Z,TU2.air-stopped,unacknowledged,acknowledged,\"TU2 lies still, \"\"act\"\"\""
    );
    assert_eq!(
        house.csv("refusals").split("\r\n").nth(1).unwrap(),
        "cellar/x,not_mapped,2,2031-03-14T02:00:09Z,2031-03-14T02:00:09Z,\"a,\"\"b\"\"\""
    );
}

/// What another program has written: readings alone, columns in another order, a mark of the byte order in front.
#[tokio::test]
async fn a_sheet_of_readings_from_elsewhere_is_late_and_stands_beside_what_is_there() {
    let house = House::new();
    house.keep(Batch { readings: vec![reading("V1/temperature", 60, 26.4)], ..Batch::default() }).await;
    let sheet = "\u{feff}value,quantity,vessel,t\n26.5,temperature,V1,2031-03-14T03:00:00+01:00\n\
                 26.9,temperature,V1,2031-03-14T02:01:00Z\n26.4,temperature,V1,2031-03-14T02:01:00Z\n";
    std::fs::write(house.file("sheet.csv"), sheet).unwrap();
    let said = house.good("import", &["sheet.csv"]);
    assert!(said.contains("readings: 1 new, 1 stood already, 1 left out for what stands"), "{said}");
    assert!(
        said.contains(
            "line 3: V1/temperature at 2031-03-14T02:01:00Z stands with 26.4, which was kept; here it is 26.9"
        ),
        "{said}"
    );
    let csv = house.csv("readings");
    assert!(
        csv.contains(
            "2031-03-14T02:00:00Z,V1,temperature,,26.5,26.5,\u{b0}C,2031-03-14T02:00:00Z,,false,0\r\n"
        ),
        "{csv}"
    );
}

/// Also without the tables that only a recording has.
#[tokio::test]
async fn readings_as_json_lines_can_be_replayed() {
    let house = House::filled().await;
    house.good("export", &["readings", "--probe", "V1", "--out", "night.jsonl"]);
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_hatchwarden"))
        .args(["replay", house.file("night.jsonl").to_str().unwrap()])
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
}
