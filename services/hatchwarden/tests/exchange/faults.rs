//! What is wrong with a file is told by line, field and cure, and nothing of it is taken in.

use crate::house::House;

const READINGS: &str = "t,vessel,quantity,value\n";
const LINE: &str = "2031-03-14T02:00:00Z,V1,temperature,26.4\n";

/// Name of the file, what is in it, and words of what is said.
fn bad() -> Vec<(&'static str, Vec<u8>, &'static [&'static str])> {
    let rows = |text: &str| format!("{READINGS}{LINE}{text}").into_bytes();
    let text = |text: &str| text.as_bytes().to_vec();
    vec![
        (
            "a.csv",
            rows("2031-03-14 02:00,V1,temperature,26.4\n"),
            &["a.csv, line 3: t: \"2031-03-14 02:00\" will not do; write a time with its zone"],
        ),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V 1,temperature,26.4\n"),
            &["line 3: vessel: vessel name \"V 1\" will not do"],
        ),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V1,warmth,26.4\n"),
            &["line 3: quantity: \"warmth\" is not a quantity; use one of temperature"],
        ),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V1,temperature,\"26,4\"\n"),
            &["line 3: value: \"26,4\" will not do; write a number with a point"],
        ),
        ("a.csv", rows("2031-03-14T02:01:00Z,V1,temperature,NaN\n"), &["value: \"NaN\" will not do"]),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V1,temperature,\n"),
            &["value: is missing; write what the probe read"],
        ),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V1,temperature,85\n"),
            &["value: 85 \u{b0}C is nothing that a probe of temperature reads; it goes from 5 to 45"],
        ),
        (
            "a.csv",
            rows("2031-03-14T02:01:00Z,V1,temperature\n"),
            &["line 3: line: has 3 values where the header has 4"],
        ),
        (
            "a.csv",
            [rows(""), b"2031-03-14T02:01:00Z,V\xff,temperature,1\n".to_vec()].concat(),
            &["line 3", "not text in UTF-8"],
        ),
        (
            "a.csv",
            rows("0031-03-14T02:01:00Z,V1,temperature,26\n"),
            &["t: ", "is of the year 31; write a time from 1970"],
        ),
        (
            "a.csv",
            text("time,celsius\n1,2\n"),
            &[
                "line 1: its columns are time, celsius; write those that are needed",
                "of readings (t, vessel, quantity, value)",
            ],
        ),
        (
            "a.csv",
            text("t,vessel,quantity,value,note\n"),
            &["column \"note\": readings have none of that name"],
        ),
        ("a.csv", text("t,vessel,quantity,value,value\n"), &["column \"value\" comes twice"]),
        ("a.csv", text(""), &["its columns are"]),
        (
            "a.csv",
            text("t,vessel,quantity,value,unit\n2031-03-14T02:01:00Z,V1,temperature,80,F\n"),
            &["unit: \"F\" is not what temperature is kept in; write value in \u{b0}C"],
        ),
        (
            "a.csv",
            text("t,vessel,quantity,value,flags,mark\n2031-03-14T02:01:00Z,V1,temperature,26,70000,\n"),
            &["flags: 70000 is no sum of remarks"],
        ),
        (
            "a.csv",
            text("t,vessel,quantity,value,fresh,mark\n2031-03-14T02:01:00Z,V1,temperature,26,yes,a b\n"),
            &["fresh: \"yes\" will not do; write true or false"],
        ),
        (
            "a.jsonl",
            text(
                "{\"t\":\"2031-03-14T02:01:00Z\",\"vessel\":\"V1\",\"quantity\":\"temperature\",\"value\":\"26\"}\n",
            ),
            &["line 1: value: \"26\" will not do; write a number without quotes"],
        ),
        (
            "a.jsonl",
            text(
                "{\"t\":1931221060,\"vessel\":\"V1\",\"quantity\":\"temperature\",\"value\":26}\n\n{\"t\":1931221061\n",
            ),
            &["line 3: line: EOF", "write one JSON object in a line"],
        ),
        (
            "a.jsonl",
            text("{\"t\":1931221060,\"by\":\"ana\",\"event\":{}}\n"),
            &["a recording for `hatchwarden replay` is not taken in"],
        ),
        ("a.jsonl", text("\n# nothing\n"), &["there is no line in it"]),
        (
            "a.jsonl",
            [b"{\"t\":\"".to_vec(), vec![b'x'; 1 << 21]].concat(),
            &["is longer than a million bytes"],
        ),
        (
            "a.jsonl",
            text(
                "{\"entry\":0,\"t\":1931221060,\"by\":\"ana\",\"event\":{\"event\":\"fed\",\"vessel\":\"V1\",\"at\":\"2031-03-14T02:00:00Z\",\"food\":\"x\"}}\n",
            ),
            &["entry: 0 is no number of an entry"],
        ),
        (
            "a.jsonl",
            text("{\"entry\":1,\"t\":1931221060,\"by\":\"ana\",\"event\":{\"event\":\"flew\"}}\n"),
            &["event: unknown variant `flew`"],
        ),
        (
            "a.jsonl",
            text(
                "{\"entry\":1,\"t\":1931221060,\"by\":\"ana\",\"event\":{\"event\":\"lost\",\"clutch\":\"C9\",\"at\":\"2031-03-14T02:00:00Z\",\"count\":3,\"reason\":\"x\"}}\n",
            ),
            &["line 1: event: clutch: there is no clutch C9; open it first"],
        ),
        ("a.parquet", text("PAR1 but not really PAR1"), &["a.parquet: cannot be read as Parquet"]),
        ("a.parquet", text(""), &["a.parquet: cannot be read as Parquet"]),
        ("b.csv", Vec::new(), &["b.csv: cannot be read"]),
    ]
}

