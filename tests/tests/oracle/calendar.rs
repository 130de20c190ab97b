//! The calendar feed of a running service, read by Python's icalendar.

use serde_json::Value;
use std::io::Write;
use std::process::{Command, Stdio};
use testkit::{Api, Hatchwarden, RoomFile, paho_publish};
use units::{Span, Time};

fn read_by_python(feed: &str) -> Value {
    let mut child = Command::new("python3")
        .args(["-c", include_str!("calendar.py")])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(feed.as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "python with icalendar; run tests/run once to install it\n{feed}");
    serde_json::from_slice(&out.stdout).unwrap()
}

/// Where the work page says that calendars ask.
async fn address(api: &Api) -> String {
    let page = api.page("work").await;
    let at = page.find("/calendar/").unwrap_or_else(|| panic!("no address in {page}"));
    page[at + 1..].split(".ics").next().unwrap().to_owned() + ".ics"
}

async fn open(api: &Api) {
    let day0 = Time::from_millis(0) + Span::from_millis(now_ms()) - Span::hours(30);
    let clutch = serde_json::json!({
        "id": "C06", "fish": "gr\u{fc}ne; Lippe, \"K\u{e4}fig\" \\ 2", "species": "generic-mouthbrooder", "mother": null,
        "day0_earliest": day0, "day0_latest": null, "day0_grade": "seen", "vessel": "V1",
    });
    let (status, said) = api.post("api/v1/clutches", &clutch).await;
    assert_eq!(status, 201, "{said}");
}

fn now_ms() -> i64 {
    let out = Command::new("date").arg("+%s000").output().unwrap();
    String::from_utf8(out.stdout).unwrap().trim().parse().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_calendar_program_reads_each_task_and_a_restart_changes_no_byte() {
    let (room, door) = RoomFile::with_front_door("");
    let service = Hatchwarden::run(&room).await;
    open(&service.api).await;
    let topic = "hatchwarden/undercroft/V1/temperature";
    paho_publish(door, 4, topic, "27.0").await;
    let tasks =
        service.api.until("seven tasks", "api/v1/work", |w| (w.as_array()?.len() == 7).then(|| w.clone()));
    let tasks = tasks.await;
    let path = address(&service.api).await;
    let feed = service.api.page(&path).await;
    let said = read_by_python(&feed);
    assert_eq!((said["version"].as_str(), said["method"].as_bool()), (Some("2.0"), Some(false)));
    assert_eq!(said["refresh_s"], 3600.0);
    let events = said["events"].as_object().unwrap();
    assert_eq!(events.len(), 7, "{said}");
    for task in tasks.as_array().unwrap() {
        let summary = format!("C06: {}", task["title"].as_str().unwrap());
        let event =
            events.values().find(|e| e["summary"] == *summary).unwrap_or_else(|| panic!("{summary}: {said}"));
        for (ours, theirs) in [("earliest", "starts"), ("latest", "ends")] {
            let at = |v: &Value| Time::parse_rfc3339(v.as_str().unwrap()).unwrap();
            let apart = (at(&task[ours]) - at(&event[theirs])).abs();
            assert!(apart < Span::seconds(1), "{summary}: {ours} is {apart} off");
        }
        assert_eq!((event["sequence"].as_u64(), event["status"].as_str()), (Some(0), Some("CONFIRMED")));
        assert!(event["transparent"] == true && event["stamp"] == event["modified"], "{event}");
        let text = event["description"].as_str().unwrap();
        assert!(text.contains("gr\u{fc}ne; Lippe, \"K\u{e4}fig\" \\ 2.\n"), "{text}");
        assert!(text.ends_with(task["reason"].as_str().unwrap()), "{text}");
    }
    let again = service.kill_and_run(&room).await;
    assert_eq!(address(&again.api).await, path);
    assert_eq!(again.api.page(&path).await, feed);
}
