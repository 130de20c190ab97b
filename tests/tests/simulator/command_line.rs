//! What cannot be done is said with its cure, and ends with 2.

use crate::{scenario, sim};

async fn refused(arguments: &[&str], parts: &[&str]) {
    let (code, said) = sim(arguments).await;
    assert_eq!(code, Some(2), "{arguments:?}: {said}");
    for part in parts {
        assert!(said.contains(part), "{part:?} is not in: {said}");
    }
    assert!(!said.contains("panicked"), "{said}");
}

#[tokio::test]
async fn what_cannot_be_done_is_said_with_its_cure() {
    let folder = tempfile::tempdir().unwrap();
    let file = scenario(folder.path(), "");
    let out = folder.path().join("out");
    let out = out.to_str().unwrap();
    let broker = "mqtt://127.0.0.1:1";
    refused(&["run", "nowhere", "--broker", broker], &["\"nowhere\"", "name from `list`"]).await;
    refused(&["record", "nowhere", "--out", out], &["\"nowhere\"", "name from `list`"]).await;
    refused(&["explain", "nowhere"], &["\"nowhere\"", "name from `list`"]).await;
    refused(&["run", &file, "--broker", "localhost:1883"], &["localhost:1883", "mqtt://host:port"]).await;
    for speed in ["fast", "0", "-1", "1001", "nan"] {
        let arguments = ["run", &file, "--broker", broker, &format!("--speed={speed}")];
        refused(&arguments, &[speed, "0.1 to 1000, or max"]).await;
    }
    refused(&["run", &file, "--broker", broker, "--for", "10"], &["\"10\"", "10 s"]).await;
    refused(&["run", &file, "--broker", broker, "--from", "day 9"], &["day 9 02:17"]).await;
    refused(&["record", &file, "--out", out, "--start", "today"], &["today"]).await;
    refused(&["record", &file], &["--out"]).await;
}

#[tokio::test]
async fn a_scenario_that_will_not_do_is_refused_with_every_flaw() {
    let folder = tempfile::tempdir().unwrap();
    let file = scenario(folder.path(), "[[event]]\nat = '1 min'\nfault = { air-stop = 'TU9' }\n");
    refused(&["explain", &file], &["event 1", "TU9", "TU1"]).await;
}

#[tokio::test]
async fn files_of_an_earlier_record_are_not_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let file = scenario(folder.path(), "");
    let out = folder.path().join("out");
    let arguments = ["record", &file, "--out", out.to_str().unwrap(), "--for", "10 min"];
    assert_eq!(sim(&arguments).await.0, Some(0));
    let before = std::fs::read(out.join("messages.jsonl")).unwrap();
    refused(&arguments, &["messages.jsonl", "name another folder"]).await;
    assert_eq!(std::fs::read(out.join("messages.jsonl")).unwrap(), before);
    // Nor is a file taken for a folder.
    refused(&["record", &file, "--out", &file], &["--out", "name a folder"]).await;
}
