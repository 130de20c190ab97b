//! Wrong use is exit 2 with what is wrong and the cure, and leaves everything as it was.

use crate::house::House;

fn refused(house: &House, command: &str, arguments: &[&str], words: &str) {
    // Who reads a store leaves SQLite's own files beside it.
    let names = || house.names().into_iter().filter(|n| !n.starts_with("room.db-")).collect::<Vec<_>>();
    let before = names();
    let out = house.run(command, arguments);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(2), "{arguments:?}: {said}");
    assert!(said.contains(words), "{words}\nis not in\n{said}");
    assert_eq!(names(), before, "{arguments:?}");
}

#[tokio::test]
async fn what_cannot_be_exported_is_said() {
    let house = House::filled().await;
    let cases: [(&[&str], &str); 11] = [
        (&["--as", "csv"], "a recording holds several tables and is JSON lines; name one of them"),
        (&["fish"], "invalid value 'fish'"),
        (&["readings", "--as", "xls"], "invalid value 'xls'"),
        (&["readings", "--from", "yesterday"], "\"yesterday\" is not a time"),
        (&["readings", "--from", "2031-03-14T02:00:00Z", "--to", "2031-03-13T02:00:00Z"], "lies after --to"),
        (&["readings", "--probe", "V9"], "--probe V9: nothing was ever read there; name one of TU2/air-flow"),
        (&["account", "--probe", "V1"], "--probe: account are not of probes"),
        (&["readings", "--out", "a.csv", "--as", "parquet"], "its ending says Csv, --as says Parquet"),
        (&["readings", "--out", "no/such/a.csv"], "--out no/such/a.csv: cannot be written"),
        (&["readings", "--out", "room.db", "--as", "csv"], "that file is the room's own"),
        (&["readings", "--json"], "--out <FILE>"),
    ];
    for (arguments, words) in cases {
        refused(&house, "export", arguments, words);
    }
    assert_eq!(
        house.csv("account").split("\r\n").count(),
        8,
        "a header, five rows of which one holds a line's end, and nothing after the last"
    );
    refused(&House::new(), "export", &["readings", "--out", "a.csv"], "room.db");
}

#[tokio::test]
async fn what_cannot_be_imported_is_said() {
    let house = House::new();
    refused(&house, "import", &[], "<FILE>...");
    refused(
        &house,
        "import",
        &["a.xls"],
        "a.xls: its ending tells no form; give it .csv, .jsonl or .parquet",
    );
}

/// A running service holds the account in memory, so nothing is put beneath it; it can be exported from.
#[tokio::test]
async fn while_the_store_is_open_it_is_read_and_not_filled() {
    let house = House::filled().await;
    let store = house.open();
    house.good("export", &["account", "--out", "a.csv"]);
    refused(&house, "import", &["a.csv"], "is in use by process");
    store.close();
    house.good("import", &["a.csv"]);
}

#[tokio::test]
async fn what_was_written_is_said_and_stands_whole() {
    let house = House::filled().await;
    std::fs::write(house.file("a.csv"), "older").unwrap();
    let said = house.good("export", &["account", "--out", "a.csv"]);
    assert_eq!(said, "a.csv: account, 5 rows\n");
    let said: serde_json::Value =
        serde_json::from_str(&house.good("export", &["account", "--out", "a.csv", "--json"])).unwrap();
    assert_eq!(said, serde_json::json!({ "what": "account", "as": "csv", "rows": 5, "file": "a.csv" }));
    assert_eq!(std::fs::read_to_string(house.file("a.csv")).unwrap(), house.csv("account"));
}