#[tokio::test]
async fn each_fault_is_told_and_nothing_is_taken_in() {
    for (name, bytes, words) in bad() {
        let house = House::new();
        if name != "b.csv" {
            std::fs::write(house.file(name), &bytes).unwrap();
        }
        for check in [&[][..], &["--check"]] {
            let out = house.run("import", &[&[name], check].concat());
            let said = String::from_utf8(out.stdout).unwrap();
            assert_eq!(out.status.code(), Some(1), "{said}");
            for word in words {
                assert!(said.contains(word), "{word}\nis not in\n{said}");
            }
            assert!(said.contains("Nothing was taken in from it."), "{said}");
        }
        assert_eq!(house.csv("readings").split("\r\n").count(), 2, "only the header");
    }
}

#[tokio::test]
async fn of_many_faults_some_are_told_and_the_rest_counted() {
    let house = House::new();
    let rows: String = (0..1_000).map(|n| format!("2031-03-14T02:00:00Z,V1,temperature,x{n}\n")).collect();
    std::fs::write(house.file("a.csv"), format!("{READINGS}{LINE}{rows}")).unwrap();
    std::fs::write(house.file("good.csv"), format!("{READINGS}{LINE}")).unwrap();
    let out = house.run("import", &["a.csv", "good.csv"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert_eq!(out.status.code(), Some(1));
    assert!(said.contains("line 22: ") && !said.contains("line 23: "), "{said}");
    assert!(said.contains("and 980 more") && said.contains("faults: 1000. Nothing"), "{said}");
    assert!(said.contains("good.csv: readings: 1 new"), "a good file beside it is taken in: {said}");
}

#[tokio::test]
async fn an_account_that_has_gone_another_way_is_not_mixed_in() {
    let (house, other) = (House::filled().await, House::filled().await);
    let before = house.csv("account");
    let changed = before.replace("nauplii", "flakes");
    assert_ne!(changed, before);
    std::fs::write(house.file("a.csv"), changed).unwrap();
    let out = house.run("import", &["a.csv"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(out.status.code() == Some(1) && said.contains("entry: 5 is another one in this store"), "{said}");
    assert_eq!(house.csv("account"), before);
    let compared = other.csv("comparisons").replace("26.1", "26.2");
    std::fs::write(other.file("c.csv"), compared).unwrap();
    let said = String::from_utf8(other.run("import", &["c.csv"]).stdout).unwrap();
    assert!(said.contains("number: 2 is another comparison in this store"), "{said}");
}

/// Whatever is changed in a good file: it is read or refused, and never ends the program by an accident.
#[tokio::test]
async fn a_damaged_parquet_file_is_no_accident() {
    let house = House::filled().await;
    house.good("export", &["readings", "--probe", "V1", "--out", "good.parquet"]);
    let good = std::fs::read(house.file("good.parquet")).unwrap();
    let other = House::new();
    for n in 0..60 {
        let mut bytes = good.clone();
        let place = n * good.len() / 60;
        if n % 3 == 0 {
            bytes.truncate(place);
        } else {
            bytes[place] ^= 1 << (n % 8);
        }
        std::fs::write(other.file("bad.parquet"), bytes).unwrap();
        let out = other.run("import", &["bad.parquet", "--check"]);
        assert!(matches!(out.status.code(), Some(0 | 1)), "{n}: {}", String::from_utf8_lossy(&out.stderr));
    }
}
