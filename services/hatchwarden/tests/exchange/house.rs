//! A room with some of everything in its store.

use ledger::Event;
use serde_json::{Value, json};
use std::path::PathBuf;
use std::process::{Command, Output};
use store::{AlarmRow, Batch, EntryRow, Options, ReadingRow, RefusalRow, Store};
use units::{Span, Time};

/// More than one group of rows of a Parquet file, and more than one piece of what export reads at once.
pub const LONG: i64 = 70_000;

pub fn at(s: i64) -> Time {
    Time::parse_rfc3339("2031-03-14T02:00:00Z").unwrap() + Span::seconds(s)
}

/// A folder with a configuration and, perhaps, a store.
pub struct House {
    folder: tempfile::TempDir,
}

impl House {
    /// Without a store.
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let text = include_str!("../../../../config/room.toml");
        std::fs::write(folder.path().join("room.toml"), text.replace("../data/undercroft.db", "room.db"))
            .unwrap();
        Self { folder }
    }

    /// With some of everything.
    pub async fn filled() -> Self {
        let house = Self::new();
        house.keep(everything()).await;
        house
    }

    pub async fn keep(&self, batch: Batch) {
        let store = self.open();
        store.commit(batch).await.unwrap();
        store.close();
    }

    pub fn open(&self) -> Store {
        Store::open(&self.file("room.db"), Options { synchronous_full: false, ..Options::default() }).unwrap()
    }

    pub fn file(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn names(&self) -> Vec<String> {
        let all = self.folder.path().read_dir().unwrap();
        all.map(|f| f.unwrap().file_name().into_string().unwrap()).collect()
    }

    /// `hatchwarden COMMAND --config` with these arguments, in the folder.
    pub fn run(&self, command: &str, arguments: &[&str]) -> Output {
        let mut line = Command::new(env!("CARGO_BIN_EXE_hatchwarden"));
        line.current_dir(self.folder.path()).args([command, "--config", "room.toml"]).args(arguments);
        line.output().unwrap()
    }

    /// The same, which must do well: what it prints.
    pub fn good(&self, command: &str, arguments: &[&str]) -> String {
        let out = self.run(command, arguments);
        let said = String::from_utf8_lossy(&out.stderr).into_owned() + &String::from_utf8_lossy(&out.stdout);
        assert_eq!(out.status.code(), Some(0), "{command} {arguments:?}: {said}");
        String::from_utf8(out.stdout).unwrap()
    }

    /// A table as CSV.
    pub fn csv(&self, what: &str) -> String {
        self.good("export", &[what, "--as", "csv"])
    }
}

pub fn reading(probe: &str, s: i64, value: f64) -> ReadingRow {
    let (probe, time) = (probe.parse().unwrap(), at(s));
    let received = time + Span::from_millis(250);
    ReadingRow { probe, time, value, received, sequence: None, fresh: true, flags: 0 }
}

fn entry(id: u64, event: &Event) -> EntryRow {
    let by = "Ana, \"die\" K\u{e4}ferin; \u{5d0}\u{5d1}".to_owned();
    EntryRow { id, recorded: at(id.cast_signed()), by, json: serde_json::to_string(event).unwrap() }
}

fn event(json: Value) -> Event {
    serde_json::from_value(json).unwrap()
}

fn account() -> Vec<EntryRow> {
    let day0 = json!({ "earliest": at(-90_000), "latest": at(-80_000), "grade": "window" });
    let opened = event(json!({
        "event": "clutch-opened", "clutch": "C11", "fish": "=1+1, <script>alert(\"x\")</script>\r\n\u{1f41f}",
        "species": "generic-mouthbrooder", "mother": "lab-01", "day0": day0, "vessel": "V1",
    }));
    let taken =
        json!({ "event": "taken", "clutch": "C11", "at": at(-60), "vessel": "TU2", "alive": 44, "dead": 2 });
    let lost = json!({ "event": "lost", "clutch": "C11", "at": at(-30), "count": 3, "reason": "fungus" });
    let mistake = json!({ "event": "withdrawn", "clutch": "C11", "at": at(0), "entry": 3 });
    let fed = json!({ "event": "fed", "vessel": "V1", "at": at(5), "food": "nauplii" });
    let all = [opened, event(taken), event(lost), event(mistake), event(fed)];
    (1..).zip(&all).map(|(id, e)| entry(id, e)).collect()
}

/// Two, of which the first was a mistake: what V1 reads is 0.3 K too high from the tenth minute on.
pub fn comparisons() -> String {
    let compared = |s: i64, reference: f64| json!({ "probe": "V1/temperature", "at": at(s), "read": 26.4, "reference": reference, "against": "glass, no. 3", "accuracy": 0.1 });
    json!([
        { "comparison": compared(60, 25.0), "by": "ana", "recorded": at(70), "withdrawn": ["ana", at(80)] },
        { "comparison": compared(600, 26.1), "by": "ana", "recorded": at(610), "withdrawn": null },
    ])
    .to_string()
}

fn everything() -> Batch {
    let mut readings: Vec<ReadingRow> =
        (0..40).map(|n| reading("V1/temperature", 60 * n, 26.4 + 0.1 * (n % 3) as f64)).collect();
    readings.push(ReadingRow {
        sequence: Some(u64::MAX),
        fresh: false,
        flags: 8 + 32,
        received: at(90_000),
        ..reading("V1/temperature/28-00b7", 61, 0.1 + 0.2)
    });
    readings.push(ReadingRow { time: at(7) + Span::from_millis(123), ..reading("TU2/air-flow", 7, 0.0) });
    readings.push(reading("TU2/air-flow", 8, 1e-7));
    // Its entry in the topic map lets it read what others cannot.
    readings.push(reading("V3/temperature", 8, 47.5));
    readings.extend((0..LONG).map(|n| reading("V2/temperature", n, 28.0 + (n % 7) as f64 / 10.0)));
    let alarm = |s, from: &str, to: &str| AlarmRow {
        key: "TU2.air-stopped".to_owned(),
        at: at(s),
        from: from.to_owned(),
        to: to.to_owned(),
        text: "TU2 lies still, \"act\"".to_owned(),
    };
    let refusal = RefusalRow {
        place: "cellar/x".to_owned(),
        reason: "not_mapped".to_owned(),
        at: at(9),
        excerpt: "a,\"b\"".to_owned(),
    };
    Batch {
        readings,
        entries: account(),
        notes: vec![("comparisons".to_owned(), comparisons())],
        alarm_log: vec![alarm(20, "normal", "unacknowledged"), alarm(50, "unacknowledged", "acknowledged")],
        refusals: vec![refusal.clone(), refusal],
        ..Batch::default()
    }
}
