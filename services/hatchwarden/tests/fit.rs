//! `hatchwarden fit` as a command.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::Value;
use std::process::{Command, Output};

fn fit(csv: &str, args: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("obs.csv");
    std::fs::write(&file, csv).unwrap();
    Command::new(env!("CARGO_BIN_EXE_hatchwarden")).arg("fit").arg(&file).args(args).output().unwrap()
}

fn near(value: &Value, want: f64, tolerance: f64) {
    let got = value.as_f64().unwrap();
    assert!((got - want).abs() <= tolerance, "{got} is not {want}");
}

/// Source: hatching of African catfish, de Graaf & Janssen 1996, FAO Fish. Tech. Pap. 362 (from memory), hours as days.
const CATFISH: &str = "temperature_c,days\n20,2.375\n22,1.583333\n23,1.375\n24,1.208333\n26,1.041667\n\
                       27,0.958333\n28,0.916667\n30,0.833333\n";

#[test]
fn it_answers_in_json_for_every_model_and_in_order() {
    let out = fit(CATFISH, &["--predict", "25", "29", "21", "--json"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    let said: Value = serde_json::from_slice(&out.stdout).unwrap();
    let at = |list: &Value| -> Vec<f64> {
        list.as_array().unwrap().iter().map(|p| p["temperature_c"].as_f64().unwrap()).collect()
    };
    assert_eq!(at(&said["predictions"]), [25.0, 29.0, 21.0]);
    let chosen = said["chosen"].as_str().unwrap();
    assert_eq!(said["models"][chosen]["predictions"], said["predictions"]);
    // Fitted line of the same table, the held-out rows left out: 13.9 °C, 12.9 °C·d (computed with numpy).
    near(&said["models"]["line"]["t0"], 13.9, 0.7);
    near(&said["models"]["line"]["k"], 12.9, 0.8);
    for model in ["line", "power", "curve"] {
        assert!(said["models"][model]["leave_one_out_percent"].as_f64().unwrap() < 10.0);
    }
    for p in said["predictions"].as_array().unwrap() {
        let number = |f: &str| p[f].as_f64().unwrap();
        assert!(number("low") < number("days") && number("days") < number("high"));
    }
}

#[test]
fn people_are_told_in_words() {
    let out = fit("# ours\ntemperature_c,days,sd\n20, 12.0,\n25,6,\n30,4,0.2\n", &["--predict", "27", "10"]);
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(said.contains("days = 60.00") && said.contains("chosen  line"), "{said}");
    assert!(
        said.contains("27 °C: 5.00 d, four of five between") && said.contains("10 °C: nothing develops"),
        "{said}"
    );
}

#[test]
fn a_file_that_cannot_be_used_is_named_with_its_line_and_cure() {
    let said = |csv: &str, args: &[&str]| {
        let out = fit(csv, args);
        assert_eq!((out.status.code(), out.stdout.len()), (Some(2), 0));
        String::from_utf8(out.stderr).unwrap()
    };
    let cases = [
        ("days,temperature_c\n6,20\n", "line 1: the header is"),
        ("temperature_c,days\n20,12\n25,six\n30,4\n", "line 3"),
        ("temperature_c,days\n20,12\n25,-6\n30,4\n", "line 3: observation 2: days = -6"),
        ("temperature_c,days\n20,12\n25,6\n", "at least 3"),
        ("temperature_c,days\n20,4\n25,6\n30,8\n", "do not fall as it gets warmer"),
        ("temperature_c,days\n20,12,1,2\n", "line 2"),
    ];
    for (csv, want) in cases {
        let said = said(csv, &[]);
        assert!(said.contains(want), "{said}");
    }
    assert!(said(CATFISH, &["--predict", "nan"]).contains("--predict NaN: write °C"));
}
