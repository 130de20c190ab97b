//! Page, API and command say the same, the service running or not.

use super::house::{House, python, vessel};
use serde_json::{Value, json};
use std::sync::Arc;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use units::{Span, Time};

/// An hour of a cold night in which the air of TU2 stood for 40 minutes; the clocks went back in it. In the past, so that the
/// command's own clock lies behind it.
async fn cold(folder: &std::path::Path) -> House {
    let night = ("2025-10-25T18:00:00Z", "2025-10-26T06:00:00Z");
    let house = House::start(folder, "Europe/Berlin", night, "").await;
    let dusk = house.dusk;
    let part =
        move |t: Time, from: i64, to: i64| (from..to).contains(&((t - dusk).as_minutes().round() as i64));
    house
        .fill("V1/temperature", Span::minutes(5), |t| Some(if part(t, 60, 121) { 25.0 } else { 26.4 }))
        .await;
    house.fill("V2/temperature", Span::minutes(5), |_| Some(28.4)).await;
    house.fill("TU2/air-flow", Span::minutes(1), |t| Some(if part(t, 400, 440) { 0.0 } else { 0.8 })).await;
    house.clutch().await;
    house
}

/// The body that a running page answers with.
async fn got(house: &House, path: &str) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let router = web::router(Arc::new(house.service.desk().clone()), web::Settings::default());
    let serving = tokio::spawn(web::serve(listener, router, std::future::pending()));
    let mut stream = TcpStream::connect(("127.0.0.1", port)).await.unwrap();
    let ask = format!("GET {path} HTTP/1.0\r\nHost: 127.0.0.1:{port}\r\n\r\n");
    stream.write_all(ask.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    serving.abort();
    let (head, body) = answer.split_once("\r\n\r\n").unwrap();
    assert!(head.starts_with("HTTP/1.0 200"), "{head}");
    body.to_owned()
}

fn said(house: &House, args: &[&str], code: i32) -> String {
    let out = house.command(args);
    assert_eq!(out.status.code(), Some(code), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn page_and_command_have_the_same_figures_beside_the_service_and_without_it() {
    let folder = tempfile::tempdir().unwrap();
    let house = cold(folder.path()).await;
    let date = ["--date", "2025-10-25"];
    let review = house.review("2025-10-25").await;
    let api: Value = serde_json::from_str(&got(&house, "/api/v1/nights/2025-10-25").await).unwrap();
    let command: Value = serde_json::from_str(&said(&house, &[date[0], date[1], "--json"], 1)).unwrap();
    assert_eq!(api, serde_json::to_value(&review).unwrap());
    assert_eq!(api, command);

    let (page, text) = (got(&house, "/night/2025-10-25").await, said(&house, &date, 1));
    let html = said(&house, &[date[0], date[1], "--html"], 1);
    for form in [&page, &text, &html] {
        // 25.0 from an hour after dusk to two hours after, five minutes down before and up behind: 26.4 to 25.0 crosses 25.5 after
        // 9/14 of them.
        for part in [
            "20:00 to 07:00, 12 h: the clocks went back",
            "1 h 04 min under 25.5 °C",
            "02:40 CEST to 02:20 CET (40 min)",
        ] {
            assert!(form.contains(part), "{part}: {form}");
        }
        for line in review.vessels.iter().flat_map(|v| web::review::lines(v, &review.zone)) {
            let escaped = line.night.replace('&', "&amp;");
            assert!(form.contains(&line.night) || form.contains(&escaped), "{line:?}: {form}");
        }
    }
    assert_eq!(text, web::review::text(&review));
    assert_eq!(html.matches("<svg").count(), review.vessels.len());

    sheet(&said(&house, &[date[0], date[1], "--csv"], 1), &api);
    house.service.stop().await;
    let config = folder.path().join("room.toml");
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_hatchwarden"))
        .args(["night", "--config", config.to_str().unwrap(), "--json", "--date", "2025-10-25"])
        .output()
        .unwrap();
    assert_eq!(serde_json::from_slice::<Value>(&out.stdout).unwrap(), api, "without the service");
}

/// Python's csv reads the sheet back.
fn sheet(csv: &str, api: &Value) {
    let program = "import csv, io, json, sys; print(json.dumps(list(csv.DictReader(io.StringIO(sys.stdin.read(), newline='')))))";
    let rows = python(program, csv);
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), api["vessels"].as_array().unwrap().len(), "one clutch in the room");
    let number = |row: &Value, name: &str| row[name].as_str().unwrap().parse::<f64>().ok();
    for (row, v) in rows.iter().zip(api["vessels"].as_array().unwrap()) {
        assert_eq!((&row["vessel"], &row["date"]), (&v["vessel"], &json!("2025-10-25")));
        for (name, figure) in
            [("min_c", "min"), ("max_c", "max"), ("mean_c", "mean"), ("outside_h", "outside_hours")]
        {
            let (a, b) = (number(row, name), v["water"][figure]["value"].as_f64());
            assert!(a.zip(b).map_or(a == b, |(a, b)| (a - b).abs() < 1e-4), "{name} {row} {v}");
        }
    }
    let tu2 = &rows[3];
    assert_eq!(
        (&tu2["vessel"], &tu2["clutch"], number(tu2, "air_still_min")),
        (&json!("TU2"), &json!("C11"), Some(40.0))
    );
    let gained = api["vessels"][3]["clutches"][0]["gained"]["value"].as_f64().unwrap();
    assert!((number(tu2, "gained_cd").unwrap() - gained).abs() < 1e-4);
    let remarks: Vec<&str> =
        api["vessels"][3]["remarks"].as_array().unwrap().iter().map(|r| r.as_str().unwrap()).collect();
    assert_eq!(tu2["remarks"], json!(remarks.join(" ")), "commas and blanks come back whole");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_command_answers_good_not_good_and_wrong_use() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2025-11-20T20:00:00Z", "2025-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, "").await;
    house.fill("V1/temperature", Span::minutes(5), |_| Some(26.4)).await;
    house.fill("V2/temperature", Span::minutes(5), |_| Some(28.4)).await;
    let good = said(&house, &["--date", "2025-11-20"], 0);
    assert!(
        good.contains("All was well.") && good.contains("The night of Thu 20 to Fri 21 November 2025"),
        "{good}"
    );
    let unknown = said(&house, &["--date", "2025-11-22"], 1);
    assert!(
        unknown.contains("is not known: too little was read") && !unknown.contains("All was well"),
        "{unknown}"
    );
    // Refusals belong to the night in which they arrived.
    assert!(house.service.deliver("hatchwarden/undercroft/V1/temperature", "85.0", false).await.is_ok());
    let review = house.review("2025-11-20").await;
    assert!(vessel(&review, "V1").refusals.is_empty() && !review.more_refusals, "it came after dawn");
    for (args, part) in [
        (&["--date", "20.11.2025"][..], "write the date of its evening as 2026-11-25"),
        (&["--date", "2190-01-01"][..], "ask for one that is over"),
        (&["--json", "--csv"][..], "cannot be used with"),
    ] {
        let out = house.command(args);
        let fault = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!((out.status.code(), out.stdout.len()), (Some(2), 0), "{fault}");
        assert!(fault.contains(part), "{fault}");
    }
    house.service.stop().await;
}

