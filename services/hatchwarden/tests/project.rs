//! `hatchwarden project` as a command.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::Value;
use std::process::{Command, Output};

const DAY0: &str = "2031-03-10T00:00:00Z";

fn project(csv: &str, args: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("t.csv");
    std::fs::write(&file, csv).unwrap();
    let own = folder.path().join("own.toml");
    std::fs::write(&own, OWN).unwrap();
    let args = args.iter().map(|a| if *a == "OWN" { own.to_str().unwrap() } else { a });
    Command::new(env!("CARGO_BIN_EXE_hatchwarden"))
        .args(["project", "--temps", file.to_str().unwrap()])
        .args(args)
        .output()
        .unwrap()
}

/// An entry in the place of the shipped one.
const OWN: &str = "[species.danio-rerio]\nname = \"Ours\"\n\
    [species.danio-rerio.base]\nlow = 18.0\nlikely = 18.0\nhigh = 18.0\nsource = \"invented\"\nhow = \"planning value\"\n\
    [species.danio-rerio.stage.hatch]\ndegree_days = 20.0\nsource = \"invented\"\nhow = \"planning value\"\n";

fn said(csv: &str, args: &[&str]) -> Value {
    let out = project(csv, &[args, &["--json"]].concat());
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn near(value: &Value, want: f64, tolerance: f64) {
    let got = value.as_f64().unwrap();
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// A reading every half hour for a day, °C by the hour.
fn day(celsius: impl Fn(f64) -> f64) -> String {
    let line = |n: i32| {
        format!(
            "2031-03-{}T{:02}:{:02}:00Z,{:.6}\n",
            10 + n / 48,
            n / 2 % 24,
            n % 2 * 30,
            celsius(f64::from(n) / 2.0)
        )
    };
    "# a comment\ntime,celsius\n".to_owned() + &(0..=48).map(line).collect::<String>()
}

const ZEBRAFISH: [&str; 4] = ["--species", "Danio rerio", "--day0", DAY0];

/// Kimmel et al. 1995, Dev. Dyn. 203: hatching at 60 h (48 to 72 h) at 28.5 °C, and rate as 0.055 T - 0.57. The entry is
/// anchored at 28.5 °C, so at 25 °C it takes 60 h x 0.9975 / 0.805 = 74.3478 h. (The formula by itself, which is 0.9975
/// and not 1 at 28.5 °C, says 74.534 h.)
#[test]
fn zebrafish_hatch_as_published() {
    let warm = said(&day(|_| 28.5), &ZEBRAFISH);
    let hatch = &warm["stages"][0];
    assert_eq!(
        (&warm["species"], &hatch["likeliest"]),
        (&"danio-rerio".into(), &"2031-03-12T12:00:00Z".into())
    );
    // 48 to 72 h by the entry, a few minutes more for the probe and the water to come.
    let (earliest, latest) = (hatch["earliest"].as_str().unwrap(), hatch["latest"].as_str().unwrap());
    assert!(earliest.starts_with("2031-03-11T23:5") && latest.starts_with("2031-03-13T00:0"), "{hatch}");
    assert_eq!((&warm["now"], &warm["model"]["kind"]), (&"2031-03-11T00:00:00Z".into(), &"line".into()));
    near(&warm["degree_days"], 28.5 - 10.363_636, 1e-6);
    near(&hatch["fraction"], 0.4, 1e-6);
    near(&hatch["probability"], 0.8, 0.0);
    near(&warm["calibrated_range"]["low"], 25.0, 0.0);
    let cool = said(&day(|_| 25.0), &ZEBRAFISH);
    let hatch = cool["stages"][0]["likeliest"].as_str().unwrap();
    // 74.3478 h: 2 h 20 min 52 s into the fourth day.
    assert!(hatch.starts_with("2031-03-13T02:20:52"), "{hatch}");
}

/// Triangle from 14 to 22 °C and back: above 18 °C half of the time, on average by 2 °C.
#[test]
fn own_entries_stand_in_the_place_of_the_shipped_ones_and_swings_are_clipped() {
    let swing = day(|h| 22.0 - (h - 12.0).abs() * 8.0 / 12.0);
    let said = said(&swing, &["--species", "danio_RERIO", "--day0", DAY0, "--species-file", "OWN"]);
    near(&said["degree_days"], 1.0, 1e-6);
    assert!(said["calibrated_range"].is_null());
}

#[test]
fn readings_after_now_do_not_count() {
    let record = day(|h| if h <= 6.0 { 28.5 } else { 35.0 });
    let said = said(&record, &[&ZEBRAFISH[..], &["--now", "2031-03-10T06:00:00Z"]].concat());
    near(&said["degree_days"], (28.5 - 10.363_636) / 4.0, 1e-6);
    assert_eq!(said["stages"][0]["likeliest"], "2031-03-12T12:00:00Z");
}

#[test]
fn a_stage_that_was_seen_is_certain() {
    let args = ["--species", "generic-mouthbrooder", "--day0", "2031-03-09T20:00:00Z/2031-03-10T04:00:00Z"];
    let seen = "2031-03-10T20:00:00Z";
    let sighting = format!("hatch@{seen}");
    let said = said(&day(|_| 26.0), &[&args[..], &["--seen", &sighting]].concat());
    let hatch = &said["stages"][0];
    assert_eq!(
        (&hatch["seen"], &hatch["earliest"], &hatch["latest"]),
        (&seen.into(), &seen.into(), &seen.into())
    );
    near(&hatch["probability"], 1.0, 0.0);
    // Free swimming 8 d after hatch at 26 °C by the entry; so early a hatch is taken for a slip and not for a pace.
    let swim = said["stages"][1]["likeliest"].as_str().unwrap();
    assert!(swim.starts_with("2031-03-18T"), "{swim}");
}

#[test]
fn what_was_seen_between_two_looks_or_already_past_is_taken_as_that() {
    let args = ["--species", "generic-mouthbrooder", "--day0", "2031-03-03T08:00:00Z/2031-03-03T20:00:00Z"];
    let with = |sighting: &str| said(&day(|_| 26.0), &[&args[..], &["--seen", sighting]].concat());
    let looks = with("hatch@2031-03-10T08:00:00Z/2031-03-10T20:00:00Z");
    let hatch = &looks["stages"][0];
    assert_eq!(
        (&hatch["earliest"], &hatch["latest"]),
        (&"2031-03-10T08:00:00Z".into(), &"2031-03-10T20:00:00Z".into())
    );
    let past = with("hatch@../2031-03-10T08:00:00Z");
    let hatch = &past["stages"][0];
    assert!(hatch["latest"].as_str().unwrap() <= "2031-03-10T08:00:00Z", "{hatch}");
    near(&hatch["probability"], 0.8, 0.0);
    let yolk = with("yolk-half-gone@2031-03-10T20:00:00Z");
    assert_ne!(yolk["stages"][1]["likeliest"], looks["stages"][1]["likeliest"]);
}

#[test]
fn people_are_told_in_words() {
    let out = project(&day(|_| 28.5), &ZEBRAFISH);
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(said.contains("18.14 °C·d from day 0 to 2031-03-11 00:00 UTC"), "{said}");
    assert!(said.contains("hatch: likeliest 2031-03-12 12:00 UTC, 80 % between"), "{said}");
}

/// Wrigglers of unknown age: 84 °C·d at 12 a day is a week.
#[test]
fn a_clutch_of_unknown_age_is_dated() {
    let args = [
        ["--species", "generic-mouthbrooder"],
        ["--day0", "2031-03-01T00:00:00Z/2031-03-10T12:00:00Z"],
        ["--seen", "hatch@2031-03-11T00:00:00Z"],
    ];
    let out = project(&day(|_| 26.0), &args.concat());
    let said = String::from_utf8(out.stdout).unwrap();
    let line = said.lines().find(|l| l.starts_with("spawned, by what was seen since: likeliest")).unwrap();
    assert!(line.contains("likeliest 2031-03-03 ") || line.contains("likeliest 2031-03-04 "), "{line}");
}

fn refused(csv: &str, args: &[&str], want: &str) {
    let out = project(csv, args);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!((out.status.code(), out.stdout.len()), (Some(2), 0), "{want}: {said}");
    assert!(said.contains(want), "{said}");
}

#[test]
fn a_record_that_cannot_be_used_is_named_with_its_line_and_cure() {
    let head = "# ours\ntime,celsius\n2031-03-10T00:00:00Z,27\n# more\n";
    let cases = [
        ("celsius,time\n", "t.csv, line 1: the header is"),
        ("# ours\ntime,celsius\n", "no reading follows; add lines such as"),
        (&format!("{head}2031-03-09T00:00:00Z,27\n"), "t.csv, line 5: time 2031-03-09T00:00:00Z lies before"),
        (
            &format!("{head}2031-03-10T00:00:00Z,27\n"),
            "line 5: time 2031-03-10T00:00:00Z stands in the file already",
        ),
        (
            &format!("{head}2031-03-10T01:00:00,27\n"),
            "line 5: time \"2031-03-10T01:00:00\" is not a time; write it as",
        ),
        (
            &format!("{head}2031-03-10T01:00:00Z,NaN\n"),
            "line 5: celsius \"NaN\" is no water temperature; write °C",
        ),
        (&format!("{head}2031-03-10T01:00:00Z,85\n"), "line 5: celsius \"85\""),
        (&format!("{head}2031-03-10T01:00:00Z\n"), "line 5"),
    ];
    for (csv, want) in cases {
        refused(csv, &ZEBRAFISH, want);
    }
}

#[test]
fn options_that_cannot_be_used_are_named_with_their_cure() {
    let zebrafish = |more: &[&'static str]| [&ZEBRAFISH[..], more].concat();
    let cases = [
        (vec!["--species", "danio", "--day0", DAY0], "the nearest are danio-rerio"),
        (vec!["--species", "danio", "--day0", DAY0], "or with --species-file"),
        (
            vec!["--species", "danio-rerio", "--day0", "2031-03-10T04:00:00Z/2031-03-10T00:00:00Z"],
            "swap the two",
        ),
        (zebrafish(&["--now", "2031-03-09T00:00:00Z"]), "lies before the first reading"),
        (zebrafish(&["--seen", "hatch@2031-03-14T00:00:00Z"]), "lies after now"),
        (zebrafish(&["--seen", "egg@2031-03-10T20:00:00Z"]), "give it with --day0"),
        (zebrafish(&["--seen", "hatched"]), "has no @"),
        (zebrafish(&["--species-file", "/nowhere.toml"]), "check the path"),
    ];
    for (args, want) in cases {
        refused(&day(|_| 27.0), &args, want);
    }
}