/// What is refused in a night stands there, at its vessel or at the room, and so does an alarm.
#[tokio::test(flavor = "multi_thread")]
async fn refusals_and_alarms_stand_in_their_night() {
    let folder = tempfile::tempdir().unwrap();
    let night = ("2025-11-20T20:00:00Z", "2025-11-21T07:00:00Z");
    let house = House::start(folder.path(), "Europe/Lisbon", night, "").await;
    let (dusk, dawn) = (house.dusk + Span::days(1), house.dawn + Span::days(1));
    let deliver = |place: &'static str, text: &'static str| house.service.deliver(place, text, false);
    house.service.move_to(dusk - Span::minutes(1)).await.unwrap();
    deliver("hatchwarden/undercroft/V1/temperature", "85.0").await.unwrap();
    house.service.move_to(dusk + Span::hours(5)).await.unwrap();
    for _ in 0..3 {
        deliver("hatchwarden/undercroft/V1/temperature", "85.0").await.unwrap();
    }
    deliver("cellar/what", "1").await.unwrap();
    deliver("hatchwarden/undercroft/V2/temperature", "24.0").await.unwrap();
    house.service.move_to(dusk + Span::hours(5) + Span::minutes(2)).await.unwrap();
    deliver("hatchwarden/undercroft/V2/temperature", "24.0").await.unwrap();
    house.service.move_to(dawn).await.unwrap();
    let r = house.review("2025-11-21").await;
    let refused: Vec<(&str, u64)> =
        vessel(&r, "V1").refusals.iter().map(|x| (x.place.as_str(), x.count)).collect();
    assert_eq!(refused, [("V1/temperature", 3)], "that of before dusk is another night's");
    let of_room: Vec<&str> = r.refusals.iter().map(|x| x.place.as_str()).collect();
    assert_eq!(of_room, ["cellar/what"]);
    assert!(r.alarms.iter().any(|a| a.id == "V2.too-cold" && a.text.contains("24.0 °C")), "{:#?}", r.alarms);
    assert!(
        vessel(&r, "V2").remarks.iter().any(|said| said.contains("raised")),
        "{:?}",
        vessel(&r, "V2").remarks
    );
    house.service.stop().await;
}
